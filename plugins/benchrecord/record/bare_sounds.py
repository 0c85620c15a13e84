"""Original recordings without what a recorder wrote beside them: every sample stays as it was stored.

Sources: RFC 9639 (FLAC), Multimedia Programming Interface 1.0 and EBU Tech 3306 (WAV, RF64), Audio Interchange File Format 1.3 (AIFF),
ID3v2.4 (tags before a recording). Ogg and MP3 have files of their own.
"""

from __future__ import annotations

import shutil
import struct
from collections.abc import Iterator
from typing import BinaryIO

from benchrecord.record.bare_mp3 import bare_mp3
from benchrecord.record.bare_ogg import bare_ogg

WAV_KEPT, AIFF_KEPT = (b"fmt ", b"fact", b"data", b"ds64"), (b"COMM", b"SSND", b"FVER")
STREAM_INFO, SEEK_TABLE, LAST = 0, 3, 0x80
FORMS = {
    (b"RIFF", b"WAVE"): ("<", WAV_KEPT),
    (b"RF64", b"WAVE"): ("<", WAV_KEPT),
    (b"FORM", b"AIFF"): (">", AIFF_KEPT),
    (b"FORM", b"AIFC"): (">", AIFF_KEPT),
}
FOOTED = 0x10  # a tag that is repeated behind its words
LONG_DATA = 0xFFFFFFFF  # the size of the samples stands in ds64


def bare_sound(original: BinaryIO, out: BinaryIO) -> bool:
    """Write a recording with nothing beside its samples; say whether its form is one that this can be done with.

    Raises
    ------
    ValueError
        Where the file is not as its form says.
    """
    try:
        return _bare(original, out)
    except (struct.error, IndexError, OverflowError) as error:
        raise ValueError("a recording that is not as its form says") from error


def _bare(original: BinaryIO, out: BinaryIO) -> bool:
    begin = _behind_tags(original)
    head = original.read(12)
    original.seek(begin)
    if head[:4] == b"fLaC":
        _flac(original, out)
        return True
    if head[:4] == b"OggS":
        return bare_ogg(original, out)
    order, kept = FORMS.get((head[:4], head[8:12]), ("", ()))
    if not order:
        return bare_mp3(original, out)
    original.seek(begin + 12)
    out.write(head)
    size = 4 + sum(_chunks(original, out, order, kept))
    out.seek(4)
    out.write(struct.pack(order + "I", LONG_DATA if head[:4] == b"RF64" else size))
    return True


def _behind_tags(original: BinaryIO) -> int:
    """Go behind the tags that stand before a recording of any form, and return where that is."""
    at = 0
    while (head := original.read(10))[:3] == b"ID3" and len(head) == 10:  # noqa: PLR2004  # the head of a tag
        at += 10 + sum((b & 0x7F) << 7 * (3 - n) for n, b in enumerate(head[6:])) + (10 if head[5] & FOOTED else 0)
        original.seek(at)
    original.seek(at)
    return at


def _chunks(original: BinaryIO, out: BinaryIO, order: str, kept: tuple[bytes, ...]) -> Iterator[int]:
    """Copy the chunks that are kept; yield how long each is."""
    long = 0
    while len(head := original.read(8)) == 8:  # noqa: PLR2004  # a name and a size
        name, size = head[:4], struct.unpack(order + "I", head[4:])[0]
        size = long if name == b"data" and size == LONG_DATA else size
        if name not in kept:
            original.seek(size + size % 2, 1)
            continue
        out.write(head)
        body = original.read(size) if name == b"ds64" else None
        if body is not None:
            long = struct.unpack("<Q", body[8:16])[0]
            out.write(body)
        else:
            _copy(original, out, size)
        if size % 2:
            original.seek(1, 1)
            out.write(b"\0")
        yield 8 + size + size % 2


def _copy(original: BinaryIO, out: BinaryIO, size: int) -> None:
    left = size
    while left and (block := original.read(min(left, 1 << 20))):
        out.write(block)
        left -= len(block)


def _flac(original: BinaryIO, out: BinaryIO) -> None:
    """Copy what tells how the samples are stored and where to seek, then the samples."""
    original.seek(4, 1)
    blocks, last = [], False
    while not last:
        head = original.read(4)
        if len(head) < 4:  # noqa: PLR2004  # of a block
            raise ValueError("a FLAC file that ends in its head")
        last, kind, content = bool(head[0] & LAST), head[0] & ~LAST, original.read(int.from_bytes(head[1:], "big"))
        blocks += [(kind, content)] if kind in (STREAM_INFO, SEEK_TABLE) else []
    out.write(b"fLaC")
    for number, (kind, content) in enumerate(blocks, 1):
        out.write(bytes((kind | (LAST if number == len(blocks) else 0),)) + len(content).to_bytes(3, "big") + content)
    shutil.copyfileobj(original, out, 1 << 20)
