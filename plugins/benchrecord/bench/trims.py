"""Trims: what a turn does, how far it is to the target, and which comes first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchrecord.bench.fits import polynomial_fit
from benchrecord.bench.reasons import NotHad


@dataclass(frozen=True, slots=True)
class Circle:
    """Trims that wait for each other: the path round, its first name again at the end."""

    path: tuple[str, ...]


def sensitivity_per_turn(turns: Sequence[float], readings: Sequence[float]) -> float | NotHad:
    """Return what one turn changes, in the reading's unit: the least-squares slope over two or more logged pairs."""
    if len(set(turns)) < 2:  # noqa: PLR2004  # a slope needs two
        return NotHad("fewer than two logged positions")
    line = polynomial_fit(turns, readings, 1)
    if isinstance(line, NotHad) or math.isfinite(line.coefficients[1]):
        return line if isinstance(line, NotHad) else line.coefficients[1]
    return NotHad("the logged positions are too close together for a slope")


def turns_to_target(reading: float, target: float, per_turn: float) -> float | NotHad:
    """Return how many turns are left to the target; the sign is that of the logged turns."""
    turns = (target - reading) / per_turn if per_turn else math.inf
    return turns if math.isfinite(turns) else NotHad("turning it changes nothing")


def travel_left_turns(turns: float, position: float) -> tuple[float, float]:
    """Return the turns left to the lower and to the upper end of the travel."""
    return position, turns - position


def setting_order(after: Mapping[str, Sequence[str]]) -> tuple[str, ...] | Circle:
    """Return the order in which trims are set: each after those it waits for, else as they were given."""
    done: dict[str, None] = {}
    for name in after:
        circle = _visit(name, after, done, ())
        if circle:
            return circle
    return tuple(done)


def _visit(name: str, after: Mapping[str, Sequence[str]], done: dict[str, None], path: tuple[str, ...]) -> Circle | None:
    if name in done or name not in after:
        return None
    if name in path:
        return Circle((*path[path.index(name) :], name))
    for first in after[name]:
        circle = _visit(first, after, done, (*path, name))
        if circle:
            return circle
    done[name] = None
    return None
