"""Original recordings in MP3 as they are handed over: every sample as it was, and no byte of what is not sound."""

from __future__ import annotations

import io
import itertools
import struct

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from mutagen.mp3 import MP3

from benchrecord.record.bare_mp3 import _check, _first, _frame, _frames
from benchrecord.record.bare_sounds import bare_sound

SECRET = b"Ottilie SERIAL-77"
SIZE = bytes((len(SECRET),))
PROGRAM = b"LAME3.100"
RATES = [(44100, 2), (48000, 1), (32000, 1), (24000, 2), (22050, 1), (16000, 2), (12000, 1), (11025, 2), (8000, 1)]
TAG = b"ID3\4\0\0\0\0\0" + SIZE + SECRET
APE = b"APETAGEX" + struct.pack("<4I8x", 2000, 32 + len(SECRET), 1, 0) + SECRET
BEHIND = {"ID3v1": b"TAG" + SECRET.ljust(125, b"\0"), "APEv2": SECRET + APE, "Lyrics": b"LYRICSBEGIN" + SECRET + b"LYRICS200"}


def stored(rate: int = 44100, channels: int = 1, mode: str = "VARIABLE", level: float = 0.4) -> bytes:
    """Return a recording that is loud and silent by turns, so that frames lend each other room."""
    out, n = io.BytesIO(), np.arange(rate)
    wave = np.sin(n / 19) * 0.4 + np.random.default_rng(2).normal(0, 0.05, rate) * (n % (rate // 4) > rate // 7)
    wave[rate // 3 : rate // 2] = 0
    both = np.stack([wave, wave[::-1]], axis=1)[:, :channels]
    soundfile.write(out, both, rate, format="MP3", bitrate_mode=mode, compression_level=level)
    return out.getvalue()


def bared(original: bytes) -> bytes:
    out = io.BytesIO()
    assert bare_sound(io.BytesIO(original), out)
    return out.getvalue()


def heard(content: bytes) -> np.ndarray:
    return soundfile.read(io.BytesIO(content))[0]


@pytest.mark.parametrize(
    ("rate", "channels", "mode"), [(*r, m) for r, m in zip(RATES, itertools.cycle(("VARIABLE", "CONSTANT", "AVERAGE")))]
)
def test_every_sample_stays_and_the_name_of_the_program_does_not(rate: int, channels: int, mode: str) -> None:
    original = stored(rate, channels, mode)
    bare = bared(original)
    assert original.count(PROGRAM) > 1
    assert PROGRAM not in bare
    assert len(bare) == len(original)
    assert np.array_equal(heard(bare), heard(original))


@pytest.mark.parametrize("behind", BEHIND.values(), ids=BEHIND)
def test_tags_before_and_behind_it_go(behind: bytes) -> None:
    assert bared(TAG + TAG + bytes(300) + stored() + behind) == bared(stored())


def test_an_outside_reader_finds_as_long_a_recording_without_tags() -> None:
    original = TAG + stored() + BEHIND["ID3v1"]
    read = MP3(io.BytesIO(bared(original)))
    assert read.tags is None
    assert read.info.length == MP3(io.BytesIO(original)).info.length
    assert (read.info.encoder_info, read.info.bitrate_mode) == ("LAME 3.90.0+", MP3(io.BytesIO(original)).info.bitrate_mode)


def test_the_check_of_the_frame_that_tells_lengths_is_right_again() -> None:
    original, bare = stored(), bared(stored())
    for whole in (original, bare):
        at = whole.index(b"LAME")
        assert int.from_bytes(whole[at + 34 : at + 36], "big") == _check(whole[: at + 34])
    assert original != bare


def test_words_behind_the_lengths_go() -> None:
    original = bytearray(stored(level=0.0))
    at = original.index(b"LAME") + 40
    original[at : at + len(SECRET)] = SECRET
    assert SECRET not in bared(bytes(original))


def test_a_table_to_seek_by_of_another_program_stays_without_more() -> None:
    original = stored(level=0.0, mode="CONSTANT")
    size = _frames(original, _frame(original, 0)).__next__().end  # type: ignore[arg-type]  # it is one
    table = b"VBRI" + struct.pack(">HHHIIHHHH", 1, 0, 75, len(original), 39, 2, 1, 2, 20) + b"\0\5\0\6"
    told = (original[:4] + bytes(32) + table + SECRET).ljust(size, b"\0")
    bare = bared(told + original[size:])
    assert table in bare
    assert SECRET not in bare
    assert np.array_equal(heard(bare), heard(told + original[size:]))


def test_without_a_frame_that_tells_lengths_all_frames_are_sound() -> None:
    original = stored(mode="CONSTANT")
    sound = original[_frame(original, 0).end :]  # type: ignore[union-attr]  # it is one
    assert np.array_equal(heard(bared(sound)), heard(sound))
    assert PROGRAM not in bared(sound)


@pytest.mark.parametrize("between", [SECRET, BEHIND["ID3v1"], TAG])
def test_sound_behind_something_else_is_told(between: bytes) -> None:
    whole = stored()
    first = _first(whole, 0, 10)
    middle = list(_frames(whole, first))[20].end  # type: ignore[arg-type]  # it has one
    with pytest.raises(ValueError, match="between its frames"):
        bared(whole[:middle] + between + whole[middle:])


def test_one_that_breaks_off_is_told() -> None:
    with pytest.raises(ValueError, match="breaks off"):
        bared(stored()[:-20])


@pytest.mark.parametrize("other", [b"", b"ID3", b"caff" + SECRET, b"\xff" * 9000, b"\xff\xfd\x90\x04" + bytes(413)])
def test_what_is_no_mp3_is_told(other: bytes) -> None:
    assert not bare_sound(io.BytesIO(other * 6), io.BytesIO())


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_damaged_one_is_told_or_comes_to_no_more_than_it_was(data: st.DataObject) -> None:
    original = bytearray(stored(rate=8000))
    for _ in range(data.draw(st.integers(1, 6))):
        original[data.draw(st.integers(0, len(original) - 1))] = data.draw(st.integers(0, 255))
    cut, out = bytes(original[: data.draw(st.integers(0, len(original)))]), io.BytesIO()
    try:
        bare_sound(io.BytesIO(cut), out)
    except ValueError:
        return
    assert len(out.getvalue()) <= len(cut)
