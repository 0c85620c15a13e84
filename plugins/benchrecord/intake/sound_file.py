"""What is read of a recording: that it is one and whole, how long it is, and its samples piece by piece."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from benchrecord.intake.paths import MB, RECORDING_BYTES, on_disk, unread
from benchrecord.model.job import Recording
from benchrecord.problems import Place, Problem

ENDINGS = {
    ".wav": ("WAV", "WAVEX", "RF64", "W64"), ".flac": ("FLAC",), ".aiff": ("AIFF",), ".aif": ("AIFF",),
    ".ogg": ("OGG",), ".opus": ("OGG",), ".mp3": ("MP3", "MPEG"),
}  # fmt: skip
LONGEST_S = 3600
LOSSY = ("VORBIS", "OPUS", "MPEG_LAYER_I", "MPEG_LAYER_II", "MPEG_LAYER_III", "IMA_ADPCM", "MS_ADPCM", "ULAW", "ALAW")
FORMS = {"PCM_16": "16 bit", "PCM_24": "24 bit", "PCM_32": "32 bit", "PCM_S8": "8 bit", "PCM_U8": "8 bit", "FLOAT": "32 bit float", "DOUBLE": "64 bit float"}  # fmt: skip
# The reader's own note on a WAV or AIFF whose sound is shorter than its head says. A size of all ones means: until the end.
CUT = re.compile(r"^ *(?:data|SSND) : (\d+) \(should be (\d+)\)", re.MULTILINE)
UNTIL_THE_END = (0, 0xFFFFFFFF)
PAGE, FLAGS, LAST, COUNT = b"OggS", 5, 0x04, 26  # RFC 3533, section 6: the last page of a stream says so in its flags
TAIL = 65536  # no page of Ogg is longer
A_RECORDING, AGAIN = "a recording in WAV, FLAC, AIFF, Ogg or MP3", "copy it from the recorder again"


def read_recording(folder: Path, name: str) -> tuple[Recording | None, Problem | None]:
    """Read the head of a recording and make sure that it is whole."""
    path = on_disk(folder, name)
    size = path.stat().st_size
    if not size:
        return None, unread(name, "an empty file", "a recording", "copy the recording again")
    if size > RECORDING_BYTES:
        said, most = f"{size / MB:.0f} MB", f"at most {RECORDING_BYTES // MB} MB"
        return None, Problem("file-too-big", Place(name), said, most, "cut or compress the recording")
    import soundfile  # noqa: PLC0415  # only where there is a recording

    try:
        with soundfile.SoundFile(path) as file:
            recording = _facts(name, file)
            wrong = _mislabelled(name, file) or _cut(name, path, file) or _length(name, recording)
    except (soundfile.SoundFileError, OSError) as error:
        said = getattr(error, "error_string", str(error)).rstrip(".")
        return None, unread(name, f"what cannot be read as sound: {said}"[:80], A_RECORDING, AGAIN)
    return (None, wrong) if wrong else (recording, None)


def tags_of(file: Path | BinaryIO) -> list[str]:
    """Return what a recording tells beside its samples: title, artist, comment and their like; nothing of what cannot be read."""
    import soundfile  # noqa: PLC0415  # only where there is a recording

    try:
        with soundfile.SoundFile(file) as opened:
            return [str(v) for v in opened.copy_metadata().values()]
    except (soundfile.SoundFileError, OSError):
        return []


def _facts(name: str, file: Any) -> Recording:
    form = FORMS.get(file.subtype, file.subtype_info)
    kind = "Ogg" if file.format == "OGG" else file.format
    return Recording(name, file.samplerate, max(0, file.frames), file.channels, f"{kind}, {form}", file.subtype in LOSSY)


def _mislabelled(name: str, file: Any) -> Problem | None:
    ending = Path(name).suffix.lower()
    if file.format in ENDINGS.get(ending, (file.format,)):
        return None
    right = next((e for e, formats in ENDINGS.items() if file.format in formats), "")
    remedy = f"name it {Path(name).with_suffix(right).name}" if right else "save it as WAV or FLAC"
    return unread(name, f"{file.format} in a file named {ending}", f"what its name says, {ending[1:].upper()}", remedy)


def _length(name: str, recording: Recording) -> Problem | None:
    if not recording.frames:
        return unread(name, "a recording without any sound", "a recording", AGAIN)
    if recording.seconds <= LONGEST_S:
        return None
    said = f"{recording.seconds / 60:.0f} minutes"
    return Problem("too-long", Place(name), said, f"at most {LONGEST_S // 60} minutes", "cut it to the part that is wanted")


def _cut(name: str, path: Path, file: Any) -> Problem | None:
    """Find out whether the end of a recording is missing: what its head promises must be there."""
    stated = [(int(a), int(b)) for a, b in CUT.findall(file.extra_info)]
    short = any(size > there and size not in UNTIL_THE_END for size, there in stated)
    if short or not _ends(path, file):
        return unread(name, "a recording that breaks off", "a whole recording", AGAIN)
    return None


def _ends(path: Path, file: Any) -> bool:
    if file.format == "OGG":
        with path.open("rb") as raw:
            raw.seek(max(0, path.stat().st_size - TAIL))
            return _last_page_is_whole(raw.read())
    few = min(int(file.frames), 1000)
    file.seek(file.frames - few)
    return len(file.read(few)) == few


def _last_page_is_whole(tail: bytes) -> bool:
    page = tail[tail.rfind(PAGE) :] if PAGE in tail else b""
    if len(page) <= COUNT or not page[FLAGS] & LAST:
        return False
    lengths = page[COUNT + 1 : COUNT + 1 + page[COUNT]]
    return len(page) >= COUNT + 1 + page[COUNT] + sum(lengths)


@dataclass(frozen=True, slots=True)
class FileSound:
    """The samples of a recording, read from its file piece by piece; full scale is 1."""

    path: Path
    rate: int
    frames: int
    channels: int

    def read(self, start: int, stop: int, channel: int) -> Any:
        """Return the samples of one channel from a frame up to another, (n,); fewer where they cannot be read."""
        import soundfile  # noqa: PLC0415

        try:
            with soundfile.SoundFile(self.path) as file:
                file.seek(start)
                frames = file.read(stop - start, dtype="float64", always_2d=True)
        except soundfile.SoundFileError:
            return ()
        own = frames[:, channel]
        return own if self.channels == 1 else own.copy()  # a view would hold all channels


def opener(folder: Path, recordings: tuple[Recording, ...]) -> Callable[[str], FileSound | None]:
    """Return what opens a recording of the folder by its name; None for one that it does not have."""
    known = {r.file: r for r in recordings}

    def open_sound(file: str) -> FileSound | None:
        facts = known.get(file)
        return FileSound(on_disk(folder, file), facts.rate, facts.frames, facts.channels) if facts else None

    return open_sound
