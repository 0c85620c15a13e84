"""A recording in Ogg without what a recorder wrote beside it: packets of sound stay as they were coded, in the same pages.

Sources: RFC 3533 (pages), Vorbis I specification section 4.2 and 5 (heads), RFC 7845 (Opus).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import BinaryIO

CAPTURE, HEAD = b"OggS", "<4sBBQIIIB"
GOES_ON, FIRST, LAST = 1, 2, 4  # flags of a page
NO_PACKET_ENDS = 0xFFFFFFFFFFFFFFFF
WHOLE = 255  # a piece of this size is followed by another of its packet
VORBIS, OPUS = b"\1vorbis", b"OpusHead"
SILENT = {VORBIS: b"\3vorbis" + bytes(8) + b"\1", OPUS: b"OpusTags" + bytes(8)}  # comments: nobody's program, none
HEADS = {VORBIS: 3, OPUS: 2}  # packets before the sound
NUMBER = 1  # of the stream, in place of the one that its recorder drew
MIRRORED = bytes(int(f"{b:08b}"[::-1], 2) for b in range(256))


@dataclass(frozen=True, slots=True)
class Page:
    """A page: its flags, until which sample it reaches, which stream it is of, the sizes of its pieces, and these."""

    flags: int
    until: int
    stream: int
    sizes: bytes
    body: bytes


def bare_ogg(original: BinaryIO, out: BinaryIO) -> bool:
    """Write a recording of Vorbis or Opus without its comments; say whether it is one, and the only one of its file.

    Raises
    ------
    ValueError
        Where a page is damaged, or the last one is not there.
    """
    pages = _pages(original)
    begin = next(pages, None)
    if begin is None:
        raise ValueError("an Ogg file without a page")
    kind = next((k for k in HEADS if begin.body.startswith(k)), None)
    if kind is None:
        return False
    heads = _heads(begin, pages, HEADS[kind])
    heads = [heads[0][: _size(heads[0])], SILENT[kind], *heads[2:]]
    before = [*_laid_out(heads[:1], begin.stream, FIRST), *_laid_out(heads[1:], begin.stream)]
    for place, page in enumerate(chain(before, pages)):
        if page.stream != begin.stream:
            return False
        out.write(_as_bytes(page, place))
        if page.flags & LAST:
            return original.read(4) != CAPTURE  # another recording in the same file
    raise ValueError("an Ogg file that breaks off")


def _pages(original: BinaryIO) -> Iterator[Page]:
    while len(head := original.read(27)) == 27:  # noqa: PLR2004  # the head of a page
        capture, version, flags, until, stream, _, said, count = struct.unpack(HEAD, head)
        sizes = original.read(count)
        body = original.read(sum(sizes))
        page = Page(flags, until, stream, sizes, body)
        if (capture, version) != (CAPTURE, 0) or (len(sizes), len(body)) != (count, sum(sizes)):
            raise ValueError("an Ogg file with something between its pages")
        if said != _check(head[:22] + bytes(4) + head[26:] + sizes + body):
            raise ValueError("an Ogg file with a damaged page")
        yield page


def _heads(begin: Page, pages: Iterator[Page], count: int) -> list[bytes]:
    """Return the packets before the sound; they end with a page."""
    found = [b""]
    page: Page | None = begin
    while page:
        at = 0
        for size in page.sizes:
            found[-1] += page.body[at : at + size]
            at += size
            found += [] if size == WHOLE else [b""]
        if len(found) == count + 1 and not found[-1]:
            return found[:-1]
        page = next(pages, None) if len(found) <= count else None
    raise ValueError("an Ogg file whose head is not as it should be")


def _size(head: bytes) -> int:
    """Return how long the first packet is by what stands in it."""
    if head.startswith(VORBIS):
        return 30
    return 21 + head[9] if head[18] else 19  # a table of its channels, where it has one


def _laid_out(packets: list[bytes], stream: int, flags: int = 0) -> Iterator[Page]:
    """Yield pages of packets, the last of which ends with its page."""
    sizes = b"".join(bytes((WHOLE,)) * (len(p) // WHOLE) + bytes((len(p) % WHOLE,)) for p in packets)
    body, at = b"".join(packets), 0
    for start in range(0, len(sizes), 255):
        of_page = sizes[start : start + 255]
        goes_on = GOES_ON if start and sizes[start - 1] == WHOLE else 0
        ends = any(size < WHOLE for size in of_page)
        yield Page(flags | goes_on, 0 if ends else NO_PACKET_ENDS, stream, of_page, body[at : at + sum(of_page)])
        at += sum(of_page)


def _as_bytes(page: Page, place: int) -> bytes:
    def whole(check: int) -> bytes:
        head = struct.pack(HEAD, CAPTURE, 0, page.flags & 7, page.until, NUMBER, place, check, len(page.sizes))
        return head + page.sizes + page.body

    return whole(_check(whole(0)))


def _check(page: bytes) -> int:
    """Return the check of a page: the CRC that zlib has, with the bits of each byte and of the result the other way round."""
    return int(f"{zlib.crc32(page.translate(MIRRORED), 0xFFFFFFFF) ^ 0xFFFFFFFF:032b}"[::-1], 2)
