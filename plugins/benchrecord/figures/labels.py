"""Where the designators of a map stand: inside their parts, beside them, or at the end of a line that leads there; never on each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin

TEXT = 19.0  # height of a designator: 9 px on a telephone
DIGIT, LETTER = 0.64, 0.79  # width of a digit, and of the widest letter but W, in that height, in the widest usual sans serif
INSIDE = 2.0  # by which a designator may be longer, and must be lower, than the part that it stands in, with its outlines
GAP = 2.0  # between a part and the designator beside it
RINGS, MORE_RINGS, RING, WAYS = (
    3,
    8,
    14.0,
    16,
)  # how far from its part a designator is looked for a place: steps, and directions
TOO_MUCH = 0.25  # of a designator: more of it may not cover other parts, where there is no better place
CELL = 64.0  # of the grid in which neighbours are looked up

Line = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle about a middle."""

    x: float
    y: float
    w: float
    h: float

    def shared(self, other: Box) -> float:
        """Return the area that two boxes share."""
        across = min(self.x + self.w / 2, other.x + other.w / 2) - max(self.x - self.w / 2, other.x - other.w / 2)
        along = min(self.y + self.h / 2, other.y + other.h / 2) - max(self.y - self.h / 2, other.y - other.h / 2)
        return max(across, 0.0) * max(along, 0.0)

    def kept_on(self, sheet: Box) -> Box:
        """Return the box moved so far that it lies on the sheet, where it is no larger than that."""
        x, y = (
            min(max(at, middle - room), middle + room)
            for at, middle, room in (
                (self.x, sheet.x, max((sheet.w - self.w) / 2, 0.0)),
                (self.y, sheet.y, max((sheet.h - self.h) / 2, 0.0)),
            )
        )
        return Box(x, y, self.w, self.h)

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """Return the place of the box that lies nearest to another."""
        return (
            min(max(x, self.x - self.w / 2), self.x + self.w / 2),
            min(max(y, self.y - self.h / 2), self.y + self.h / 2),
        )

    def apart(self, other: Box) -> float:
        """Return the distance between two boxes, 0 where they touch."""
        across = abs(self.x - other.x) - (self.w + other.w) / 2
        along = abs(self.y - other.y) - (self.h + other.h) / 2
        return hypot(max(across, 0.0), max(along, 0.0))


def labels_of(words: Sequence[str], bodies: Sequence[Box], sheet: Box, *, strict: bool) -> list[Box | None] | None:
    """Place each word on the sheet, near its body, one after the other: those first that have the least choice.

    ``strict`` gives up, and returns None, where a word would cover another body, or its line cross one or be long; else they may,
    a little, and a word without room is None.
    """
    scene = Scene(Grid(bodies), Grid(), [])
    placed: list[Box | None] = [None] * len(words)
    for number in sorted(range(len(words)), key=lambda n: _choice(words[n], bodies[n], scene.bodies)):
        found = _place(words[number], bodies[number], sheet, scene, strict=strict)
        if strict and found is None:
            return None
        placed[number] = found
        if found:
            scene.labels.add(found)
            scene.lines.extend(line for line in [leads(found, bodies[number])] if line)
    return placed


def leads(label: Box, body: Box) -> Line | None:
    """Return the ends of the line from a word to its body, where it stands too far off to be taken for that body's alone."""
    if label.apart(body) <= 2 * GAP + 1:
        return None
    return label.nearest(body.x, body.y), (body.x, body.y)


class Grid:
    """Boxes by the cells of a grid that they reach into."""

    def __init__(self, boxes: Sequence[Box] = ()) -> None:
        self.cells: dict[tuple[int, int], list[Box]] = defaultdict(list)
        for box in boxes:
            self.add(box)

    def add(self, box: Box) -> None:
        """Add one more."""
        for cell in _cells(box):
            self.cells[cell].append(box)

    def near(self, box: Box) -> list[Box]:
        """Return those that share a cell with a box."""
        return list({id(b): b for cell in _cells(box) for b in self.cells.get(cell, ())}.values())


