"""Original HEIC pictures as they are handed over: every pixel of the primary picture, and nothing that is not needed to draw it."""

from __future__ import annotations

import io
import struct
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from benchrecord.record import heif
from benchrecord.record.bare_pictures import bare_picture
from benchrecord.record.heif import Heif, Item, Property, boxes, read, write
from pictures import corners, encoded, turned
from reference import published
from telling import TELLTALE, telling

SECRET = b"Ottilie SERIAL-77"
ROWS = published.rows("15-private-photo-tags.csv")
SMALL = encoded(corners().resize((64, 64)), "HEIF", quality=50)
NOISE = Image.fromarray(np.random.default_rng(7).integers(0, 255, (64, 96, 3), dtype=np.uint8))


def drawn(content: bytes) -> tuple[str, tuple[int, int], bytes]:
    with Image.open(io.BytesIO(content)) as image:
        return image.mode, image.size, image.tobytes()


def bared(original: bytes, *, own: bool = False) -> bytes:
    bare = bare_picture(original, own=own)
    assert bare is not None
    assert drawn(bare) == drawn(original)
    return bare


def changed(original: bytes, **more: object) -> bytes:
    """Write a picture anew with other items, references or brands."""
    return write(replace(read(original), **more))  # type: ignore[arg-type]  # what the test asks for


def unit(kind: int, content: bytes) -> bytes:
    """Return a unit of a coded picture with its size before it."""
    whole = bytes((kind << 1, 1)) + content
    return struct.pack(">I", len(whole)) + whole


@pytest.mark.parametrize("chroma", [420, 444])
@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L"])
def test_every_pixel_stays(mode: str, chroma: int) -> None:
    image = NOISE.convert(mode)
    if mode == "RGBA":
        image.putalpha(NOISE.convert("L"))
    bared(encoded(image, "HEIF", quality=90, chroma=chroma))


def test_deep_pixels_stay() -> None:
    import pillow_heif  # noqa: PLC0415  # its own writer knows more than 8 bits

    deep = np.random.default_rng(3).integers(0, 65535, (32, 48, 3), dtype=np.uint16)
    out = io.BytesIO()
    pillow_heif.from_bytes("RGB;16", (48, 32), deep.tobytes()).save(out, quality=90)
    one, two = (
        np.asarray(pillow_heif.open_heif(c, convert_hdr_to_8bit=False)) for c in (out.getvalue(), bared(out.getvalue()))
    )
    assert one.dtype == np.uint16
    assert np.array_equal(one, two)


@pytest.mark.parametrize("way", range(1, 9))
def test_it_stays_the_right_way_up(way: int) -> None:
    bared(turned(way, "HEIF"))


def test_the_owner_s_own_keeps_who_and_when_and_not_where() -> None:
    with Image.open(io.BytesIO(bared(telling("HEIF", ROWS), own=True))) as image:
        kept = image.getexif()
        assert kept[0x013B] == TELLTALE
        assert kept.get_ifd(0x8769)[0x9003] == "2026:02:03 10:15:00"
        assert not kept.get_ifd(0x8825)
        assert "xmp" not in image.info


def test_smaller_copies_and_further_pictures_go() -> None:
    thumb = encoded(NOISE, "HEIF", thumbnails=[32])
    assert len(read(thumb).items) == 2
    assert len(read(bared(thumb)).items) == 1
    several = encoded(NOISE, "HEIF", save_all=True, append_images=[corners()], primary_index=1)
    assert drawn(bare_picture(several, own=False) or b"") == drawn(encoded(corners(), "HEIF"))


def test_a_picture_of_tiles_keeps_all_of_them_in_their_order() -> None:
    tiles = [read(encoded(NOISE.rotate(90 * n).resize((64, 64)), "HEIF", quality=80)) for n in range(4)]
    items = {n: replace(t.items[t.primary], hidden=True) for n, t in enumerate(tiles, 10)}
    size = Property(b"ispe", struct.pack(">III", 0, 120, 100), essential=False)
    grid = Item(b"grid", struct.pack(">BBBBHH", 0, 0, 1, 1, 120, 100) + SECRET, (size,))
    thumb = replace(items[10], hidden=False)
    original = write(
        Heif((b"heic", b"mif1"), {**items, 20: grid, 30: thumb}, 20, ((b"dimg", 20, (13, 10, 12, 11)), (b"thmb", 30, (20,))))
    )
    bare = bared(original)
    assert drawn(bare)[1] == (120, 100)
    assert len(read(bare).items) == 5
    assert SECRET not in bare


def test_pictures_of_depth_and_gain_go() -> None:
    whole = read(SMALL)
    urn = Property(b"auxC", bytes(4) + b"urn:example:depth\0" + SECRET, essential=False)
    depth = replace(whole.items[1], properties=(*whole.items[1].properties, urn))
    bare = bared(changed(SMALL, items={**whole.items, 2: depth}, references=((b"auxl", 2, (1,)),)))
    assert len(read(bare).items) == 1


