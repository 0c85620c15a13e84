"""Where the places of a board lie in a photograph of it: a plane seen by a camera (a homography), and how the lens bends that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import atan2, cos, dist, inf, pi, sin, sqrt

import numpy as np

from benchrecord.bench.homography import UNKNOWNS, Floats, dlt, project, refined
from benchrecord.bench.lens import BEYOND, Lens, Point
from benchrecord.bench.reasons import NotHad

FEWEST = 4
FEWEST_FOR_LENS = 8  # points for a radial term: seven readings are left over then to judge it by
LEVEL = 0.01  # of the F-test for the radial term: of a hundred straight lenses, one is taken for a bent one
ROUNDING_PX = 0.01  # no point is placed finer than this: what fits better needs no lens
UNFIXED = NotHad("the points lie on a line, or twice on the same place, and do not fix the board")
SWAPPED = NotHad("the points cannot all be seen in one picture: two of them are swapped")


@dataclass(frozen=True, slots=True)
class Placement:
    """A fitted placement: ``homography`` (3 × 3) takes places on the board to pixels, before the lens.

    Its last element is 1, or −1 where the board's origin lies behind the camera: places that are seen have a positive depth.

    ``residual`` is the rms distance of the points from their places, in the board's unit, ``residual_px`` in pixels; None where
    four points leave nothing over. ``worst`` is the number (from 0) of the point that lies farthest off, by ``worst_off`` in the
    board's unit. ``mirrored`` says that the picture shows the board from behind (its solder side). ``lens`` is None where the
    points gave no reason for one; ``lens_gain`` is the F statistic that gave it.
    """

    homography: tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]
    points: int = 0
    residual: float | None = None
    residual_px: float | None = None
    worst: int = 0
    worst_off: float = 0.0
    mirrored: bool = False
    lens: Lens | None = None
    lens_gain: float | None = None

    @property
    def k1(self) -> float | None:
        """The radial term of the lens, None where there is none."""
        return self.lens.k1 if self.lens else None

    def px(self, x: float, y: float) -> Point:
        """Return the pixel of a place on the board; infinitely far where the camera cannot see it."""
        (a, b, c), (d, e, f), (g, h, i) = self.homography
        depth = g * x + h * y + i
        if not depth > 0:
            return BEYOND
        px, py = (a * x + b * y + c) / depth, (d * x + e * y + f) / depth
        return self.lens.bent(px, py) if self.lens else (px, py)

    def board(self, px: float, py: float) -> Point:
        """Return the place on the board that lies at a pixel: the inverse of ``px``, by the adjugate of the matrix."""
        x, y = self.lens.straight(px, py) if self.lens else (px, py)
        (a, b, c), (d, e, f), (g, h, i) = self.homography
        across = x * (e * i - f * h) + y * (c * h - b * i) + b * f - c * e
        along = x * (f * g - d * i) + y * (a * i - c * g) + c * d - a * f
        depth = x * (d * h - e * g) + y * (b * g - a * h) + a * e - b * d
        return (across / depth, along / depth) if depth else BEYOND

    def px_per_unit(self, x: float, y: float) -> float:
        """Return how many pixels one unit of the board takes up about a place: the root of the area's scale; 0 where unseen."""
        here, right, up = self.px(x, y), self.px(x + 1, y), self.px(x, y + 1)
        if inf in (*here, *right, *up):
            return 0.0
        return sqrt(abs((right[0] - here[0]) * (up[1] - here[1]) - (right[1] - here[1]) * (up[0] - here[0])))


def fit(
    board: Sequence[Point], px: Sequence[Point], *, size_px: tuple[int, int] | None = None, upwards: bool = True
) -> Placement | NotHad:
    """Fit the placement of a board from places (n, 2) and their pixels (n, 2), n ≥ 4.

    Normalised direct linear transformation, refined to the least distances in the picture. With ``size_px``, the picture's size,
    and eight points or more, a radial term of the lens is fitted too, and kept where it lowers the sum of squares by more than
    chance would: F-test of one further unknown at 1 %, F = (S₀ − S₁)·(2n − 9)/S₁ (the extra sum of squares of any textbook on
    regression; from memory). ``upwards`` says that the board's y grows upwards, as millimetres do: it tells a view from behind.
    """
    if len(board) < FEWEST or len(board) != len(px):
        return NotHad("fewer than four points")
    places, pixels = np.array(board, float), np.array(px, float)
    start = dlt(places, pixels)
    if start is None:
        return UNFIXED
    if not _seen_together(start, places):
        return SWAPPED
    matrix, lens, gain = (start, None, None) if len(places) == FEWEST else _refined(start, places, pixels, size_px)
    return _measured(matrix, places, pixels, lens=lens, gain=gain, upwards=upwards)


