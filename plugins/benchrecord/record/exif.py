"""Exif of a photograph: which way up it is, and a fresh block of the few tags that may stay.

Sources: CIPA DC-008-2023 (Exif 3.0) for tags and types, TIFF 6.0 section 2 for directories. A block is written anew from what may
stay, so that nothing that is not listed can be left in it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping

ORIENTATION, EXIF_DIRECTORY, UPRIGHT = 0x0112, 0x8769, 1
SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8, 129: 1}  # bytes of each type
MOST, LARGEST = 1000, 4096  # tags of a directory, bytes of a value
# What the owner's own picture keeps: what it is of, who took it and when, with what and how. No place, no serial number, no maker note.
KEPT_IN_IMAGE = {0x010E, 0x010F, 0x0110, ORIENTATION, 0x011A, 0x011B, 0x0128, 0x0132, 0x013B, 0x8298}
KEPT_IN_EXIF = {
    0x829A, 0x829D, 0x8822, 0x8827, 0x8830, 0x8831, 0x9000, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9101, 0x9201, 0x9202, 0x9203, 0x9204,
    0x9205, 0x9207, 0x9208, 0x9209, 0x920A, 0x9290, 0x9291, 0x9292, 0xA001, 0xA002, 0xA003, 0xA402, 0xA403, 0xA404, 0xA405, 0xA406, 0xA432,
    0xA433, 0xA434,
}  # fmt: skip

Entry = tuple[int, int, bytes]  # type, count, the value's bytes in the block's own order


def orientation(block: bytes) -> int:
    """Return which way up a picture is, 1 to 8, by its Exif block (without ``Exif`` before it); 1 where nothing is said."""
    order = _order(block)
    entry = _directory(block, order).get(ORIENTATION)
    if entry is None or entry[0] != 3 or len(entry[2]) < 2:  # noqa: PLR2004  # one short number
        return UPRIGHT
    (said,) = struct.unpack(order + "H", entry[2][:2])
    return said if 1 <= said <= 8 else UPRIGHT  # noqa: PLR2004  # the ways that there are


def only_orientation(block: bytes) -> bytes:
    """Return a fresh block that says which way up a picture is; empty where it is upright."""
    turned = orientation(block)
    return b"" if turned == UPRIGHT else _block(">", {ORIENTATION: (3, 1, struct.pack(">H", turned))}, {})


def without_place(block: bytes) -> bytes:
    """Return a fresh block with the tags that tell what a picture is of, when and how it was taken, and not where."""
    order = _order(block)
    image = _directory(block, order)
    pointer = image.get(EXIF_DIRECTORY)
    inner = _directory(block, order, struct.unpack(order + "I", pointer[2])[0]) if pointer and len(pointer[2]) == 4 else {}  # noqa: PLR2004  # an offset
    kept = {t: e for t, e in image.items() if t in KEPT_IN_IMAGE}, {t: e for t, e in inner.items() if t in KEPT_IN_EXIF}
    return _block(order, *kept) if any(kept) else b""


def _order(block: bytes) -> str:
    return "<" if block.startswith(b"II") else ">"


def _directory(block: bytes, order: str, at: int | None = None) -> dict[int, Entry]:
    """Read a directory; what lies beyond the block is left out."""
    try:
        start = struct.unpack(order + "I", block[4:8])[0] if at is None else at
        (count,) = struct.unpack_from(order + "H", block, start)
        return dict(_entries(block, order, start + 2, min(count, MOST)))
    except struct.error:
        return {}


def _entries(block: bytes, order: str, start: int, count: int) -> Iterator[tuple[int, Entry]]:
    for at in range(start, min(start + 12 * count, len(block) - 11), 12):
        tag, kind, many = struct.unpack_from(order + "HHI", block, at)
        size = SIZES.get(kind, 0) * many
        where = at + 8 if size <= 4 else struct.unpack_from(order + "I", block, at + 8)[0]  # noqa: PLR2004  # what fits beside its tag
        if 0 < size <= LARGEST and where + size <= len(block):
            yield tag, (kind, many, block[where : where + size])


def _block(order: str, image: Mapping[int, Entry], inner: Mapping[int, Entry]) -> bytes:
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", 8)
    if not inner:
        return head + _written(order, image, 8)
    placed = {**image, EXIF_DIRECTORY: (4, 1, struct.pack(order + "I", 0))}
    after = 8 + len(_written(order, placed, 8))
    placed[EXIF_DIRECTORY] = (4, 1, struct.pack(order + "I", after))
    return head + _written(order, placed, 8) + _written(order, inner, after)


def _written(order: str, entries: Mapping[int, Entry], start: int) -> bytes:
    """Return a directory as it stands at ``start``, with its longer values behind it."""
    heads, values, after = b"", b"", start + 2 + 12 * len(entries) + 4
    for tag, (kind, many, value) in sorted(entries.items()):
        short = len(value) <= 4  # noqa: PLR2004  # what fits beside its tag
        place = value.ljust(4, b"\0") if short else struct.pack(order + "I", after + len(values))
        heads += struct.pack(order + "HHI", tag, kind, many) + place
        values += b"" if short else value + b"\0" * (len(value) % 2)
    return struct.pack(order + "H", len(entries)) + heads + b"\0" * 4 + values
