"""What lies over a photograph: marks, numbered as they are listed below it.

Places are percent of the picture and sizes are pixels of the screen, so that a number is as large on a telephone as on paper. Every
stroke is white inside black: one of the two stands out from any colour.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from benchrecord.model.job import Mark

ARROW = 6.0  # percent of the picture's width: the length, across and along, of an arrow that has none of its own
RING, BADGE, TEXT = 15.0, 12.0, 13.0  # pixels: radii of a point's ring and of a number's disc, height of a number
HEAD = 13.0  # pixels: length of an arrow's head
CLEAR = BADGE + 2.0  # pixels: two numbers this far to either side of a place leave it free
AROUND = ((0.8, -0.8), (-0.8, -0.8), (0.8, 0.8), (-0.8, 0.8), (1, 0), (-1, 0), (0, -1), (0, 1))
WIDTHS = (
    300.0,
    480.0,
    760.0,
    1200.0,
)  # pixels that a picture is looked at with: numbers keep clear of each other in all of them
WORDS = 48  # letters of a mark's words that are shown in the picture
FAR_SIDE = 55.0  # percent: beyond it words are written to the left

Size = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in the picture (percent), moved by pixels of the screen."""

    x: float
    y: float
    dx: float = 0.0
    dy: float = 0.0

    def at(self, width: float, height: float) -> tuple[float, float]:
        """Return where it lies in a picture of so many pixels."""
        return self.x / 100 * width + self.dx, self.y / 100 * height + self.dy

    def nested(self, inner: str) -> str:
        """Return a drawing whose own origin lies there, in pixels."""
        moved = f'<g transform="translate({_n(self.dx)} {_n(self.dy)})">{inner}</g>' if self.dx or self.dy else inner
        return f'<svg x="{_n(self.x)}%" y="{_n(self.y)}%" overflow="visible">{moved}</svg>'


def marks_overlay(marks: Sequence[Mark], size: Size, *, href: Callable[[str], str | None], name: str) -> str:
    """Draw the marks of a photograph of ``size`` pixels.

    ``href`` gives where a reference leads; a mark that leads nowhere leads to its own words in the list below, ``said-NAME-NUMBER``.
    """
    said = f"{len(marks)} marks on this photograph" if len(marks) > 1 else "A mark on this photograph"
    places = badge_spots(marks, size)
    drawn = [_mark(m, n, size, at=at, link=(href(m.ref) or f"#said-{name}-{n}", f"{name}-{n}")) for n, (m, at) in enumerate(zip(marks, places, strict=True), 1)]  # fmt: skip
    return "\n".join([f'<svg class="br-marks" role="group" aria-label="{said}">', *drawn, "</svg>"])


def words_of(mark: Mark) -> str:
    """Return what a mark says: its text, and the part that it names."""
    return ", ".join(w for w in (mark.text, mark.ref) if w)


def tail_of(mark: Mark, size: Size) -> tuple[float, float]:
    """Return where an arrow begins, in percent of the picture: by its own width and height, else where there is room, best above and to the left."""
    if mark.w is not None or mark.h is not None:
        return mark.x + (mark.w or 0.0), mark.y + (mark.h or 0.0)
    reach = ARROW, ARROW * size[0] / size[1]
    across, along = (at - far if at - far >= far / 2 else at + far for at, far in zip((mark.x, mark.y), reach, strict=True))
    return across, along


def badge_spots(marks: Sequence[Mark], size: Size) -> list[Spot]:
    """Return where the number of each mark stands: beside it, inside the picture, clear of the other numbers where there is room."""
    placed: list[Spot] = []
    for mark in marks:
        choices = list(_choices(mark, size))
        costs = [_cost(c, placed, size) + rank for rank, c in enumerate(choices)]
        placed.append(choices[costs.index(min(costs))])
    return placed


