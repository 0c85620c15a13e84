"""Pictures that say more than they show: every private tag that is listed, planted in every format that has a place for it."""

from __future__ import annotations

import io
import struct
from typing import Any

from PIL import ExifTags, Image, ImageCms, PngImagePlugin
from PIL.TiffImagePlugin import ImageFileDirectory_v2

from pictures import corners, encoded

TELLTALE = "Ottilie SERIAL-77"
KINDS = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "HEIF")
COORDINATES, NUMBERED = (51.0, 30.0, 5.5), b"ASCII\0\0\0" + TELLTALE.encode()
OF_GPS: dict[int, Any] = {  # values of the kinds that CIPA DC-008 asks for; the others are texts
    0x00: b"\2\3\0\0", 0x01: "N", 0x02: COORDINATES, 0x03: "W", 0x04: COORDINATES, 0x05: b"\1", 0x06: 77.0, 0x07: (10.0, 15.0, 0.0), 0x09: "A", 0x0A: "3",
    0x0B: 1.5, 0x0C: "K", 0x0D: 3.0, 0x0E: "T", 0x0F: 77.0, 0x10: "T", 0x11: 77.0, 0x13: "N", 0x14: COORDINATES, 0x15: "W", 0x16: COORDINATES, 0x17: "T",
    0x18: 7.0, 0x19: "K", 0x1A: 7.0, 0x1B: NUMBERED, 0x1C: NUMBERED, 0x1D: "2026:02:03", 0x1E: 1, 0x1F: 7.0,
}  # fmt: skip
DAY = "2026:02:03 10:15:00"
OF_EXIF: dict[int, Any] = {
    0x927C: NUMBERED,
    0x9286: NUMBERED,
    0xA40B: NUMBERED,
    0x9003: DAY,
    0x9004: DAY,
    0x9011: "+01:00",
    0x9291: "77",
}
BYLINE = b"\x1c\x02\x50" + struct.pack(">H", len(TELLTALE)) + TELLTALE.encode()
RESOURCES = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(BYLINE)) + BYLINE + b"\0" * (len(BYLINE) % 2)
XMP = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" dc:source="{TELLTALE}"/></rdf:RDF></x:xmpmeta>'.encode()  # fmt: skip
OF_IMAGE: dict[int, Any] = {
    0x0132: DAY,
    0x02BC: XMP,
    0x8649: RESOURCES,
    0x83BB: BYLINE,
    **dict.fromkeys(range(0x9C9B, 0x9CA0), TELLTALE.encode("utf-16-le") + b"\0\0"),
}


def numbers(rows: list[dict[str, str]], where: str) -> list[int]:
    """Return the numbers of the tags that belong to one part of Exif."""
    return [int(row["tag"], 16) for row in rows if row["where"] == where and row["name_pillow"] != "GPSInfo"]


def telling(kind: str, rows: list[dict[str, str]]) -> bytes:
    """Return a picture of a format that holds all tags of a list, and whatever else its format has a place for."""
    tags = {where: {n: known.get(n, TELLTALE) for n in numbers(rows, where)} for where, known in (("Image", OF_IMAGE), ("Exif", OF_EXIF), ("GPS IFD", OF_GPS))}  # fmt: skip
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    if kind == "TIFF":
        return encoded(corners(), kind, tiffinfo=_directory(tags), icc_profile=profile)
    exif = _with_thumbnail(_exif(tags))
    if kind == "MPO":
        return encoded(corners(), kind, save_all=True, append_images=[Image.new("RGB", (40, 30), "blue")], exif=exif)
    more: dict[str, dict[str, Any]] = {"JPEG": {"comment": TELLTALE.encode(), "xmp": XMP}, "PNG": {"pnginfo": _chunks()}, "WEBP": {"xmp": XMP}, "HEIF": {"xmp": XMP}}  # fmt: skip
    made = encoded(corners(), kind, exif=exif, icc_profile=profile, **more[kind])
    return _with_segments(made) if kind == "JPEG" else made


