"""Pictures in boxes, as HEIC holds them: their items with properties and references, read from a file and written to a new one.

Sources: ISO/IEC 14496-12 (boxes, ``iinf``, ``iloc``, ``iref``), ISO/IEC 23008-12 (``iprp``). What is not read here is not written.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

Box = tuple[bytes, bytes]  # its type, and what it holds
Place = tuple[int, int, int]  # in what it lies, from where, and how long it is
IN_FILE, IN_IDAT = 0, 1  # ways in which the place of an item is told
ESSENTIAL = 0x80
MOST = 0xFFFF  # items of a file that is written


class RareError(Exception):
    """A picture that is stored in a way which is not read here."""


@dataclass(frozen=True, slots=True)
class Property:
    """Something that belongs to items; one that is essential must be understood by whoever draws them."""

    kind: bytes
    content: bytes
    essential: bool


@dataclass(frozen=True, slots=True)
class Item:
    """One item: a coded picture, how pictures are put together, or metadata."""

    kind: bytes
    content: bytes
    properties: tuple[Property, ...] = ()
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class Heif:
    """Brands of a file (the major one first), its items by number, which is the primary one, and what refers to what as what."""

    brands: tuple[bytes, ...]
    items: Mapping[int, Item]
    primary: int
    references: tuple[tuple[bytes, int, tuple[int, ...]], ...] = ()


class _Reader:
    """Numbers and bytes in their order; ValueError where there are no more."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def take(self, size: int) -> bytes:
        taken = self.data[self.at : self.at + size]
        if len(taken) != size:
            raise ValueError("a box that ends too soon")
        self.at += size
        return taken

    def number(self, size: int) -> int:
        return int.from_bytes(self.take(size), "big")

    def version(self) -> tuple[int, int]:
        return self.number(1), self.number(3)


def boxes(data: bytes, at: int = 0) -> Iterator[Box]:
    """Yield the boxes of a file or of a box, from a place on."""
    while at + 8 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1:
            size, head = int.from_bytes(data[at + 8 : at + 16], "big"), 16
        end = at + size if size else len(data)
        if end < at + head or end > len(data):
            raise ValueError("a box that is longer than its file")
        yield kind, data[at + head : end]
        at = end


def read(data: bytes) -> Heif:
    """Read a file.

    Raises
    ------
    ValueError
        Where it is damaged.
    RareError
        Where it is stored in a way which is not read here.
    """
    ftyp, meta = _outer(data)
    if not {b"pitm", b"iinf", b"iloc", b"iprp"} <= meta.keys():
        raise ValueError("a picture without its list of items")
    places, properties = dict(_places(_Reader(meta[b"iloc"]))), _properties(meta[b"iprp"])
    if sum(size for of_item in places.values() for _, _, size in of_item) > len(data):
        raise RareError("items that lie over each other")
    source = {IN_FILE: data, IN_IDAT: meta.get(b"idat", b"")}
    items = {n: _placed(item, source, places.get(n, ()), properties.get(n, ())) for n, item in _items(meta[b"iinf"])}
    primary = _Reader(meta[b"pitm"])
    number = primary.number(4 if primary.version()[0] else 2)
    if number not in items:
        raise ValueError("a picture that is not in its list of items")
    return Heif(_brands(ftyp), items, number, tuple(_references(meta.get(b"iref", bytes(4)))))


def _outer(data: bytes) -> tuple[bytes, dict[bytes, bytes]]:
    """Return the brands of a file, and of what it says of its pictures the first box of each type; nothing behind that is read."""
    ftyp = b""
    for kind, content in boxes(data):
        if kind == b"ftyp":
            ftyp = content
        if kind == b"meta":
            return ftyp, dict(reversed(list(boxes(content, 4))))
    raise RareError("no picture of a single moment")


def _brands(ftyp: bytes) -> tuple[bytes, ...]:
    return (ftyp[:4], *(ftyp[at : at + 4] for at in range(8, len(ftyp) - 3, 4)))


def _items(iinf: bytes) -> Iterator[tuple[int, Item]]:
    """Yield each item by its number, as yet without what it holds; one that is locked or listed in an old way has no type."""
    head = _Reader(iinf)
    head.number(4 if head.version()[0] else 2)
    for kind, content in boxes(iinf, head.at):
        if kind != b"infe":
            continue
        entry = _Reader(content)
        version, flags = entry.version()
        number = entry.number(4 if version > 2 else 2)  # noqa: PLR2004  # the version with long numbers
        locked = entry.number(2)
        yield number, Item(entry.take(4) if version > 1 and not locked else b"", b"", hidden=bool(flags & 1))


def _places(iloc: _Reader) -> Iterator[tuple[int, list[Place]]]:
    """Yield the number of each item, and where its stretches lie."""
    version, sizes = iloc.version()[0], iloc.number(2)
    offset, length, base, index = (sizes >> shift & 15 for shift in (12, 8, 4, 0))
    if not length:
        raise RareError("items without a size")
    wide = 4 if version > 1 else 2
    for _ in range(iloc.number(wide)):
        number = iloc.number(wide)
        way = iloc.number(2) & 15 if version else IN_FILE
        if iloc.number(2):
            way = -1  # in another file
        start = iloc.number(base)
        found = []
        for _ in range(iloc.number(2)):
            iloc.take(index if version else 0)
            found.append((way, start + iloc.number(offset), iloc.number(length)))
        yield number, found


