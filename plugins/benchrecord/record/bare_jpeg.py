"""A JPEG without what a camera wrote beside it: every pixel stays as it was coded. Source: ITU-T T.81."""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator

from benchrecord.record.colour_profile import plain_profile

SOI, EOI, SOS, APP0, APP1, APP2, APP14, APP15, COMMENT = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xEE, 0xEF, 0xFE
LONE = {0x01, *range(0xD0, 0xD8)}  # markers without a length
EXIF, ICC, JFIF, ADOBE = b"Exif\0\0", b"ICC_PROFILE\0", b"JFIF\0", b"Adobe"

Keep = Callable[[bytes], bytes]  # what of an Exif block may stay


def bare_jpeg(original: bytes, keep: Keep) -> bytes:
    """Return a JPEG with nothing beside its pixels but its colours and what is kept of its Exif block.

    What stands behind the end is another picture, and not this one's. ValueError where it is no whole JPEG.
    """
    return b"\xff\xd8" + b"".join(_parts(original, keep))


def _parts(original: bytes, keep: Keep) -> Iterator[bytes]:
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