def test_messages_of_the_encoder_go() -> None:
    whole = read(SMALL)
    item = whole.items[whole.primary]
    message = b"\4\1" + SECRET
    array = bytes((0x80 | 39,)) + struct.pack(">HH", 1, len(message)) + message
    properties = tuple(
        replace(p, content=p.content[:22] + bytes((p.content[22] + 1,)) + p.content[23:] + array) if p.kind == b"hvcC" else p
        for p in item.properties
    )
    told = replace(item, content=unit(39, SECRET) + item.content + unit(40, SECRET) + unit(38, SECRET), properties=properties)
    original = changed(SMALL, items={whole.primary: told})
    assert original.count(SECRET) == 4
    assert SECRET not in bared(original)


@pytest.mark.parametrize("kind", [b"udes", b"altt", b"uuid", b"crtt"])
def test_what_else_is_said_of_an_item_goes(kind: bytes) -> None:
    item = read(SMALL).items[1]
    said = Property(kind, bytes(16) + SECRET, essential=False)
    long = tuple(replace(p, content=p.content + SECRET) if p.kind == b"ispe" else p for p in item.properties)
    original = changed(SMALL, items={1: replace(item, properties=(*long, said))})
    assert SECRET not in bared(original)


def test_what_stands_between_and_behind_the_boxes_goes() -> None:
    ftyp, rest = SMALL[: int.from_bytes(SMALL[:4], "big")], SMALL[int.from_bytes(SMALL[:4], "big") :]
    behind = SMALL + heif.box(b"udta", SECRET) + SECRET
    assert SECRET not in bared(behind)
    assert [kind for kind, _ in boxes(bared(ftyp + rest + heif.box(b"free", SECRET)))] == [b"ftyp", b"meta", b"mdat"]


def in_idat(content: bytes) -> bytes:
    """Move what the items of a picture hold into the box beside their list, and number them with 32 bits."""
    whole = read(content)
    held = b"".join(item.content for item in whole.items.values())
    iloc, at = struct.pack(">IHI", 2 << 24, 0x4440, len(whole.items)), 0
    for number, item in enumerate(whole.items.values(), 1):
        iloc += struct.pack(">IHHIHII", number, 1, 0, 5, 1, at - 5, len(item.content)) if at >= 5 else b""
        iloc += struct.pack(">IHHIHII", number, 1, 0, 0, 1, at, len(item.content)) if at < 5 else b""
        at += len(item.content)
    ((_, ftyp), (_, meta), _) = boxes(content)
    inner = [(kind, iloc if kind == b"iloc" else said) for kind, said in boxes(meta, 4)]
    large = struct.pack(">I4sQ", 1, b"idat", 16 + len(held)) + held
    return heif.box(b"ftyp", ftyp) + heif.box(b"meta", bytes(4), *(heif.box(*b) for b in inner), large)


def test_items_that_lie_beside_their_list_are_found() -> None:
    original = in_idat(write(read(telling("HEIF", ROWS))))
    assert TELLTALE.encode() in original
    assert TELLTALE.encode() not in bared(original)


@pytest.mark.parametrize(
    "rare",
    [
        replace(read(SMALL).items[1], kind=b"av01"),
        replace(read(SMALL).items[1], kind=b"jpeg"),
        replace(read(SMALL).items[1], properties=(*read(SMALL).items[1].properties, Property(b"what", b"", essential=True))),
    ],
)
def test_one_that_is_stored_in_a_rare_way_is_told(rare: Item) -> None:
    assert bare_picture(changed(SMALL, items={1: rare}), own=False) is None


def test_a_film_is_no_picture() -> None:
    assert bare_picture(heif.box(b"ftyp", b"qt  " + bytes(4)) + heif.box(b"moov", SECRET), own=False) is None


def test_one_that_breaks_off_is_told() -> None:
    with pytest.raises(ValueError, match=r"breaks off|longer than its file|as its form says"):
        bare_picture(SMALL[:-20], own=False)


def test_a_file_that_is_written_reads_back_as_it_was() -> None:
    whole = read(telling("HEIF", ROWS))
    numbered = {old: new for new, old in enumerate(whole.items, 1)}
    items = {numbered[n]: item for n, item in whole.items.items()}
    said = tuple((k, numbered[of], tuple(numbered[t] for t in to)) for k, of, to in whole.references)
    assert read(write(whole)) == replace(whole, items=items, primary=numbered[whole.primary], references=said)


@given(st.data())
@settings(max_examples=100, deadline=None)
def test_a_damaged_one_is_told_or_comes_to_no_more_than_it_was(data: st.DataObject) -> None:
    original = bytearray(data.draw(st.sampled_from([SMALL, in_idat(SMALL)])))
    for _ in range(data.draw(st.integers(1, 4))):
        original[data.draw(st.integers(8, min(len(original) - 1, 500)))] = data.draw(st.integers(0, 255))
    cut = bytes(original[: data.draw(st.integers(8, len(original)))])
    try:
        bare = bare_picture(cut, own=data.draw(st.booleans()))
    except ValueError:
        return
    assert len(bare or b"") <= 2 * len(cut)