@dataclass(frozen=True, slots=True)
class Scene:
    """What lies on a sheet: the bodies, the words placed so far, and the lines from words to bodies."""

    bodies: Grid
    labels: Grid
    lines: list[Line]

    def taken(self, box: Box) -> bool:
        """Say whether a word, or a word's line, lies there already."""
        return any(box.shared(b) for b in self.labels.near(box)) or any(_crosses(line, box) for line in self.lines)

    def covered(self, box: Box, own: Box) -> float:
        """Return the share of a box that lies on other bodies than its own."""
        return sum(box.shared(b) for b in self.bodies.near(box) if b is not own) / (box.w * box.h)

    def led_over(self, box: Box, own: Box) -> bool:
        """Say whether the line from a word to its body runs over other bodies or words."""
        line = leads(box, own)
        if line is None:
            return False
        (x, y), (u, v) = line
        around = Box((x + u) / 2, (y + v) / 2, abs(x - u), abs(y - v))
        others = (b for grid in (self.bodies, self.labels) for b in grid.near(around) if b is not own)
        return any(_crosses(line, b) for b in others)


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    left, right = int((box.x - box.w / 2) // CELL), int((box.x + box.w / 2) // CELL)
    top, bottom = int((box.y - box.h / 2) // CELL), int((box.y + box.h / 2) // CELL)
    yield from ((i, j) for i in range(left, right + 1) for j in range(top, bottom + 1))


def _crosses(line: Line, box: Box) -> bool:
    """Say whether a line runs through a box: it enters the last of both strips before it leaves the first."""
    enter, leave = 0.0, 1.0
    for start, end, middle, half in zip(*line, (box.x, box.y), (box.w / 2, box.h / 2), strict=True):
        if start == end:
            if abs(start - middle) >= half:
                return False
            continue
        ends = sorted(((middle - half - start) / (end - start), (middle + half - start) / (end - start)))
        enter, leave = max(enter, ends[0]), min(leave, ends[1])
    return enter < leave


def _size(word: str) -> tuple[float, float]:
    digits = sum(c.isdigit() for c in word)
    return (DIGIT * digits + LETTER * (len(word) - digits)) * TEXT + 2, TEXT * 0.82


def _fits(word: str, body: Box) -> bool:
    w, h = _size(word)
    return w <= body.w + INSIDE and h <= body.h - INSIDE


def _choice(word: str, body: Box, bodies: Grid) -> tuple[bool, int]:
    """Order words by how much choice they have: one that fits into its body takes no room from others."""
    around = Box(body.x, body.y, body.w + 2 * CELL, body.h + 2 * CELL)
    return not _fits(word, body), -len(bodies.near(around))


def _place(word: str, body: Box, sheet: Box, scene: Scene, *, strict: bool) -> Box | None:
    """Return the nearest place that covers nothing; else, where that may be, the one that covers least of other parts; else none."""
    best, least = None, TOO_MUCH
    for tried in _candidates(word, body, RINGS if strict else MORE_RINGS):
        box = tried.kept_on(sheet)
        if scene.taken(box) or (box.shared(body) and not _fits(word, body)):
            continue
        covered = scene.covered(box, body)
        if covered <= 0 and not scene.led_over(box, body):
            return box
        if covered < least:
            best, least = box, covered
    return None if strict else best


def _candidates(word: str, body: Box, rings: int) -> Iterator[Box]:
    """Yield places for a word: inside, beside, then in wider and wider rings."""
    w, h = _size(word)
    if _fits(word, body):
        yield Box(body.x, body.y, w, h)
    beside, above = (body.w + w) / 2 + GAP, (body.h + h) / 2 + GAP
    for dx, dy in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)):
        yield Box(body.x + dx * beside, body.y + dy * above, w, h)
    for ring in range(1, rings + 1):
        for way in range(WAYS):
            angle = 2 * pi * way / WAYS
            yield Box(body.x + cos(angle) * (beside + ring * RING), body.y + sin(angle) * (above + ring * RING), w, h)
