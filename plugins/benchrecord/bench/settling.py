"""How a value settles after switching on: when it stays close to its last reading, and how fast it still drifts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats, linear_fit
from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import coverage_factor, resolution_uncertainty

MINUTES_PER_HOUR = 60.0
TOO_FAR = "the readings lie too far apart to be of one thing"
COVERED = 0.9545  # what k = 2 covers of a normal distribution


@dataclass(frozen=True, slots=True)
class Settled:
    """The first minute from which on every value stays close to the last; ``since`` is the minute of the reading before it."""

    minutes: float
    since: float


@dataclass(frozen=True, slots=True)
class Drift:
    """What a value moves by in an hour over the last third of the time, and the expanded uncertainty of that (None if unknown).

    ``from_minutes`` is the first of the readings that count, ``readings`` their number.
    """

    per_hour: float
    expanded_uncertainty: float | None
    from_minutes: float
    readings: int


def departures(values: Sequence[float], *, in_cents: bool = False) -> tuple[float, ...] | NotHad:
    """Return how far each value, (n,), is from the last one: in its own unit, or as an interval in cents."""
    if not in_cents:
        away = tuple(v - values[-1] for v in values)
        return away if all(map(math.isfinite, away)) else NotHad(TOO_FAR)
    if not all(v > 0 for v in values):
        return NotHad("a frequency of zero or below has no pitch")
    return tuple(CENTS_PER_OCTAVE * math.log2(v / values[-1]) for v in values)


def settling(minutes: Sequence[float], away: Sequence[float], limit: float) -> Settled | NotHad:
    """Return when a value has settled: the first reading from which on every one stays within the limit of the last.

    The true moment lies between that reading and the one before it, or the switching on.

    Parameters
    ----------
    minutes : (n,) minutes from cold, rising
    away : (n,) departure of each value from the last one
    limit : largest departure that counts as settled, in the unit of ``away``

    """
    if len(minutes) < 2:  # noqa: PLR2004  # one reading stays nowhere
        return NotHad("fewer than two readings")
    reach = limit + 8 * math.ulp(limit)  # what is on the limit on paper is within it
    first = max((n + 1 for n, a in enumerate(away) if abs(a) > reach), default=0)
    if first == len(minutes) - 1:
        return NotHad(f"it had not settled when the readings ended after {minutes[-1]:g} minutes")
    return Settled(minutes[first], minutes[first - 1] if first else min(0.0, minutes[0]))


def drift(minutes: Sequence[float], values: Sequence[float], *, step: float = 0.0) -> Drift | NotHad:
    """Return the slope of the last third of the time from cold.

    A least-squares line; its expanded uncertainty is the standard error of the slope times Student's factor for 95.45 %
    (JCGM 100:2008, G.3), and no less than readings in steps of ``step`` leave open (u = step/(2√3) each, 4.3.7).

    Parameters
    ----------
    minutes, values : (n,) readings, the minutes from cold, rising
    step : the smallest difference that the readings were written with, in their unit

    """
    start = minutes[-1] - (minutes[-1] - min(0.0, minutes[0])) / 3
    kept = [n for n, m in enumerate(minutes) if m >= start - 1e-9 * abs(start)]
    hours, y = (np.asarray(numbers, float)[kept] for numbers in (minutes, values))
    hours = (hours - hours.mean()) / MINUTES_PER_HOUR
    if np.ptp(hours) == 0:
        return NotHad("the last third of the time holds a single reading")
    line = linear_fit(np.stack([np.ones_like(hours), hours], axis=1), y)
    if isinstance(line, NotHad):
        return line
    if not all(map(math.isfinite, (line.coefficients[1], line.standard_errors[1], _of_steps(hours, step)))):
        return NotHad(TOO_FAR)
    spread = coverage_factor(COVERED, line.degrees_of_freedom) * line.standard_errors[1] if line.degrees_of_freedom else 0.0
    return Drift(line.coefficients[1], max(spread, _of_steps(hours, step)) or None, minutes[kept[0]], len(kept))


def _of_steps(hours: Floats, step: float) -> float:
    """Return the expanded uncertainty that the rounding of readings leaves of their slope; hours count from their mean."""
    return 2 * resolution_uncertainty(step) / float(np.linalg.norm(hours))
