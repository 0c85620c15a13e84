"""What a picture tells beside its pixels: where it was taken, and every text that a camera or a program wrote into it."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from PIL import ExifTags, Image

from benchrecord.intake.picture_file import formats_of, unwarned

LONGEST = 20_000  # of a text or a block that is looked through
PRINTABLE = re.compile(rb"[\x20-\x7e]{6,}")
XMP = re.compile(r"xmlns|</?[\w.-]+:[\w.-]+|\brdf:|<\?xpacket")
# Names of tags and attributes, and what namespaces are called (XMP part 1, ISO 16684-1); pieces of a packet are split as well.
MARKUP = re.compile(
    r"""xmlns(?::[\w.-]+)?=(?:"[^"]*"?|'[^']*'?)|<[/?]?[\w.:-]+|(?<![\w.-])[\w.-]++(?::[\w.-]++)?=(?=["'])|[/?]?>"""
)
HAS_EXIF, HAS_XMP = 0x08, 0x04
# Of a JPEG: applications' own but the first, and comments (ITU-T T.81, table B.1). Among coded pixels no such marker stands (B.1.1.5).
SEGMENT_THAT_TELLS = re.compile(rb"\xff[\xe1-\xef\xfe]")
METADATA, LOOP = {"comment", "exif", "icc_profile", "xmp"}, b"NETSCAPE2.0"
GPS = {"latitude": (2, 1), "longitude": (4, 3)}  # CIPA DC-008, GPS IFD: degrees, minutes, seconds, and on which side


@dataclass(frozen=True, slots=True)
class Told:
    """Latitude and longitude in degrees, where a picture tells them, and its texts."""

    place: tuple[float, float] | None = None
    texts: tuple[str, ...] = ()


def told_by(data: bytes) -> Told:
    """Read the metadata of a picture; what cannot be read tells nothing."""
    if _is_bare(data):
        return Told()
    try:
        with unwarned(), Image.open(io.BytesIO(data), formats=formats_of(data[:12])) as image:
            exif = image.getexif()
            ifds: list[Any] = [exif, *(exif.get_ifd(number) for number in ExifTags.IFD)]
            further = {k: v for k, v in image.info.items() if k not in ("exif", "icc_profile")}
            return Told(
                _place(exif.get_ifd(ExifTags.IFD.GPSInfo)),
                tuple(dict.fromkeys(t for d in (*ifds, further) for t in _texts(dict(d)))),
            )
    except Exception:  # noqa: BLE001  # damaged metadata raises whatever its decoder happens to raise
        return Told()


def has_metadata(data: bytes) -> bool:
    """Say whether a picture has text, a place or a colour profile besides its pixels; one that cannot be read may have."""
    if told_by(data) != Told():
        return True
    try:
        with unwarned(), Image.open(io.BytesIO(data)) as image:
            block = bytes(image.info.get("extension", (LOOP,))[0])  # of a GIF
            return bool(METADATA & image.info.keys()) or not block.startswith(LOOP) or bool(image.getexif())
    except Exception:  # noqa: BLE001  # damaged metadata raises whatever its decoder happens to raise
        return True


def _is_bare(data: bytes) -> bool:
    """Say whether a WebP or a JPEG has no room for metadata, as all that are published: hundreds are asked, and this takes no time."""
    if data[8:12] == b"WEBP":  # only an extended one has any, and says so (RFC 9649, section 2.7)
        return data[12:16] != b"VP8X" or not any(flags & (HAS_EXIF | HAS_XMP) for flags in data[20:21])
    return data[:2] == b"\xff\xd8" and not SEGMENT_THAT_TELLS.search(data)


def _place(gps: dict[int, Any]) -> tuple[float, float] | None:
    if not all(number in gps for number, _ in GPS.values()):
        return None
    latitude, longitude = (_degrees(gps[number], gps.get(side)) for number, side in GPS.values())
    return latitude, longitude


def _degrees(parts: Any, side: object) -> float:
    degrees, minutes, seconds = (float(p) for p in parts)
    value = degrees + minutes / 60 + seconds / 3600
    return -value if str(side) in ("S", "W") else value


def _without_markup(text: str) -> Iterator[str]:
    """Yield what XMP says without its names, which every picture and every drawing has; any other text is one."""
    if XMP.search(text):
        yield from (said for piece in MARKUP.split(text) if (said := piece.strip(" \t\r\n\"'")))
    else:
        yield text


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str) and value.strip():
        yield from _without_markup(value[:LONGEST])
    elif isinstance(value, bytes):
        found = PRINTABLE.finditer(re.sub(rb"\0{2,}", b"\n", value[:LONGEST]).replace(b"\0", b""))
        yield from (text for m in found for text in _without_markup(m[0].decode()))
    elif isinstance(value, dict | list | tuple):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _texts(inner)
