"""Recordings in chunks, WAV and AIFF, without metadata: how their samples are stored, and the samples.

Sources: Multimedia Programming Interface 1.0 (RIFF WAVE), Microsoft, Multiple Channel Audio Data and WAVE Files, 2007 (extensible), EBU Tech
3306 (RF64), Audio Interchange File Format 1.3 and AIFF-C draft of 1991. Chunks are rewritten from their fields: a chunk that is longer than
these, a second one of its name, and all others do not go along. The codes of AIFF-C beyond its draft are common practice, no standard.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import BinaryIO

Chunk = tuple[int, int]  # where its content begins, and how long it says that is, in bytes
PCM, MS_ADPCM, FLOAT, A_LAW, MU_LAW, IMA_ADPCM, GSM, EXTENSIBLE = 1, 2, 3, 6, 7, 0x11, 0x31, 0xFFFE
BY_SAMPLE = (PCM, FLOAT, A_LAW, MU_LAW)
GUID = bytes.fromhex("000000001000800000aa00389b71")  # behind the code of an extensible form
COEFFICIENTS = struct.pack(
    "<H14h", 7, 256, 0, 512, -256, 0, 0, 192, 64, 240, 0, 460, -208, 392, -232
)  # that every MS ADPCM has
MORE = {
    MS_ADPCM: (32, COEFFICIENTS),
    IMA_ADPCM: (2, b""),
    GSM: (2, b""),
}  # bytes behind the plain form, and which are the same in all
ELSEWHERE = 0xFFFFFFFF  # a size that RF64 gives elsewhere
UNTIL_THE_END = (0, ELSEWHERE)  # sizes of a recorder that was stopped before it wrote its size
AIFF_C_VERSION = 0xA2805140
BYTES = {
    b"raw ": 1,
    b"ulaw": 1,
    b"ULAW": 1,
    b"alaw": 1,
    b"ALAW": 1,
    b"fl32": 4,
    b"FL32": 4,
    b"fl64": 8,
    b"FL64": 8,
}  # of a sample, where its code says
BY_BITS = (b"NONE", b"twos", b"sowt", b"in24", b"in32")
BLOCK = 1 << 20


def bare_wav(original: BinaryIO, out: BinaryIO) -> bool:
    """Write a WAV or RF64 file with nothing but its samples; say whether they are stored in a way that is known.

    Raises
    ------
    ValueError, struct.error
        Where the file is not as its form says.
    """
    kind = original.read(12)[:4]
    chunks = _chunks(original, "<")
    form = _form(_content(original, chunks[b"fmt "]))
    start, size = chunks[b"data"]
    long = kind == b"RF64" and size == ELSEWHERE
    if long:
        (size,) = struct.unpack_from("<8xQ", _content(original, chunks[b"ds64"]))
    if not form or (size in UNTIL_THE_END and not long):
        return False
    code, align = struct.unpack_from("<H10xH", form)
    size -= size % align
    frames = _frames(original, chunks, code, size // align)
    head = b"fmt " + struct.pack("<I", len(form)) + form
    head += b"fact" + struct.pack("<2I", 4, frames & ELSEWHERE) if b"fact" in chunks and code != PCM else b""
    whole = 4 + (36 if long else 0) + len(head) + 8 + size + size % 2
    more = b"ds64" + struct.pack("<I3QI", 28, whole, size, frames, 0) if long else b""
    out.write((b"RF64" if long else b"RIFF") + struct.pack("<I", ELSEWHERE if long else whole) + b"WAVE" + more + head)
    out.write(b"data" + struct.pack("<I", ELSEWHERE if long else size))
    _copy(original, out, (start, size))
    return True


def _form(content: bytes) -> bytes:
    """Return how samples are stored, field by field; empty where that is a rare way."""
    code, channels, rate, _, align, bits = struct.unpack_from("<2H2I2H", content)
    by_sample = channels and align == channels * ((bits + 7) // 8)
    plain = struct.pack("<2H2I2H", code, channels, rate, rate * align, align, bits)
    if code in BY_SAMPLE and by_sample:
        return plain + (b"\0\0" if len(content) > len(plain) else b"")
    if code == EXTENSIBLE and by_sample:
        valid, speakers, sub, rest = struct.unpack_from("<2xHIH14s", content, 16)
        return plain + struct.pack("<2HIH", 22, valid, speakers, sub) + GUID if sub in BY_SAMPLE and rest == GUID else b""
    more, same = MORE.get(code, (0, b""))
    if more and align and content[20 : 18 + more] == same:
        return content[:16] + struct.pack("<H", more) + content[18 : 18 + more]
    return b""


def _frames(original: BinaryIO, chunks: Mapping[bytes, Chunk], code: int, blocks: int) -> int:
    """Return how many samples a channel has: as many as blocks, but for codes that put several into one."""
    known = code in MORE and b"fact" in chunks
    return int(struct.unpack_from("<I", _content(original, chunks[b"fact"]))[0]) if known else blocks


def bare_aiff(original: BinaryIO, out: BinaryIO) -> bool:
    """Write an AIFF or AIFF-C file with nothing but its samples; say whether they are stored in a way that is known.

    Raises
    ------
    ValueError, struct.error
        Where the file is not as its form says.
    """
    kind = original.read(12)[8:]
    chunks = _chunks(original, ">")
    content = _content(original, chunks[b"COMM"])
    channels, frames, bits, rate = struct.unpack_from(">HIH10s", content)
    code = content[18:22] if kind == b"AIFC" else b"NONE"
    if code not in BYTES and code not in BY_BITS:
        return False
    size = frames * channels * BYTES.get(code, (bits + 7) // 8)
    start, length = chunks[b"SSND"]
    (before,) = struct.unpack(">I", _content(original, (start, 4)))
    if length < 8 + before + size:
        raise ValueError("a recording that breaks off")
    common = struct.pack(">HIH10s", channels, frames, bits, rate) + (
        code + b"\0\0" if kind == b"AIFC" else b""
    )  # a name of no letters
    head = b"FVER" + struct.pack(">2I", 4, AIFF_C_VERSION) if kind == b"AIFC" else b""
    head += b"COMM" + struct.pack(">I", len(common)) + common
    out.write(b"FORM" + struct.pack(">I", 4 + len(head) + 16 + size + size % 2) + kind + head)
    out.write(b"SSND" + struct.pack(">3I", 8 + size, 0, 0))
    _copy(original, out, (start + 8 + before, size))
    return True


def _chunks(original: BinaryIO, order: str) -> Mapping[bytes, Chunk]:
    """Return where the first chunk of each name is; those behind the samples are found where these tell their length."""
    found: dict[bytes, Chunk] = {}
    while len(head := original.read(8)) == 8:  # noqa: PLR2004  # a name and a size
        name, size = struct.unpack(order + "4sI", head)
        found.setdefault(name, (original.tell(), size))
        original.seek(size + size % 2, 1)
    if not found.keys() >= ({b"fmt ", b"data"} if order == "<" else {b"COMM", b"SSND"}):
        raise ValueError("a recording without samples, or that does not say how they are stored")
    return found


def _content(original: BinaryIO, chunk: Chunk) -> bytes:
    original.seek(chunk[0])
    return original.read(min(chunk[1], BLOCK))


def _copy(original: BinaryIO, out: BinaryIO, chunk: Chunk) -> None:
    start, left = chunk
    original.seek(start)
    out_of_it = left % 2
    while left:
        block = original.read(min(left, BLOCK))
        if not block:
            raise ValueError("a recording that breaks off")
        out.write(block)
        left -= len(block)
    out.write(bytes(out_of_it))
