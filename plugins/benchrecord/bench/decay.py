"""How a sound dies away: reverberation times by backward integration, with the noise taken out, and their uncertainty."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.polynomial import legendre

from benchrecord.bench.fits import Floats
from benchrecord.bench.fluctuation import Fluctuation, fluctuation_of
from benchrecord.bench.late_decay import Ending, Quiet, ending_of, until_silent
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import resolution_uncertainty

RANGES = {"edt": (0.0, -10.0), "t20": (-5.0, -25.0), "t30": (-5.0, -35.0)}  # dB (ISO 3382-1:2009)
WHOLE_DB = 60.0
HEADROOM_DB = 10.0  # of the floor below the end of a range (ISO 3382-1, from memory: 35 dB for T20, 45 dB for T30)
# Somewhere in the first step it begins: the energy after that is what it would be half a step later at most, and then all is as it should be.
BEGUN, LATE = 2, 1 / 2
LOUDEST_S = 0.01  # the start of the decay is as loud as its loudest piece of this length
# How a decay fluctuates is told down to here, or so far above the floor, where the noise fluctuates more; for so many dB at least.
FLUCTUATES_TO_DB, CLEAR_DB, LEAST_LOUD_DB = -40.0, 20.0, -10.0
TONAL = 0.3  # of what noise of the same bandwidth fluctuates
FAINTEST = 1e-30  # of the loudest: 300 dB down, where no recording tells anything
LEAST_STEPS = 32  # of a decay: with fewer nothing tells how its power fluctuates
BEND = 3  # degree of the polynomial that a bent decay follows
SMOOTH_SHARE, NUDGE_SHARE, LEAST_RANGE = 48, 16, 6
# How much the power fluctuates is known from ten neighbouring points of a spectrum, under a window that makes about five
# independent ones of them: 2.65, Student's t of five degrees of freedom for 95.45 %, over the 2 of k.
WIDENED = 1.32
DB = 10 / math.log(10)


@dataclass(frozen=True, slots=True)
class DecayTime:
    """The time for 60 dB from one range of a decay, its standard uncertainty, and the line that it comes from.

    The line leads from ``from_db`` at ``from_s`` after the start of the decay to ``to_db`` at ``to_s``.
    """

    seconds: float
    seconds_u: float
    from_s: float
    to_s: float
    from_db: float
    to_db: float


@dataclass(frozen=True, slots=True)
class Decay:
    """One decay: its curve, the floor under it, and what they tell.

    ``level_db`` is the energy still to come, (n,), every ``step_s`` from the start, which is 0 dB. ``floor_db`` is the noise below
    the start; where the recording ends before it is reached, it is the level at the end.
    """

    step_s: float
    level_db: Floats
    floor_db: float
    floor_reached: bool
    edt: DecayTime | NotHad
    t20: DecayTime | NotHad
    t30: DecayTime | NotHad
    curvature_percent: float | NotHad
    curvature_u: float


@dataclass(frozen=True, slots=True)
class _Curve:
    """Energy still to come at the start of each step, (n,), and where its uncertainty comes from."""

    step_s: float
    energy: Floats
    level_db: Floats
    power_variance: Floats  # of the mean power of a step, times the length of the step
    fluctuation: Fluctuation  # of the loud part
    ending: Ending


@dataclass(frozen=True, slots=True)
class _Line:
    """A fitted range: its time, and how the logarithm of the time follows that of the energy at each step, (n,).

    ``steps_u`` is its relative standard uncertainty because its ends lie on whole steps.
    """

    time: DecayTime
    follows: Floats
    steps_u: float


@dataclass(frozen=True, slots=True)
class _End:
    """One end of a range: the step it lies at, by how much the slope turns if it moves by one, and what the level falls by there."""

    at: int
    turns: float
    falls: float


def decay_of(power: Floats, step_s: float, *, quiet: Quiet | None = None, bandwidth_hz: float = math.inf) -> Decay | NotHad:
    """Integrate a decay backwards and fit its ranges.

    The noise is taken off the power, the energy beyond the point where the decay is lost in the noise is added as that of the
    slope there (M. R. Schroeder, J. Acoust. Soc. Am. 37 (1965) 409; W. T. Chu, ibid. 63 (1978) 1444; ISO 3382-1:2009, 5.3.3), and
    each range gets a least-squares line that is drawn out to 60 dB. A range is left out unless the floor lies 10 dB below its end.

    The uncertainty: power of band-limited noise, averaged over a time t, has the relative variance r/t, with r one over the
    bandwidth (J. S. Bendat and A. G. Piersol, Random Data, 8.3, from memory); r is found from how the power fluctuates about its
    course. A range's time is, to first order, a weighted sum of the power of all steps, so that its variance is the sum of
    (weight · power)² · r over them; what the noise and the energy beyond are not known to is added.

    Parameters
    ----------
    power : (n,) mean power of each step, from the start of the decay
    step_s : length of a step
    quiet : the noise as it is heard elsewhere, used if the recording ends before it
    bandwidth_hz : of the band that was filtered out, where one was

    """
    power, loudest = until_silent(power), float(power.max(initial=0.0))
    if loudest <= sys.float_info.min:
        return NotHad("the recording is silent")
    power = np.maximum(power / loudest, FAINTEST)
    ending = ending_of(power, step_s, quiet=replace(quiet, power=quiet.power / loudest) if quiet else None)
    if isinstance(ending, NotHad):
        return ending
    floor, reached = _floor(power, step_s, ending)
    curve = (
        _curve(power, step_s, ending, loud_db=max(FLUCTUATES_TO_DB, floor + CLEAR_DB), bandwidth_hz=bandwidth_hz)
        if floor < 0
        else NotHad("the level does not fall")
    )
    if isinstance(curve, NotHad):
        return curve
    lines = {name: _line(curve, RANGES[name], floor) for name in RANGES}
    times = {name: line if isinstance(line, NotHad) else line.time for name, line in lines.items()}
    bent, bent_u = _curvature(curve, lines["t20"], lines["t30"])
    return Decay(step_s, curve.level_db, floor, reached, times["edt"], times["t20"], times["t30"], bent, bent_u)


def _floor(power: Floats, step_s: float, ending: Ending) -> tuple[float, bool]:
    """Return the noise against the loudest part of the decay, or the level at the end of a recording that does not reach it."""
    size = max(1, min(len(power), round(LOUDEST_S / step_s)))
    loudest = float(scipy.ndimage.uniform_filter1d(power, size).max()) - ending.noise
    reached = ending.noise > 0 and ending.last < ending.noise
    return 10 * math.log10(max(ending.noise if reached else ending.last, 1e-300) / max(loudest, 1e-300)), reached


def _curve(power: Floats, step_s: float, ending: Ending, *, loud_db: float, bandwidth_hz: float) -> _Curve | NotHad:
    count = min(len(power), int(ending.cut_s / step_s))
    clean = power[:count] - ending.noise
    energy = np.cumsum(clean[::-1])[::-1] * step_s + ending.beyond
    lost = np.flatnonzero(energy <= 0)
    energy = energy[: int(lost[0])] if len(lost) else energy
    if len(energy) < LEAST_STEPS:
        return NotHad("the decay is lost in the noise too soon")
    level = DB * np.log(energy / energy[0])
    own, below = power[: len(energy)], np.flatnonzero(level < min(loud_db, LEAST_LOUD_DB))
    end = max(LEAST_STEPS, int(below[0])) if len(below) else len(own)
    loud = fluctuation_of(own[BEGUN:end], step_s, len(own) - BEGUN, bandwidth_hz=bandwidth_hz)
    mean = np.maximum(scipy.ndimage.uniform_filter1d(own, max(1, len(own) // SMOOTH_SHARE)) - ending.noise, 0.0)
    falls_s = float(np.count_nonzero(level > -DB)) * step_s
    variance = _power_variance(mean, loud, ending, falls_s=falls_s, bandwidth_hz=bandwidth_hz)
    return _Curve(step_s, energy, level, variance, loud, ending)


def _power_variance(mean: Floats, loud: Fluctuation, ending: Ending, *, falls_s: float, bandwidth_hz: float) -> Floats:
    """Return the variance of the mean power of each step, times its length: that of the decay, of the noise, and of both mixed.

    Noise that does not fluctuate as its bandwidth would have it is a tone. It beats with what decays beside it for about as long as
    that takes to fall by a factor of e.
    """
    of_noise = ending.noise_fluctuation_s
    of_decay = loud.less(ending.noise, of_noise)
    mixed = max(of_decay, of_noise, falls_s if of_noise * bandwidth_hz < TONAL else 1 / bandwidth_hz)
    return np.asarray(of_decay * mean**2 + 2 * mixed * mean * ending.noise + of_noise * ending.noise**2)


def _line(curve: _Curve, span: tuple[float, float], floor_db: float) -> _Line | NotHad:
    """Fit one range, where the floor allows it."""
    high, low = span
    if floor_db > low - HEADROOM_DB:
        return NotHad(f"the floor lies {-floor_db:.0f} dB below the start, and this range needs {HEADROOM_DB - low:.0f} dB")
    level = curve.level_db
    above, below = np.flatnonzero(level <= high), np.flatnonzero(level < low)
    if not len(below):
        return NotHad("the recording ends before the decay has passed through this range")
    if below[0] - above[0] < LEAST_RANGE:
        return NotHad("the decay passes through this range too quickly to be followed")
    first, last = max(1, int(above[0])), int(below[0])
    slope, middle_db = _slope(level, first, last)
    if slope >= 0:
        return NotHad("the level does not fall through this range")
    per_second, middle = slope / curve.step_s, (first + last - 1) / 2
    ends = _ends(level, first, last)
    follows = -_follows(level, first, last, ends) / slope
    steps_u = resolution_uncertainty(1) * math.hypot(*(end.turns / slope for end in ends))
    if not above[0]:
        steps_u = math.hypot(steps_u, follows[first] * slope * LATE / math.sqrt(3))
    seconds = -WHOLE_DB / per_second
    from_db, to_db = (middle_db + slope * (n - middle) for n in (first, last - 1))
    seconds_u = seconds * math.hypot(max(_spread(curve, follows), _of_stairs(level[first:last])), steps_u)
    time = DecayTime(seconds, seconds_u, first * curve.step_s, (last - 1) * curve.step_s, from_db, to_db)
    return _Line(time, follows, steps_u)


def _slope(level: Floats, first: int, last: int) -> tuple[float, float]:
    """Return the least-squares slope per step and the mean of a stretch of the curve."""
    x = np.arange(last - first) - (last - first - 1) / 2
    return float(x @ level[first:last] / (x @ x)), float(level[first:last].mean())


def _ends(level: Floats, first: int, last: int) -> list[_End]:
    """Return what moving the ends of a range would bring; the start of the curve does not move."""
    step, found = max(1, (last - first) // NUDGE_SHARE), []
    for at, spans in ((first, ((-step, 0), (step, 0))), (last - 1, ((0, -step), (0, step)))):
        if at >= step and at + step < len(level):
            before, after = (_slope(level, first + start, last + stop)[0] for start, stop in spans)
            found.append(_End(at, (after - before) / (2 * step), float(level[at + step] - level[at - step]) / (2 * step)))
    return found


def _follows(level: Floats, first: int, last: int, ends: Sequence[_End]) -> Floats:
    """Return how the slope of a range follows the level at each step, (n,): its weights, and what moving its ends would bring.

    On a bent curve a change of level moves the ends of the range, and with them the slope; so does the level at the start, which
    is the 0 dB of all others.
    """
    weights = np.zeros(len(level))
    x = np.arange(last - first) - (last - first - 1) / 2
    weights[first:last] = x / (x @ x)
    for end in ends:
        weights[end.at] -= end.turns / end.falls
        weights[0] += end.turns / end.falls
    return weights


def _spread(curve: _Curve, follows: Floats) -> float:
    """Return the standard uncertainty of what follows the level at each step by these weights."""
    per_energy = DB * follows / curve.energy
    sums = np.cumsum(per_energy)
    left = np.arange(len(follows), 0, -1) * curve.step_s
    parts = (
        math.sqrt(curve.step_s * float(curve.power_variance @ sums**2)),
        curve.step_s * math.sqrt(curve.fluctuation.of_sum(sums[BEGUN:])),
        float(per_energy @ left) * curve.ending.noise_u,
        float(per_energy.sum()) * curve.ending.beyond_u,
    )
    return WIDENED * math.hypot(*parts)


def _of_stairs(level: Floats) -> float:
    """Return the relative standard uncertainty of the slope of a level, (n,) in dB, that falls in stairs, as echoes make it.

    What is left of it beside a smooth bend scatters by σ and crosses that bend twice a stair; so the slope over R dB with N stairs is off
    by σ·√12/(R·√N) (class derived: a straight line by least squares, from N independent deviations).
    """
    place = np.linspace(-1, 1, len(level))
    off = level - legendre.legval(place, legendre.legfit(place, level, BEND))
    stairs = max(1.0, np.count_nonzero(off[1:] * off[:-1] < 0) / 2)
    return float(np.std(off) * math.sqrt(12) / ((level[0] - level[-1]) * math.sqrt(stairs)))


def _curvature(curve: _Curve, t20: _Line | NotHad, t30: _Line | NotHad) -> tuple[float | NotHad, float]:
    """Return 100·(T30/T20 − 1) and its standard uncertainty; both times come from one curve, and so do their errors."""
    if isinstance(t20, NotHad) or isinstance(t30, NotHad):
        return NotHad("it needs T20 and T30"), 0.0
    ratio = t30.time.seconds / t20.time.seconds
    return 100 * (ratio - 1), 100 * ratio * math.hypot(_spread(curve, t30.follows - t20.follows), t20.steps_u, t30.steps_u)
