"""Pins over a photograph: where the parts of a board are in it."""

from __future__ import annotations

import html
from collections.abc import Callable

from benchrecord.bench.placement import Placement
from benchrecord.figures.board_map import Layers, body, link_of
from benchrecord.figures.photo_overlay import TEXT, Point, overlay
from benchrecord.model.job import Board, BoardPart

PIN = 0.011  # radius of a pin that stands for a small part, as a share of the picture's width


def photo_pins(
    board: Board, placement: Placement, size: tuple[int, int], *, layers: Layers, href: Callable[[str], str], name: str
) -> str:
    """Draw a pin for each part that lies inside the picture of ``size`` pixels; a link each, as on the map."""
    width, height = size
    shown = [(p, placement.px(p.x, p.y)) for p in board.parts]
    inside = [(p, at) for p, at in shown if 0 <= at[0] <= width and 0 <= at[1] <= height]
    pins = [
        link_of(p, layers, href(p.ref), ident=f"{name}-{p.ref}", drawn=_pin(p, at, _radius(board, p, placement, width), width))
        for p, at in inside
    ]
    return overlay("br-pins", size, f"{len(inside)} parts of {board.title}, pinned on the photograph", pins)


def _radius(board: Board, part: BoardPart, placement: Placement, width: int) -> float:
    if board.frame != "mm":
        return PIN * 1.4 * width
    return max(PIN * width, 0.5 * max(body(part)) * placement.px_per_unit(part.x, part.y))


def _pin(part: BoardPart, at: Point, radius: float, width: int) -> str:
    """A pin has a second ring, which only a replaced part shows."""
    x, y = at
    gap = 0.004 * width
    return (
        f'<circle class="br-shape" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>'
        f'<circle class="br-outline" cx="{x:.1f}" cy="{y:.1f}" r="{radius + gap:.1f}"/>'
        f'<text x="{x:.1f}" y="{y - radius - gap:.1f}" text-anchor="middle" font-size="{TEXT * 0.9 * width:.1f}">'
        f"{html.escape(part.ref)}</text>"
    )
