"""Pins over a photograph: where the parts of a board are in it, as outlines that the camera's view has drawn together."""

from __future__ import annotations

import html
from collections.abc import Callable
from dataclasses import dataclass

from benchrecord.bench.placement import Placement
from benchrecord.figures.pins import Layers, Point, Sheet, draw_pins
from benchrecord.model.job import Board


@dataclass(frozen=True, slots=True)
class PhotoPins:
    """A drawing that lies over a photograph, how many parts it pins, and the width on a page that their designators need."""

    svg: str
    count: int
    least_px: int


def photo_sheet(placement: Placement, size: tuple[int, int], unit: Point) -> Sheet:
    """Return a photograph of ``size`` pixels as what pins are drawn on; ``unit`` is a millimetre in the board's frame."""
    width, height = size

    def place(x: float, y: float) -> Point:
        px, py = placement.px(x, y)
        return px / width, py / height

    return Sheet(width / height, place, unit)


def photo_pins(board: Board, sheet: Sheet, *, layers: Layers, href: Callable[[str], str], name: str) -> PhotoPins:
    """Draw a pin for each part that lies inside a photograph; a link each, as on the map."""
    drawn = draw_pins(board, sheet, layers=layers, href=href, name=name)
    said = html.escape(f"{drawn.count} parts of {board.title}, pinned on the photograph", quote=True)
    head = f'<svg class="br-pins" viewBox="0 0 {drawn.width:.1f} {drawn.height:.1f}" role="group" aria-label="{said}">'
    return PhotoPins(f"{head}\n{drawn.svg}\n</svg>", drawn.count, drawn.least_px)
