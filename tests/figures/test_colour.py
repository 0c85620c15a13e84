"""Colours are those that the picture's colour space means, as sRGB shows them.

Sources: IEC 61966-2-1 (sRGB), SMPTE EG 432-1 with that curve (Display P3), ITU-R BT.2020, Adobe RGB (1998), ICC.1:2022 (D50, Bradford
matrix of annex E); chromaticities from memory. The witness is the conversion worked out here from those chromaticities.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from benchrecord.figures import colour
from benchrecord.figures.colour import in_srgb, profile_of, rgb_profile
from benchrecord.figures.photo import drawn_anew
from pictures import encoded

Matrix = NDArray[np.float64]
SRGB_AT = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
P3_AT, BT_2020_AT, ADOBE_AT = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)), ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)), ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))  # fmt: skip
D65 = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
D50 = np.array([0.9642, 1.0, 0.8249])
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
SPACES = {"P3": (P3_AT, colour.DISPLAY_P3, colour.SRGB_CURVE), "2020": (BT_2020_AT, colour.BT_2020, colour.SRGB_CURVE), "Adobe": (ADOBE_AT, colour.ADOBE_RGB, colour.POWER_CURVE)}  # fmt: skip


def to_xyz(chromaticities: tuple[tuple[float, float], ...]) -> Matrix:
    """Return the matrix from linear RGB to XYZ under D65, white at 1, 1, 1."""
    primaries = np.array([[x / y, 1, (1 - x - y) / y] for x, y in chromaticities]).T
    return np.asarray(primaries * np.linalg.solve(primaries, D65), np.float64)


def linear(shares: Matrix, name: str) -> Matrix:
    if name == "Adobe":
        return np.asarray(shares ** (563 / 256), np.float64)
    return np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)


def as_srgb(levels: Matrix, name: str) -> Matrix:
    """Return sRGB levels of levels in another space; what sRGB has not is cut off."""
    through = np.linalg.inv(to_xyz(SRGB_AT)) @ to_xyz(SPACES[name][0])
    light = np.clip(linear(levels / 255, name) @ through.T, 0, 1)
    return np.asarray(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055), np.float64)


def inside(name: str) -> Matrix:
    """Return colours of a space that sRGB has too."""
    grid = np.array([[r, g, b] for r in range(5, 256, 25) for g in range(5, 256, 25) for b in range(5, 256, 25)], np.float64)
    through = np.linalg.inv(to_xyz(SRGB_AT)) @ to_xyz(SPACES[name][0])
    light = linear(grid / 255, name) @ through.T
    return np.asarray(grid[np.all((light > 0.001) & (light < 0.999), axis=1)], np.float64)


@pytest.mark.parametrize("name", SPACES)
def test_primaries_are_those_of_the_chromaticities(name: str) -> None:
    adapted = np.linalg.inv(BRADFORD) @ np.diag((BRADFORD @ D50) / (BRADFORD @ D65)) @ BRADFORD @ to_xyz(SPACES[name][0])
    assert np.allclose(np.array(SPACES[name][1]).T, adapted, atol=1e-4)


@pytest.mark.parametrize("name", SPACES)
def test_colours_that_srgb_has_keep_their_look(name: str) -> None:
    colours = inside(name)
    assert len(colours) > 200
    image = Image.fromarray(colours.astype(np.uint8)[None])
    drawn = np.asarray(in_srgb(image, rgb_profile(*SPACES[name][1:])), np.float64)[0]
    assert np.max(np.abs(drawn - as_srgb(colours, name))) <= 1.5


def test_a_telephone_s_colours_beyond_srgb_become_its_nearest() -> None:
    """The red, green and blue of Display P3 lie outside sRGB: they become its own, and no other hue."""
    profile = rgb_profile(colour.DISPLAY_P3, colour.SRGB_CURVE)
    for level, expected in (((255, 0, 0), (255, 0, 0)), ((0, 255, 0), (0, 255, 0)), ((0, 0, 255), (0, 0, 255)), ((255, 255, 255), (255, 255, 255)), ((0, 0, 0), (0, 0, 0))):  # fmt: skip
        found = in_srgb(Image.new("RGB", (2, 2), level), profile).getpixel((0, 0))
        assert np.max(np.abs(np.subtract(found, expected))) <= 1  # type: ignore[arg-type]  # an RGB pixel


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIF"])
def test_a_wide_gamut_picture_keeps_its_look_in_every_format(kind: str) -> None:
    level = np.array([[200.0, 80.0, 60.0]])
    more: dict[str, Any] = {} if kind in ("PNG", "TIFF") else {"quality": 100}
    data = encoded(Image.new("RGB", (64, 48), (200, 80, 60)), kind, icc_profile=rgb_profile(*SPACES["P3"][1:]), **more)
    drawn = drawn_anew(data).getpixel((20, 20))
    assert np.max(np.abs(np.subtract(drawn, as_srgb(level, "P3")[0]))) <= 3  # type: ignore[arg-type]  # an RGB pixel
    assert np.max(np.abs(as_srgb(level, "P3")[0] - level[0])) > 9


def test_a_heic_picture_that_only_names_its_colours_is_understood() -> None:
    """Numbers of ITU-T H.273 in place of a profile: primaries 12, the curve of sRGB."""
    data = encoded(
        Image.new("RGB", (64, 48), (200, 80, 60)),
        "HEIF",
        quality=100,
        color_primaries=12,
        transfer_characteristic=13,
        save_nclx_profile=True,
    )
    drawn = drawn_anew(data).getpixel((20, 20))
    assert np.max(np.abs(np.subtract(drawn, as_srgb(np.array([[200.0, 80.0, 60.0]]), "P3")[0]))) <= 3  # type: ignore[arg-type]  # an RGB pixel


def test_a_camera_that_names_its_optional_colour_space_is_understood() -> None:
    """DCF 2.0: interoperability index R03, and no profile, is Adobe RGB."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA005] = {1: "R03"}
    data = encoded(Image.new("RGB", (64, 48), (200, 80, 60)), quality=100, subsampling=0, exif=exif)
    with Image.open(io.BytesIO(data)) as image:
        assert profile_of(image) == rgb_profile(colour.ADOBE_RGB, colour.POWER_CURVE)
    drawn = drawn_anew(data).getpixel((20, 20))
    assert np.max(np.abs(np.subtract(drawn, as_srgb(np.array([[200.0, 80.0, 60.0]]), "Adobe")[0]))) <= 3  # type: ignore[arg-type]  # an RGB pixel


