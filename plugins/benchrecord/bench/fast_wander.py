"""Wander of a pitch that is faster than its course shows: lines of its phase above the band in which wander is read."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.estimate import TINY
from benchrecord.bench.fits import Floats
from benchrecord.bench.spectra import Complexes, frame_size
from benchrecord.bench.tones import Tone
from benchrecord.bench.wander import CENTS, PERIODS, SHORTEST_S, TOP_BINS

LONGEST_S = 20.0  # of a recording
PASSED, STOPPED = (
    0.4,
    0.5,
)  # of the fundamental, to either side of it: how far its neighbourhood is passed, and from where it is not
LEAST_PERIODS = 100
CLEAR = 6.0  # times the median of the phase's spectrum: the largest of 10,000 values of noise has 3.7 times
OF_PITCH = 2.0  # times the line of the level at the same rate: a tone that is added, as hum is, moves both alike
LEAST_CENTS = 0.1  # rms


@dataclass(frozen=True, slots=True)
class FastWander:
    """A pitch that moves at a rate in Hz, by so many cents (rms), above the band up to ``band_hz`` in which wander is read."""

    rate_hz: float
    rms_cents: float
    band_hz: float


def fast_wander(samples: Floats, tone: Tone) -> FastWander | None:
    """Return the strongest repeated movement of a pitch that is too fast for its course; None where there is none.

    Rates from the top of that band to two fifths of the fundamental are looked at; what does not repeat is not told from noise.

    Parameters
    ----------
    samples : (n,) in which the tone was found
    tone : the tone

    """
    hz = tone.hz.value
    band_hz = TOP_BINS * tone.rate / frame_size(max(PERIODS * tone.rate / hz, SHORTEST_S * tone.rate))
    samples = samples[: round(LONGEST_S * tone.rate)]
    periods = len(samples) * hz / tone.rate
    if periods < LEAST_PERIODS:
        return None
    carrier, rate = _baseband(samples, tone.rate, hz)
    ends = round(len(carrier) * PERIODS / periods)  # where the filter rings
    carrier = carrier[ends : len(carrier) - ends]
    phase, level = _lines(np.unwrap(np.angle(carrier))), _lines(np.log(np.maximum(np.abs(carrier), TINY)))
    rates = np.arange(len(phase)) * rate / len(carrier)
    within = (rates > band_hz) & (rates < PASSED * hz)
    if not within.any():
        return None
    at = int(np.argmax(np.where(within, phase * rates, 0.0)))
    found = FastWander(float(rates[at]), CENTS * float(phase[at] * rates[at]) / hz / math.sqrt(2), band_hz)
    clear = phase[at] > CLEAR * float(np.median(phase[within])) and phase[at] > OF_PITCH * level[at]
    return found if clear and found.rms_cents > LEAST_CENTS else None


def _baseband(samples: Floats, rate: float, hz: float) -> tuple[Complexes, float]:
    """Return the neighbourhood of a frequency as a complex amplitude about it, and how many of its values there are in a second."""
    spectrum = scipy.fft.rfft(samples)
    bin_hz = rate / len(samples)
    middle, reach = round(hz / bin_hz), int(STOPPED * hz / bin_hz)
    own = spectrum[middle - reach : middle + reach + 1]
    off = np.abs(np.arange(-reach, reach + 1)) * bin_hz / hz
    own = own * np.cos(np.pi / 2 * np.clip((off - PASSED) / (STOPPED - PASSED), 0, 1)) ** 2
    return np.asarray(scipy.fft.ifft(np.roll(own, -reach))), len(own) * bin_hz


def _lines(values: Floats) -> Floats:
    """Return the amplitude of each line in the spectrum of values about a straight course, (n // 2 + 1,)."""
    window = scipy.signal.windows.hann(len(values))
    return np.asarray(2 * np.abs(scipy.fft.rfft(scipy.signal.detrend(values) * window)) / window.sum())
