"""What intake needs of a picture: that it is one and whole, its size as it is seen, and its date."""

from __future__ import annotations

import hashlib
import json
import re
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from PIL import Image, ImageFile, UnidentifiedImageError

from benchrecord.intake.paths import MB, PICTURE_BYTES, PICTURE_PIXELS, on_disk
from benchrecord.model.job import DatedBy
from benchrecord.problems import Place, Problem

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")  # by what is in the file: others may start further programs
ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif")
ORIENTATION, EXIF_IFD = 0x0112, 0x8769
TAKEN, STORED, TAKEN_ZONE, STORED_ZONE = 0x9003, 0x9004, 0x9011, 0x9012  # CIPA DC-008: of the picture, of its file
SUBFILE_TYPE, SMALLER_COPY = 254, 1  # TIFF 6.0, NewSubfileType
TURNED = (5, 6, 7, 8)  # orientations that swap width and height
HEADS = (b"\xff\xd8\xff", b"\x89PNG", b"II*\0", b"MM\0*", b"RIFF")
INNER = re.compile(r" \(\d+ bytes not processed\)| \(points to .*")  # what only a decoder knows
NO_PICTURE = "a JPEG, PNG, TIFF, WebP or HEIC picture"
AGAIN, AS_JPEG = "copy the picture from the camera again", "save it as JPEG, or copy it from the camera again"


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """Size in pixels, upright; the day it was taken and how that is known; whether the file holds more than it; a digest of its bytes."""

    width: int
    height: int
    taken: date | None
    dated: DatedBy | None
    several: bool
    content: str = ""


class Keep(Protocol):
    """Looks up what was found out before about the same bytes; else finds it out, and keeps it."""

    def __call__(self, *key: str | bytes, make: Callable[[], bytes]) -> bytes:
        """Return what ``make`` gives for this key."""


def _forgetful(*_key: str | bytes, make: Callable[[], bytes]) -> bytes:
    """Keep nothing."""
    return make()


@dataclass(frozen=True, slots=True)
class Looking:
    """How pictures are looked at: ``keep`` remembers what was found, ``prove`` decodes a file to its end and raises where it breaks off.

    Whoever needs the pixels anyway brings a ``prove`` of his own, which gets the file and the digest of its content; without one
    a picture is decoded and forgotten.
    """

    keep: Keep = _forgetful
    prove: Callable[[Path, str], object] | None = None


ONCE = Looking()


class _NotOneError(Exception):
    """A file that is no picture, with the problem that says so."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.got)
        self.problem = problem


@contextmanager
def unwarned() -> Iterator[None]:
    """Keep the decoders' warnings quiet, in all threads: of what a camera wrote badly, and of sizes that are within the limit here."""
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # what makes PDF allows it for the whole program
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def read_picture(folder: Path, name: str, looking: Looking = ONCE) -> tuple[PictureFacts | None, Problem | None]:
    """Make sure that a picture can be decoded, and read its facts; a picture of several has facts, and a problem that is a hint."""
    path = on_disk(folder, name)
    try:
        if path.stat().st_size > PICTURE_BYTES:
            said = f"{path.stat().st_size / MB:.0f} MB"
            return None, Problem("file-too-big", Place(name), said, f"at most {PICTURE_BYTES // MB} MB", "save it smaller")
        with path.open("rb") as file:
            content = hashlib.file_digest(file, "sha256").hexdigest()
        prove = partial(looking.prove, path, content) if looking.prove else None
        facts = _from_bytes(looking.keep("picture", content, make=lambda: _as_bytes(_decoded(path, name, prove))), content)
    except _NotOneError as error:
        return None, error.problem
    except OSError as error:
        return None, Problem("file-unread", Place(name), error.strerror or str(error), NO_PICTURE, AGAIN)
    return facts, _several(name) if facts.several else None


def _decoded(path: Path, name: str, prove: Callable[[], object] | None) -> PictureFacts:
    try:
        return _facts(path, name, prove)
    except _NotOneError:
        raise
    except Image.DecompressionBombError as error:
        raise _NotOneError(_too_many(name, "more pixels than a photograph has")) from error
    except UnidentifiedImageError as error:
        said = _what_it_is(path)
        raise _NotOneError(Problem("file-unread", Place(name), said, NO_PICTURE, AS_JPEG)) from error
    except Exception as error:
        said = f"a damaged picture: {INNER.sub('', str(error))}"[:80]
        raise _NotOneError(Problem("file-unread", Place(name), said, NO_PICTURE, AGAIN)) from error