def test_a_picture_that_names_no_colour_space_is_left_as_it_is() -> None:
    with Image.open(io.BytesIO(encoded(Image.new("RGB", (8, 8), "teal"), "PNG"))) as image:
        assert profile_of(image) is None
        assert in_srgb(image, None).getpixel((1, 1)) == (0, 128, 128)


def test_a_profile_of_another_kind_of_picture_says_nothing() -> None:
    grey = Image.new("L", (4, 4), 90)
    assert in_srgb(grey, rgb_profile(colour.DISPLAY_P3, colour.SRGB_CURVE)).getpixel((1, 1)) == (90, 90, 90)


def test_lab_is_read_as_colour() -> None:
    """L* 53.2, a* 80.1, b* 67.2 is sRGB red (CIE 1976 under D50 adaptation; worked out by Little CMS, the other way round)."""
    to_lab = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB")
    lab = ImageCms.applyTransform(Image.new("RGB", (8, 8), (180, 60, 40)), to_lab)
    assert lab is not None
    assert np.max(np.abs(np.subtract(drawn_anew(encoded(lab, "TIFF")).getpixel((1, 1)), (180, 60, 40)))) <= 2  # type: ignore[arg-type]  # an RGB pixel


def test_ink_becomes_light() -> None:
    """Cyan, magenta, yellow and black without a profile; a JPEG of them is stored inverted (Adobe's marker), a TIFF is not."""
    ink = Image.new("CMYK", (16, 16), (0, 200, 200, 20))
    (red, green, blue), tiff = (drawn_anew(encoded(ink, kind)).getpixel((8, 8)) for kind in ("JPEG", "TIFF"))  # type: ignore[misc]  # RGB
    assert (red > 200, green < 80, blue < 80) == (True, True, True)
    assert np.max(np.abs(np.subtract(tiff, (red, green, blue)))) <= 4  # type: ignore[arg-type]  # an RGB pixel