def _placed(item: Item, source: Mapping[int, bytes], places: Sequence[Place], properties: tuple[Property, ...]) -> Item:
    """Return an item with what it holds and what belongs to it; one that lies in a rare way has no type."""
    if any(way not in source or not size for way, _, size in places):
        return replace(item, kind=b"")
    parts = [source[way][start : start + size] for way, start, size in places]
    if sum(map(len, parts)) != sum(size for _, _, size in places):
        raise ValueError("an item that breaks off")
    return replace(item, content=b"".join(parts), properties=properties)


def _properties(iprp: bytes) -> dict[int, tuple[Property, ...]]:
    inner = list(boxes(iprp))
    known = list(boxes(next((content for kind, content in inner if kind == b"ipco"), b"")))
    found: dict[int, tuple[Property, ...]] = {}
    for ipma in (_Reader(content) for kind, content in inner if kind == b"ipma"):
        version, flags = ipma.version()
        wide = 2 if flags & 1 else 1
        for _ in range(ipma.number(4)):
            number = ipma.number(4 if version else 2)
            said = [ipma.number(wide) for _ in range(ipma.number(1))]
            top = ESSENTIAL << 8 * (wide - 1)
            found[number] = tuple(_property(known, s & ~top, essential=bool(s & top)) for s in said if s & ~top)
    return found


def _property(known: Sequence[Box], index: int, *, essential: bool) -> Property:
    if index > len(known):
        raise ValueError("a property that is not there")
    return Property(*known[index - 1], essential)


def _references(iref: bytes) -> Iterator[tuple[bytes, int, tuple[int, ...]]]:
    wide = 4 if _Reader(iref).version()[0] else 2
    for kind, content in boxes(iref, 4):
        entry = _Reader(content)
        yield kind, entry.number(wide), tuple(entry.number(wide) for _ in range(entry.number(2)))


def write(heif: Heif) -> bytes:
    """Return a file of a picture: its items numbered from one on, all that they hold in one box at its end.

    Raises
    ------
    ValueError
        Where there are more items than such a file can have.
    """
    if len(heif.items) > MOST:
        raise ValueError("more items than a file may have")
    new = {number: place for place, number in enumerate(heif.items, 1)}
    ftyp = box(b"ftyp", heif.brands[0] + bytes(4) + b"".join(heif.brands[1:]))
    at = len(ftyp) + len(_meta(heif, new, 0)) + 8
    return ftyp + _meta(heif, new, at) + box(b"mdat", b"".join(item.content for item in heif.items.values()))


def box(kind: bytes, *content: bytes) -> bytes:
    """Return a box."""
    return struct.pack(">I4s", 8 + sum(map(len, content)), kind) + b"".join(content)


def _full(kind: bytes, *content: bytes, version: int = 0, flags: int = 0) -> bytes:
    return box(kind, struct.pack(">I", version << 24 | flags), *content)


def _meta(heif: Heif, new: Mapping[int, int], at: int) -> bytes:
    hdlr = _full(b"hdlr", bytes(4), b"pict", bytes(13))
    pitm = _full(b"pitm", struct.pack(">H", new[heif.primary]))
    entries = [
        _full(b"infe", struct.pack(">HH4sx", new[n], 0, item.kind), version=2, flags=item.hidden)
        for n, item in heif.items.items()
    ]
    iinf = _full(b"iinf", struct.pack(">H", len(entries)), *entries)
    said = [
        box(kind, struct.pack(f">HH{len(to)}H", new[of], len(to), *(new[t] for t in to))) for kind, of, to in heif.references
    ]
    iref = _full(b"iref", *said) if said else b""
    return _full(b"meta", hdlr, pitm, _iloc(heif, new, at), iinf, iref, _iprp(heif, new))


def _iloc(heif: Heif, new: Mapping[int, int], at: int) -> bytes:
    entries = []
    for number, item in heif.items.items():
        few = bool(item.content)
        entries.append(struct.pack(">HHH", new[number], 0, few) + (struct.pack(">II", at, len(item.content)) if few else b""))
        at += len(item.content)
    return _full(b"iloc", b"\x44\0", struct.pack(">H", len(entries)), *entries)


def _iprp(heif: Heif, new: Mapping[int, int]) -> bytes:
    known = list(dict.fromkeys((p.kind, p.content) for item in heif.items.values() for p in item.properties))
    wide = {said: place for place, said in enumerate(known, 1)}
    entries = []
    for number, item in heif.items.items():
        said = [wide[p.kind, p.content] | (ESSENTIAL << 8 if p.essential else 0) for p in item.properties]
        entries.append(struct.pack(f">HB{len(said)}H", new[number], len(said), *said))
    ipma = _full(b"ipma", struct.pack(">I", len(entries)), *entries, flags=1)
    return box(b"iprp", box(b"ipco", *(box(*p) for p in known)), ipma)
