"""Original TIFF pictures as they are handed over: every value of every pixel, and only what is needed to draw them."""

from __future__ import annotations

import io
import itertools
import struct
from typing import Any

import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from benchrecord.record.bare_pictures import bare_picture
from benchrecord.record.directories import Form, directory, first, form_of
from pictures import corners, encoded, turned
from reference import published
from telling import TELLTALE, telling

WORD = TELLTALE
ROWS = published.rows("15-private-photo-tags.csv")
SHADES = np.arange(40 * 56 * 3, dtype=np.uint16).reshape(40, 56, 3) * 9


def stored(pixels: Any, *, order: str = "<", big: bool = False, **more: Any) -> bytes:
    """Return a TIFF that tells a secret in its description, in a tag of its own, and of which program wrote it."""
    out = io.BytesIO()
    with tifffile.TiffWriter(out, byteorder=order, bigtiff=big) as writer:
        more = {"photometric": "rgb", "metadata": None, "software": WORD, "description": WORD, **more}
        writer.write(pixels, extratags=[(65000, 2, 0, WORD, True)], **more)
    return out.getvalue()


def bared(original: bytes, *, own: bool = False) -> bytes:
    assert WORD.encode() in original
    bare = bare_picture(original, own=own)
    assert bare is not None
    assert own or WORD.encode() not in bare
    return bare


LAID_OUT: list[dict[str, Any]] = [{}, {"rowsperstrip": 7}, {"tile": (16, 32)}, {"planarconfig": "separate", "rowsperstrip": 9}, {"compression": "zlib", "predictor": True}]  # fmt: skip


@pytest.mark.parametrize(("order", "big", "layout"), list(itertools.product("<>", (False, True), LAID_OUT)))
def test_every_value_stays_however_it_is_laid_out(order: str, big: bool, layout: dict[str, Any]) -> None:  # noqa: FBT001
    pixels = np.moveaxis(SHADES, 2, 0) if layout.get("planarconfig") else SHADES
    original = stored(pixels, order=order, big=big, **layout)
    bare = bared(original)
    with tifffile.TiffFile(io.BytesIO(bare)) as read:
        assert (read.byteorder, read.is_bigtiff) == (order, big)
        assert np.array_equal(read.asarray(), pixels)
        assert 65000 not in read.pages.first.tags


@pytest.mark.parametrize("kind", ["uint8", "float32", "int32"])
def test_values_of_any_kind_stay(kind: str) -> None:
    pixels = (SHADES[..., 0] // 300).astype(kind)
    assert np.array_equal(tifffile.imread(io.BytesIO(bared(stored(pixels, photometric="minisblack")))), pixels)


@pytest.mark.parametrize("compression", ["tiff_lzw", "packbits", "tiff_adobe_deflate", "jpeg", "group4", "group3"])
def test_pixels_stay_as_they_were_coded(compression: str) -> None:
    image = corners().convert("1") if compression.startswith("group") else corners()
    original = encoded(image, "TIFF", compression=compression, software=WORD)
    with Image.open(io.BytesIO(bared(original))) as bare, Image.open(io.BytesIO(original)) as whole:
        assert bare.tobytes() == whole.tobytes()


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "CMYK", "YCbCr", "LAB", "I;16", "F"])
def test_pixels_of_any_colours_stay(mode: str) -> None:
    original = encoded(corners().convert("L" if mode in ("I;16", "F") else "RGB").convert(mode), "TIFF", software=WORD)
    with Image.open(io.BytesIO(bared(original))) as bare, Image.open(io.BytesIO(original)) as whole:
        assert (bare.mode, bare.tobytes(), bare.getpalette()) == (whole.mode, whole.tobytes(), whole.getpalette())


