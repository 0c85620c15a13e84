"""A TIFF without what a camera or a program wrote beside it: its first picture, whose pixels stay as they were coded.

Sources: TIFF 6.0, TIFF Technical Note 2 (JPEG inside), the specification of BigTIFF. The file is written anew from what is needed to draw.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from benchrecord.record.bare_jpeg import bare_jpeg
from benchrecord.record.colour_profile import plain_profile
from benchrecord.record.directories import Entry, Form, directory, entry_of, first, form_of, numbers
from benchrecord.record.exif import own_tags, with_inner

SUBFILE, COMPRESSION, PHOTOMETRIC, JPEG_TABLES, PROFILE, TEXT = 254, 259, 262, 347, 34675, 2
PIECES = ((273, 279), (324, 325))  # where strips are and how long, and the same of tiles
# What the pixels are unpacked, laid out and coloured by.
DRAWN = {
    256, 257, 258, 259, 262, 266, 274, 277, 278, 280, 281, 282, 283, 284, 290, 291, 292, 293, 296, 301, 317, 318, 319, 320, 322, 323, 332, 334,
    336, 338, 339, 340, 341, 347, 529, 530, 531, 532, 34675,
}  # fmt: skip
UNPACKED = {1, 2, 3, 4, 5, 7, 8, 32773, 32946, 34925, 50000}  # none, fax, LZW, JPEG, deflate, PackBits, LZMA, Zstandard
JPEG = 7
COLOURED = {*range(7), 8}  # grey, RGB, palette, mask, CMYK, YCbCr, CIE L*a*b*
SMALLER_COPY = 1  # of a picture that stands elsewhere in the file
Bytes = bytes | memoryview
LARGEST = 8 << 20  # bytes of a value: the places of half a million tiles


def bare_tiff(original: bytes, *, own: bool) -> bytes | None:
    """Return a TIFF with the pixels of its first picture and its colours; None where they are stored in a rare way.

    Raises
    ------
    ValueError, struct.error
        Where it is no whole TIFF.
    """
    form = form_of(original)
    if form is None:
        raise ValueError("no TIFF")
    read = directory(original, form, first(original, form), largest=LARGEST)
    compression, photometric, subfile = (_one(read, tag, form, 0) for tag in (COMPRESSION, PHOTOMETRIC, SUBFILE))
    if compression not in UNPACKED or photometric not in COLOURED or subfile & SMALLER_COPY:
        return None
    image, inner = own_tags(original, form, read) if own else ({}, {})
    image |= dict(_drawn(read))
    pieces = {tags: list(_pieces(original, read, form, tags)) for tags in PIECES if tags[0] in read}
    if not any(pieces.values()):
        raise ValueError("a TIFF without pixels")
    return _whole(form, image, inner, {t: [_plain(p, compression) for p in ps] for t, ps in pieces.items()})


def _one(read: Mapping[int, Entry], tag: int, form: Form, otherwise: int) -> int:
    return next(iter(numbers(read.get(tag), form)), otherwise)


def _drawn(read: Mapping[int, Entry]) -> Iterator[tuple[int, Entry]]:
    for tag in DRAWN & read.keys():
        kind, count, value = read[tag]
        if kind == TEXT or not value:
            raise ValueError("a TIFF with a tag that cannot be read")
        if tag == PROFILE and not (value := plain_profile(value)):
            continue
        if tag == PROFILE:
            count = len(value)
        elif tag == JPEG_TABLES:
            value = bare_jpeg(value, lambda _: b"")
            count = len(value)
        yield tag, (kind, count, value)


def _pieces(original: bytes, read: Mapping[int, Entry], form: Form, tags: tuple[int, int]) -> Iterator[Bytes]:
    """Yield the coded strips or tiles of a picture; one of no length is a gap in it."""
    starts, sizes = (numbers(read.get(tag), form) for tag in tags)
    if len(starts) != len(sizes) or sum(sizes) > len(original):
        raise ValueError("a TIFF that does not say how long its pixels are")
    view = memoryview(original)  # pixels are many: they are copied once
    for start, size in zip(starts, sizes, strict=True):
        if start + size > len(original):
            raise ValueError("a TIFF that breaks off")
        yield view[start : start + size]


def _plain(piece: Bytes, compression: int) -> Bytes:
    return bare_jpeg(bytes(piece), lambda _: b"") if compression == JPEG and piece else piece


def _whole(
    form: Form, image: dict[int, Entry], inner: Mapping[int, Entry], pieces: Mapping[tuple[int, int], list[Bytes]]
) -> bytes:
    """Lay the file out: its head, the directories, then the pixels, each piece at an even place."""
    flat = [(tags, piece) for tags, of_tags in pieces.items() for piece in of_tags]
    for (where, size), of_tags in pieces.items():
        image |= {where: entry_of((0,) * len(of_tags), form), size: entry_of(tuple(map(len, of_tags)), form)}
    at = len(form.head) + len(with_inner(form, image, inner, len(form.head)))
    starts: dict[tuple[int, int], list[int]] = {tags: [] for tags in pieces}
    for tags, piece in flat:
        starts[tags].append(at if piece else 0)
        at += len(piece) + len(piece) % 2
    image |= {tags[0]: entry_of(tuple(of_tags), form) for tags, of_tags in starts.items()}
    padded = (part for _, piece in flat for part in (piece, b"\0" * (len(piece) % 2)))
    return b"".join((form.head, with_inner(form, image, inner, len(form.head)), *padded))
