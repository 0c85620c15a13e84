"""Beating: whether the tone under a contour is two tones close to each other, told by how its phase swings with its level."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import takewhile

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.spectra import Complexes

LONGEST_S = 20.0  # of a recording, about its loudest moment
LINES, HARMONICS, FAINTEST = (
    4,
    11,
    0.02,
)  # strongest harmonics that are followed, of the first so many, down to this share of power
BAND_SHARE, BAND_HZ, TAPER = 0.45, 60.0, 0.4  # half the width of what is followed about each: of the tone, and at most
STEP_S = 0.002  # of a followed line, at most
LOUD = 0.1  # of its highest level: fainter moments do not count
LONGEST_LAG_S, LAG_RATIO = 1.0, 1.15
ENOUGH, HEARD = 8, 0.1  # moments that show a swing, and level of the moments between, against those before and after
# Phase that swings by so much (1 less the mean cosine) is that of two tones, where the level swings with it; that of one tone that is
# not steady, or of two, where it does not. A tone that drifts by a few cents a second swings by 0.2·(lag · frequency / 440)² more, of which a tenth counts where the level goes with it.
SWINGS, UNSTEADY, DRIFT, DRIFT_HZ, CONFIRMED = 0.0015, 0.02, 0.2, 440.0, 0.1
WITH_LEVEL, TOGETHER = 0.5, 0.45  # of what the level swings by, at least, and of a correlation
NEAR = 0.16  # of the logarithm of a lag
NEARLY = 0.9  # of the widest swing: its first maximum


@dataclass(frozen=True, slots=True)
class Beating:
    """Two tones ``hz`` apart, the weaker ``ratio`` times the stronger; not ``certain`` where one tone that is unsteady would do it too."""

    hz: float
    ratio: float
    certain: bool


@dataclass(frozen=True, slots=True)
class _Line:
    """One harmonic of a tone about its own frequency: complex amplitude (n,) every ``step_s``."""

    hz: float
    amplitude: Complexes
    step_s: float


@dataclass(frozen=True, slots=True)
class _Swing:
    """How a line swings over a lag: phase and level of what is a lag before and after each moment, against that moment.

    ``phase`` is 1 − |mean of exp(i·ψ)|, ``turned`` 1 − its real part, ``level`` the variance of the logarithm of the level, ``together``
    how the two go with each other: in quadrature where one tone is weaker, at the same moments where both are alike.
    """

    lag_s: float
    phase: float
    turned: float
    level: float
    together: float


def beating_of(samples: Floats, rate: float, period_s: float) -> Beating | None:
    """Return how fast a tone beats, from samples (n,); None where it is one tone, as far as that shows.

    A contour changes the level of a tone and not its phase. Two tones a and b, d Hz apart, swing about their middle: a moment 1/(2·d)
    before and after is turned against the moment between, by up to half a turn. The phase alone may swing by vibrato; only where its level
    swings in step are there two tones for certain (class derived, from a·e^(iωt)·(1 + r·e^(2πidt)), whose logarithm is analytic).

    Parameters
    ----------
    samples : (n,)
    rate : Hz
    period_s : of the tone

    """
    found = [_beating(line) for line in _lines(_loudest(samples, rate), rate, 1 / period_s)]
    known = [one for one in found if one]
    return min(known, key=lambda one: (not one.certain, one.hz), default=None)


def _loudest(samples: Floats, rate: float) -> Floats:
    """Return a stretch about the loudest moment, of so many samples at most."""
    count = round(LONGEST_S * rate)
    start = min(max(0, int(np.argmax(np.abs(samples))) - count // 2), max(0, len(samples) - count))
    return samples[start : start + count]


def _lines(samples: Floats, rate: float, hz: float) -> Iterator[_Line]:
    """Yield the strongest harmonics of a tone, each filtered out without delay."""
    half = min(BAND_SHARE * hz, BAND_HZ)
    size = scipy.fft.next_fast_len(len(samples) + round(2 * rate / half), real=True)  # so that no end rings into the other
    spectrum, bin_hz = scipy.fft.rfft(samples - samples.mean(), size), rate / size
    bands = [(n, int((n * hz - half) / bin_hz), int((n * hz + half) / bin_hz) + 1) for n in range(1, HARMONICS + 1)]
    inside = [(n, spectrum[low:high]) for n, low, high in bands if high < len(spectrum)]
    power = {n: float(np.vdot(band, band).real) for n, band in inside}
    strongest = sorted(inside, key=lambda one: -power[one[0]])[:LINES]
    for n, band in strongest:
        if len(band) < ENOUGH or power[n] < FAINTEST * power[strongest[0][0]]:
            continue
        points = max(scipy.fft.next_fast_len(len(band)), math.ceil(size / rate / STEP_S))
        amplitude = scipy.fft.ifft(band * scipy.signal.windows.tukey(len(band), TAPER), points)
        step_s = size / rate / points
        rings = math.ceil(1 / half / step_s)
        yield _Line(n * hz, amplitude[rings : max(rings, int(len(samples) / rate / step_s) - rings)], step_s)


def _beating(line: _Line) -> Beating | None:
    swings = list(_swings(line))
    if not swings:
        return None
    widest = max(swings, key=lambda one: one.phase / _drift(line, one.lag_s))
    near = [one for one in swings if abs(math.log(one.lag_s / widest.lag_s)) < NEAR]
    level, together = (float(np.mean([getattr(one, name) for one in near])) for name in ("level", "together"))
    excess = widest.phase / _drift(line, widest.lag_s)
    if level < WITH_LEVEL * widest.phase:
        return None
    certain = together > TOGETHER and widest.phase > SWINGS + CONFIRMED * (_drift(line, widest.lag_s) - UNSTEADY)
    if not certain and excess < 1:
        return None
    return Beating(_beat_hz(swings), min(1.0, math.sqrt(widest.phase) / 2), certain)


def _drift(line: _Line, lag_s: float) -> float:
    """Return what the phase of a tone may swing by that is steady but for a slow drift."""
    return UNSTEADY + DRIFT * (line.hz / DRIFT_HZ * lag_s) ** 2


def _beat_hz(swings: list[_Swing]) -> float:
    """Return the rate of beating: at the first widest swing a lag is half of its period; a parabola through the lags about it."""
    turned = [one.turned for one in swings]
    first = next(n for n, one in enumerate(turned) if one >= NEARLY * max(turned))
    top = first + len(list(takewhile(lambda n: turned[n + 1] > turned[n], range(first, len(turned) - 1))))
    if not 0 < top < len(turned) - 1:
        return 1 / (2 * swings[top].lag_s)
    fit = np.polyfit([one.lag_s for one in swings[top - 1 : top + 2]], turned[top - 1 : top + 2], 2)
    lag_s = -fit[1] / (2 * fit[0]) if fit[0] < 0 else swings[top].lag_s
    return float(1 / (2 * np.clip(lag_s, swings[top - 1].lag_s, swings[top + 1].lag_s)))


def _swings(line: _Line) -> Iterator[_Swing]:
    size = np.abs(line.amplitude)
    loud = size > LOUD * size.max(initial=0.0)
    longest, lag = min(LONGEST_LAG_S / line.step_s, 0.45 * len(size)), 1
    while lag < longest:
        both = loud[2 * lag :] & loud[: -2 * lag]
        if np.count_nonzero(both) < max(ENOUGH, lag // 2):
            return
        ends, middle = np.sqrt(size[2 * lag :] * size[: -2 * lag])[both], size[lag:-lag][both]
        if middle.mean() > HEARD * ends.mean():  # else there is a pause between them, and noise in it
            yield _swing(line, size, both, lag)
        lag = max(lag + 1, int(lag * LAG_RATIO))


def _swing(line: _Line, size: Floats, both: Floats, lag: int) -> _Swing:
    before, after, middle = (slice(None, -2 * lag), slice(2 * lag, None), slice(lag, -lag))
    z, tiny = line.amplitude, float(size.max()) * 1e-6
    product = z[after] * z[before] * np.conj(z[middle]) ** 2
    weight = np.where(both, size[middle] * np.sqrt(size[after] * size[before]), 0.0)
    weight /= weight.sum()
    turn = product / np.maximum(np.abs(product), tiny**4)
    mean = complex(weight @ turn)
    level = np.log(np.maximum(size[after] * size[before], tiny**2) / np.maximum(size[middle], tiny) ** 2)
    level -= weight @ level
    together = max(
        _quadrature(weight, level, np.angle(turn * np.conj(mean)), lag // 2), _at_once(weight, level, np.angle(turn))
    )
    return _Swing(lag * line.step_s, 1 - abs(mean), 1 - mean.real, float(weight @ level**2), together)


def _quadrature(weight: Floats, level: Floats, phase: Floats, shift: int) -> float:
    """Return how far the phase swings as the level does a quarter of a beat later, or before: −1 … 1, in size."""
    shift = max(1, shift)
    swing, weights = level + 1j * phase, np.sqrt(weight[shift:] * weight[:-shift])
    turned = swing[shift:] * np.conj(swing[:-shift])
    whole = float(weights @ np.abs(turned))
    return abs(float(weights @ turned.imag)) / whole if whole > 0 else 0.0


def _at_once(weight: Floats, level: Floats, phase: Floats) -> float:
    """Return the correlation of the size of a turn with the level: where two tones are alike, it turns in the dips between."""
    size = np.abs(phase) - weight @ np.abs(phase)
    whole = math.sqrt(float(weight @ size**2) * float(weight @ level**2))
    return float(weight @ (size * level)) / whole if whole > 0 else 0.0
