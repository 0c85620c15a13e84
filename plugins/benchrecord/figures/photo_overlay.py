"""What lies over a photograph: pins where a board's parts are, and marks with their words."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence

from benchrecord.bench.placement import Placement
from benchrecord.figures.board_map import Layers, body, classes, title_of
from benchrecord.model.job import Board, BoardPart, Mark

PIN = 0.011  # radius of a pin that stands for a small part, as a share of the picture's width
TEXT = 0.019  # height of a mark's number, as a share of the width


def photo_pins(
    board: Board, placement: Placement, size: tuple[int, int], *, layers: Layers, href: Callable[[str], str], name: str
) -> str:
    """Draw a pin for each part that lies inside the picture of ``size`` pixels; a link each, as on the map."""
    width, height = size
    shown = [(p, placement.px((p.x, p.y))) for p in board.parts]
    inside = [(p, at) for p, at in shown if 0 <= at[0] <= width and 0 <= at[1] <= height]
    pins = "\n".join(
        _pin(p, at, _radius(board, p, placement, width), layers, href(p.ref), f"{name}-{p.ref}", width) for p, at in inside
    )
    said = html.escape(f"{len(inside)} parts of {board.title}, pinned on the photograph", quote=True)
    return f'<svg class="br-pins" viewBox="0 0 {width} {height}" role="group" aria-label="{said}">\n{pins}\n</svg>'


def marks_overlay(marks: Sequence[Mark], size: tuple[int, int], *, href: Callable[[str], str | None], name: str) -> str:
    """Draw the marks of a photograph, numbered as they are listed below it."""
    width, height = size
    drawn = "\n".join(_mark(m, n, width, height, href(m.ref), f"{name}-{n}") for n, m in enumerate(marks, 1))
    said = html.escape("; ".join(f"{n}: {m.text or m.ref}" for n, m in enumerate(marks, 1)), quote=True)
    return f'<svg class="br-marks" viewBox="0 0 {width} {height}" role="group" aria-label="{said}">\n{drawn}\n</svg>'


def _radius(board: Board, part: BoardPart, placement: Placement, width: int) -> float:
    if board.frame != "mm":
        return PIN * 1.4 * width
    return max(PIN * width, 0.5 * max(body(part)) * placement.px_per_unit((part.x, part.y)))


def _pin(part: BoardPart, at: tuple[float, float], radius: float, layers: Layers, href: str, ident: str, width: int) -> str:  # noqa: PLR0913, PLR0917, RUF100  # what one pin needs
    said = html.escape(title_of(part, layers), quote=True)
    x, y = at
    ring = (
        f'<circle class="br-outline" cx="{x:.1f}" cy="{y:.1f}" r="{radius + 0.004 * width:.1f}"/>'
        if part.ref in layers.get("replaced", ())
        else ""
    )
    return (
        f'<a id="{html.escape(ident, quote=True)}" class="{classes(part.ref, layers)}" href="{html.escape(href, quote=True)}" aria-label="{said}">'
        f'<title>{said}</title><circle class="br-shape" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>{ring}'
        f'<text x="{x:.1f}" y="{y - radius - 0.004 * width:.1f}" text-anchor="middle" font-size="{TEXT * 0.9 * width:.1f}">{html.escape(part.ref)}</text></a>'
    )


def _mark(mark: Mark, number: int, width: int, height: int, href: str | None, ident: str) -> str:  # noqa: PLR0913, PLR0917, RUF100  # what one mark needs
    x, y = mark.x / 100 * width, mark.y / 100 * height
    w, h = (mark.w or 0.0) / 100 * width, (mark.h or 0.0) / 100 * height
    shape, badge = _mark_shape(mark.shape, x, y, w, h, width)
    said = html.escape(f"{number}: {mark.text or mark.ref}", quote=True)
    radius = TEXT * 0.85 * width
    label = (
        f'<circle class="br-badge" cx="{badge[0]:.1f}" cy="{badge[1]:.1f}" r="{radius:.1f}"/>'
        f'<text x="{badge[0]:.1f}" y="{badge[1] + TEXT * 0.36 * width:.1f}" text-anchor="middle" font-size="{TEXT * width:.1f}">{number}</text>'
    )
    inner = f"<title>{said}</title>{shape}{label}"
    if not href:
        return f'<g id="{html.escape(ident, quote=True)}" class="br-mark">{inner}</g>'
    return f'<a id="{html.escape(ident, quote=True)}" class="br-mark" href="{html.escape(href, quote=True)}" aria-label="{said}">{inner}</a>'


def _mark_shape(shape: str, x: float, y: float, w: float, h: float, width: int) -> tuple[str, tuple[float, float]]:  # noqa: PLR0913, PLR0917, RUF100  # a rectangle
    """Return a mark's outline, and where its number stands. An arrow points at (x, y) and comes from (x + w, y + h)."""
    if shape == "box":
        return f'<rect class="br-line" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>', (x, y)
    if shape == "arrow":
        tail = (x + (w or -0.06 * width), y + (h or -0.06 * width))
        return (
            f'<path class="br-line" d="M{tail[0]:.1f} {tail[1]:.1f}L{x:.1f} {y:.1f}{_head(tail, (x, y), 0.016 * width)}"/>',
            tail,
        )
    radius = 0.022 * width
    return f'<circle class="br-line" cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}"/>', (x + radius, y - radius)


def _head(tail: tuple[float, float], tip: tuple[float, float], size: float) -> str:
    dx, dy = tail[0] - tip[0], tail[1] - tip[1]
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    ux, uy = dx / length * size, dy / length * size
    return f"M{tip[0] + ux - uy * 0.6:.1f} {tip[1] + uy + ux * 0.6:.1f}L{tip[0]:.1f} {tip[1]:.1f}L{tip[0] + ux + uy * 0.6:.1f} {tip[1] + uy - ux * 0.6:.1f}"
