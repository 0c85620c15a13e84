"""What intake needs of a picture: that it is one, its size as it is seen, and its date."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from benchrecord.intake.paths import MB, PICTURE_BYTES, PICTURE_PIXELS
from benchrecord.problems import Place, Problem

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")  # by what is in the file: others may start further programs
ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp")
LATER_ENDINGS = (".heic", ".heif")
ORIENTATION, EXIF_IFD, TAKEN = 0x0112, 0x8769, 0x9003
TURNED = (5, 6, 7, 8)  # orientations that swap width and height
NO_PICTURE = "a JPEG, PNG, TIFF or WebP picture"


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """Size in pixels, upright, and the day it was taken."""

    width: int
    height: int
    taken: date | None


def read_picture(folder: Path, name: str) -> tuple[PictureFacts | None, Problem | None]:
    """Read a picture's head and make sure that it can be decoded."""
    path = folder / name
    try:
        if path.stat().st_size > PICTURE_BYTES:
            return None, Problem(
                "file-too-big",
                Place(name),
                f"{path.stat().st_size / MB:.0f} MB",
                f"at most {PICTURE_BYTES // MB} MB",
                "save it smaller",
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the limit below is ours, and stricter
            return _facts(path, name)
    except Image.DecompressionBombError:
        return None, _too_many(name, "more pixels than a photograph has")
    except UnidentifiedImageError:
        said = "no picture of these kinds" if path.stat().st_size else "an empty file"
        return None, Problem("file-unread", Place(name), said, NO_PICTURE, "save it as JPEG, or copy it from the camera again")
    except Exception as error:  # noqa: BLE001  # a damaged picture may raise anything
        said = f"a damaged picture: {error}"[:80]
        return None, Problem("file-unread", Place(name), said, NO_PICTURE, "copy the picture from the camera again")


def _facts(path: Path, name: str) -> tuple[PictureFacts | None, Problem | None]:
    with Image.open(path, formats=FORMATS) as image:
        width, height = image.size
        if width * height > PICTURE_PIXELS:
            return None, _too_many(name, f"{width} × {height}")
        exif = image.getexif()
        image.draft("RGB", (64, 64))
        image.load()
    if exif.get(ORIENTATION) in TURNED:
        width, height = height, width
    return PictureFacts(width, height, _taken(exif)), None


def _too_many(name: str, said: str) -> Problem:
    return Problem("too-many-pixels", Place(name), said, f"at most {PICTURE_PIXELS // MB} megapixels", "save it smaller")


def _taken(exif: Image.Exif) -> date | None:
    try:
        return datetime.strptime(str(exif.get_ifd(EXIF_IFD).get(TAKEN, ""))[:19], "%Y:%m:%d %H:%M:%S").date()  # noqa: DTZ007  # a camera writes no time zone
    except ValueError:
        return None
