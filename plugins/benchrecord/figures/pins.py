"""Pins: the parts of a board as outlines, on a map or over a photograph, and what is known of each as a shape of its own."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import dist, hypot, isfinite

from benchrecord.figures.labels import TEXT, Box, labels_of, leads
from benchrecord.model.job import Board, BoardPart

# Usual body sizes in mm, seen from above; common practice, no source. What is not known is drawn as a small square.
BODIES = {
    "resistor": (7.0, 2.8), "cement": (22.0, 9.5), "wirewound": (22.0, 9.5), "diode": (5.4, 2.8), "electrolytic": (10.0, 10.0),
    "electrolytic-axial": (22.0, 8.5), "capacitor": (7.5, 4.0), "film": (7.5, 4.0), "disc": (6.6, 2.8), "tantalum": (5.0, 5.0),
    "to220": (10.0, 5.0), "regulator": (10.0, 5.0), "to92": (4.8, 4.2), "transistor": (4.8, 4.2), "dil": (19.0, 7.6), "ic": (19.0, 7.6), "dil-8": (9.8, 7.6),
    "module": (26.0, 12.0), "header": (15.0, 3.2), "connector": (15.0, 3.2), "trim-disc": (9.0, 9.0), "trimmer": (9.0, 9.0),
    "trim-multi": (9.6, 5.0), "trimmer-multiturn": (9.6, 5.0), "fuse": (22.0, 6.5), "relay": (20.0, 15.0), "transformer": (40.0, 34.0),
}  # fmt: skip
ROUND = frozenset({"electrolytic", "to92", "transistor", "trim-disc", "trimmer", "tantalum"})
OTHER = (4.0, 4.0)
WORDS = {"replaced": "replaced", "trimmed": "trim", "measured": "measured", "faulty": "had a share in a fault"}
PLAIN = "plain"  # the kind of a part of which nothing is known
WIDTH = 720.0  # drawing units of the longer way of a map or a photograph, where nothing is crowded
LARGER = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)  # times that; a crowded one is drawn larger, until each designator has its place
SHOWN = 0.48  # pixels of a page that a drawing unit takes up at least: a drawing of 720 units fits a telephone
SMALLEST = 11.0  # drawing units of the shorter way of an outline
OUTLINE = 3.0  # drawing units between a replaced part and its second outline
TOUCH = 25.0  # drawing units about a part that a finger may touch: 12 px, so that a thumb's target is 24 px across
THUMB_PX, LARGEST_PX = 24.0, 1600  # a target for a thumb (WCAG 2.2, 2.5.8), and the widest that a map is made for it
FEW = 20  # one part in so many may lie nearer to another than a thumb tells apart
CURVE = 0.5523  # of the radius: how far the handles of four curves lie out that make a circle

Point = tuple[float, float]
Layers = Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Outline:
    """A part's outline on a drawing: the ends of its two half axes from the middle, as they are seen there."""

    middle: Point
    along: Point
    across: Point
    curved: bool

    def at(self, u: float, v: float) -> Point:
        """Return the place at shares of the half axes: (1, 1) is a corner."""
        (x, y), (a, b), (c, d) = self.middle, self.along, self.across
        return x + u * a + v * c, y + u * b + v * d

    def grown(self, by: float) -> Outline:
        """Return the outline, each side farther out."""
        along, across = (_stretched(axis, by) for axis in (self.along, self.across))
        return Outline(self.middle, along, across, self.curved)

    @property
    def box(self) -> Box:
        """The upright rectangle about it."""
        w, h = (2 * (abs(self.along[n]) + abs(self.across[n])) for n in (0, 1))
        return Box(*self.middle, w, h)

    @property
    def path(self) -> str:
        """The outline as the data of an SVG path."""
        if not self.curved:
            corners = [self.at(u, v) for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
            return "M" + "L".join(_said(c) for c in corners) + "Z"
        k = CURVE
        turns = (
            ((1, k), (k, 1), (0, 1)),
            ((-k, 1), (-1, k), (-1, 0)),
            ((-1, -k), (-k, -1), (0, -1)),
            ((k, -1), (1, -k), (1, 0)),
        )
        return f"M{_said(self.at(1, 0))}" + "".join("C" + " ".join(_said(self.at(*p)) for p in turn) for turn in turns) + "Z"


@dataclass(frozen=True, slots=True)
class Sheet:
    """What pins are drawn on: its width over its height, and which shares of them a place of the board lies at.

    ``unit`` is how much a millimetre is in the board's frame, across and along.
    """

    shape: float
    place: Callable[[float, float], Point]
    unit: Point = (1.0, 1.0)

    def size(self, larger: float) -> Point:
        """Return width and height in drawing units."""
        longer = WIDTH * larger
        return (longer, longer / self.shape) if self.shape >= 1 else (longer * self.shape, longer)


@dataclass(frozen=True, slots=True)
class Drawn:
    """Pins as SVG, how many, and the size of their drawing in drawing units."""

    svg: str
    count: int
    width: float
    height: float
    nearest: float  # drawing units between the middles of two parts, of which few lie nearer

    @property
    def least_px(self) -> int:
        """The width on a page below which its designators cannot be read."""
        return int(self.width * SHOWN)

    @property
    def large_px(self) -> int:
        """The width on a page at which a thumb tells its parts apart, but for the very nearest."""
        return max(self.least_px, min(round(THUMB_PX * self.width / self.nearest), LARGEST_PX))


def draw_pins(board: Board, sheet: Sheet, *, layers: Layers, href: Callable[[str], str], name: str) -> Drawn:
    """Draw a pin for each part on the sheet: a link with its outline, what is known of it, and its designator.

    The id of a link is its designator, after ``name`` where a page holds several drawings. A crowded drawing is made larger, so
    that no designator stands on another; in one that is crowded all the same, some show theirs only when pointed at.
    """
    pins, labels, (width, height) = _laid_out(board, sheet)
    near = _nearest([o.middle for _, o in pins])
    prefix = f"{name}-" if name else ""
    drawn = [
        link_of(part, layers, href(part.ref), ident=prefix + part.ref, drawn=_touch(outline, d) + shapes)
        for (part, outline), shapes, d in zip(pins, _pins(pins, labels, layers), near, strict=True)
    ]
    typical = sorted(near)[len(near) // FEW] if near else width
    return Drawn("\n".join(drawn), len(drawn), width, height, max(typical, 1.0))


def title_of(part: BoardPart, layers: Layers) -> str:
    """Name a part for a pointer and for who listens: designator, value, function, what is known of it."""
    known = [words for layer, words in WORDS.items() if part.ref in layers.get(layer, ())]
    return ", ".join(w for w in (f"{part.ref} {part.value}".strip(), part.function, *known) if w)


def kinds_of(ref: str, layers: Layers) -> tuple[str, ...]:
    """Return what is known of a part, by the names that its look goes by; ``plain`` where nothing is."""
    return tuple(layer for layer in WORDS if ref in layers.get(layer, ())) or (PLAIN,)


def link_of(part: BoardPart, layers: Layers, href: str, *, ident: str, drawn: str) -> str:
    """Return a part's drawing as a link with a name for who listens."""
    said, target, name = (html.escape(t, quote=True) for t in (title_of(part, layers), href, ident))
    looks = " ".join(["br-pin", *(f"br-is-{kind}" for kind in kinds_of(part.ref, layers))])
    return f'<a id="{name}" class="{looks}" href="{target}" aria-label="{said}"><title>{said}</title>{drawn}</a>'


def body_mm(part: BoardPart) -> Point:
    """Return the length and width in mm that a part is drawn with."""
    return BODIES.get(part.kind.lower(), OTHER)


def sample(kind: str) -> str:
    """Return a small drawing of how a kind of part is told apart, for a key."""
    shapes = _shapes(Outline((15.0, 10.0), (11.0, 0.0), (0.0, 6.0), curved=False), (kind,))
    return f'<svg viewBox="-4 -4 38 28" aria-hidden="true"><g class="br-is-{kind}">{shapes}</g></svg>'


Pinned = tuple[BoardPart, Outline]


def _laid_out(board: Board, sheet: Sheet) -> tuple[list[Pinned], list[Box | None], Point]:
    """Return the parts on the sheet with their designators' boxes, in a drawing as large as these need."""
    for larger in LARGER:
        width, height = sheet.size(larger)
        pins = _on(board, sheet, width, height)
        room = Box(width / 2, height / 2, width - 4, height - 4)
        strict = larger < LARGER[-1]
        labels = labels_of([p.ref for p, _ in pins], [o.grown(OUTLINE).box for _, o in pins], room, strict=strict)
        if labels is not None:
            break
    return pins, labels or [], (width, height)


def _on(board: Board, sheet: Sheet, width: float, height: float) -> list[Pinned]:
    """Return the parts whose middle lies on the drawing, from its upper left to its lower right."""

    def at(x: float, y: float) -> Point:
        across, down = sheet.place(x, y)
        return across * width, down * height

    middles = ((p, at(p.x, p.y)) for p in board.parts)
    inside = [(p, _outline(board, p, at, sheet.unit)) for p, (x, y) in middles if 0 <= x <= width and 0 <= y <= height]
    return sorted(inside, key=lambda pin: (round(pin[1].middle[1]), pin[1].middle[0]))


def _outline(board: Board, part: BoardPart, at: Callable[[float, float], Point], unit: Point) -> Outline:
    length, width = reversed(body_mm(part)) if _turned(board, part) else body_mm(part)
    x, y = at(part.x, part.y)
    ends = at(part.x + length / 2 * unit[0], part.y), at(part.x, part.y + width / 2 * unit[1])
    along, across = ((a - x, b - y) if isfinite(a) and isfinite(b) else (0.0, 0.0) for a, b in ends)
    return Outline((x, y), _at_least(along, (1.0, 0.0)), _at_least(across, (0.0, 1.0)), part.kind.lower() in ROUND)


def _at_least(axis: Point, usual: Point) -> Point:
    """Return a half axis no shorter than can be seen, turned to point to the right or down."""
    length = hypot(*axis)
    ahead = axis if axis[0] * usual[0] + axis[1] * usual[1] >= 0 else (-axis[0], -axis[1])
    if length < SMALLEST / 2:
        ahead, length = (ahead, length) if length else (usual, 1.0)
        return ahead[0] * SMALLEST / 2 / length, ahead[1] * SMALLEST / 2 / length
    return ahead


def _turned(board: Board, part: BoardPart) -> bool:
    """Say whether a long part stands upright: by its turn, or guessed, where a neighbour of its kind stands nearer beside it than above."""
    if part.rotation is not None:
        return 45 <= part.rotation % 180 < 135  # noqa: PLR2004  # degrees: nearer to upright than to level
    length = max(body_mm(part))
    same = [p for p in board.parts if p is not part and p.kind == part.kind]
    beside = min((abs(p.x - part.x) for p in same if abs(p.y - part.y) < 1), default=1e9)
    above = min((abs(p.y - part.y) for p in same if abs(p.x - part.x) < 1), default=1e9)
    return beside < length <= above


def _nearest(middles: Sequence[Point]) -> list[float]:
    """Return how far each part's middle is from the nearest other, or from one that a finger could not reach as well."""
    return [min([2 * TOUCH, *(dist(m, other) for other in middles if other is not m)]) for m in middles]


def _touch(outline: Outline, nearest: float) -> str:
    """Where a finger may touch about a part: never nearer to another."""
    x, y = outline.middle
    return f'<circle class="br-touch" cx="{x:.1f}" cy="{y:.1f}" r="{nearest / 2:.1f}"/>'


def _pins(pins: Sequence[Pinned], labels: Sequence[Box | None], layers: Layers) -> Iterator[str]:
    for (part, outline), box in zip(pins, labels, strict=True):
        yield _leader(outline, box) + _shapes(outline, kinds_of(part.ref, layers)) + _label(part.ref, outline, box)


def _shapes(outline: Outline, kinds: Sequence[str]) -> str:
    """Draw an outline, and on it what is known: each kind differs in shape, so that none is told by colour alone."""
    drawn = [f'<path class="br-shape" d="{outline.path}"/>']
    grown = outline.grown(OUTLINE)
    if "replaced" in kinds:  # a second outline with a filled corner
        corner, left, down = grown.at(1, -1), _stretched(grown.along, 0, -11.0), _stretched(grown.across, 0, 11.0)
        notch = (corner, (corner[0] + left[0], corner[1] + left[1]), (corner[0] + down[0], corner[1] + down[1]))
        drawn += [
            f'<path class="br-outline" d="{grown.path}"/>',
            f'<path class="br-notch" d="M{"L".join(map(_said, notch))}Z"/>',
        ]
    if "measured" in kinds:  # a bar at its lower edge
        drawn.append(f'<path class="br-bar" d="M{_said(outline.at(-0.6, 1))}L{_said(outline.at(0.6, 1))}"/>')
    if "faulty" in kinds:  # a cross at its upper left corner
        x, y = grown.at(-1, -1)
        drawn.append(f'<path class="br-cross" d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8"/>')
    return "".join(drawn)


def _label(ref: str, outline: Outline, box: Box | None) -> str:
    """A designator; one without a place of its own stands above its part, and is shown only when that is pointed at."""
    look, at = ("", box) if box else (' class="br-hidden"', Box(outline.middle[0], outline.box.y - outline.box.h / 2 - 9, 0, 0))
    text = html.escape(ref)
    return f'<text{look} x="{at.x:.1f}" y="{at.y:.1f}" font-size="{TEXT:g}">{text}</text>'


def _leader(outline: Outline, box: Box | None) -> str:
    ends = leads(box, outline.grown(OUTLINE).box) if box else None
    return f'<path class="br-leader" d="M{_said(ends[0])}L{_said(ends[1])}"/>' if ends else ""


def _stretched(axis: Point, by: float, length: float | None = None) -> Point:
    """Return an axis longer ``by`` some units, or of another ``length`` (negative: the other way)."""
    now = hypot(*axis)
    scale = ((now + by) if length is None else length) / now
    return axis[0] * scale, axis[1] * scale


def _said(at: Point) -> str:
    return f"{at[0]:.1f} {at[1]:.1f}"
