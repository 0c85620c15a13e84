"""Directories of TIFF, as pictures and Exif blocks have them: read within the bounds of their file, written anew.

Sources: TIFF 6.0 section 2; the specification of BigTIFF for offsets of eight bytes.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

SIZES = {
    1: 1,
    2: 1,
    3: 2,
    4: 4,
    5: 8,
    6: 1,
    7: 1,
    8: 2,
    9: 4,
    10: 8,
    11: 4,
    12: 8,
    13: 4,
    16: 8,
    17: 8,
    18: 8,
    129: 1,
}  # bytes of each type
WHOLE = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}  # types of whole numbers, as struct names them
SHORT, LONG, LONG8 = 3, 4, 16
MOST = 1000  # tags of a directory

Entry = tuple[int, int, bytes]  # type, count, the value's bytes in the file's own order; no bytes where they cannot be had


@dataclass(frozen=True, slots=True)
class Form:
    """How a file writes numbers: ``<`` or ``>`` as struct has it, and whether its offsets have eight bytes."""

    order: str
    big: bool = False

    @property
    def head(self) -> bytes:
        """What a file begins with; its first directory follows at once."""
        mark = b"II" if self.order == "<" else b"MM"
        return mark + (struct.pack(self.order + "HHHQ", 43, 8, 0, 16) if self.big else struct.pack(self.order + "HI", 42, 8))

    @property
    def offset(self) -> tuple[str, int]:
        """The type of an offset, for struct and for a tag."""
        return (self.order + "Q", LONG8) if self.big else (self.order + "I", LONG)


def form_of(head: bytes) -> Form | None:
    """Return how a file writes numbers, by its first four bytes; None where they are none of TIFF's."""
    return next((f for f in FORMS if f.head[:4] == head[:4]), None)


FORMS = tuple(Form(order, big) for order in "<>" for big in (False, True))


def first(block: bytes, form: Form) -> int:
    """Return where the first directory stands; struct.error where the file is too short."""
    return int(struct.unpack_from(form.offset[0], block, 8 if form.big else 4)[0])


def directory(block: bytes, form: Form, at: int, *, largest: int) -> dict[int, Entry]:
    """Read a directory; a value that lies beyond the file or is larger than so many bytes comes out empty."""
    counted = form.order + ("Q" if form.big else "H")
    try:
        (count,) = struct.unpack_from(counted, block, at)
    except (struct.error, OverflowError):  # it lies outside
        return {}
    return dict(_entries(block, form, (at + struct.calcsize(counted), min(count, MOST)), largest))


def _entries(block: bytes, form: Form, stretch: tuple[int, int], largest: int) -> Iterator[tuple[int, Entry]]:
    head, (offset, _) = form.order + ("HHQ" if form.big else "HHI"), form.offset
    beside, (start, count) = struct.calcsize(head), stretch
    inside = struct.calcsize(offset)
    for at in range(start, min(start + (beside + inside) * count, len(block) - beside - inside + 1), beside + inside):
        tag, kind, many = struct.unpack_from(head, block, at)
        size = SIZES.get(kind, 0) * many
        where = at + beside if size <= inside else struct.unpack_from(offset, block, at + beside)[0]
        held = 0 < size <= largest and where + size <= len(block)
        yield tag, (kind, many, block[where : where + size] if held else b"")


def numbers(entry: Entry | None, form: Form) -> tuple[int, ...]:
    """Return the whole numbers of an entry; none where it has none."""
    if entry is None or entry[0] not in WHOLE or not entry[2]:
        return ()
    return struct.unpack(f"{form.order}{entry[1]}{WHOLE[entry[0]]}", entry[2])


def entry_of(values: tuple[int, ...], form: Form) -> Entry:
    """Return an entry of offsets or sizes, wide enough for any file of a form; struct.error where a number is too large for it."""
    letter, kind = form.offset
    return kind, len(values), struct.pack(f"{form.order}{len(values)}{letter[1]}", *values)


def written(form: Form, entries: Mapping[int, Entry], start: int) -> bytes:
    """Return a directory as it stands at ``start``, the last one of its file, with its longer values behind it."""
    head, (offset, _), counted = (
        form.order + ("HHQ" if form.big else "HHI"),
        form.offset,
        form.order + ("Q" if form.big else "H"),
    )
    inside = struct.calcsize(offset)
    after = start + struct.calcsize(counted) + (struct.calcsize(head) + inside) * len(entries) + inside
    heads, values = bytearray(), bytearray()
    for tag, (kind, many, value) in sorted(entries.items()):
        short = len(value) <= inside
        heads += struct.pack(head, tag, kind, many)
        heads += value.ljust(inside, b"\0") if short else struct.pack(offset, after + len(values))
        values += b"" if short else value + b"\0" * (len(value) % 2)
    return struct.pack(counted, len(entries)) + bytes(heads) + bytes(inside) + bytes(values)
