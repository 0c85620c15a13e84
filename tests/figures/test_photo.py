"""Photographs as they are published: upright, in three sizes, and nothing in them but the picture."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageDraw
from skimage.metrics import structural_similarity

from benchrecord.figures.photo import (
    LEAST_SSIM,
    LONGEST,
    WEBP_QUALITY,
    Published,
    drawn_anew,
    in_each_size,
    publishable,
    sizes_of,
)
from pictures import FORMATS, corners, encoded, turned

ROOT = Path(__file__).parents[2]


def opened(published: Published, number: int = -1) -> Image.Image:
    return Image.open(io.BytesIO(published.renditions[number].data))


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_is_turned_upright(orientation: int, kind: str) -> None:
    """The camera's orientation says how the stored picture is to be turned: CIPA DC-008, tag 0x0112; a HEIC picture has a box for it."""
    upright = opened(publishable(turned(orientation, kind)))
    assert upright.size == (120, 80)
    (r1, _, b1), (r2, _, b2) = upright.getpixel((8, 8)), upright.getpixel((112, 72))  # type: ignore[misc]  # RGB
    assert r1 > b1 + 100
    assert b2 > r2 + 100


@pytest.mark.parametrize(
    ("image", "kind"),
    [
        (Image.new("RGB", (50, 40), "teal"), "JPEG"),
        (Image.new("L", (50, 40), 90), "JPEG"),
        (Image.new("CMYK", (50, 40), (10, 20, 30, 0)), "JPEG"),
        (Image.new("RGBA", (50, 40), (255, 0, 0, 0)), "PNG"),
        (Image.new("LA", (50, 40), (90, 128)), "PNG"),
        (Image.new("P", (50, 40), 3), "PNG"),
        (Image.new("1", (50, 40), 1), "PNG"),
        (Image.new("I;16", (50, 40), 40000), "PNG"),
        (Image.new("F", (50, 40), 0.5), "TIFF"),
        (Image.new("RGB", (1, 1), "teal"), "PNG"),
        (Image.new("RGB", (3000, 2), "teal"), "PNG"),
        (Image.new("RGB", (50, 40), "teal"), "WEBP"),
        (Image.new("RGB", (50, 40), "teal"), "HEIF"),
        (Image.new("LAB", (50, 40), (128, 128, 128)), "TIFF"),
        (Image.new("CMYK", (50, 40), (10, 20, 30, 0)), "TIFF"),
    ],
    ids=[
        "rgb",
        "grey",
        "cmyk",
        "rgba",
        "grey-alpha",
        "palette",
        "one-bit",
        "sixteen-bit",
        "float",
        "tiny",
        "line",
        "webp",
        "heic",
        "lab",
        "cmyk-tiff",
    ],
)
def test_every_kind_of_picture_becomes_one_for_a_page(image: Image.Image, kind: str) -> None:
    made = publishable(encoded(image, kind))
    assert made.tone.startswith("#")
    assert len(made.tone) == 7
    for number in range(len(made.renditions)):
        assert opened(made, number).convert("RGB").size[0] >= 1


def test_what_is_transparent_becomes_white() -> None:
    made = publishable(encoded(Image.new("RGBA", (50, 40), (255, 0, 0, 0)), "PNG"))
    assert opened(made).getpixel((20, 20)) == (255, 255, 255)


def test_sizes_go_down_from_the_longest_and_are_never_enlarged() -> None:
    large = publishable(encoded(Image.new("RGB", (4000, 3000), "teal")))
    small = publishable(encoded(Image.new("RGB", (700, 500), "teal")))
    assert [(r.ending, r.width, r.height) for r in large.renditions] == [
        ("webp", 1920, 1440), ("webp", 960, 720), ("webp", 640, 480), ("jpg", 960, 720),
    ]  # fmt: skip
    assert [(r.ending, r.width) for r in small.renditions] == [("webp", 700), ("jpg", 700)]


@pytest.mark.parametrize(
    ("size", "widths"),
    [
        ((6000, 4000), [1920, 960, 640]), ((3000, 4000), [1440, 720, 480]), ((1000, 800), [1000, 640]), ((40, 30), [40]), ((1, 1), [1]),
        ((4000, 2000), [1920, 960, 640]), ((16000, 4000), [2715, 1358, 905]), ((30000, 3000), [3840, 1920, 1280]), ((2000, 30000), [256, 128, 85]),
    ],
)  # fmt: skip
def test_a_panorama_keeps_more_of_its_length(size: tuple[int, int], widths: list[int]) -> None:
    """Beyond 2:1 the area stays that of a picture of 2:1, up to twice the length."""
    assert [w for w, _ in sizes_of(size)] == widths