def test_a_jpeg_inside_tells_nothing_either() -> None:
    original = encoded(corners(), "TIFF", compression="jpeg", software=WORD)
    with Image.open(io.BytesIO(original)) as whole:
        start, size = whole.tag_v2[273][0], whole.tag_v2[279][0]  # type: ignore[attr-defined]  # a TIFF has them
    strip = original[start : start + size]
    said = b"\xff\xfe" + struct.pack(">H", len(WORD) + 2) + WORD.encode()
    told = strip[:2] + said + strip[2:]
    form = Form("<")
    read = directory(original, form, first(original, form), largest=4096)
    entries = original.index(struct.pack("<HHI", 273, *read[273][:2])), original.index(struct.pack("<HHI", 279, *read[279][:2]))
    changed = bytearray(original + told)
    for at, value in zip(entries, (len(original), len(told)), strict=True):
        changed[at + 8 : at + 12] = struct.pack("<I", value)
    with Image.open(io.BytesIO(bared(bytes(changed)))) as bare, Image.open(io.BytesIO(original)) as whole:
        assert bare.tobytes() == whole.tobytes()


@pytest.mark.parametrize("way", range(1, 9))
def test_it_stays_the_right_way_up(way: int) -> None:
    original = turned(way, "TIFF")
    with Image.open(io.BytesIO(bare_picture(original, own=False) or b"")) as bare, Image.open(io.BytesIO(original)) as whole:
        assert bare.getexif().get(0x0112, 1) == way
        assert (bare.size, bare.tobytes()) == (whole.size, whole.tobytes())


def test_the_owner_s_own_keeps_who_and_when_and_not_where() -> None:
    bare = bare_picture(telling("TIFF", ROWS), own=True) or b""
    with Image.open(io.BytesIO(bare)) as image:
        kept = image.getexif()
        assert kept[0x013B] == TELLTALE
        assert kept.get_ifd(0x8769)[0x9003] == "2026:02:03 10:15:00"
        assert not kept.get_ifd(0x8825)


def test_colours_stay_without_the_words_of_the_profile() -> None:
    with Image.open(io.BytesIO(bare_picture(telling("TIFF", ROWS), own=False) or b"")) as image:
        profile = image.info["icc_profile"]
    assert b"sRGB" not in profile[128:]
    assert b"rXYZ" in profile


def test_of_several_pictures_the_first_goes_along() -> None:
    original = encoded(corners(), "TIFF", save_all=True, append_images=[Image.new("RGB", (40, 30), "blue")], software=WORD)
    with Image.open(io.BytesIO(bared(original))) as bare:
        assert bare.n_frames == 1  # type: ignore[attr-defined]  # a TIFF has it
        assert bare.size == (120, 80)


@pytest.mark.parametrize(("tag", "value"), [(259, 34712), (262, 32803), (254, 1)])
def test_one_that_is_stored_in_a_rare_way_is_told(tag: int, value: int) -> None:
    original = bytearray(encoded(corners(), "TIFF", tiffinfo={254: 0}))
    at = original.index(struct.pack("<H", tag), 10)
    original[at + 8 : at + 10] = struct.pack("<H", value)
    assert bare_picture(bytes(original), own=False) is None


def test_any_head_of_a_tiff_is_known_and_no_other() -> None:
    assert {form_of(head) for head in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")} == {
        Form(o, b) for o in "<>" for b in (True, False)
    }
    assert form_of(b"IIII") is None


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_damaged_one_is_told_or_comes_to_something_of_its_size(data: st.DataObject) -> None:
    original = bytearray(stored(SHADES[:8, :8], rowsperstrip=3, big=data.draw(st.booleans())))
    for _ in range(data.draw(st.integers(1, 4))):
        original[data.draw(st.integers(4, len(original) - 1))] = data.draw(st.integers(0, 255))
    cut = bytes(original[: data.draw(st.integers(4, len(original)))])
    try:
        bare = bare_picture(cut, own=data.draw(st.booleans()))
    except ValueError:
        return
    assert len(bare or b"") <= 50 * len(cut)  # several tags may be of the same bytes
