"""Recordings are read by their heads, and each fault has its sentence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scipy

from benchrecord.intake import sound_file
from benchrecord.intake.sound_file import opener, read_recording
from benchrecord.problems import Problem
from sounds import seconds, write_sound

TONE = 0.5 * np.sin(2 * np.pi * 440 * seconds(0.5))
STEREO = np.column_stack([TONE, -0.5 * TONE])
WHOLE = [
    ("a.wav", "PCM_16", "WAV, 16 bit", 2**-15), ("a.wav", "PCM_24", "WAV, 24 bit", 2**-23), ("a.wav", "FLOAT", "WAV, 32 bit float", 1e-7),
    ("a.flac", "PCM_16", "FLAC, 16 bit", 2**-15), ("a.flac", "PCM_24", "FLAC, 24 bit", 2**-23), ("a.aiff", "PCM_16", "AIFF, 16 bit", 2**-15),
    ("a.aif", "PCM_24", "AIFF, 24 bit", 2**-23), ("a.ogg", "VORBIS", "Ogg, Vorbis", 0.05), ("a.opus", "OPUS", "Ogg, Opus", 0.1),
]  # fmt: skip


def made(folder: Path, name: str, subtype: str, rate: int = 48_000) -> str:
    """Write the stereo tone below recordings/ and return its path in the folder."""
    path = folder / "recordings" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    import soundfile  # noqa: PLC0415

    form = {".ogg": "OGG", ".opus": "OGG", ".aif": "AIFF"}.get(path.suffix)
    soundfile.write(path, STEREO, rate, subtype=subtype, format=form)
    return f"recordings/{name}"


def problem_of(folder: Path, name: str) -> Problem:
    """Return what is wrong with a recording."""
    recording, problem = read_recording(folder, name)
    assert recording is None
    assert problem
    assert problem.place.file == name
    return problem


@pytest.mark.parametrize(("name", "subtype", "form", "step"), WHOLE)
def test_a_whole_recording_tells_its_form_and_gives_back_its_samples(
    tmp_path: Path, name: str, subtype: str, form: str, step: float
) -> None:
    file = made(tmp_path, name, subtype)
    recording, problem = read_recording(tmp_path, file)
    assert problem is None
    assert recording
    assert (recording.rate, recording.channels, recording.seconds) == (48_000, 2, 0.5)
    assert recording.form.startswith(form)
    assert recording.lossy is (subtype in ("VORBIS", "OPUS"))
    sound = opener(tmp_path, (recording,))(file)
    assert sound
    for channel in (0, 1):
        assert np.abs(sound.read(1000, 9000, channel) - STEREO[1000:9000, channel]).max() <= step


@pytest.mark.parametrize("rate", [8000, 22_050, 44_100, 88_200, 96_000, 192_000])
def test_any_common_rate_is_read(tmp_path: Path, rate: int) -> None:
    recording, problem = read_recording(tmp_path, made(tmp_path, "a.wav", "PCM_16", rate))
    assert (problem, recording and recording.rate) == (None, rate)


@pytest.mark.parametrize(("name", "subtype"), [(n, s) for n, s, _, _ in WHOLE])
@pytest.mark.parametrize("left", [0.3, 0.6, 0.95])
def test_a_recording_that_breaks_off_is_told(tmp_path: Path, name: str, subtype: str, left: float) -> None:
    file = made(tmp_path, name, subtype)
    whole = (tmp_path / file).read_bytes()
    (tmp_path / file).write_bytes(whole[: int(len(whole) * left)])
    problem = problem_of(tmp_path, file)
    assert problem.code == "file-unread"
    assert problem.got == "a recording that breaks off" or problem.got.startswith("what cannot be read as sound")


def test_a_recorder_that_never_wrote_the_length_made_a_whole_recording(tmp_path: Path) -> None:
    file = made(tmp_path, "a.wav", "PCM_16")
    data = bytearray((tmp_path / file).read_bytes())
    data[40:44] = b"\xff\xff\xff\xff"
    (tmp_path / file).write_bytes(data)
    recording, problem = read_recording(tmp_path, file)
    assert (problem, recording and recording.seconds) == (None, 0.5)


def test_sound_under_another_name_is_told_with_the_right_one(tmp_path: Path) -> None:
    file = made(tmp_path, "a.flac", "PCM_16")
    (tmp_path / file).rename(tmp_path / "recordings/b.wav")
    problem = problem_of(tmp_path, "recordings/b.wav")
    assert (problem.got, problem.remedy) == ("FLAC in a file named .wav", "name it b.flac")


@pytest.mark.parametrize("content", [b"some words that are no sound at all" * 9, b"RIFF", b"\0" * 400, b"OggS" + b"\0" * 80])
def test_what_is_no_sound_is_told_in_one_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "a.wav").write_bytes(content)
    problem = problem_of(tmp_path, "a.wav")
    assert problem.got.startswith("what cannot be read as sound")
    assert str(tmp_path) not in problem.got


def test_a_head_without_sound_and_an_empty_file_are_told(tmp_path: Path) -> None:
    write_sound(tmp_path / "none.wav", np.zeros(0))
    assert problem_of(tmp_path, "none.wav").got == "a recording without any sound"
    (tmp_path / "empty.wav").write_bytes(b"")
    assert problem_of(tmp_path, "empty.wav").got == "an empty file"


def test_more_than_an_hour_and_more_than_the_limit_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_sound(tmp_path / "long.wav", np.zeros(3601 * 100), rate=100)
    problem = problem_of(tmp_path, "long.wav")
    assert (problem.code, problem.got, problem.expected) == ("too-long", "60 minutes", "at most 60 minutes")
    monkeypatch.setattr(sound_file, "RECORDING_BYTES", 1000)
    assert problem_of(tmp_path, "long.wav").code == "file-too-big"


# Small recordings that scipy ships for its own reader (BSD-3-Clause): odd widths, byte orders and chunks, and some that break off.
SHIPPED = sorted((Path(scipy.__file__).parent / "io/tests/data").glob("*.wav"))
BROKEN = ("early-eof", "incomplete-chunk", "no-data", "36bit", "45bit", "53bit", "64bit.wav")


def test_there_are_recordings_of_others() -> None:
    assert len(SHIPPED) >= 20


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
@pytest.mark.filterwarnings("ignore::scipy.io.wavfile.WavFileWarning")
def test_recordings_of_others_are_read_as_another_reader_reads_them_or_refused_in_a_sentence(path: Path) -> None:
    recording, problem = read_recording(path.parent, path.name)
    if recording is None:
        assert problem
        assert any(word in path.name for word in BROKEN), problem
        assert problem.got.startswith(("what cannot be read as sound", "a recording that breaks off"))
        return
    if recording.lossy or any(odd in path.name for odd in ("20bit-extra", "inconsistent")):  # the other reader refuses these
        return
    rate, samples = scipy.io.wavfile.read(path)
    assert (recording.rate, recording.frames) == (rate, len(samples))
