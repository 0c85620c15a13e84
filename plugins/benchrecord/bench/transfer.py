"""What comes out for what goes in: the law of a gain, a controller or a meter, its dead zone, and what is left of it when shut."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import polynomial_fit
from benchrecord.bench.levels import power_sum_db
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import coverage_factor

COVERED = 0.9545  # as k = 2 covers of a normal distribution
TOO_FAR = "the readings are too far apart in size to be worked with"
ROUNDS = 5  # of finding which readings stand still and where they end
FLAT = 0.01  # of all that the output moves: readings that differ by less stand still (common practice, no source)


@dataclass(frozen=True, slots=True)
class Law:
    """A straight law: slope with its standard error and degrees of freedom (0 of two readings), output at input 0, departures.

    ``departures`` are (n,) readings less the law, in the unit of the output; ``departures_u`` their expanded uncertainty, where that of
    every reading is known.
    """

    slope: float
    slope_error: float
    freedom: int
    offset: float
    departures: tuple[float, ...]
    departures_u: tuple[float, ...] | None = None

    @property
    def slope_u(self) -> float | None:
        """The expanded uncertainty of the slope from scatter alone; None of two readings."""
        return coverage_factor(COVERED, self.freedom) * self.slope_error if self.freedom else None


@dataclass(frozen=True, slots=True)
class DeadZone:
    """Where the output stands still, in the unit of the input."""

    start: float
    stop: float

    @property
    def width(self) -> float:
        """How wide it is."""
        return self.stop - self.start


@dataclass(frozen=True, slots=True)
class Pan:
    """A pan control over its travel; all in dB.

    ``sums`` are (n,) both sides' powers together, less their mean at the two ends; ``middle`` is the sum there, ``sides_in_middle``
    each side against its own full level, ``match`` the second side's full level less the first's, ``isolation`` the lesser of what
    the sides lose at their far ends.
    """

    sums: tuple[float, ...]
    middle: float
    sides_in_middle: tuple[float, float]
    match: float
    isolation: float


def straight_law(inputs: Sequence[float], outputs: Sequence[float], outputs_u: Sequence[float] | None = None) -> Law | NotHad:
    """Fit ``output = offset + slope·input`` by least squares.

    The expanded uncertainty of the slope is its standard error times Student's t for n − 2 degrees of freedom, covering as k = 2 does
    (JCGM 100:2008, G.3): of few readings the scatter is itself in doubt. A departure is uncertain by its own reading and by all those
    that the line was laid through: u² = Σ (δᵢⱼ − hᵢⱼ)²·uⱼ², where h is what the reading j weighs in the line at i (eq. (10) there).

    Parameters
    ----------
    inputs, outputs : (n,) n ≥ 2, at two different inputs or more
    outputs_u : (n,) expanded uncertainty of each output

    """
    with np.errstate(all="ignore"):  # what is endless is told of below
        fit = polynomial_fit(inputs, outputs, 1)
        departures_u = None if outputs_u is None or isinstance(fit, NotHad) else _departures_u(inputs, outputs_u)
    if isinstance(fit, NotHad):
        return NotHad("fewer than two readings at different inputs")
    offset, slope = fit.coefficients
    error = fit.standard_errors[1] if fit.degrees_of_freedom else 0.0
    departures = tuple(y - offset - slope * x for x, y in zip(inputs, outputs, strict=True))
    if not all(map(math.isfinite, (slope, error, offset, *departures, *(departures_u or ())))):
        return NotHad(TOO_FAR)
    return Law(slope, error, fit.degrees_of_freedom, offset, departures, departures_u)


def departures_from_slope(
    inputs: Sequence[float], outputs: Sequence[float], slope: float, outputs_u: Sequence[float] | None = None
) -> tuple[tuple[float, ...], tuple[float, ...] | None]:
    """Return what outputs depart from the line of a given slope through their mean, and the expanded uncertainty of that.

    Of a mean of n readings each weighs 1/n: u² = Σ (δᵢⱼ − 1/n)²·uⱼ² (JCGM 100:2008, eq. (10)).

    Parameters
    ----------
    inputs, outputs : (n,) n ≥ 1
    slope : in the unit of the outputs per unit of the inputs
    outputs_u : (n,) expanded uncertainty of each output

    """
    x, y = np.asarray(inputs, float), np.asarray(outputs, float)
    with np.errstate(all="ignore"):  # what is endless is seen by who asks
        departures: list[float] = (y - y.mean() - slope * (x - x.mean())).tolist()
    if outputs_u is None:
        return tuple(departures), None
    own: list[float] = np.hypot.reduce((np.eye(len(x)) - 1 / len(x)) * np.asarray(outputs_u, float), axis=1).tolist()
    return tuple(departures), tuple(own)


def _departures_u(inputs: Sequence[float], outputs_u: Sequence[float]) -> tuple[float, ...]:
    x = np.asarray(inputs, float)
    away = x - x.mean()
    weights = 1 / len(x) + np.outer(away, away) / float(away @ away)
    own: list[float] = np.hypot.reduce((np.eye(len(x)) - weights) * np.asarray(outputs_u, float), axis=1).tolist()
    return tuple(own)


def isolation_db(full: float, shut: float, shut_u: float | None = None) -> float | NotHad:
    """Return how far an output falls when it is shut: 20·log10(|full|/|shut|), amplitudes of one unit.

    Where no more is left than the expanded uncertainty of that reading, only the least that the isolation can be is told.
    """
    if not full:
        return NotHad("nothing came out when it was open")
    left = abs(shut)
    if left <= (shut_u or 0.0):
        least = left + (shut_u or 0.0)
        return NotHad(
            f"more than {20 * (math.log10(abs(full)) - math.log10(least)):.0f} dB: what is left is no more than is uncertain"
            if 0 < least < abs(full)
            else "nothing is left that the meter can tell"
        )
    return 20 * (math.log10(abs(full)) - math.log10(left))  # a quotient could be endless


def dead_zone(inputs: Sequence[float], outputs: Sequence[float], *, flat: float = 0.0) -> DeadZone | NotHad | None:
    """Find the longest stretch of inputs over which the output stands still; None where no two neighbouring readings agree.

    Still is what keeps within ``flat``, or within 1 % of all that the output moves. The stretch ends between two readings: where the
    line of the readings beyond it meets the level of those that stand still.

    Parameters
    ----------
    inputs, outputs : (n,) in the order of the inputs, n ≥ 3

    """
    span = max(outputs, default=0.0) - min(outputs, default=0.0)
    if len(inputs) < 3:  # noqa: PLR2004  # two readings cannot stand still between others that move
        return NotHad("fewer than three readings")
    if span <= flat:
        return NotHad("the output does not move at all")
    if not math.isfinite(span):
        return NotHad(TOO_FAR)
    first, last = _longest_still(inputs, outputs, max(flat, FLAT * span))
    found = DeadZone(inputs[first], inputs[last])
    for _ in range(ROUNDS if first < last else 0):
        found = _ends(inputs, outputs, first, last)
        within = [n for n, x in enumerate(inputs) if found.start <= x <= found.stop]
        if not within or (within[0], within[-1]) == (first, last):
            break
        first, last = within[0], within[-1]  # a reading just beyond an end hardly moves yet, and would pull the level its way
    return found if math.isfinite(found.width) and found.width > 0 else None


def _ends(inputs: Sequence[float], outputs: Sequence[float], first: int, last: int) -> DeadZone:
    """Return where readings that stand still meet those that move before and after them."""
    level = statistics.median(outputs[first : last + 1])
    stop = _meeting(inputs[last + 1 :], outputs[last + 1 :], level, inputs[last])
    start = _meeting(inputs[:first], outputs[:first], level, inputs[first])
    lowest, highest = (inputs[max(0, first - 1)], inputs[min(len(inputs) - 1, last + 1)])
    return DeadZone(max(start, lowest), min(stop, highest))


def _longest_still(inputs: Sequence[float], outputs: Sequence[float], band: float) -> tuple[int, int]:
    """Return the first and last reading of the longest stretch that keeps within a band."""
    best, first = (0, 0), 0
    for last in range(len(outputs)):
        while max(outputs[first : last + 1]) - min(outputs[first : last + 1]) > band:
            first += 1
        if inputs[last] - inputs[first] > inputs[best[1]] - inputs[best[0]]:
            best = first, last
    return best


def _meeting(inputs: Sequence[float], outputs: Sequence[float], level: float, otherwise: float) -> float:
    """Return where the line of moving readings meets a level; where too few of them make a line, what is given for it."""
    with np.errstate(all="ignore"):
        line = polynomial_fit(inputs, outputs, 1)
    if isinstance(line, NotHad) or not line.coefficients[1]:
        return otherwise
    offset, slope = line.coefficients
    return (level - offset) / slope


def pan(inputs: Sequence[float], first_db: Sequence[float], second_db: Sequence[float]) -> Pan | NotHad:
    """Work out a pan control from the levels of both sides over its travel.

    Powers add: the sum of the sides is 10·log10(10^(a/10) + 10^(b/10)). A control that keeps it even leaves each side 3 dB down in the middle.

    Parameters
    ----------
    inputs, first_db, second_db : (n,) in the order of the travel, n ≥ 3

    """
    if len(inputs) < 3:  # noqa: PLR2004  # two ends and a middle
        return NotHad("fewer than three positions at which both sides were read")
    sums = [power_sum_db(a, b) for a, b in zip(first_db, second_db, strict=True)]
    ends = (sums[0] + sums[-1]) / 2
    centre = (inputs[0] + inputs[-1]) / 2
    at = min(range(len(inputs)), key=lambda n: abs(inputs[n] - centre))
    falls = [abs(side[0] - side[-1]) for side in (first_db, second_db)]
    return Pan(
        sums=tuple(s - ends for s in sums),
        middle=sums[at] - ends,
        sides_in_middle=(first_db[at] - max(first_db), second_db[at] - max(second_db)),
        match=max(second_db) - max(first_db),
        isolation=min(falls),
    )
