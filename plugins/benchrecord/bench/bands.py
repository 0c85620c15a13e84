"""Octave and third-octave bands after IEC 61260-1, and the A and C weightings of IEC 61672-1."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import ArrayLike

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad

OCTAVE, THIRD_OCTAVE = 1, 3  # bands to an octave
G = 10**0.3  # the octave ratio to base ten (IEC 61260-1:2014, eq. (1))
REFERENCE_HZ = 1000.0
ORDER = 4  # of the low-pass that a band filter is made of: three would leave class 1 near half the rate
REACH = 0.45  # of the rate: a band that ends above it cannot be had
SPARE = 8.0  # a rate of so many times the upper edge is halved: the filter then needs half the work
SLOWING = ("kaiser", 9.0)  # 90 dB down where a lower rate would fold back
# Of ten third octaves (IEC 61260-1:2014, annex E): the labels that are used for the mid-band frequencies.
NOMINAL = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
# Poles of the weightings in Hz: f1 and f4 twice in C; f2 and f3 too in A (IEC 61672-1:2013, annex E).
F1, F2, F3, F4 = 20.598997057568145, 107.65264864304628, 737.8622307362899, 12194.217147998012


@dataclass(frozen=True, slots=True)
class Band:
    """One band: its label and the frequencies of its middle and its edges, in Hz."""

    nominal_hz: float
    middle_hz: float
    low_hz: float
    high_hz: float

    @property
    def width_hz(self) -> float:
        """How wide the band is."""
        return self.high_hz - self.low_hz


def bands(per_octave: int, lowest_hz: float, highest_hz: float) -> tuple[Band, ...]:
    """Return the bands whose middle lies in a range, from the lowest.

    The middle is 1000·G^(x/b) and the edges are G^(±1/(2b)) of it, with b bands to an octave (IEC 61260-1:2014, eq. (2) to (5)).

    Parameters
    ----------
    per_octave : 1 or 3
    lowest_hz, highest_hz : range of the labels, both ends included

    """
    numbers = range(-20 * per_octave, 20 * per_octave)
    every = (_band(per_octave, n) for n in numbers)
    return tuple(band for band in every if lowest_hz <= band.nominal_hz <= highest_hz)


def _band(per_octave: int, number: int) -> Band:
    middle = REFERENCE_HZ * G ** (number / per_octave)
    half = G ** (1 / (2 * per_octave))
    decade, step = divmod(number * THIRD_OCTAVE // per_octave, len(NOMINAL))
    nominal = float(f"{NOMINAL[step] * REFERENCE_HZ * 10.0**decade:.6g}")
    return Band(nominal, middle, middle / half, middle * half)


@lru_cache(maxsize=256)  # every decay of a job is split by the same ones
def band_filter(band: Band, rate: float) -> Floats | NotHad:
    """Return the second-order sections of a band's filter, (4, 6): Butterworth, 3 dB down at both edges, class 1."""
    if band.high_hz > REACH * rate:
        return NotHad(f"the recording's {rate:g} frames a second do not reach the band of {band.nominal_hz:g} Hz")
    edges = (band.low_hz, band.high_hz)
    return np.asarray(scipy.signal.butter(ORDER, edges, "bandpass", fs=rate, output="sos"), float)


def filtered(samples: Floats, rate: float, wanted: tuple[Band, ...]) -> Iterator[tuple[Band, Floats, float]]:
    """Yield the bands of a signal that can be had, from the highest, each with its own rate.

    The rate is halved as soon as a band leaves room for it, so that all octaves together cost twice the highest one.

    Parameters
    ----------
    samples : (n,) full-band signal
    wanted : bands in any order; those that the rate does not reach are left out

    Yields
    ------
    the band, its signal and the rate of that signal in Hz

    """
    for band in sorted(wanted, key=lambda b: -b.middle_hz):
        while rate > SPARE * band.high_hz:
            samples, rate = slowed(samples, 2), rate / 2
        sections = band_filter(band, rate)
        if not isinstance(sections, NotHad):
            yield band, scipy.signal.sosfilt(sections, samples), rate


def slowed(samples: Floats, times: int) -> Floats:
    """Return a signal at a rate so many times lower, as it is up to a quarter of that rate.

    The length of the filter is the one that a Kaiser window needs for its fall from there to three quarters of the rate, which folds
    back onto that quarter (J. F. Kaiser, Proc. IEEE Int. Symp. Circuits and Systems (1974) 20, from memory).
    """
    if times == 1:
        return samples
    fall = scipy.signal.firwin(12 * times + 1, 1 / times, window=SLOWING)
    return np.asarray(scipy.signal.resample_poly(samples, 1, times, window=fall), float)


def a_weighting_db(hz: ArrayLike) -> Floats:
    """Return the A weighting at frequencies above zero, in dB: zero at 1 kHz (IEC 61672-1:2013, annex E, eq. (E.6))."""
    return _a_level(np.asarray(hz, float)) - _a_level(np.array(REFERENCE_HZ))


def c_weighting_db(hz: ArrayLike) -> Floats:
    """Return the C weighting at frequencies above zero, in dB: zero at 1 kHz (IEC 61672-1:2013, annex E, eq. (E.1))."""
    return _c_level(np.asarray(hz, float)) - _c_level(np.array(REFERENCE_HZ))


def _c_level(hz: Floats) -> Floats:
    square = hz**2
    return np.asarray(20 * np.log10(F4**2 * square / ((square + F1**2) * (square + F4**2))))


def _a_level(hz: Floats) -> Floats:
    square = hz**2
    return np.asarray(_c_level(hz) + 10 * np.log10(square**2 / ((square + F2**2) * (square + F3**2))))
