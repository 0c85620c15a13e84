"""A board drawn from its table: outlines and designators, each part a link."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from benchrecord.figures.labels import TEXT, Box, label_boxes
from benchrecord.model.job import Board, BoardPart

# Usual body sizes in mm, seen from above; common practice, no source. What is not known is drawn as a small square.
BODIES = {
    "resistor": (7.0, 2.8), "cement": (22.0, 9.5), "wirewound": (22.0, 9.5), "diode": (5.4, 2.8), "electrolytic": (10.0, 10.0),
    "electrolytic-axial": (22.0, 8.5), "capacitor": (7.5, 4.0), "film": (7.5, 4.0), "disc": (6.6, 2.8), "tantalum": (5.0, 5.0),
    "to220": (10.0, 5.0), "regulator": (10.0, 5.0), "to92": (4.8, 4.2), "transistor": (4.8, 4.2), "dil": (19.0, 7.6), "ic": (19.0, 7.6),
    "module": (26.0, 12.0), "header": (15.0, 3.2), "connector": (15.0, 3.2), "trim-disc": (9.0, 9.0), "trimmer": (9.0, 9.0),
    "trim-multi": (9.6, 5.0), "fuse": (22.0, 6.5), "relay": (20.0, 15.0), "transformer": (40.0, 34.0),
}  # fmt: skip
ROUND = frozenset({"electrolytic", "to92", "transistor", "trim-disc", "trimmer", "tantalum"})
OTHER = (4.0, 4.0)
WORDS = {"replaced": "replaced", "trimmed": "trim", "measured": "measured", "faulty": "had a share in a fault"}
WIDTH = 720.0  # drawing units of the map's longer way
MARGIN = 7.0  # percent around the parts of a board that nobody measured
PERCENT_UNIT = 4.0  # drawing units of a millimetre where nobody knows how long one is
Layers = Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class BoardMap:
    """A drawing with what it shows in words."""

    svg: str
    alt: str


@dataclass(frozen=True, slots=True)
class Scale:
    """From the board's frame to drawing units: mm grow upwards, percent of a picture downwards."""

    unit: float
    width: float
    height: float
    upwards: bool
    left: float = 0.0
    top: float = 0.0
    percent_height: float = 1.0

    def at(self, part: BoardPart) -> tuple[float, float]:
        """Return where a part's middle is drawn."""
        if self.upwards:
            return part.x * self.unit, self.height - part.y * self.unit
        return (part.x - self.left) * self.unit, (part.y * self.percent_height - self.top) * self.unit


def board_map(
    board: Board, *, layers: Layers, href: Callable[[str], str], name: str = "", size: tuple[float, float] | None = None
) -> BoardMap:
    """Draw a board. ``size`` is its width and height in its own unit; without it, the parts' places give it.

    The id of a part's link is its designator, after ``name`` where a page holds several maps.
    """
    scale = _scale(board, size)
    parts = sorted(board.parts, key=lambda p: (-p.y if scale.upwards else p.y, p.x))
    bodies = [_body_box(board, p, scale) for p in parts]
    sheet = Box(scale.width / 2, scale.height / 2, scale.width - 4, scale.height - 4)
    labels = label_boxes([p.ref for p in parts], bodies, sheet)
    drawn = "\n".join(
        link_of(
            p, layers, href(p.ref), ident=f"{name}-{p.ref}" if name else p.ref, drawn=_shape(p, b, layers) + _label(p.ref, at)
        )
        for p, b, at in zip(parts, bodies, labels, strict=True)
    )
    alt = description(board, layers)
    head = f'<svg class="br-board" viewBox="0 0 {scale.width:.0f} {scale.height:.0f}" role="group" aria-label="{html.escape(alt, quote=True)}">'
    outline = f'<rect class="br-edge" x="1" y="1" width="{scale.width - 2:.1f}" height="{scale.height - 2:.1f}" rx="4"/>'
    return BoardMap(f"{head}\n{outline}\n{drawn}\n</svg>", alt)


def description(board: Board, layers: Layers) -> str:
    """Say in words what a map shows."""
    replaced, trims, measured = (len(layers.get(layer, ())) for layer in ("replaced", "trimmed", "measured"))
    counts = ((replaced, "replaced"), (trims, "trim" if trims == 1 else "trims"), (measured, "measured"))
    parts = "1 part" if len(board.parts) == 1 else f"{len(board.parts)} parts"
    return f"Map of {board.title}: " + ", ".join([parts, *(f"{count} {words}" for count, words in counts if count)]) + "."


