"""A board drawn from its table: outlines and designators, each part a link."""

from __future__ import annotations

import html
from collections.abc import Callable
from dataclasses import dataclass

from benchrecord.figures.pins import Layers, Point, Sheet, draw_pins
from benchrecord.model.job import Board

MARGIN = 7.0  # percent around the parts of a board that nobody measured
PERCENT_BOARD = 110.0  # mm that the parts of such a board are taken to reach across, since nobody knows
AROUND = 10.0  # mm beyond the outermost parts of a board whose size nobody wrote


@dataclass(frozen=True, slots=True)
class BoardMap:
    """A drawing with what it shows in words, its width over its height, and the widths on a page that eyes and thumbs need."""

    svg: str
    alt: str
    shape: float
    least_px: int
    large_px: int


@dataclass(frozen=True, slots=True)
class MapFrame:
    """Which part of a board's frame its map shows: from ``left`` and ``top`` on, ``width`` and ``height`` of it; mm grow upwards."""

    left: float
    top: float
    width: float
    height: float
    upwards: bool
    percent_height: float = 1.0  # percent of a picture's height in percent of its width

    @property
    def shape(self) -> float:
        """Width over height, as they are seen."""
        return self.width / (self.height * self.percent_height)

    @property
    def unit(self) -> Point:
        """How much a millimetre is in the board's frame."""
        if self.upwards:
            return 1.0, 1.0
        across = max(self.width, self.height * self.percent_height) / PERCENT_BOARD
        return across, across / self.percent_height

    def place(self, x: float, y: float) -> Point:
        """Return which shares of the map's width and height a place of the board lies at."""
        down = (self.top - y if self.upwards else y - self.top) / self.height
        return (x - self.left) / self.width, down

    def board(self, across: float, down: float) -> Point:
        """Return which place of the board lies at shares of the map's width and height: the inverse of ``place``."""
        along = down * self.height
        return self.left + across * self.width, self.top - along if self.upwards else self.top + along


def map_frame(board: Board, size: Point | None = None) -> MapFrame:
    """Return what a board's map shows; ``size`` is the first photo's, for a board in percent of it.

    All of a board in millimetres; of one in percent, whose picture shows more than the board, as much as its parts reach.
    """
    xs, ys = [p.x for p in board.parts] or [50.0], [p.y for p in board.parts] or [50.0]
    if board.frame == "mm":
        width, height = board.size_mm or (max(xs) + AROUND, max(ys) + AROUND)
        return MapFrame(0.0, height, width, height, upwards=True)
    percent_height = size[1] / size[0] if size else 0.75
    margin = MARGIN / percent_height
    left, top = min(xs) - MARGIN, min(ys) - margin
    return MapFrame(left, top, max(xs) + MARGIN - left, max(ys) + margin - top, upwards=False, percent_height=percent_height)


def board_map(board: Board, frame: MapFrame, *, layers: Layers, href: Callable[[str], str], name: str = "") -> BoardMap:
    """Draw what ``frame`` shows of a board.

    The id of a part's link is its designator, after ``name`` where a page holds several maps.
    """
    drawn = draw_pins(board, Sheet(frame.shape, frame.place, frame.unit), layers=layers, href=href, name=name)
    alt = description(board, layers)
    head = (
        f'<svg class="br-board" viewBox="0 0 {drawn.width:.0f} {drawn.height:.0f}" role="group" '
        f'aria-label="{html.escape(alt, quote=True)}">'
    )
    edge = f'<rect class="br-edge" x="1" y="1" width="{drawn.width - 2:.1f}" height="{drawn.height - 2:.1f}" rx="4"/>'
    return BoardMap(f"{head}\n{edge}\n{drawn.svg}\n</svg>", alt, frame.shape, drawn.least_px, drawn.large_px)


def description(board: Board, layers: Layers) -> str:
    """Say in words what a map shows."""
    replaced, trims, measured, faulty = (len(layers.get(layer, ())) for layer in ("replaced", "trimmed", "measured", "faulty"))
    said = ("replaced", "trim" if trims == 1 else "trims", "measured", "with a share in a fault")
    counts = zip((replaced, trims, measured, faulty), said, strict=True)
    parts = "1 part" if len(board.parts) == 1 else f"{len(board.parts)} parts"
    return f"Map of {board.title}: " + ", ".join([parts, *(f"{count} {words}" for count, words in counts if count)]) + "."
