"""A HEIC picture without what a camera wrote beside it: its primary picture, whose pixels stay as they were coded.

Sources: ISO/IEC 23008-12 (items and properties), ISO/IEC 14496-15 (``hvcC``), ITU-T H.265 (units of a coded picture). Items, properties and
units are kept by name; thumbnails, further pictures, depth and gain maps are none of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from benchrecord.record.bare_jpeg import EXIF, Keep
from benchrecord.record.colour_profile import plain_profile
from benchrecord.record.heif import Heif, Item, Property, RareError, read, write

CODED, GRID, SAME = b"hvc1", b"grid", b"iden"
PARTS, BELONGS_TO, TIMES_ALPHA, DESCRIBES = b"dimg", b"auxl", b"prem", b"cdsc"
BRANDS = (b"heic", b"heix", b"mif1", b"mif2", b"miaf", b"MiHB", b"MiHE", b"MiHA", b"1pic")
DRAWN = {
    b"ispe": 12,
    b"pasp": 8,
    b"irot": 1,
    b"imir": 1,
    b"clap": 32,
    b"rloc": 12,
    b"clli": 4,
    b"mdcv": 24,
    b"amve": 8,
    b"lsel": 2,
}  # bytes of each
ALPHA = (b"urn:mpeg:mpegB:cicp:systems:auxiliary:alpha", b"urn:mpeg:hevc:2015:auxid:1")
HEAD = 22  # bytes before the sets of hvcC
SETS, SLICES = range(32, 35), range(32)  # types of units: sets of parameters, and pixels
SIZED = 3  # how many bytes the size of a unit has, less one


def bare_heic(original: bytes, keep: Keep) -> bytes | None:
    """Return a HEIC picture with its pixels, its colours and what is kept of its Exif block; None where it is stored in a rare way.

    Raises
    ------
    ValueError
        Where it is no whole HEIC picture.
    """
    try:
        return write(_bare(read(original), keep))
    except RareError:
        return None


def _bare(whole: Heif, keep: Keep) -> Heif:
    needed = _needed(whole)
    needed |= {n for n in _leading_to(whole, BELONGS_TO, needed) if _is_alpha(whole.items[n])}
    needed |= _needed(whole, needed)
    items = {n: _plain(item) for n, item in whole.items.items() if n in needed}
    drawing = tuple(
        (kind, of, kept)
        for kind, of, to in whole.references
        if kind in (PARTS, BELONGS_TO, TIMES_ALPHA) and of in needed and (kept := tuple(t for t in to if t in needed))
    )
    brands = tuple(dict.fromkeys((*(b for b in whole.brands if b in BRANDS), b"mif1")))
    bare = Heif((brands[0], *brands), items, whole.primary, drawing)
    return _told(bare, keep(_said(whole)))


def _needed(whole: Heif, begun: frozenset[int] | set[int] = frozenset()) -> set[int]:
    """Return the items that the primary one, or those that were begun with, are put together from, with themselves."""
    parts = {of: to for kind, of, to in whole.references if kind == PARTS}
    found: set[int] = set()
    left = list(begun or {whole.primary})
    while left:
        if (number := left.pop()) not in found:
            found.add(number)
            left += parts.get(number, ())
    if not found <= whole.items.keys():
        raise ValueError("a picture of which a part is missing")
    return found


def _leading_to(whole: Heif, kind: bytes, needed: set[int]) -> list[int]:
    """Return the items that refer to one of those that are needed."""
    return [of for k, of, to in whole.references if k == kind and needed & {*to} and of in whole.items]


def _is_alpha(item: Item) -> bool:
    return any(p.kind == b"auxC" and _auxiliary(p.content) in ALPHA for p in item.properties)


def _auxiliary(content: bytes) -> bytes:
    return content[4:].partition(b"\0")[0]


def _plain(item: Item) -> Item:
    kept = tuple(_properties(item))
    if item.kind == CODED:
        sized = next((p.content[HEAD - 1] & SIZED for p in kept if p.kind == b"hvcC"), -1) + 1
        return Item(CODED, b"".join(_units(item.content, sized)), kept, item.hidden)
    if item.kind == GRID:
        return Item(GRID, item.content[: 12 if item.content[1:2] == b"\1" else 8], kept, item.hidden)
    if item.kind == SAME:
        return Item(SAME, b"", kept, item.hidden)
    raise RareError("a picture that is coded in a rare way")


def _properties(item: Item) -> Iterator[Property]:
    for p in item.properties:
        if p.kind in DRAWN:
            yield replace(p, content=p.content[: DRAWN[p.kind]])
        elif p.kind == b"pixi":
            yield replace(p, content=p.content[: 5 + p.content[4]])
        elif p.kind == b"hvcC":
            yield replace(p, content=_sets(p.content))
        elif p.kind == b"auxC":
            yield replace(p, content=bytes(4) + _auxiliary(p.content) + b"\0")
        elif p.kind == b"colr" and p.content[:4] == b"nclx":
            yield replace(p, content=p.content[:11])
        elif p.kind == b"colr" and p.content[:4] in (b"prof", b"rICC"):
            if plain := plain_profile(p.content[4:]):
                yield replace(p, content=p.content[:4] + plain)
        elif p.essential:
            raise RareError("a picture that is drawn in a rare way")


def _sets(content: bytes) -> bytes:
    """Return the head of a coder with its sets of parameters, and without the messages that an encoder leaves there."""
    arrays, at = [], HEAD + 1
    for _ in range(content[HEAD]):
        kind, count = content[at], int.from_bytes(content[at + 1 : at + 3], "big")
        start, at = at, at + 3
        for _ in range(count):
            at += 2 + int.from_bytes(content[at : at + 2], "big")
        if at > len(content):
            raise ValueError("a coder's head that breaks off")
        arrays += [content[start:at]] if kind & 0x3F in SETS else []
    return content[:HEAD] + bytes((len(arrays),)) + b"".join(arrays)


def _units(content: bytes, sized: int) -> Iterator[bytes]:
    """Yield the units of a coded picture, each with its size before it, and no messages of the encoder among them."""
    if not sized:
        raise ValueError("a coded picture without the head of its coder")
    at = 0
    while at < len(content):
        end = at + sized + int.from_bytes(content[at : at + sized], "big")
        if end > len(content) or end < at + sized + 2:
            raise ValueError("a coded picture that breaks off")
        kind = content[at + sized] >> 1 & 0x3F
        if kind in SLICES or kind in SETS:
            yield content[at:end]
        at = end


def _said(whole: Heif) -> bytes:
    """Return the Exif block of the primary picture; empty where there is none."""
    found = (whole.items[of] for of in _leading_to(whole, DESCRIBES, {whole.primary}))
    content = next((item.content for item in found if item.kind == b"Exif"), b"")
    return content[4 + int.from_bytes(content[:4], "big") :].removeprefix(EXIF)


def _told(bare: Heif, kept: bytes) -> Heif:
    if not kept:
        return bare
    number = max(bare.items) + 1
    exif = Item(b"Exif", len(EXIF).to_bytes(4, "big") + EXIF + kept, hidden=True)
    return replace(
        bare, items={**bare.items, number: exif}, references=(*bare.references, (DESCRIBES, number, (bare.primary,)))
    )
