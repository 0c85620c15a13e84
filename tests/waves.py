"""Waves for tests, with known truth: band-limited from their harmonics, or as a program without a filter samples them."""

from __future__ import annotations

import numpy as np
import scipy

from benchrecord.bench.fits import Floats
from benchrecord.bench.spectra import Complexes

TOP = 0.999  # of half the rate: no harmonic of a band-limited wave lies above it


def pulse_series(duty: float, count: int) -> Complexes:
    """Return harmonics of a pulse between −1 and 1 that is high for a share of its period, from its rising edge."""
    n = np.arange(1, count + 1)
    return np.asarray(2 / (np.pi * n) * np.sin(np.pi * n * duty) * np.exp(-1j * np.pi * n * duty))


def edged_pulse_series(
    duty: float, hz: float, count: int, *, edges_s: tuple[float, float] = (0.0, 0.0), exponential: bool = False
) -> Complexes:
    """Return harmonics of a pulse whose edges rise and fall in so long, 10 to 90 %; its share counts between their middles."""
    n = np.arange(1, count + 1)

    def edge(seconds: float) -> Complexes:
        if not exponential:
            return np.asarray(np.sinc(n * hz * seconds / 0.8) + 0j)
        turned = 2j * np.pi * n * hz * seconds / np.log(9)
        return np.asarray(np.exp(turned * np.log(2)) / (1 + turned))

    return np.asarray((edge(edges_s[0]) - edge(edges_s[1]) * np.exp(-2j * np.pi * n * duty)) / (1j * np.pi * n))


def low_cut(series: Complexes, hz: float, corner_hz: float, order: int = 1) -> Complexes:
    """Return harmonics behind so many coupling capacitors that pass what lies above a corner."""
    own = 1j * hz * np.arange(1, len(series) + 1)
    return np.asarray(series * (own / (own + corner_hz)) ** order)


def triangle_series(rise: float, count: int) -> Complexes:
    """Return harmonics of a triangle between −1 and 1 that rises for a share of its period; 1 is a ramp."""
    n = np.arange(1, count + 1)
    narrow = min(rise, 1 - rise)
    size = 1j * np.sinc(n * narrow) / (np.pi * n * (1 - narrow))
    return np.asarray(-size if rise <= 0.5 else size * (-1.0) ** n)


def summed(series: Complexes, phase: Floats) -> Floats:
    """Return Σ 2·Re(c_n·exp(2πi·n·phase)), n from 1, by Horner's rule."""
    turn, total = np.exp(2j * np.pi * phase), np.zeros(len(phase), complex)
    for harmonic in series[::-1]:
        total = (total + harmonic) * turn
    return np.asarray(2 * total.real)


def phase_of(hz: float, length_s: float, rate: float, start: float = 0.0) -> Floats:
    """Return where a wave stands at each sample, in periods."""
    return np.asarray(hz * np.arange(round(length_s * rate)) / rate + start)


def room(hz: float, rate: float) -> int:
    """Return how many harmonics lie below half the rate."""
    return int(TOP * rate / 2 / hz)


def sampled_pulse(duty: float, phase: Floats) -> Floats:
    """Return a pulse as it is without a filter: each sample is high or low."""
    return np.where(phase % 1 < duty, 1.0, -1.0)


def weak_fundamental(below_db: float, rest: Floats | tuple[float, ...] = ()) -> Complexes:
    """Return harmonics whose fundamental lies so many decibels below the octave; ``rest`` are those above the octave."""
    return np.array([-0.5j * 10 ** (-below_db / 20), 0.5, *(0.5j * np.asarray(rest))])


def through_small_speaker(samples: Floats, low_hz: float, poles: int, rate: float) -> Floats:
    """Return what a small loudspeaker gives of a sound, from half a second on: nothing below its lowest frequency."""
    passed = scipy.signal.sosfilt(scipy.signal.butter(poles, low_hz, "high", fs=rate, output="sos"), samples)
    return np.asarray(passed[round(rate / 2) :])


def wandering_phase(hz: float, cents: Floats, rate: float, start: float = 0.0) -> Floats:
    """Return where a wave stands at each sample, in periods, whose pitch departs by so many cents from a frequency."""
    pitch = hz * 2 ** (cents / 1200) / rate
    return np.concatenate([[0.0], np.cumsum((pitch[1:] + pitch[:-1]) / 2)]) + start