def _exif(tags: dict[str, dict[int, Any]]) -> bytes:
    exif = Image.Exif()
    exif.update(tags["Image"])
    exif.get_ifd(ExifTags.IFD.Exif).update(tags["Exif"])
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(tags["GPS IFD"])
    return exif.tobytes()


def _with_thumbnail(exif: bytes) -> bytes:
    """Hang a second directory into an Exif block (big-endian, as Pillow writes it): a small JPEG of what the picture once showed."""
    block = bytearray(exif.removeprefix(b"Exif\0\0"))
    (first,) = struct.unpack(">I", block[4:8])
    (count,) = struct.unpack(">H", block[first : first + 2])
    link, start = first + 2 + 12 * count, len(block) + len(block) % 2
    small = encoded(Image.new("RGB", (16, 12), "red"), comment=TELLTALE.encode())
    directory = struct.pack(">HHHIHxxHHIIHHIII", 3, 0x0103, 3, 1, 6, 0x0201, 4, 1, start + 42, 0x0202, 4, 1, len(small), 0)
    block[link : link + 4] = struct.pack(">I", start)
    return b"Exif\0\0" + bytes(block).ljust(start, b"\0") + directory + small


def _directory(tags: dict[str, dict[int, Any]]) -> ImageFileDirectory_v2:
    directory = ImageFileDirectory_v2()
    for number, value in tags["Image"].items():
        directory[number] = value
    directory[ExifTags.IFD.Exif], directory[ExifTags.IFD.GPSInfo] = tags["Exif"], tags["GPS IFD"]
    return directory


def _chunks() -> PngImagePlugin.PngInfo:
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", TELLTALE)
    info.add_text("Comment", TELLTALE * 3, zip=True)
    info.add_itxt("XML:com.adobe.xmp", XMP.decode())
    info.add(b"tIME", struct.pack(">HBBBBB", 2026, 2, 3, 10, 15, 0))
    return info


def _with_segments(jpeg: bytes) -> bytes:
    """Add what other programs write into a JPEG: image resources with an IPTC record, and the rest of a long XMP packet."""
    resources = b"Photoshop 3.0\0" + RESOURCES
    extension = b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32 + struct.pack(">II", len(XMP), 0) + XMP
    segments = b"".join(
        bytes([0xFF, marker]) + struct.pack(">H", len(s) + 2) + s for marker, s in ((0xED, resources), (0xE1, extension))
    )
    return jpeg[:2] + segments + jpeg[2:]


def pieces(data: bytes) -> list[str]:
    """Return the names of the segments of a JPEG, or of the chunks of a WebP picture, in order; what follows its end is one of its own."""
    return _segments(data) if data.startswith(b"\xff\xd8") else _riff(data)


def _riff(data: bytes) -> list[str]:
    found, at = [], 12
    while at + 8 <= len(data):
        (size,) = struct.unpack("<I", data[at + 4 : at + 8])
        found.append(data[at : at + 4].decode("latin-1"))
        at += 8 + size + size % 2
    return [*found, *(["rest"] if at != len(data) else [])]


def _segments(data: bytes) -> list[str]:
    found, stream = ["D8"], io.BytesIO(data[2:])
    while (head := stream.read(2)) and head[0] == 0xFF:
        found.append(f"{head[1]:02X}")
        if head[1] == 0xD9:
            return [*found, *(["rest"] if stream.read() else [])]
        stream.seek(struct.unpack(">H", stream.read(2))[0] - 2, 1)
        if head[1] == 0xDA:
            _skip_scan(stream)
    return [*found, "rest"]


def _skip_scan(stream: io.BytesIO) -> None:
    """Skip the coded pixels: up to a marker that is neither a stuffed byte nor a restart."""
    body = stream.getvalue()
    at = stream.tell()
    while not (body[at] == 0xFF and body[at + 1] not in (0x00, *range(0xD0, 0xD8))):
        at += 1
    stream.seek(at)