def in_percent(width: int, height: int) -> Placement:
    """Return the placement of a board whose places are percent of this very picture of ``width`` × ``height`` pixels."""
    return Placement(((width / 100, 0.0, 0.0), (0.0, height / 100, 0.0), (0.0, 0.0, 1.0)))


def tail_of_f(value: float, freedom: int) -> float:
    """Return how often chance alone gives an F statistic of one unknown above ``value``, for an odd number of readings left over.

    Student's distribution of √F for odd degrees of freedom (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.3; its
    number from memory).
    """
    angle = atan2(sqrt(max(value, 0.0)), sqrt(freedom))
    term, terms = cos(angle), 0.0
    for n in range(1, freedom, 2):
        terms += term
        term *= (n + 1) / (n + 2) * cos(angle) ** 2
    return 1 - 2 / pi * (angle + sin(angle) * terms)


def _seen_together(matrix: Floats, places: Floats) -> bool:
    """Say whether all places lie before the camera (or all behind it, which is the same up to a sign)."""
    depths = np.column_stack([places, np.ones(len(places))]) @ matrix[2]
    return bool(np.all(depths > 0) or np.all(depths < 0))


def _refined(
    start: Floats, places: Floats, pixels: Floats, size_px: tuple[int, int] | None
) -> tuple[Floats, Lens | None, float | None]:
    """Return the matrix, and the lens with its F statistic where the points give reason for one."""
    width, height = size_px or (2, 2)
    straight = Lens(width, height, 0.0)
    (mx, my), unit = straight.middle, straight.corner
    back = np.array([[unit, 0.0, mx], [0.0, unit, my], [0.0, 0.0, 1.0]])
    to_unit: Floats = np.linalg.inv(back)
    seen = project(to_unit, pixels)
    plain, _, over = refined(to_unit @ start, places, seen, bends=False)
    if size_px is None or len(places) < FEWEST_FOR_LENS:
        return back @ plain, None, None
    curved, k1, left = refined(plain, places, seen, bends=True)
    freedom = 2 * len(places) - UNKNOWNS - 1
    gain = (over - left) / max(left / freedom, (ROUNDING_PX / unit) ** 2)
    if tail_of_f(gain, freedom) >= LEVEL or not -1 / 3 < k1 < 1:  # beyond, the lens would fold its picture over
        return back @ plain, None, None
    return back @ curved, Lens(width, height, k1), gain


def _measured(
    matrix: Floats, places: Floats, pixels: Floats, *, lens: Lens | None, gain: float | None, upwards: bool
) -> Placement:
    matrix = matrix / abs(matrix[2, 2]) * np.sign(np.append(places[0], 1) @ matrix[2])
    one, two, three = ((float(a), float(b), float(c)) for a, b, c in matrix)
    turns = bool(
        np.linalg.det(matrix) > 0
    )  # as the map about any point does: the determinant over the third power of the depth
    bare = Placement((one, two, three), len(places), mirrored=turns == upwards, lens=lens, lens_gain=gain)
    pairs = list(zip(places.tolist(), pixels.tolist(), strict=True))
    off_px = [dist(bare.px(*place), pixel) for place, pixel in pairs]
    off = [dist(bare.board(*pixel), place) for place, pixel in pairs]
    worst = off_px.index(max(off_px))
    if len(pairs) == FEWEST:
        return replace(bare, worst=worst)
    return replace(bare, residual=_rms(off), residual_px=_rms(off_px), worst=worst, worst_off=off[worst])


def _rms(distances: Sequence[float]) -> float:
    return sqrt(sum(d * d for d in distances) / len(distances))
