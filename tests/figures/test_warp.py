"""Photographs drawn anew: the same pixels that a second library finds, nothing beside them, and a colour where nothing was seen."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage.transform import ProjectiveTransform
from skimage.transform import warp as by_skimage

from benchrecord.bench.warp import Piece, pieces
from benchrecord.figures.warp import decoded, warped, webp

SIZE = (320, 240)
SHIFT, TURN, TILT = 12.0, 0.15, 4e-4


def comes_from(x: float, y: float) -> tuple[float, float]:
    """From a pixel of the new picture to one of the old: shifted, turned and tilted."""
    depth = 1 + TILT * x
    return (0.9 * x + TURN * y + SHIFT) / depth, (0.95 * y - TURN * x + 3 * SHIFT) / depth


MATRIX = np.array([[0.9, TURN, SHIFT], [-TURN, 0.95, 3 * SHIFT], [TILT, 0, 1]])


def smooth() -> Image.Image:
    """A picture of slow waves, in which every way of sampling between pixels agrees."""
    x, y = np.meshgrid(np.arange(400), np.arange(300))
    bands = [128 + 100 * np.sin(x / 23 + k) * np.cos(y / 31 - k) for k in range(3)]
    return Image.fromarray(np.stack(bands, axis=-1).astype(np.uint8))


def anew(grid: tuple[int, int], beyond: str = "#808080") -> Image.Image:
    found = pieces(comes_from, SIZE, grid)
    assert isinstance(found, tuple)
    return warped(smooth(), found, SIZE, beyond=beyond)


@pytest.mark.parametrize("grid", [(1, 1), (1, 2), (4, 3)])
def test_pixels_are_those_of_opencv_and_scikit_image(grid: tuple[int, int]) -> None:
    """Source: both libraries, given the same matrix. Their pixels count from a pixel's middle, ours from its corner."""
    here = np.asarray(anew(grid)).astype(float)
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
    centred = np.linalg.inv(half) @ MATRIX @ half
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    opencv = cv2.warpPerspective(np.asarray(smooth()), centred, SIZE, flags=flags).astype(float)
    skimage = 255 * by_skimage(np.asarray(smooth()), ProjectiveTransform(centred), output_shape=SIZE[::-1], order=3)
    inside = np.s_[20:-20, 20:-20]
    for other in (opencv, skimage):
        seen = other[inside].sum(axis=-1) > 0
        assert seen.mean() > 0.8
        assert np.percentile(np.abs(here[inside] - other[inside])[seen], 99) < 2.5


def test_what_the_old_picture_does_not_show_gets_a_colour() -> None:
    far = pieces(lambda x, y: (x + 1000, y), SIZE, (1, 2))
    assert isinstance(far, tuple)
    assert warped(smooth(), far, SIZE, beyond="#804020").getcolors() == [(SIZE[0] * SIZE[1], (0x80, 0x40, 0x20))]


def test_pieces_fit_together_without_a_seam() -> None:
    one, many = (np.asarray(anew(grid)).astype(int) for grid in ((1, 1), (5, 4)))
    assert np.mean(np.abs(one - many).max(axis=-1) > 1) < 1e-4  # but for a pixel on the old picture's very edge


def test_nothing_but_pixels_is_published() -> None:
    made = decoded(webp(anew((1, 1))))
    assert made.size == SIZE
    assert b"EXIF" not in webp(anew((1, 1)))
    assert b"ICCP" not in webp(anew((1, 1)))


def test_a_piece_counts_from_its_own_corner() -> None:
    shifted = Piece((10, 20, 60, 70), (1.0, 0.0, 110.0, 0.0, 1.0, 120.0, 0.0, 0.0))
    made = warped(smooth(), [shifted], SIZE, beyond="black")
    assert made.getpixel((30, 40)) == smooth().getpixel((130, 140))
