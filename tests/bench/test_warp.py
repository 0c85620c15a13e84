"""Which pixels a picture drawn anew takes from where: exact for a plane seen by two cameras, close where a lens bends it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from benchrecord.bench.lens import Lens
from benchrecord.bench.placement import Placement
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.warp import Piece, grid_for, pieces

ONE = Placement(((8.0, 0.6, 170.0), (0.4, -7.5, 990.0), (2e-4, -3e-4, 1.0)))
OTHER = Placement(((6.0, -0.9, 260.0), (0.3, -7.0, 940.0), (-3e-4, 2e-4, 1.0)))
SIZE = (1200, 900)


def source(piece: Piece, x: float, y: float) -> tuple[float, float]:
    """Return where a pixel of the new picture comes from."""
    a, b, c, d, e, f, g, h = piece.coefficients
    u, v = x - piece.box[0], y - piece.box[1]
    return (a * u + b * v + c) / (g * u + h * v + 1), (d * u + e * v + f) / (g * u + h * v + 1)


def through(one: Placement, other: Placement, x: float, y: float) -> tuple[float, float]:
    return other.px(*one.board(x, y))


def worst_px(found: tuple[Piece, ...], one: Placement, other: Placement) -> float:
    off = []
    for piece in found:
        left, top, right, bottom = piece.box
        for x, y in np.random.default_rng(1).uniform((left, top), (right, bottom), (20, 2)):
            (u, v), (p, q) = source(piece, x, y), through(one, other, x, y)
            off.append(np.hypot(u - p, v - q))
    return float(max(off))


def made(one: Placement, other: Placement, grid: tuple[int, int]) -> tuple[Piece, ...]:
    found = pieces(lambda x, y: through(one, other, x, y), SIZE, grid)
    assert isinstance(found, tuple)
    return found


def test_pieces_cover_a_picture_without_a_gap_or_twice() -> None:
    found = made(ONE, OTHER, (7, 4))
    covered = np.zeros(SIZE, int)
    for piece in found:
        left, top, right, bottom = piece.box
        covered[left:right, top:bottom] += 1
    assert np.all(covered == 1)


@pytest.mark.parametrize("grid", [(1, 1), (1, 2), (3, 5)])
def test_between_two_straight_cameras_every_pixel_is_exact(grid: tuple[int, int]) -> None:
    assert worst_px(made(ONE, OTHER, grid), ONE, OTHER) < 1e-6


def test_the_matrix_from_new_to_old_is_that_of_opencv() -> None:
    """Source: OpenCV's getPerspectiveTransform between the same four corners, new to old."""
    (piece,) = made(ONE, OTHER, (1, 1))
    corners = np.array([(0, 0), (1200, 0), (1200, 900), (0, 900)], np.float32)
    ends = np.array([through(ONE, OTHER, *c) for c in corners.tolist()], np.float32)
    known = cv2.getPerspectiveTransform(corners, ends).ravel()[:8]
    assert np.allclose(piece.coefficients, known, rtol=1e-4, atol=1e-6)  # it takes single precision


def test_where_a_lens_bends_small_cells_are_close() -> None:
    one = Placement(ONE.homography, lens=Lens(*SIZE, -0.05))
    other = Placement(OTHER.homography, lens=Lens(*SIZE, 0.03))
    assert worst_px(made(one, other, grid_for(SIZE, bent=True)), one, other) < 0.15
    assert worst_px(made(one, other, (1, 1)), one, other) > 2


def test_a_picture_that_reaches_beyond_the_horizon_cannot_be_had() -> None:
    steep = Placement(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -0.01, 1.0)))
    assert isinstance(pieces(steep.px, (100, 300), (1, 2)), NotHad)
