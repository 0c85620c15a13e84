"""The originals that go along in an owner's record: photographs, recordings, documents, without what devices wrote beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from benchrecord.intake.paths import on_disk
from benchrecord.model.job import Job, Photo, TakenBy
from benchrecord.record.bag import Content
from benchrecord.record.bare_pictures import bare_picture
from benchrecord.record.bare_sounds import bare_sound
from benchrecord.record.paths import portable

NOT_BARE = "left out, since the way it is stored does not let what the device wrote beside it be taken out"
DAMAGED = "left out, since it is not as its name says"


@dataclass(slots=True)
class Originals:
    """What goes along: the content of each file by its path in the record, where each photograph is, and what is left out and why.

    ``own`` has the paths of photographs that the owner took: what they tell is the owner's.
    """

    files: dict[str, Content] = field(default_factory=dict)
    photographs: dict[str, str] = field(default_factory=dict)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    own: set[str] = field(default_factory=set)


def originals(folder: Path, job: Job, scratch: Path) -> Originals:
    """Gather the originals of a job as its owner may have them; what is taken out of them is so in copies, in ``scratch``."""
    found = Originals()
    for number, photo in enumerate(job.photos):
        content = _photograph(on_disk(folder, photo.file), scratch / f"photograph-{number}", photo, job)
        if path := _taken(found, photo.file, "data/photographs/", content):
            found.photographs[photo.file] = path
            found.own |= {path} if photo.taken_by is TakenBy.OWNER else set()
    for number, recording in enumerate(job.recordings):
        content = _recording(on_disk(folder, recording.file), scratch / f"recording-{number}")
        _taken(found, recording.file, "data/recordings/", content)
    for document in job.documents:
        original = on_disk(folder, document.file)
        if original.is_file():
            _taken(found, document.file, "data/documents/", original)
    return found


def _taken(found: Originals, file: str, below: str, content: Content | str) -> str:
    if isinstance(content, str):
        found.left_out.append((file, content))
        return ""
    path = portable(below + file.partition("/")[2], found.files)
    found.files[path] = content
    return path


def _photograph(path: Path, out: Path, photo: Photo, job: Job) -> Path | str:
    """Return where a photograph lies, or why it is left out. The owner's own goes as it is where the job lets it keep its place."""
    own = photo.taken_by is TakenBy.OWNER
    if own and job.hand_over.photo_location:
        return path
    try:
        bare = bare_picture(path.read_bytes(), own=own)
    except ValueError:
        return DAMAGED
    if bare is None:
        return NOT_BARE
    out.write_bytes(bare)
    return out


def _recording(path: Path, out: Path) -> Path | str:
    try:
        with path.open("rb") as original, out.open("wb") as made:
            return out if bare_sound(original, made) else NOT_BARE
    except ValueError:
        return DAMAGED


def groups(found: Originals) -> Iterator[str]:
    """Yield the folders of the record that originals lie in."""
    yield from dict.fromkeys("/".join(path.split("/")[:2]) for path in found.files)
