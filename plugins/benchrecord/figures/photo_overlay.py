"""What lies over a photograph: marks with their words."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence

from benchrecord.figures.labels import Box
from benchrecord.model.job import Mark

Point = tuple[float, float]
TEXT = 0.019  # height of a mark's number, as a share of the width
ARROW = 0.06  # length of an arrow that has none of its own


def marks_overlay(marks: Sequence[Mark], size: tuple[int, int], *, href: Callable[[str], str | None], name: str) -> str:
    """Draw the marks of a photograph, numbered as they are listed below it."""
    drawn = [_mark(m, n, size, href=href(m.ref), ident=f"{name}-{n}") for n, m in enumerate(marks, 1)]
    return overlay("br-marks", size, "; ".join(f"{n}: {m.text or m.ref}" for n, m in enumerate(marks, 1)), drawn)


def overlay(look: str, size: tuple[int, int], said: str, drawn: Sequence[str]) -> str:
    """Return a drawing that lies over a photograph of ``size`` pixels; ``said`` is what it shows."""
    head = f'<svg class="{look}" viewBox="0 0 {size[0]} {size[1]}" role="group" aria-label="{html.escape(said, quote=True)}">'
    return "\n".join([head, *drawn, "</svg>"])


def _mark(mark: Mark, number: int, size: tuple[int, int], *, href: str | None, ident: str) -> str:
    width, height = size
    box = Box(mark.x / 100 * width, mark.y / 100 * height, (mark.w or 0.0) / 100 * width, (mark.h or 0.0) / 100 * height)
    shape, badge = _mark_shape(mark.shape, box, width)
    said, name = html.escape(f"{number}: {mark.text or mark.ref}", quote=True), html.escape(ident, quote=True)
    inner = f"<title>{said}</title>{shape}{_badge(number, badge, width)}"
    if not href:
        return f'<g id="{name}" class="br-mark">{inner}</g>'
    return f'<a id="{name}" class="br-mark" href="{html.escape(href, quote=True)}" aria-label="{said}">{inner}</a>'


def _badge(number: int, at: Point, width: int) -> str:
    text, x, y = TEXT * width, *at
    return (
        f'<circle class="br-badge" cx="{x:.1f}" cy="{y:.1f}" r="{text * 0.85:.1f}"/>'
        f'<text x="{x:.1f}" y="{y + text * 0.36:.1f}" text-anchor="middle" font-size="{text:.1f}">{number}</text>'
    )


def _mark_shape(shape: str, box: Box, width: int) -> tuple[str, Point]:
    """Return a mark's outline, and where its number stands; ``box`` begins at the mark's x and y."""
    x, y = box.x, box.y
    if shape == "box":
        return f'<rect class="br-line" x="{x:.1f}" y="{y:.1f}" width="{box.w:.1f}" height="{box.h:.1f}"/>', (x, y)
    if shape == "arrow":
        tail = (x + (box.w or -ARROW * width), y + (box.h or -ARROW * width))
        return (
            f'<path class="br-line" d="M{tail[0]:.1f} {tail[1]:.1f}L{x:.1f} {y:.1f}{_head(tail, (x, y), 0.016 * width)}"/>',
            tail,
        )
    radius = 0.022 * width
    return f'<circle class="br-line" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>', (x + radius, y - radius)


def _head(tail: Point, tip: Point, size: float) -> str:
    """Return the two strokes of an arrow's head, as an addition to its path."""
    dx, dy = tail[0] - tip[0], tail[1] - tip[1]
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    ux, uy = dx / length * size, dy / length * size
    one, other = (tip[0] + ux - uy * 0.6, tip[1] + uy + ux * 0.6), (tip[0] + ux + uy * 0.6, tip[1] + uy - ux * 0.6)
    return f"M{one[0]:.1f} {one[1]:.1f}L{tip[0]:.1f} {tip[1]:.1f}L{other[0]:.1f} {other[1]:.1f}"
