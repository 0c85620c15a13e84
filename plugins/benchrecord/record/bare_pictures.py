"""Original pictures without what a camera wrote beside them: every pixel stays as it was coded.

Sources: ITU-T T.81 (JPEG), W3C PNG 3rd edition, RFC 9649 (WebP), ICC.1:2022. Parts are kept by name, never left out by name: what is
not known is not there.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterator

from benchrecord.record.exif import only_orientation, without_place

SOI, EOI, SOS, APP0, APP1, APP2, APP14, APP15, COMMENT = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xEE, 0xEF, 0xFE
LONE = {0x01, *range(0xD0, 0xD8)}  # markers without a length
EXIF, ICC, JFIF, ADOBE = b"Exif\0\0", b"ICC_PROFILE\0", b"JFIF\0", b"Adobe"
PNG_HEAD, PNG_KEPT = b"\x89PNG\r\n\x1a\n", (b"IHDR PLTE IDAT IEND tRNS gAMA cHRM sRGB sBIT pHYs bKGD cICP mDCV cLLI").split()
WEBP_KEPT, WEBP_SAYS_EXIF, WEBP_SAYS_XMP = (b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ANIM", b"ANMF"), 0x08, 0x04
TOLD = (b"desc", b"cprt", b"dmnd", b"dmdd", b"vued", b"targ", b"meta", b"calt", b"pseq", b"psid", b"scrd")  # words in a profile

LARGEST_PROFILE = 4 << 20

Keep = Callable[[bytes], bytes]  # what of an Exif block may stay


def bare_picture(original: bytes, *, own: bool) -> bytes | None:
    """Return a picture with nothing beside its pixels but which way up it is, and its colours; None where its form is none of these.

    ``own`` keeps what a picture of the owner's says of itself, without the place.

    Raises
    ------
    ValueError
        Where the file is not as its form says.
    """
    keep = without_place if own else only_orientation
    if original.startswith(b"\xff\xd8"):
        return b"\xff\xd8" + b"".join(_jpeg(original, keep))
    if original.startswith(PNG_HEAD):
        return PNG_HEAD + b"".join(_png(original, keep))
    if original[:4] == b"RIFF" and original[8:12] == b"WEBP":
        return _webp(original, keep)
    return None


def _jpeg(original: bytes, keep: Keep) -> Iterator[bytes]:
    """Yield what stays behind the first marker; what stands behind the end is another picture, and not this one's."""
    segments = list(_segments(original))
    said = next((s[4 + len(EXIF) :] for m, s in segments if m == APP1 and s[4:].startswith(EXIF)), b"")
    profile = b"".join(s[4 + len(ICC) + 2 :] for m, s in segments if m == APP2 and s[4:].startswith(ICC))
    colours = [s for m, s in segments if m == APP14 and s[4:].startswith(ADOBE)]
    if any(m == APP0 and s[4:].startswith(JFIF) for m, s in segments):
        yield b"\xff\xe0\0\x10JFIF\0\1\1\0\0\1\0\1\0\0"
    if kept := keep(said):
        yield _segment(APP1, EXIF + kept)
    plain = plain_profile(profile)
    pieces = range(0, len(plain), 60_000)
    for number, at in enumerate(pieces, 1):
        yield _segment(APP2, ICC + bytes((number, len(pieces))) + plain[at : at + 60_000])
    yield from colours
    yield from (s for m, s in segments if not APP0 <= m <= APP15 and m != COMMENT)


def _segment(marker: int, content: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(content) + 2) + content


def _segments(original: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each marker of a JPEG with its whole segment, and what is coded behind it, up to the end of the picture."""
    at = 2
    while True:
        if original[at : at + 1] != b"\xff":
            raise ValueError("a JPEG with something between its segments")
        while original[at + 1 : at + 2] == b"\xff":  # bytes that fill up
            at += 1
        marker = original[at + 1] if at + 1 < len(original) else EOI
        if marker == EOI:
            yield EOI, b"\xff\xd9"
            return
        end = at + 2 if marker in LONE else at + 2 + struct.unpack(">H", original[at + 2 : at + 4].rjust(2, b"\0"))[0]
        end = _coded_until(original, end) if marker == SOS else end
        yield marker, original[at:end]
        at = end


def _coded_until(original: bytes, at: int) -> int:
    """Return where the coded pixels of a scan end: at the next marker that is none of theirs."""
    while (at := original.find(b"\xff", at)) >= 0:
        after = original[at + 1 : at + 2]
        if after and after != b"\0" and after[0] not in LONE:
            return at
        at += 2
    raise ValueError("a JPEG that does not end")


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
            yield _png_chunk(name, b"colours\0\0" + zlib.compress(plain_profile(profile)))
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
        elif name == b"ICCP":
            chunks.append((name, plain_profile(content)))
        elif name == b"EXIF":
            said = keep(content.removeprefix(EXIF))
        at += 8 + size + size % 2
    if said:
        chunks.append((b"EXIF", said))
    body = b"".join(
        _webp_chunk(name, _flagged(content, exif=bool(said)) if name == b"VP8X" else content) for name, content in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def _webp_chunk(name: bytes, content: bytes) -> bytes:
    return name + struct.pack("<I", len(content)) + content + b"\0" * (len(content) % 2)


def _flagged(head: bytes, *, exif: bool) -> bytes:
    flags = head[0] & ~(WEBP_SAYS_EXIF | WEBP_SAYS_XMP) | (WEBP_SAYS_EXIF if exif else 0)
    return bytes((flags,)) + head[1:]


def plain_profile(profile: bytes) -> bytes:
    """Return a colour profile without its words: the numbers that colours are reckoned with stay."""
    made = bytearray(profile)
    (count,) = struct.unpack(">I", profile[128:132]) if len(profile) >= 132 else (0,)  # noqa: PLR2004  # head and count
    for at in range(132, min(132 + 12 * min(count, 100), len(profile) - 11), 12):
        name, start, size = struct.unpack(">4sII", profile[at : at + 12])
        if name in TOLD and start + size <= len(profile):
            made[start + 8 : start + size] = bytes(max(0, size - 8))
    return bytes(made)
