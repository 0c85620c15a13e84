"""Where the designators of a map stand: inside their parts, or where they cover least."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

TEXT, LETTER = 19.0, 11.6  # height of a designator and width of a letter: 9 px on a telephone


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


def label_boxes(words: Sequence[str], bodies: Sequence[Box], sheet: Box) -> list[Box]:
    """Return a box on the sheet for each word, near its body, chosen one after the other so that they cover each other least."""
    placed: list[Box] = []
    for word, body in zip(words, bodies, strict=True):
        found = [c.kept_on(sheet) for c in _candidates(word, body)]
        reach = Box(body.x, body.y, body.w + 4 * found[0].w, body.h + 4 * found[0].h)
        others, labels = ([b for b in boxes if b is not body and reach.shared(b)] for boxes in (bodies, placed))
        costs = [_cost(c, others, labels) + rank for rank, c in enumerate(found)]
        placed.append(found[costs.index(min(costs))])
    return placed


def _candidates(word: str, body: Box) -> Iterator[Box]:
    w, h = LETTER * len(word) + 2, TEXT * 0.82
    if w <= body.w + 8 and h <= body.h + 4:
        yield Box(body.x, body.y, w, h)
    beside, above = (body.w + w) / 2 + 2, (body.h + h) / 2 + 2
    yield from (Box(body.x + dx, body.y + dy, w, h) for dx, dy in ((0, above), (0, -above), (beside, 0), (-beside, 0), (0, 0)))


def _cost(box: Box, bodies: Sequence[Box], placed: Sequence[Box]) -> float:
    return 3 * sum(box.shared(p) for p in placed) + sum(box.shared(b) for b in bodies)
