"""Which points of a placement do not belong: exchanged with another, or misplaced."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from benchrecord.bench.lens import Point
from benchrecord.bench.placement import FEWEST, Placement, fit

RESIDUAL_LIMIT = 1.0  # mm, or percent of the first picture: a fifth of the usual spacing of parts, common practice, no source
TELLING = 2.0  # times that the residual must fall where one point is left out, for that point to be the one
MOST_TRIED = 20  # points; of more, exchanges are not tried, since there are hundreds


@dataclass(frozen=True, slots=True)
class Suspects:
    """The points (numbers from 0) that spoil a placement; ``exchanged`` says that two stand in each other's place."""

    points: tuple[int, ...]
    exchanged: bool = False


def suspects(board: Sequence[Point], px: Sequence[Point], *, upwards: bool = True) -> Suspects:
    """Find the points to mend, of a placement that cannot be fitted or fits badly.

    Two whose exchange mends all; else the one without which the rest fits much better; else the one farthest off, which with five
    points or fewer may be any; none where four points fit nothing.
    """
    found = fit(board, px, upwards=upwards)
    worst = found.residual if isinstance(found, Placement) else None
    exchange = _best(_exchanges(board, px, upwards=upwards)) if len(board) <= MOST_TRIED else None
    alone = _best(_left_out(board, px, upwards=upwards)) if len(board) > FEWEST + 1 else None
    if exchange and exchange[0] <= RESIDUAL_LIMIT and (alone is None or exchange[0] <= alone[0] * TELLING):
        return Suspects(exchange[1], exchanged=True)
    if alone and (worst is None or alone[0] * TELLING <= worst):
        return Suspects(alone[1])
    return Suspects((found.worst,)) if isinstance(found, Placement) and worst is not None else Suspects(())


Trial = tuple[float, tuple[int, ...]]  # the residual, and the points that were changed for it


def _best(trials: Iterator[Trial]) -> Trial | None:
    return min(trials, default=None)


def _exchanges(board: Sequence[Point], px: Sequence[Point], *, upwards: bool) -> Iterator[Trial]:
    """Every exchange of two pixels that gives a view from the front; with four points nothing else tells the right one."""
    for one, other in combinations(range(len(px)), 2):
        tried = [*px]
        tried[one], tried[other] = px[other], px[one]
        found = fit(board, tried, upwards=upwards)
        if isinstance(found, Placement) and not found.mirrored:
            yield found.residual or 0.0, (one, other)


def _left_out(board: Sequence[Point], px: Sequence[Point], *, upwards: bool) -> Iterator[Trial]:
    for one in range(len(px)):
        found = fit([*board[:one], *board[one + 1 :]], [*px[:one], *px[one + 1 :]], upwards=upwards)
        if isinstance(found, Placement):
            yield found.residual or 0.0, (one,)
