"""A recording in FLAC without metadata: how its samples are stored, and its frames, each to its end.

Source: RFC 9639, sections 8.2 (stream info) and 9 (frames). A frame does not tell its length: it is read to its end, so that nothing that
stands before, between or behind frames goes along, tags of other forms among it.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import BinaryIO

MARK, STREAM_INFO, LAST = b"fLaC", 0, 0x80
STREAM_INFO_SIZE = 34
SYNC, SYNC_MASK = 0xFFF8, 0xFFFE  # the last bit says whether frames are of one length
BLOCK_SIZES = {
    1: 192,
    **{n: 144 << n for n in range(2, 6)},
    **{n: 1 << n for n in range(8, 16)},
}  # samples, by what a frame says
SMALL_BLOCK, LARGE_BLOCK = 6, 7  # its size follows, in 8 or 16 bits
FOLLOWING_RATE = {12: 8, 13: 16, 14: 16}  # bits of a rate that follows
DEPTHS = {1: 8, 2: 12, 4: 16, 5: 20, 6: 24, 7: 32}  # bits of a sample
DIFFERENCE = {8: (0, 1), 9: (1, 0), 10: (0, 1)}  # bits more that each of two channels has, of which one is a difference
CHECK = 2  # bytes behind a frame
LARGEST_FRAME = 1 << 23  # bytes: 65535 samples of eight channels are less
FIRST_READ = 1 << 14


@dataclass
class Bits:
    """Bits of a frame, as ``0`` and ``1``, and how many of them have been read. IndexError behind their end."""

    text: str
    at: int = 0

    def number(self, count: int) -> int:
        """Return a number of so many bits."""
        self.skip(count)
        return int(self.text[self.at - count : self.at] or "0", 2)

    def skip(self, count: int) -> None:
        """Pass bits over."""
        self.at += count
        if self.at > len(self.text):
            raise IndexError

    def zeros(self) -> int:
        """Return how many zeros stand before the next one, and pass over both."""
        end = self.text.find("1", self.at)
        if end < 0:
            raise IndexError
        count, self.at = end - self.at, end + 1
        return count

    def rice(self, count: int, parameter: int) -> None:
        """Pass over numbers that are coded as zeros, a one, and so many bits."""
        match = _rice(count, parameter).match(self.text, self.at)
        if not match:
            raise IndexError
        self.at = match.end()


@lru_cache(maxsize=512)
def _rice(count: int, parameter: int) -> re.Pattern[str]:
    return re.compile(f"(?:0*+1.{{{parameter}}}){{{count}}}")


def bare_flac(original: BinaryIO, out: BinaryIO) -> None:
    """Write the stream info and the frames of a recording, whose mark comes next.

    Raises
    ------
    ValueError
        Where it ends before it should, or what stands at a frame's place is none.
    """
    info = _stream_info(original)
    total, depth = int.from_bytes(info[13:18], "big") & 0xF_FFFF_FFFF, (int.from_bytes(info[12:14], "big") >> 4 & 31) + 1
    out.write(MARK + bytes((STREAM_INFO | LAST, 0, 0, STREAM_INFO_SIZE)) + info)
    samples, window = 0, b""
    while not total or samples < total:
        window, size, count = _next_frame(original, window, depth, may_end=not total and samples > 0)
        if not size:
            return
        out.write(window[:size])
        window, samples = window[size:], samples + count


def _stream_info(original: BinaryIO) -> bytes:
    """Return the stream info, and pass over all other blocks before the frames."""
    original.seek(len(MARK), io.SEEK_CUR)
    info, last = b"", False
    while not last:
        head = original.read(4)
        if len(head) < 4:  # noqa: PLR2004  # of a block
            raise ValueError("a FLAC file that ends in its head")
        last, kind, content = bool(head[0] & LAST), head[0] & ~LAST, original.read(int.from_bytes(head[1:], "big"))
        info = info or (content[:STREAM_INFO_SIZE] if kind == STREAM_INFO else b"")
    if len(info) < STREAM_INFO_SIZE:
        raise ValueError("a FLAC file that does not say how its samples are stored")
    return info


def _next_frame(original: BinaryIO, window: bytes, depth: int, *, may_end: bool) -> tuple[bytes, int, int]:
    """Return bytes that begin with a frame, how long it is, and of how many samples; nothing of a frame where none may follow."""
    wanted = FIRST_READ
    while True:
        more = original.read(max(0, wanted - len(window)))
        window += more
        if may_end and int.from_bytes(window[:2], "big") & SYNC_MASK != SYNC:
            return window, 0, 0
        try:
            size, count = _frame(Bits(format(int.from_bytes(window, "big"), f"0{8 * len(window)}b")), depth)
        except IndexError:
            if (not more and wanted > len(window)) or wanted > LARGEST_FRAME:
                raise ValueError("a FLAC file that breaks off") from None
            wanted = 2 * max(wanted, len(window))
            continue
        return window, size, count


def _frame(bits: Bits, depth: int) -> tuple[int, int]:
    """Return the bytes and the samples of a frame."""
    if bits.number(16) & SYNC_MASK != SYNC:
        raise ValueError("a FLAC file with something between its frames")
    size, rate, channels, own_depth = (bits.number(n) for n in (4, 4, 4, 3))
    bits.skip(1)
    bits.skip(8 * max(0, _ones(bits.number(8)) - 1))  # its number, coded as UTF-8 is
    if size in (SMALL_BLOCK, LARGE_BLOCK):
        count = bits.number(8 if size == SMALL_BLOCK else 16) + 1
    else:
        count = BLOCK_SIZES.get(size, 0)
    bits.skip(FOLLOWING_RATE.get(rate, 0) + 8)  # with the check of the head
    if not count or channels > max(DIFFERENCE):
        raise ValueError("a FLAC file with a frame that is none")
    for more in DIFFERENCE.get(channels, (0,) * (channels + 1)):
        _subframe(bits, DEPTHS.get(own_depth, depth) + more, count)
    end = (bits.at + 7) // 8 + CHECK
    bits.skip(8 * end - bits.at)
    return end, count


def _ones(byte: int) -> int:
    return 8 - (byte ^ 0xFF).bit_length()


def _subframe(bits: Bits, depth: int, count: int) -> None:
    """Pass over the samples of one channel: one value, all of them, or a predictor and what it leaves (section 9.2)."""
    kind, wasted = bits.number(7), bits.number(1)
    depth -= bits.zeros() + 1 if wasted else 0
    order = (kind & 31) + 1 if kind >= 32 else kind & 7  # noqa: PLR2004  # linear predictors
    if kind in (0, 1):
        bits.skip(depth * (count if kind else 1))
    elif kind >= 32 or 8 <= kind <= 12:  # noqa: PLR2004  # linear or fixed predictors
        bits.skip(order * depth)
        if kind >= 32:  # noqa: PLR2004
            precision = bits.number(4) + 1
            bits.skip(5 + order * precision)
        _residual(bits, order, count)
    else:
        raise ValueError("a FLAC file with a frame that is none")


def _residual(bits: Bits, order: int, count: int) -> None:
    """Pass over what a predictor leaves, in partitions that are coded each by its own parameter (section 9.2.7)."""
    width, parts = 4 + bits.number(2), 1 << bits.number(4)
    if width > 5 or count % parts or count // parts < order:  # noqa: PLR2004  # of two ways to code
        raise ValueError("a FLAC file with a frame that is none")
    for part in range(parts):
        parameter, values = bits.number(width), count // parts - (0 if part else order)
        if parameter == (1 << width) - 1:
            bits.skip(bits.number(5) * values)
        else:
            bits.rice(values, parameter)
