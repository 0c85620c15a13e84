"""A recording in MP3 without what a recorder wrote beside it: the frames of sound alone, and in them the sound alone.

Sources: ISO/IEC 11172-3 and 13818-3 for frames, their side information and where the sound of each begins. The first frame that tells how
long a recording plays (``Xing``, ``Info``, ``VBRI``) is common practice, no standard.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import BinaryIO

LARGEST = 400 << 20  # bytes: an hour at the highest rate is less than half of it
SOUGHT = 1 << 16  # bytes in which further frames are looked for: no player looks as far
IN_A_ROW = 4  # frames
LAYER_3, MONO, RESERVED = 1, 3, 1
RATES = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}  # Hz, by version: 1, 2 and 2.5
KBITS_1 = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 0)
KBITS_2 = (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160, 0)
LENGTH_TOLD, VBRI = (b"Xing", b"Info"), b"VBRI"
PARTS_TOLD = ((1, 4), (2, 4), (4, 100), (8, 4))  # by the flags of Xing: frames, bytes, places to seek, quality
GAPS, GAPS_NAME = 36, b"LAME3.90 "  # bytes of what tells the silence at both ends; its first form, by which all players know it


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame: where it begins, where its side information, its sound and the next frame do, and what all frames share."""

    at: int
    side: int
    body: int
    end: int
    shared: tuple[int, int]  # version, and sampling rate by its place in the table
    channels: int


def bare_mp3(original: BinaryIO, out: BinaryIO) -> bool:
    """Write the frames of a recording, with nothing in them but sound; say whether it is one.

    Raises
    ------
    ValueError
        Where it breaks off, or where sound follows something that is none.
    """
    head = original.read(2 * SOUGHT)
    first = _first(head, 0, SOUGHT)
    whole = head + (original.read(LARGEST) if first else b"")
    if first is None or len(whole) > LARGEST:
        return False
    frames = list(_frames(whole, first))
    rest = _first(whole, frames[-1].end, frames[-1].end + SOUGHT) or _frame(whole, frames[-1].end)
    if rest and rest.shared == first.shared:
        raise ValueError("an MP3 that breaks off, or with something between its frames")
    told = _told(whole[first.at : first.end], first)
    out.write(told)
    out.write(_sound_alone(whole, frames[1:] if told else frames))
    return True


def _first(whole: bytes, start: int, stop: int) -> Frame | None:
    """Find the first frame that is followed by others of its kind: one by itself may be anything."""
    at = start - 1
    while (at := whole.find(b"\xff", at + 1, stop)) >= 0:
        found = _frame(whole, at)
        if found and len(list(islice(_frames(whole, found), IN_A_ROW))) == IN_A_ROW:
            return found
    return None


def _frame(whole: bytes, at: int) -> Frame | None:
    """Read the head of a frame; None where there is none, or one of another layer, or of a length that it does not tell."""
    sync, kind, rates, mode = whole[at : at + 4] if at + 4 <= len(whole) else bytes(4)
    version, rate, kbits = kind >> 3 & 3, rates >> 2 & 3, (KBITS_1 if kind >> 3 & 3 == 3 else KBITS_2)[rates >> 4]  # noqa: PLR2004  # version 1
    if sync != 0xFF or kind < 0xE0 or kind >> 1 & 3 != LAYER_3 or version == RESERVED or rate == 3 or not kbits:  # noqa: PLR2004  # no rate
        return None
    one, mono = version == 3, mode >> 6 == MONO  # noqa: PLR2004  # version 1
    size = (144_000 if one else 72_000) * kbits // RATES[version][rate] + (rates >> 1 & 1)
    side = at + (4 if kind & 1 else 6)  # behind a check, where it has one
    body = side + ((17 if mono else 32) if one else (9 if mono else 17))
    return Frame(at, side, body, at + size, (version, rate), 1 if mono else 2)


def _frames(whole: bytes, first: Frame) -> Iterator[Frame]:
    """Yield the frames that follow each other and are whole."""
    frame: Frame | None = first
    while frame and frame.end <= len(whole) and frame.shared == first.shared:
        yield frame
        frame = _frame(whole, frame.end)


def _told(frame: bytes, first: Frame) -> bytes:
    """Return the frame that tells how long a recording plays, with nothing else in it; empty where the first frame is none."""
    beside = 4 + first.body - first.side
    at = next((a for a in (first.body - first.at, beside) if frame[a : a + 4] in LENGTH_TOLD), 0)
    if at:
        return _with_gaps(frame, at)
    if frame[36:40] != VBRI or len(frame) < 62:  # noqa: PLR2004  # its place and size
        return b""
    entries, _, size = struct.unpack(">HHH", frame[54:60])
    return (frame[:4] + bytes(32) + frame[36 : 62 + entries * size]).ljust(len(frame), b"\0")


def _with_gaps(frame: bytes, at: int) -> bytes:
    """Keep numbers of a ``Xing`` frame; what tells the silence at both ends goes by the name of its form."""
    flags = frame[at + 7]
    start = at + 8 + sum(size for flag, size in PARTS_TOLD if flags & flag)
    kept = frame[:4] + bytes(at - 4) + frame[at:start]
    gaps = frame[start : start + GAPS]
    if len(gaps) < GAPS or not any(gaps[:9]):
        return kept.ljust(len(frame), b"\0")
    kept += GAPS_NAME + gaps[9:32] + bytes(2)  # the sound has no check of its own
    return (kept + struct.pack(">H", _check(kept))).ljust(len(frame), b"\0")


def _check(content: bytes) -> int:
    """Return the CRC of 16 bits (x^16 + x^15 + x^2 + 1, lowest bit first) of the frame that tells lengths."""
    check = 0
    for byte in content:
        check ^= byte
        for _ in range(8):
            check = check >> 1 ^ (0xA001 if check & 1 else 0)
    return check


def _sound_alone(whole: bytes, frames: Sequence[Frame]) -> bytearray:
    """Return frames without the bytes between the sound of one and that of the next: encoders leave their names there."""
    sound = bytearray(b"".join(whole[f.body : f.end] for f in frames))
    at, stretches = 0, []
    for frame in frames:
        back, bits = _stretch(whole, frame)
        stretches.append((max(0, at - back), max(0, at - back) * 8 + bits))
        at += frame.end - frame.body
    for (_, end), (begin, _) in pairwise([(0, 0), *stretches, (len(sound), 0)]):
        _clear(sound, end, begin)
    out, at = bytearray(), 0
    for frame in frames:
        out += whole[frame.at : frame.body]
        out += sound[at : at + frame.end - frame.body]
        at += frame.end - frame.body
    return out


def _stretch(whole: bytes, frame: Frame) -> tuple[int, int]:
    """Return how many bytes before a frame's own its sound begins, and how many bits it has."""
    size = frame.body - frame.side
    said = int.from_bytes(whole[frame.side : frame.body], "big")
    one = frame.shared[0] == 3  # noqa: PLR2004  # version 1
    granules, bits, back = (2, 59, 9) if one else (1, 63, 8)
    blocks = granules * frame.channels
    # Each block of the side information begins with its length.
    lengths = (said >> (n * bits + bits - 12) & 0xFFF for n in range(blocks))
    return said >> (8 * size - back), sum(lengths)


def _clear(sound: bytearray, bit: int, stop: int) -> None:
    """Clear from a bit up to a byte."""
    whole = (bit + 7) // 8
    if whole <= stop <= len(sound):
        if bit % 8:
            sound[bit // 8] &= 0xFF00 >> bit % 8 & 0xFF
        sound[whole:stop] = bytes(stop - whole)
