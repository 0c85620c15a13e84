"""Original pictures without what a camera wrote beside them: every pixel stays as it was coded.

Sources: W3C PNG 3rd edition, RFC 9649 (WebP); JPEG, TIFF and HEIC have files of their own. Parts are kept by name, never left out by name: what is
not known is not there.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

from benchrecord.record.bare_heic import bare_heic
from benchrecord.record.bare_jpeg import EXIF, Keep, bare_jpeg
from benchrecord.record.bare_tiff import bare_tiff
from benchrecord.record.colour_profile import plain_profile
from benchrecord.record.directories import form_of
from benchrecord.record.exif import only_orientation, without_place

PNG_HEAD, PNG_KEPT = b"\x89PNG\r\n\x1a\n", (b"IHDR PLTE IDAT IEND tRNS gAMA cHRM sRGB sBIT pHYs bKGD cICP mDCV cLLI").split()
WEBP_KEPT, WEBP_SAYS_PROFILE, WEBP_SAYS_EXIF, WEBP_SAYS_XMP = (b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF"), 0x20, 0x08, 0x04  # fmt: skip

LARGEST_PROFILE = 4 << 20


def bare_picture(original: bytes, *, own: bool) -> bytes | None:
    """Return a picture with nothing beside its pixels but which way up it is, and its colours; None where its form is none of these.

    Of a file that holds several pictures, it is the first, or the one that the file names as its own. ``own`` keeps what a picture of
    the owner's says of itself, without the place.

    Raises
    ------
    ValueError
        Where the file is not as its form says.
    """
    try:
        return _bare(original, own=own)
    except (struct.error, IndexError, OverflowError, zlib.error) as error:
        raise ValueError("a picture that is not as its form says") from error


def _bare(original: bytes, *, own: bool) -> bytes | None:
    keep = without_place if own else only_orientation
    if original.startswith(b"\xff\xd8"):
        return bare_jpeg(original, keep)
    if original.startswith(PNG_HEAD):
        return PNG_HEAD + b"".join(_png(original, keep))
    if original[:4] == b"RIFF" and original[8:12] == b"WEBP":
        return _webp(original, keep)
    if original[4:8] == b"ftyp":
        return bare_heic(original, keep)
    return bare_tiff(original, own=own) if form_of(original) else None


def _png(original: bytes, keep: Keep) -> Iterator[bytes]:
    at = len(PNG_HEAD)
    while at + 12 <= len(original):
        size, name = struct.unpack(">I4s", original[at : at + 8])
        chunk = original[at : at + 12 + size]
        if name in PNG_KEPT:
            yield chunk
        if name == b"eXIf" and (kept := keep(chunk[8:-4])):
            yield _png_chunk(name, kept)
        if name == b"iCCP":
            profile = zlib.decompressobj().decompress(chunk[8:-4].partition(b"\0")[2][1:], LARGEST_PROFILE)
            if plain := plain_profile(profile):
                yield _png_chunk(name, b"colours\0\0" + zlib.compress(plain))
        if name == b"IEND":
            return
        at += 12 + size
    raise ValueError("a PNG that does not end")


def _png_chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def _webp(original: bytes, keep: Keep) -> bytes:
    chunks, said, at = [], b"", 12
    while at + 8 <= len(original):
        name, size = struct.unpack("<4sI", original[at : at + 8])
        content = original[at + 8 : at + 8 + size]
        if name in WEBP_KEPT:
            chunks.append((name, content))
        elif name == b"ICCP" and (plain := plain_profile(content)):
            chunks.append((name, plain))
        elif name == b"EXIF":
            said = keep(content.removeprefix(EXIF))
        at += 8 + size + size % 2
    if said:
        chunks.append((b"EXIF", said))
    names = {name for name, _ in chunks}
    body = b"".join(_webp_chunk(name, _flagged(content, names) if name == b"VP8X" else content) for name, content in chunks)
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def _webp_chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content + b"\0" * (len(content) % 2)


def _flagged(head: bytes, names: set[bytes]) -> bytes:
    """Return the head of a WebP that says of profile, Exif and XMP what is there."""
    says = (WEBP_SAYS_PROFILE if b"ICCP" in names else 0) | (WEBP_SAYS_EXIF if b"EXIF" in names else 0)
    return bytes((head[0] & ~(WEBP_SAYS_PROFILE | WEBP_SAYS_EXIF | WEBP_SAYS_XMP) | says,)) + head[1:]