@given(st.tuples(st.integers(1, 30_000), st.integers(1, 30_000)))
def test_the_smaller_sizes_follow_from_the_largest(size: tuple[int, int]) -> None:
    """To two pixels: the largest is a whole number of them already."""
    made, again = sizes_of(size), sizes_of(sizes_of(size)[0])
    assert len(made) == len(again)
    assert np.max(np.abs(np.subtract(made, again))) <= 2


@pytest.mark.parametrize("size", [(10_000, 10_000), (24_000, 4_000)], ids=["square", "panorama"])
def test_a_hundred_megapixels_are_published_like_any_other(size: tuple[int, int]) -> None:
    made = publishable(encoded(Image.new("L", size, 90)))
    assert [(r.width, r.height) for r in made.renditions[:-1]] == sizes_of(size)


def test_the_same_picture_gives_the_same_bytes() -> None:
    original = encoded(corners())
    assert publishable(original) == publishable(original)


def test_bytes_that_are_no_picture_raise() -> None:
    with pytest.raises(OSError, match="cannot identify"):
        publishable(b"no picture")


def swapped_primaries() -> bytes:
    """An RGB profile whose red is sRGB's blue, and the other way round: the names of two tags are swapped."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return profile.replace(b"rXYZ", b"????", 1).replace(b"bXYZ", b"rXYZ", 1).replace(b"????", b"bXYZ", 1)


@pytest.mark.parametrize(
    ("image", "kind"),
    [
        (Image.new("RGB", (50, 40), "red"), "JPEG"),
        (Image.new("RGBA", (50, 40), (255, 0, 0, 255)), "PNG"),
        (Image.new("RGB", (50, 40), "red").convert("P", palette=Image.Palette.ADAPTIVE, colors=2), "PNG"),
    ],
    ids=["rgb", "with-transparency", "palette"],
)
def test_colours_are_those_that_the_profile_means(image: Image.Image, kind: str) -> None:
    red, _, blue = opened(publishable(encoded(image, kind, icc_profile=swapped_primaries()))).getpixel((20, 20))  # type: ignore[misc]  # RGB
    assert (red < 20, blue > 235) == (True, True)


@pytest.mark.parametrize("profile", [b"", b"no profile" * 30])
def test_a_profile_that_cannot_be_read_says_nothing(profile: bytes) -> None:
    plain, told = (publishable(encoded(corners(), icc_profile=p)) for p in (b"", profile))
    assert plain == told


@pytest.mark.parametrize(
    ("mode", "value", "kind", "grey"),
    [
        ("I;16", 65535, "PNG", 255),
        ("I;16", 32896, "TIFF", 128),
        ("I", 65535, "TIFF", 255),
        ("F", 0.5, "TIFF", 127),
        ("L", 90, "PNG", 90),
    ],
)
def test_grey_stays_as_light_as_it_was(mode: str, value: float, kind: str, grey: int) -> None:
    pixel = opened(publishable(encoded(Image.new(mode, (50, 40), value), kind))).getpixel((20, 20))
    assert isinstance(pixel, tuple)
    assert all(abs(band - grey) <= 1 for band in pixel)


def test_half_transparent_grey_is_mixed_with_white() -> None:
    (grey, *_) = opened(publishable(encoded(Image.new("LA", (50, 40), (0, 128)), "PNG"))).getpixel((20, 20))  # type: ignore[misc]  # RGB
    assert abs(grey - 127) <= 1


@pytest.mark.parametrize("exif", [b"Exif\0\0", b"Exif\0\0nothing like it", b"Exif\0\0MM\0*\0\0\0\x08\xff\xff"])
@pytest.mark.filterwarnings("ignore:Corrupt EXIF")
def test_broken_camera_data_spoil_no_picture(exif: bytes) -> None:
    plain = encoded(corners())
    broken = plain[:2] + b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif + plain[2:]
    assert publishable(broken) == publishable(plain)


def test_half_a_picture_raises() -> None:
    whole = encoded(corners())
    with pytest.raises(OSError, match=r"[Tt]runcated"):
        publishable(whole[: len(whole) // 2])


def pixel(original: bytes) -> tuple[int, ...]:
    """Return the middle pixel as it is drawn, before it is coded."""
    image = drawn_anew(original)
    found = image.getpixel((image.width // 2, image.height // 2))
    return found if isinstance(found, tuple) else ()


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    "stored", [{}, {"compression": "deflate", "predictor": True}, {"tile": (64, 64)}], ids=["plain", "deflated", "tiles"]
)
def test_colour_of_sixteen_bits_is_read(order: str, stored: dict[str, object]) -> None:
    """The witness that writes is tifffile."""
    colours, out = np.empty((80, 120, 3), np.uint16), io.BytesIO()
    colours[:] = 65535, 32896, 257
    tifffile.imwrite(out, colours, photometric="rgb", byteorder=order, **stored)
    assert pixel(out.getvalue()) == (255, 128, 1)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("value", "grey"), [(0, 0), (257, 1), (32896, 128), (65535, 255)])
def test_grey_of_sixteen_bits_is_read_either_way_round(order: str, value: int, grey: int) -> None:
    out = io.BytesIO()
    tifffile.imwrite(out, np.full((40, 50), value, np.uint16), photometric="minisblack", byteorder=order)
    assert pixel(out.getvalue()) == (grey, grey, grey)


def test_a_sixteen_bit_picture_keeps_a_gradient() -> None:
    ramp = np.tile(np.linspace(0, 65535, 256).astype(np.uint16), (20, 1))
    out = io.BytesIO()
    tifffile.imwrite(out, np.dstack([ramp] * 3), photometric="rgb")
    drawn = np.asarray(drawn_anew(out.getvalue()))[10, :, 0].astype(int)
    assert np.max(np.abs(drawn - np.arange(256))) <= 1


def test_a_picture_that_is_reduced_keeps_its_lines() -> None:
    """A line of the picture stays where it is, in share of the width, however the file is read (a JPEG is read reduced)."""
    image = Image.new("RGB", (4000, 3000), "white")
    ImageDraw.Draw(image).rectangle((2990, 0, 3009, 2999), fill="black")
    for kind in ("JPEG", "PNG"):
        row = np.asarray(drawn_anew(encoded(image, kind)).convert("L"))[700].astype(float)
        middle = np.sum((255 - row) * (np.arange(len(row)) + 0.5)) / np.sum(255 - row)
        assert abs(middle / len(row) - 3000 / 4000) < 2e-4


@pytest.mark.parametrize("name", ["psu-burnt-before", "front-after"])
def test_every_published_size_keeps_the_structure_of_the_picture(name: str) -> None:
    """SSIM of the luminance (Wang, Bovik, Sheikh, Simoncelli, 2004) by scikit-image, against the picture before it was coded."""
    original = (ROOT / f"sample_job/photos/{name}.jpg").read_bytes()
    sizes = in_each_size(drawn_anew(original))
    assert set(WEBP_QUALITY) == set(LONGEST)
    for size, rendition in zip([*sizes, sizes[1]], publishable(original).renditions, strict=True):
        before, after = (np.asarray(i.convert("L")) for i in (size, Image.open(io.BytesIO(rendition.data))))
        assert (
            structural_similarity(before, after, data_range=255, gaussian_weights=True, use_sample_covariance=False)
            >= LEAST_SSIM
        )


@pytest.mark.parametrize(
    "code",
    [
        "from benchrecord.figures.photo import drawn_anew; print(*drawn_anew(open(name, 'rb').read()).size)",
        "from benchrecord.intake.picture_file import read_picture; f, _ = read_picture(Path(name).parent, 'a.heic'); print(f.width, f.height)",
    ],
    ids=["figures", "intake"],
)
def test_a_heic_picture_is_read_by_whoever_comes_first(code: str, tmp_path: Path) -> None:
    """In a process of its own, where nobody has taught Pillow to read it yet."""
    (tmp_path / "a.heic").write_bytes(encoded(corners(), "HEIF"))
    words = [sys.executable, "-c", f"from pathlib import Path; name = {str(tmp_path / 'a.heic')!r}; {code}"]
    assert subprocess.run(words, capture_output=True, text=True, check=True).stdout.split() == ["120", "80"]