def title_of(part: BoardPart, layers: Layers) -> str:
    """Name a part for a pointer and for who listens: designator, value, function, what is known of it."""
    known = [words for layer, words in WORDS.items() if part.ref in layers.get(layer, ())]
    return ", ".join(w for w in (f"{part.ref} {part.value}".strip(), part.function, *known) if w)


def classes(ref: str, layers: Layers) -> str:
    """Return the classes that a part's look goes by."""
    return " ".join(["br-pin", *(f"br-is-{layer}" for layer in WORDS if ref in layers.get(layer, ()))])


def body(part: BoardPart) -> tuple[float, float]:
    """Return the size in mm that a part is drawn with."""
    return BODIES.get(part.kind.lower(), OTHER)


def _scale(board: Board, size: tuple[float, float] | None) -> Scale:
    if board.frame == "mm":
        width, height = size or board.size_mm or _reach(board)
        unit = WIDTH / max(width, height)
        return Scale(unit, width * unit, height * unit, upwards=True)
    return _cut_to_parts(board, (size or (100.0, 75.0))[1] / 100)


def _reach(board: Board) -> tuple[float, float]:
    return max((p.x for p in board.parts), default=90.0) + 10, max((p.y for p in board.parts), default=90.0) + 10


def _cut_to_parts(board: Board, percent_height: float) -> Scale:
    """A picture shows more than its board: the map of one ends a little beyond its outermost parts."""
    xs, ys = [p.x for p in board.parts] or [50.0], [p.y * percent_height for p in board.parts] or [50.0]
    left, top = min(xs) - MARGIN, min(ys) - MARGIN
    width, height = max(xs) + MARGIN - left, max(ys) + MARGIN - top
    unit = WIDTH / max(width, height)
    return Scale(unit, width * unit, height * unit, upwards=False, left=left, top=top, percent_height=percent_height)


def _turned(board: Board, part: BoardPart) -> bool:
    """Guess whether a long part stands upright: a neighbour of its kind stands nearer beside it than above it."""
    length = max(body(part))
    same = [p for p in board.parts if p is not part and p.kind == part.kind]
    beside = min((abs(p.x - part.x) for p in same if abs(p.y - part.y) < 1), default=1e9)
    above = min((abs(p.y - part.y) for p in same if abs(p.x - part.x) < 1), default=1e9)
    return beside < length <= above


def _body_box(board: Board, part: BoardPart, scale: Scale) -> Box:
    x, y = scale.at(part)
    length, width = (s * scale.unit if scale.upwards else s * PERCENT_UNIT for s in body(part))
    return Box(x, y, width, length) if _turned(board, part) else Box(x, y, length, width)


def link_of(part: BoardPart, layers: Layers, href: str, *, ident: str, drawn: str) -> str:
    """Return a part's drawing as a link with a name for who listens."""
    said = html.escape(title_of(part, layers), quote=True)
    target = html.escape(href, quote=True)
    name = html.escape(ident, quote=True)
    return f'<a id="{name}" class="{classes(part.ref, layers)}" href="{target}" aria-label="{said}"><title>{said}</title>{drawn}</a>'


def _shape(part: BoardPart, box: Box, layers: Layers) -> str:
    left, top = box.x - box.w / 2, box.y - box.h / 2
    if part.kind.lower() in ROUND:
        shape = f'<circle class="br-shape" cx="{box.x:.1f}" cy="{box.y:.1f}" r="{box.w / 2:.1f}"/>'
    else:
        shape = f'<rect class="br-shape" x="{left:.1f}" y="{top:.1f}" width="{box.w:.1f}" height="{box.h:.1f}" rx="2"/>'
    return shape + (_replaced(left - 3, top - 3, box.w + 6, box.h + 6) if part.ref in layers.get("replaced", ()) else "")


def _replaced(left: float, top: float, w: float, h: float) -> str:
    """A replaced part has a second outline with a filled corner: told apart without colour."""
    return (
        f'<rect class="br-outline" x="{left:.1f}" y="{top:.1f}" width="{w:.1f}" height="{h:.1f}" rx="3"/>'
        f'<path class="br-notch" d="M{left + w:.1f} {top:.1f}h-10l10 10z"/>'
    )


def _label(ref: str, box: Box) -> str:
    return f'<text x="{box.x:.1f}" y="{box.y + TEXT * 0.35:.1f}" text-anchor="middle" font-size="{TEXT:g}">{html.escape(ref)}</text>'
