"""Original pictures as they are handed over: every pixel as it was, and nothing of what the camera wrote beside them."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from benchrecord.record.bare_pictures import bare_picture
from benchrecord.record.exif import only_orientation, orientation, without_place
from pictures import corners, encoded
from reference import published
from telling import TELLTALE, telling

FORMS = ("JPEG", "MPO", "PNG", "WEBP", "TIFF", "HEIF")
ROWS = published.rows("15-private-photo-tags.csv")


def pixels(content: bytes) -> tuple[str, bytes]:
    with Image.open(io.BytesIO(content)) as image:
        return image.mode, image.tobytes()


@pytest.mark.parametrize("form", FORMS)
def test_every_pixel_stays_and_no_private_tag_does(form: str) -> None:
    original = telling(form, ROWS)
    bare = bare_picture(original, own=False)
    assert bare is not None
    assert pixels(bare) == pixels(original)
    assert TELLTALE.encode() in original
    for hidden in (TELLTALE, "SERIAL-77"):
        assert hidden.encode() not in bare
        assert hidden.encode("utf-16-le") not in bare


@pytest.mark.skipif(not shutil.which("exiftool"), reason="exiftool is not installed")
@pytest.mark.parametrize("own", [False, True])
@pytest.mark.parametrize("form", FORMS)
def test_an_outside_reader_finds_no_place_and_nothing_private(tmp_path: Path, form: str, own: bool) -> None:  # noqa: FBT001
    path = tmp_path / f"x.{form.lower()}"
    path.write_bytes(bare_picture(telling(form, ROWS), own=own) or b"")
    (read,) = json.loads(subprocess.run(["exiftool", "-j", "-a", "-G1", "-u", path], capture_output=True, check=True).stdout)
    assert [k for k in read if k.startswith(("GPS", "MakerNotes", "XMP", "IPTC", "Photoshop"))] == []
    assert [k for k in read if "SerialNumber" in k or "OwnerName" in k or k.endswith(("UserComment", ":Comment"))] == []
    assert "Warning" not in read
    assert any(k.endswith("DateTimeOriginal") for k in read) is own


@pytest.mark.parametrize("turned", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_picture_stays_the_right_way_up(form: str, turned: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = turned
    bare = bare_picture(encoded(corners(), form, exif=exif.tobytes()), own=False)
    with Image.open(io.BytesIO(bare or b"")) as image:
        assert image.getexif().get(0x0112, 1) == turned


def test_the_owner_s_own_picture_keeps_who_when_and_how_and_not_where() -> None:
    exif = Image.Exif()
    exif[0x013B], exif[0x010F] = "Ottilie", "Lens and Sons"
    exif.get_ifd(ExifTags.IFD.Exif)[0x9003] = "2026:02:03 10:15:00"
    exif.get_ifd(ExifTags.IFD.GPSInfo)[2] = (51.0, 30.0, 5.5)
    bare = bare_picture(encoded(corners(), "JPEG", exif=exif.tobytes()), own=True)
    with Image.open(io.BytesIO(bare or b"")) as image:
        kept = image.getexif()
        assert (kept[0x013B], kept[0x010F]) == ("Ottilie", "Lens and Sons")
        assert kept.get_ifd(ExifTags.IFD.Exif)[0x9003] == "2026:02:03 10:15:00"
        assert not kept.get_ifd(ExifTags.IFD.GPSInfo)


def test_colours_stay_without_the_words_of_the_profile() -> None:
    from PIL import ImageCms  # noqa: PLC0415

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for form in ("JPEG", "PNG", "WEBP"):
        with Image.open(io.BytesIO(bare_picture(encoded(corners(), form, icc_profile=profile), own=False) or b"")) as image:
            kept = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
            assert b"sRGB" not in image.info["icc_profile"][128:]
            ImageCms.buildTransform(kept, ImageCms.createProfile("sRGB"), "RGB", "RGB")


def test_what_stands_behind_a_picture_goes() -> None:
    for form in ("JPEG", "PNG"):
        assert b"behind" not in (bare_picture(encoded(corners(), form) + b"behind", own=False) or b"")


def test_a_form_that_it_cannot_be_taken_out_of_is_told() -> None:
    assert bare_picture(encoded(corners(), "GIF"), own=False) is None


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_half_a_picture_is_no_picture(form: str) -> None:
    whole = encoded(corners(), form)
    with pytest.raises(ValueError, match=r"does not end|between"):
        bare_picture(whole[: len(whole) // 2], own=False)


@given(st.binary(max_size=300))
def test_any_block_comes_to_something_small(block: bytes) -> None:
    assert 1 <= orientation(block) <= 8
    assert len(only_orientation(block)) <= 30
    assert len(without_place(block)) <= 100 * 4096


@given(st.sampled_from([telling(form, ROWS) for form in FORMS]), st.data())
@settings(max_examples=150, deadline=None)
def test_a_damaged_picture_of_any_form_is_told_or_comes_to_something(original: bytes, data: st.DataObject) -> None:
    damaged = bytearray(original)
    for _ in range(data.draw(st.integers(0, 4))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    cut = bytes(damaged[: data.draw(st.integers(0, len(damaged)))])
    with contextlib.suppress(ValueError):
        assert len(bare_picture(cut, own=data.draw(st.booleans())) or b"") <= 50 * len(cut)
