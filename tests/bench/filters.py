"""Filters of known response for tests."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from benchrecord.bench.fits import Floats
from benchrecord.bench.response import HALF_POWER_DB

Gain = Callable[[Floats], NDArray[np.complex128]]


def poles(number: int, hz: float) -> Gain:
    """Return the gain of so many identical buffered poles."""
    return lambda f: 1 / (1 + 1j * f / hz) ** number


def butterworth(order: int, hz: float) -> Gain:
    """Return the gain of a Butterworth low-pass."""
    angles = np.pi * (2 * np.arange(order) + order + 1) / (2 * order)
    return lambda f: np.prod([1 / (1 - 1j * f / hz / np.exp(1j * a)) for a in angles], axis=0)


def ladder(feedback: float, hz: float) -> Gain:
    """Return the gain of four poles with inverting feedback."""
    below = ladder_below(feedback, hz)
    return lambda f: 1 / below(f)


def ladder_below(feedback: float, hz: float) -> Gain:
    """Return what the gain of four poles with inverting feedback is one over: its poles are where this is nothing."""
    return lambda f: (1 + 1j * f / hz) ** 4 + feedback


def mirrored(gain: Gain, hz: float) -> Gain:
    """Return the high-pass of a low-pass, about a frequency."""
    return lambda f: gain(hz**2 / np.maximum(f, 1e-6))


def level_db(gain: Gain, hz: Floats) -> Floats:
    """Return levels in dB."""
    return np.asarray(20 * np.log10(np.abs(gain(hz))))


def true_cutoff(gain: Gain, *, high_pass: bool = False) -> float:
    """Return where half the power is left of what is passed far away."""
    hz = np.geomspace(90_000, 1, 40_001) if high_pass else np.geomspace(1, 90_000, 40_001)
    half = float(level_db(gain, hz[:1])[0]) - HALF_POWER_DB
    last = int(np.flatnonzero(level_db(gain, hz) >= half)[-1])
    ends = sorted((float(hz[last]), float(hz[last + 1])))
    return float(brentq(lambda f: float(level_db(gain, np.array([f]))[0]) - half, *ends))


def through(samples: Floats, rate: float, gain: Gain) -> Floats:
    """Return what a filter makes of samples."""
    size = 2 * len(samples)
    spectrum = np.fft.rfft(samples, size) * gain(np.asarray(np.fft.rfftfreq(size, 1 / rate)))
    return np.asarray(np.fft.irfft(spectrum, size)[: len(samples)])


def spaced(per_octave: float, low_hz: float = 20.0, octaves: float = 10.0) -> Floats:
    """Return frequencies so many to an octave."""
    return np.asarray(low_hz * 2 ** (np.arange(round(octaves * per_octave) + 1) / per_octave))
