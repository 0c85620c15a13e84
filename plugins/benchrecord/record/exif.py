"""Exif of a photograph: which way up it is, and a fresh block of the few tags that may stay.

Source: CIPA DC-008-2023 (Exif 3.0) for tags and types. A block is written anew from what may
stay, so that nothing that is not listed can be left in it.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

from benchrecord.record.directories import Entry, Form, directory, first, form_of, numbers, written

ORIENTATION, EXIF_DIRECTORY, UPRIGHT = 0x0112, 0x8769, 1
LARGEST = 4096  # bytes of a value
# What the owner's own picture keeps: what it is of, who took it and when, with what and how. No place, no serial number, no maker note.
KEPT_IN_IMAGE = {0x010E, 0x010F, 0x0110, ORIENTATION, 0x011A, 0x011B, 0x0128, 0x0132, 0x013B, 0x8298}
KEPT_IN_EXIF = {
    0x829A, 0x829D, 0x8822, 0x8827, 0x8830, 0x8831, 0x9000, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9101, 0x9201, 0x9202, 0x9203, 0x9204,
    0x9205, 0x9207, 0x9208, 0x9209, 0x920A, 0x9290, 0x9291, 0x9292, 0xA001, 0xA002, 0xA003, 0xA402, 0xA403, 0xA404, 0xA405, 0xA406, 0xA432,
    0xA433, 0xA434,
}  # fmt: skip


def orientation(block: bytes) -> int:
    """Return which way up a picture is, 1 to 8, by its Exif block (without ``Exif`` before it); 1 where nothing is said."""
    form = _form(block)
    said = numbers(_read(block, form).get(ORIENTATION), form)
    return said[0] if said and 1 <= said[0] <= 8 else UPRIGHT  # noqa: PLR2004  # the ways that there are


def only_orientation(block: bytes) -> bytes:
    """Return a fresh block that says which way up a picture is; empty where it is upright."""
    turned = orientation(block)
    return b"" if turned == UPRIGHT else _block(Form(">"), {ORIENTATION: (3, 1, struct.pack(">H", turned))}, {})


def without_place(block: bytes) -> bytes:
    """Return a fresh block with the tags that tell what a picture is of, when and how it was taken, and not where."""
    form = _form(block)
    kept = own_tags(block, form, _read(block, form))
    return _block(Form(form.order), *kept) if any(kept) else b""


def own_tags(block: bytes, form: Form, image: Mapping[int, Entry]) -> tuple[dict[int, Entry], dict[int, Entry]]:
    """Return what the owner's own picture keeps of its directory, and of that of Exif, which the former points at."""
    pointer = numbers(image.get(EXIF_DIRECTORY), form)
    inner = directory(block, form, pointer[0], largest=LARGEST) if pointer else {}
    return _kept(image, KEPT_IN_IMAGE), _kept(inner, KEPT_IN_EXIF)


def _kept(entries: Mapping[int, Entry], tags: set[int]) -> dict[int, Entry]:
    return {tag: e for tag, e in entries.items() if tag in tags and 0 < len(e[2]) <= LARGEST}


def _form(block: bytes) -> Form:
    return form_of(block) or Form(">")


def _read(block: bytes, form: Form) -> dict[int, Entry]:
    try:
        return directory(block, form, first(block, form), largest=LARGEST)
    except struct.error:
        return {}


def _block(form: Form, image: Mapping[int, Entry], inner: Mapping[int, Entry]) -> bytes:
    return form.head + with_inner(form, image, inner, len(form.head))


def with_inner(form: Form, image: Mapping[int, Entry], inner: Mapping[int, Entry], start: int) -> bytes:
    """Return a directory as it stands at ``start``, and behind it that of Exif where there is one."""
    if not inner:
        return written(form, image, start)
    letter, kind = form.offset

    def pointing(at: int) -> bytes:
        return written(form, {**image, EXIF_DIRECTORY: (kind, 1, struct.pack(letter, at))}, start)

    after = start + len(pointing(0))
    return pointing(after) + written(form, inner, after)
