"""Frequency of a slow oscillator, from when its wave passes the middle of its height: for few periods, and for very low ones."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats, polynomial_fit
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import coverage_factor

ROUGH_HZ, FINE = 5000.0, 4000.0  # values a second at first, and then values a period
EDGE = 4  # values of a passage: where there are no more, it is an edge that falls somewhere between two of them
FEWEST = 3  # periods
AWAY = 0.25  # of the height: so far beyond the middle a wave must come before it counts as having passed
ENDS_PERCENT = (2.0, 98.0)  # the height lies between; what is beyond may be noise
EDGE_U = 12 / math.sqrt(
    8
)  # of that twelfth: periods of an edge differ by half a value (rms) where they fall on two values by turns
MEDIAN, FOURTH = 0.6745, 70.0  # of a normal deviate's magnitude; the variance of a fourth difference of noise
ALLOWANCE = 1.15  # for passages whose noise is no normal deviate: hysteresis cuts it off on one side
COVERED = 0.9545  # what k = 2 covers of a normal distribution


@dataclass(frozen=True, slots=True)
class Periods:
    """A slow wave: its mean frequency in Hz, each of its periods, (n,) s, and the standard uncertainty of each passage by noise, s.

    The first period starts ``start_s`` into a recording of ``length_s``: what lies before it, and after the last, belongs to no whole one.
    """

    hz: Estimate
    periods: Floats
    passage_u: float
    start_s: float
    length_s: float


@dataclass(frozen=True, slots=True)
class _Passages:
    """When a wave rises through the middle, (n,) s; what an edge or a bend may put all of them off by, and noise each one."""

    times: Floats
    sharp: float = 0.0
    bent: float = 0.0
    noise: float = 0.0


def count_periods(samples: Floats, rate: float) -> Periods | NotHad:
    """Time a slow wave by its rising passages through the middle.

    The frequency is the inverse of the least-squares slope of their times over their number, and its standard uncertainty the standard
    error of that slope, widened by Student's factor where they are few (JCGM 100:2008, G.3). Samples are averaged to 4000 values a
    period, where there are more; an edge between two of them is known to a twelfth of their distance (rectangular), and both
    the first and the last passage may be off by that. Where a bent wave is passed, the same values do not lie about its middle every time:
    a saw whose height is what the outermost value changes. Where a period is nearly a whole number of values, it drifts from the first
    passage to the last, unseen in their scatter, by its height at most (rectangular).

    Parameters
    ----------
    samples : (n,) of three periods or more
    rate : Hz

    """
    passed = _passages(samples, rate, max(1, int(rate / ROUGH_HZ)))
    if len(passed.times) > FEWEST:
        passed = _passages(samples, rate, max(1, int(float(np.median(np.diff(passed.times))) * rate / FINE)))
    count = len(passed.times) - 1
    if count < FEWEST:
        return NotHad(f"fewer than {FEWEST} whole periods are heard")
    line = polynomial_fit(np.arange(count + 1), passed.times, 1)
    if isinstance(line, NotHad):
        return line
    period = line.coefficients[1]
    of_scatter = ALLOWANCE * coverage_factor(COVERED, line.degrees_of_freedom) / 2 * line.standard_errors[1]
    u = math.hypot(of_scatter, math.sqrt(2 / 3) * passed.sharp / count, passed.bent / math.sqrt(3) / count)
    passage_u = math.hypot(ALLOWANCE * passed.noise, EDGE_U * passed.sharp)
    hz, start_s = Estimate(1 / period, u / period**2), float(passed.times[0])
    return Periods(hz, np.diff(passed.times), passage_u, start_s, len(samples) / rate)


def _passages(samples: Floats, rate: float, thin: int) -> _Passages:
    """Find when a wave rises through the middle of its height.

    A passage is a straight line through all values from a quarter of the height below the middle to a quarter above.
    """
    values = samples[: len(samples) // thin * thin].reshape(-1, thin).mean(axis=1)
    if len(values) < FEWEST:
        return _Passages(np.empty(0))
    low, high = np.percentile(values, ENDS_PERCENT)
    middle, away = (low + high) / 2, AWAY * (high - low)
    at = np.flatnonzero(np.abs(values - middle) > away)
    above = values[at] > middle
    turns = np.flatnonzero(above[1:] & ~above[:-1])
    parts = [_part(int(at[n]), int(at[n + 1])) for n in turns]
    times = np.array([_through(values, first, last, middle) for first, last in parts])
    step, lengths = thin / rate, at[turns + 1] - at[turns]
    if len(turns) and float(np.median(lengths)) < EDGE:
        return _Passages((times + 0.5) * step, sharp=step / 12)
    noise = _noise(values) * math.sqrt(float(np.median(lengths))) / (2 * AWAY * (high - low)) if len(turns) else 0.0
    return _Passages((times + 0.5) * step, bent=step * _bend(values, parts, times, middle), noise=step * noise)


def _noise(values: Floats) -> float:
    """Return the noise of single values: what is left in fourth differences, of which a wave has next to nothing."""
    differences = np.abs(np.diff(values, 4))
    return float(np.median(differences)) / MEDIAN / math.sqrt(FOURTH) if len(differences) else 0.0


def _part(before: int, after: int) -> tuple[int, int]:
    """Return the first and the last value of a passage between two that are away from the middle: of an edge, these as well."""
    inside = 1 if after - before > EDGE else 0
    return before + inside, after - inside


def _bend(values: Floats, parts: list[tuple[int, int]], times: Floats, middle: float) -> float:
    """Return by how much the outermost value of a passage moves it, in the mean of all passages, in which noise averages."""
    if not parts:
        return 0.0
    fewer = [[_through(values, first + 1, last, middle), _through(values, first, last - 1, middle)] for first, last in parts]
    return float(np.linalg.norm(np.mean(np.array(fewer) - times[:, None], axis=0)))


def _through(values: Floats, first: int, last: int, middle: float) -> float:
    """Return where a line through the values from one place to another passes the middle."""
    x, y = np.arange(first, last + 1), values[first : last + 1] - middle
    slope = float(np.sum((x - x.mean()) * y) / np.sum((x - x.mean()) ** 2))
    return float(x.mean() - y.mean() / slope) if slope > 0 else (first + last) / 2