def _choices(mark: Mark, size: Size) -> Iterator[Spot]:
    """Yield places for a mark's number, the best first."""
    if mark.shape == "box":
        ends = [
            (mark.x + across * (mark.w or 0.0), mark.y + along * (mark.h or 0.0))
            for across, along in product((0, 1, 0.5), repeat=2)
        ]
        yield from (Spot(x, y, turn * 2 * CLEAR) for turn in (0, -1, 1) for x, y in ends)
        yield from (Spot(x, y, dx * CLEAR, dy * CLEAR) for x, y in ends for dx, dy in AROUND)
        return
    near = RING + BADGE - 2.0
    if mark.shape == "arrow":
        x, y = tail_of(mark, size)
        back = ((x - mark.x) * size[0], (y - mark.y) * size[1])
        long = math.hypot(*back) or 1.0
        yield Spot(x, y, back[0] / long * BADGE, back[1] / long * BADGE)  # behind the tail
        yield from (Spot(x, y, dx * CLEAR, dy * CLEAR) for dx, dy in AROUND)
    yield from (Spot(mark.x, mark.y, dx * near * far, dy * near * far) for far in (1.0, 1.9, 2.8) for dx, dy in AROUND)


def _cost(spot: Spot, placed: Sequence[Spot], size: Size) -> float:
    """Return how badly a number would stand: over another, or over the picture's edge, at any of the widths."""
    cost = 0.0
    for width in WIDTHS:
        height = width * size[1] / size[0]
        x, y = spot.at(width, height)
        beyond = max(BADGE - x, x + BADGE - width, BADGE - y, y + BADGE - height, 0.0)
        over = sum(max(2 * BADGE + 2 - math.dist((x, y), p.at(width, height)), 0.0) for p in placed)
        cost += 1000 * beyond + 20 * over
    return cost


def _mark(mark: Mark, number: int, size: Size, *, at: Spot, link: tuple[str, str]) -> str:
    target, name = (html.escape(text, quote=True) for text in link)
    said = html.escape(f"{number}: {words_of(mark)}" if words_of(mark) else f"{number}", quote=True)
    drawn = _shape(mark, size) + at.nested(_badge(number)) + _said(mark, at)
    return f'<a id="{name}" class="br-mark" href="{target}" aria-label="{said}"><title>{said}</title>{drawn}</a>'


def _badge(number: int) -> str:
    return f'<circle class="br-badge" r="{_n(BADGE)}"/><text class="br-number" y="{_n(TEXT * 0.36)}" text-anchor="middle">{number}</text>'


def _said(mark: Mark, at: Spot) -> str:
    """Write a mark's words beside its number, where they are shown for the one that is pointed at."""
    words = words_of(mark)
    shown = html.escape(words if len(words) <= WORDS else words[: WORDS - 1].rstrip() + "…")
    left = at.x > FAR_SIDE
    move = (at.dx - BADGE - 6 if left else at.dx + BADGE + 6, at.dy + TEXT * 0.36)
    text = f'<text class="br-words" aria-hidden="true" text-anchor="{"end" if left else "start"}">{shown}</text>'
    return Spot(at.x, at.y, *move).nested(text) if words else ""


def _shape(mark: Mark, size: Size) -> str:
    """Return a mark's outline twice: black and wide, then white and narrow."""
    return "".join(_outline(mark, size, look) for look in ("br-casing", "br-line"))


def _outline(mark: Mark, size: Size, look: str) -> str:
    x, y = _n(mark.x), _n(mark.y)
    if mark.shape == "box":
        return f'<rect class="{look}" x="{x}%" y="{y}%" width="{_n(mark.w or 0.0)}%" height="{_n(mark.h or 0.0)}%"/>'
    if mark.shape == "arrow":
        tail = tail_of(mark, size)
        turn = math.degrees(math.atan2((mark.y - tail[1]) * size[1], (mark.x - tail[0]) * size[0]))
        head = f'<path class="{look}" transform="rotate({_n(turn)})" d="M{-HEAD} {-HEAD * 0.6}L0 0L{-HEAD} {HEAD * 0.6}"/>'
        return f'<line class="{look}" x1="{_n(tail[0])}%" y1="{_n(tail[1])}%" x2="{x}%" y2="{y}%"/>{Spot(mark.x, mark.y).nested(head)}'
    return f'<circle class="{look}" cx="{x}%" cy="{y}%" r="{_n(RING)}"/>'


def _n(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".")