def _facts(path: Path, name: str, prove: Callable[[], object] | None) -> PictureFacts:
    ImageFile.LOAD_TRUNCATED_IMAGES = (
        False  # some libraries set it for the whole process, and half a picture would pass for one
    )
    with Image.open(path, formats=_formats(path)) as image:
        width, height = image.size
        if width * height > PICTURE_PIXELS:
            raise _NotOneError(_too_many(name, f"{width} × {height}"))
        several = _holds_several(image)
        if prove is None:
            image.draft("RGB", (64, 64)) if image.format in (
                "JPEG",
                "MPO",
            ) else None  # read to its end, and unpacked no further than needed
            image.load()
        exif = image.getexif()
        turned = (
            exif.get(ORIENTATION) in TURNED and image.format != "TIFF"
        )  # the size of a TIFF is that of the picture as it is seen
        taken, dated = _taken(exif)
    if prove is not None:
        prove()
    if turned:
        width, height = height, width
    return PictureFacts(width, height, taken, dated, several=several)


def _formats(path: Path) -> tuple[str, ...]:
    with path.open("rb") as file:
        return formats_of(file.read(12))


def formats_of(head: bytes) -> tuple[str, ...]:
    """Return the formats that a file may be read as, by how it begins."""
    if head[4:8] != b"ftyp":
        return FORMATS
    from pillow_heif import register_heif_opener  # noqa: PLC0415  # it takes a tenth of a second to load, and most jobs have no HEIC

    register_heif_opener()
    return ("HEIF",)


def _holds_several(image: Any) -> bool:
    """Say whether a file holds further pictures that somebody may miss: not a smaller copy, nor what a camera adds for its own use."""
    if image.format == "MPO":
        kinds = (str(entry["Attribute"]["MPType"]) for entry in image.mpinfo[0xB002])
        return any(kind.startswith("Multi-Frame") for kind in kinds)
    if image.format != "TIFF" or not image.is_animated:
        return bool(getattr(image, "n_frames", 1) > 1)
    image.seek(1)
    smaller = image.tag_v2.get(SUBFILE_TYPE, 0) & SMALLER_COPY
    image.seek(0)
    return not smaller


def _what_it_is(path: Path) -> str:
    """Say in words what a file is that no picture could be made of."""
    with path.open("rb") as file:
        head = file.read(12)
    if head.startswith(HEADS) or head[4:8] == b"ftyp":
        return "a damaged picture, or one stored in a rare way"
    return "no picture of these kinds" if head else "an empty file"


def _several(name: str) -> Problem:
    said, remedy = "several pictures in one file", "leave it: the first is shown; or save the others as files of their own"
    return Problem("several-pictures", Place(name), said, "one picture", remedy)


def _too_many(name: str, said: str) -> Problem:
    return Problem("too-many-pixels", Place(name), said, f"at most {PICTURE_PIXELS // MB} megapixels", "save it smaller")


def _taken(exif: Image.Exif) -> tuple[date | None, DatedBy | None]:
    """Return the day that the camera's clock showed, and whether the clock knew its time zone: if so, it is the day of the place."""
    own = exif.get_ifd(EXIF_IFD)
    for when, zone in ((TAKEN, TAKEN_ZONE), (STORED, STORED_ZONE)):
        try:
            day = datetime.strptime(str(own.get(when, ""))[:19], "%Y:%m:%d %H:%M:%S").date()  # noqa: DTZ007  # the zone stands in a tag of its own
        except ValueError:
            continue
        return day, DatedBy.LOCAL_TIME if _is_zone(str(own.get(zone, ""))) else DatedBy.CAMERA
    return None, None


def _is_zone(text: str) -> bool:
    """Say whether a text is a distance from UTC, as ``+01:00``; a camera that does not know writes blanks."""
    try:
        datetime.strptime(text.strip("\0 "), "%z")
    except ValueError:
        return False
    return True


def _as_bytes(facts: PictureFacts) -> bytes:
    return json.dumps(asdict(facts), default=str).encode()


def _from_bytes(kept: bytes, content: str) -> PictureFacts:
    found = json.loads(kept)
    taken, dated = found["taken"], found["dated"]
    return PictureFacts(
        found["width"], found["height"], date.fromisoformat(taken) if taken else None, DatedBy(dated) if dated else None,
        several=found["several"], content=content,
    )  # fmt: skip
