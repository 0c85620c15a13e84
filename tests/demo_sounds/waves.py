"""Building blocks of sound: band-limited waves, coloured noise, sweeps, and what a linear circuit makes of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Spectrum = NDArray[np.complexfloating]
TOP = 0.45  # of the rate: no partial of a wave lies above it


def times(seconds: float, rate: int) -> Floats:
    """Return the instant of each sample, s."""
    return np.arange(round(seconds * rate)) / rate


def phase_of(hz: Floats, rate: int) -> Floats:
    """Return the phase, in periods, of an oscillator whose frequency is given for each sample."""
    return np.concatenate(([0.0], np.cumsum(hz[:-1]))) / rate


def jitter(count: int, rate: int, periods: float, seed: int) -> Floats:
    """Return by how many periods an oscillator is early or late, rms so many: restless up to 50 Hz, and in time on the whole."""
    made = through(hiss(count, 1.0, seed), rate, lambda hz: 1 / (1 + (hz / 50) ** 4) + 0j)
    return np.asarray(periods * made / np.sqrt(np.mean(made**2)))


def partials(phase: Floats, amplitudes: Sequence[complex]) -> Floats:
    """Return the sum of a_n·exp(2πi·n·phase), its real part, n from 1.

    Parameters
    ----------
    phase : (n,) in periods
    amplitudes : complex amplitude of each harmonic; a real one is a cosine, -1j a sine

    """
    turn = np.exp(2j * np.pi * phase)
    power, total = np.ones_like(turn), np.zeros(len(phase))
    for amplitude in amplitudes:
        power *= turn
        total += (amplitude * power).real
    return total


def sine(phase: Floats) -> Floats:
    """Return a sine of peak 1."""
    return np.sin(2 * np.pi * phase)


def pulse_series(duty: float, hz: float, rate: int) -> list[complex]:
    """Return the harmonics of a pulse between -1 and 1 that is high for ``duty`` of its period: 4/(πn)·sin(πn·duty)."""
    return [4 / (math.pi * n) * math.sin(math.pi * n * duty) for n in harmonics(hz, rate)]


def triangle_series(rise: float, hz: float, rate: int) -> list[complex]:
    """Return the harmonics of a triangle between -1 and 1 that rises for ``rise`` of its period.

    Integrating the pulse that is its slope gives 2·sin(πn·rise)/(π²n²·rise·(1 - rise)), all of them sines.
    """
    scale = 2 / (math.pi**2 * rise * (1 - rise))
    return [-1j * scale * math.sin(math.pi * n * rise) / n**2 for n in harmonics(hz, rate)]


def harmonics(hz: float, rate: int) -> range:
    """Return the numbers of the harmonics that lie below the top of the band."""
    return range(1, int(TOP * rate / hz) + 1)


def rms_of(amplitudes: Sequence[complex]) -> float:
    """Return the rms of a wave from the amplitudes of its harmonics."""
    return math.sqrt(sum(abs(a) ** 2 for a in amplitudes) / 2)


def hiss(count: int, rms: float, seed: int) -> Floats:
    """Return white noise."""
    return np.random.default_rng(seed).standard_normal(count) * rms


def coloured_noise(count: int, rate: int, slope_db_per_octave: float, seed: int) -> Floats:
    """Return noise of rms 1 whose density follows a power of the frequency above 20 Hz; below it is flat."""
    exponent = slope_db_per_octave / (20 * math.log10(2))
    made = through(hiss(count, 1.0, seed), rate, lambda hz: (np.maximum(hz, 20.0) / 1000.0) ** exponent + 0j)
    return np.asarray(made / made.std())


def sweep(seconds: float, rate: int, low_hz: float, high_hz: float) -> Floats:
    """Return an exponential sine sweep of peak 1, faded for 10 ms at either end."""
    t, growth = times(seconds, rate), math.log(high_hz / low_hz)
    made = np.sin(2 * np.pi * low_hz * seconds / growth * np.expm1(t / seconds * growth))
    edge = np.minimum(np.minimum(t, t[::-1]) / 0.01, 1.0)
    return np.asarray(made * np.sin(np.pi / 2 * edge) ** 2)


def through(signal: Floats, rate: int, response: Callable[[Floats], Spectrum]) -> Floats:
    """Return what a linear circuit makes of a signal; ``response`` gives its complex gain at frequencies in Hz."""
    size = 2 * len(signal)
    spectrum = np.fft.rfft(signal, size)
    gain = response(np.asarray(np.fft.rfftfreq(size, 1 / rate), np.float64))
    return np.asarray(np.fft.irfft(spectrum * gain, size)[: len(signal)], np.float64)
