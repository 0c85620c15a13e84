"""How a sound dies away: reverberation times by backward integration, with the noise taken out, and their uncertainty."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.late_decay import Ending, ending_of, until_silent
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import resolution_uncertainty

RANGES = {"edt": (0.0, -10.0), "t20": (-5.0, -25.0), "t30": (-5.0, -35.0)}  # dB (ISO 3382-1:2009)
WHOLE_DB = 60.0
HEADROOM_DB = 10.0  # of the floor below the end of a range (ISO 3382-1, from memory: 35 dB for T20, 45 dB for T30)
LOUDEST_S = 0.01  # the start of the decay is as loud as its loudest piece of this length
FLUCTUATES_TO_DB = -40.0
TONAL = 0.3  # of what noise of the same bandwidth fluctuates
FAINTEST = 1e-30  # of the loudest: 300 dB down, where no recording tells anything
LEAST_STEPS = 32  # of a decay: with fewer nothing tells how its power fluctuates
SMOOTH_SHARE, NUDGE_SHARE, LEAST_RANGE = 48, 16, 6
PIECES, COURSE, SLOWEST = 256, 6, slice(4, 14)
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
    ending: Ending


@dataclass(frozen=True, slots=True)
class _Line:
    """A fitted range: its time, and how the logarithm of the time follows that of the energy at each step, (n,)."""

    time: DecayTime
    follows: Floats


def decay_of(power: Floats, step_s: float, *, noise: float | None = None, bandwidth_hz: float = math.inf) -> Decay | NotHad:
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
    noise : its power where it is known from elsewhere, used if the recording ends before it
    bandwidth_hz : of the band that was filtered out, where one was

    """
    power, loudest = until_silent(power), float(power.max(initial=0.0))
    if loudest <= sys.float_info.min:
        return NotHad("the recording is silent")
    power = np.maximum(power / loudest, FAINTEST)
    ending = ending_of(power, step_s, noise=None if noise is None else noise / loudest)
    if isinstance(ending, NotHad):
        return ending
    floor, reached = _floor(power, step_s, ending)
    curve = _curve(power, step_s, ending, bandwidth_hz) if floor < 0 else NotHad("the level does not fall")
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


def _curve(power: Floats, step_s: float, ending: Ending, bandwidth_hz: float) -> _Curve | NotHad:
    count = min(len(power), int(ending.cut_s / step_s))
    clean = power[:count] - ending.noise
    energy = np.cumsum(clean[::-1])[::-1] * step_s + ending.beyond
    lost = np.flatnonzero(energy <= 0)
    energy = energy[: int(lost[0])] if len(lost) else energy
    if len(energy) < LEAST_STEPS:
        return NotHad("the decay is lost in the noise too soon")
    level = DB * np.log(energy / energy[0])
    variance = _power_variance(power[: len(energy)], step_s, level, ending, bandwidth_hz=bandwidth_hz)
    return _Curve(step_s, energy, level, variance, ending)


