"""How a picture is drawn anew as another camera would have seen it: piece by piece, each by a homography."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, isfinite

from benchrecord.bench.lens import Point
from benchrecord.bench.reasons import NotHad

BEYOND_HORIZON = NotHad("the picture to be drawn reaches beyond what the camera could see")


@dataclass(frozen=True, slots=True)
class Piece:
    """A rectangle of the new picture (left, top, right, bottom in pixels), and where its pixels come from.

    ``coefficients`` (a … h) take a place (x, y) of the piece, from its own upper left corner, to ((a·x + b·y + c)/w,
    (d·x + e·y + f)/w) of the old picture, with w = g·x + h·y + 1.
    """

    box: tuple[int, int, int, int]
    coefficients: tuple[float, ...]


def pieces(
    comes_from: Callable[[float, float], Point], size: tuple[int, int], grid: tuple[int, int]
) -> tuple[Piece, ...] | NotHad:
    """Cut a new picture of ``size`` pixels into columns and rows, and tell where each piece comes from.

    ``comes_from`` takes a place of the new picture to one of the old. One homography a piece, through its four corners: exact where
    the whole is a homography; where a lens bends it, as close as the grid is fine.
    """
    cuts = [[round(n * length / parts) for n in range(parts + 1)] for length, parts in zip(size, grid, strict=True)]
    boxes = [
        (left, top, right, bottom)
        for top, bottom in zip(cuts[1], cuts[1][1:], strict=False)
        for left, right in zip(cuts[0], cuts[0][1:], strict=False)
        if right > left and bottom > top
    ]
    found = [_piece(comes_from, box) for box in boxes]
    whole = tuple(p for p in found if p is not None)
    return whole if len(whole) == len(found) else BEYOND_HORIZON


def grid_for(size: tuple[int, int], *, bent: bool, cell_px: float = 48.0, bands: int = 2) -> tuple[int, int]:
    """Return into how many columns and rows a picture is cut: a few bands that share the work; small cells where a lens bends it."""
    return (ceil(size[0] / cell_px), ceil(size[1] / cell_px)) if bent else (1, bands)


def _piece(comes_from: Callable[[float, float], Point], box: tuple[int, int, int, int]) -> Piece | None:
    """The map of a rectangle to a quadrangle (Heckbert, Fundamentals of texture mapping and image warping, 1989; from memory)."""
    left, top, right, bottom = box
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = (
        comes_from(x, y) for x, y in ((left, top), (right, top), (right, bottom), (left, bottom))
    )
    sides = (x1 - x2) * (y3 - y2) - (x3 - x2) * (y1 - y2)
    if not isfinite(sides) or sides == 0:
        return None
    across, down = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    g = (across * (y3 - y2) - (x3 - x2) * down) / sides
    h = ((x1 - x2) * down - across * (y1 - y2)) / sides
    wide, high = right - left, bottom - top
    first = ((x1 - x0 + g * x1) / wide, (x3 - x0 + h * x3) / high, x0)
    second = ((y1 - y0 + g * y1) / wide, (y3 - y0 + h * y3) / high, y0)
    return Piece(box, (*first, *second, g / wide, h / high))
