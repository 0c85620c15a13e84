"""Where the places of a board lie in a photograph of it: a plane seen by a camera (a homography)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.reasons import NotHad

Point = tuple[float, float]
FEWEST = 4
DEGENERATE = 1e-6  # of the first singular value: below it the points do not fix a plane
FLAT = 1e-4  # of the first singular value: below it the picture shows the board as a line
UNFIXED = NotHad("the points lie on a line, or twice on the same place, and do not fix the board")
SWAPPED = NotHad("the points cannot all be seen in one picture: two of them are swapped")


@dataclass(frozen=True, slots=True)
class Placement:
    """A fitted placement: ``matrix`` (3 × 3) takes places on the board to pixels.

    ``residual`` is the rms distance of the points from their places, in the board's unit, ``residual_px`` in pixels; None where
    four points leave nothing over. ``worst`` is the number (from 0) of the point that lies farthest off.
    """

    matrix: tuple[tuple[float, float, float], ...]
    points: int
    residual: float | None
    residual_px: float | None
    worst: int

    def px(self, place: Point) -> Point:
        """Return the pixel of a place on the board."""
        (found,) = _project(np.array(self.matrix), np.array([place]))
        return float(found[0]), float(found[1])

    def px_per_unit(self, place: Point) -> float:
        """Return how many pixels one unit of the board takes up about a place: the root of the area's scale."""
        here, right, up = (np.array(self.px(p)) for p in (place, (place[0] + 1, place[1]), (place[0], place[1] + 1)))
        (a, b), (c, d) = right - here, up - here
        return float(np.sqrt(abs(a * d - b * c)))


def fit(board: Sequence[Point], px: Sequence[Point]) -> Placement | NotHad:
    """Fit the placement of a board from places (n, 2) and their pixels (n, 2), n ≥ 4.

    Normalised direct linear transformation: least squares on the algebraic distances, which lies within a part in a thousand of
    the least distances in the picture (Hartley and Zisserman, Multiple View Geometry, algorithm 4.2; its number from memory).
    """
    if len(board) < FEWEST or len(board) != len(px):
        return NotHad("fewer than four points")
    places, pixels = np.array(board, float), np.array(px, float)
    matrix = _dlt(places, pixels)
    if matrix is None:
        return UNFIXED
    depths = np.column_stack([places, np.ones(len(places))]) @ matrix[2]
    if not (np.all(depths > 0) or np.all(depths < 0)):  # some lie before the camera and some behind it
        return SWAPPED
    return _measured(matrix, places, pixels)


def in_percent(width: int, height: int) -> Placement:
    """Return the placement of a board whose places are percent of this very picture of ``width`` × ``height`` pixels."""
    return Placement(((width / 100, 0.0, 0.0), (0.0, height / 100, 0.0), (0.0, 0.0, 1.0)), 0, None, None, 0)


def _measured(matrix: NDArray[np.float64], places: NDArray[np.float64], pixels: NDArray[np.float64]) -> Placement:
    off_px = np.linalg.norm(_project(matrix, places) - pixels, axis=1)
    off = np.linalg.norm(_project(np.asarray(np.linalg.inv(matrix), np.float64), pixels) - places, axis=1)
    over = len(places) > FEWEST
    rows = tuple((float(a), float(b), float(c)) for a, b, c in matrix / matrix[2, 2])
    rms = [float(np.sqrt(np.mean(d**2))) if over else None for d in (off, off_px)]
    return Placement(rows, len(places), rms[0], rms[1], int(np.argmax(off_px)))


def _dlt(places: NDArray[np.float64], pixels: NDArray[np.float64]) -> NDArray[np.float64] | None:
    scalings = _normalising(places), _normalising(pixels)
    to_places, to_pixels = scalings
    if to_places is None or to_pixels is None:
        return None
    a, b = _project(to_places, places), _project(to_pixels, pixels)
    one, nil = np.ones(len(a)), np.zeros((len(a), 3))
    ends = np.column_stack([a, one])
    rows = np.vstack([
        np.column_stack([ends, nil, -b[:, :1] * ends]),
        np.column_stack([nil, ends, -b[:, 1:] * ends]),
    ])  # fmt: skip
    _, singular, vectors = np.linalg.svd(rows)
    if singular[7] < DEGENERATE * singular[0]:
        return None
    plane = vectors[-1].reshape(3, 3)
    sizes = np.linalg.svd(plane, compute_uv=False)
    if sizes[2] < FLAT * sizes[0]:
        return None
    found: NDArray[np.float64] = np.linalg.inv(to_pixels) @ plane @ to_places
    return found if found[2, 2] != 0 else None


def _normalising(points: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Move points to the origin and scale them to a mean distance of √2 (Hartley's normalisation)."""
    middle = points.mean(axis=0)
    size = np.linalg.norm(points - middle, axis=1).mean()
    if size == 0:
        return None
    s = np.sqrt(2) / size
    return np.array([[s, 0, -s * middle[0]], [0, s, -s * middle[1]], [0, 0, 1]], np.float64)


def _project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    ends = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    flat: NDArray[np.float64] = ends[:, :2] / ends[:, 2:]
    return flat