def _power_variance(power: Floats, step_s: float, level_db: Floats, ending: Ending, *, bandwidth_hz: float) -> Floats:
    """Return the variance of the mean power of each step, times its length: that of the decay, of the noise, and of both mixed.

    Noise that does not fluctuate as its bandwidth would have it is a tone. It beats with what decays beside it for about as long as
    that takes to fall by a factor of e.
    """
    below = np.flatnonzero(level_db < FLUCTUATES_TO_DB)
    of_decay = _fluctuation(power[: max(LEAST_STEPS, int(below[0]))] if len(below) else power, step_s)
    of_noise = ending.noise_fluctuation_s
    tone = of_noise * bandwidth_hz < TONAL
    mixed = max(of_decay, of_noise, float(np.count_nonzero(level_db > -DB)) * step_s if tone else 1 / bandwidth_hz)
    smooth = max(1, len(power) // SMOOTH_SHARE)
    mean = np.maximum(scipy.ndimage.uniform_filter1d(power, smooth) - ending.noise, 0.0)
    return np.asarray(of_decay * mean**2 + 2 * mixed * mean * ending.noise + of_noise * ending.noise**2)


def _fluctuation(power: Floats, step_s: float) -> float:
    """Return the relative variance of the power times the time that it is averaged over, in seconds.

    That is the density of its slow fluctuations: the mean of the lowest points of their spectrum but those that the course of the
    decay, taken off as a polynomial of its logarithm, leaves nothing in. What repeats faster (echoes, the tone itself) averages out.
    """
    size = max(1, len(power) // PIECES)
    pieces = np.maximum(power[: len(power) // size * size].reshape(-1, size).mean(axis=1), 1e-300)
    place = np.linspace(-1, 1, len(pieces))
    course = np.polynomial.legendre.legfit(place, np.log(pieces), COURSE)
    around = pieces / np.exp(np.polynomial.legendre.legval(place, course))
    window = np.hanning(len(pieces) + 2)[1:-1]
    lines = np.abs(np.fft.rfft(window * (around / around.mean() - 1)))[SLOWEST] ** 2
    return float(lines.mean()) * size * step_s / float(window @ window)


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
    first, last = int(above[0]), int(below[0])
    slope, middle_db = _slope(level, first, last)
    if slope >= 0:
        return NotHad("the level does not fall through this range")
    per_second, middle = slope / curve.step_s, (first + last - 1) / 2
    follows = -_follows(level, first, last) / slope
    seconds = -WHOLE_DB / per_second
    ends = [middle_db + slope * (n - middle) for n in (first, last - 1)]
    whole_steps = resolution_uncertainty(1 / (last - first))
    seconds_u = seconds * math.hypot(_spread(curve, follows), whole_steps)
    time = DecayTime(seconds, seconds_u, first * curve.step_s, (last - 1) * curve.step_s, ends[0], ends[1])
    return _Line(time, follows)


def _slope(level: Floats, first: int, last: int) -> tuple[float, float]:
    """Return the least-squares slope per step and the mean of a stretch of the curve."""
    x = np.arange(last - first) - (last - first - 1) / 2
    return float(x @ level[first:last] / (x @ x)), float(level[first:last].mean())


def _follows(level: Floats, first: int, last: int) -> Floats:
    """Return how the slope of a range follows the level at each step, (n,): its weights, and what moving its ends would bring.

    On a bent curve a change of level moves the ends of the range, and with them the slope; so does the level at the start, which
    is the 0 dB of all others.
    """
    weights = np.zeros(len(level))
    x = np.arange(last - first) - (last - first - 1) / 2
    weights[first:last] = x / (x @ x)
    step = max(1, (last - first) // NUDGE_SHARE)
    for end, at in ((0, first), (1, last - 1)):
        if at - step < 0 or at + step >= len(level):
            continue  # the start of the curve does not move
        spans = [(at + d, last) if end == 0 else (first, at + d + 1) for d in (-step, step)]
        turned = _slope(level, *spans[1])[0] - _slope(level, *spans[0])[0]
        moved = -turned / (level[at + step] - level[at - step])
        weights[at] += moved
        weights[0] -= moved
    return weights


def _spread(curve: _Curve, follows: Floats) -> float:
    """Return the standard uncertainty of what follows the level at each step by these weights."""
    per_energy = DB * follows / curve.energy
    sums = np.cumsum(per_energy)
    left = np.arange(len(follows), 0, -1) * curve.step_s
    parts = (
        math.sqrt(curve.step_s * float(curve.power_variance @ sums**2)),
        float(per_energy @ left) * curve.ending.noise_u,
        float(per_energy.sum()) * curve.ending.beyond_u,
    )
    return WIDENED * math.hypot(*parts)


def _curvature(curve: _Curve, t20: _Line | NotHad, t30: _Line | NotHad) -> tuple[float | NotHad, float]:
    """Return 100·(T30/T20 − 1) and its standard uncertainty; both times come from one curve, and so do their errors."""
    if isinstance(t20, NotHad) or isinstance(t30, NotHad):
        return NotHad("it needs T20 and T30"), 0.0
    ratio = t30.time.seconds / t20.time.seconds
    whole_steps = resolution_uncertainty(curve.step_s / (t20.time.to_s - t20.time.from_s))
    return 100 * (ratio - 1), 100 * ratio * math.hypot(_spread(curve, t30.follows - t20.follows), whole_steps)
