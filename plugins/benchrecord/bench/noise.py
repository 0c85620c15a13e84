"""Noise: how its density goes from octave to octave, and what noise theory says of resistors and filters."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.bands import Band, bands
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import frames_in, mean_power

LOWEST_HZ, HIGHEST_HZ = 125.0, 8000.0  # mid-bands of the octaves that a slope is read from
FINENESS = 16.0  # bins across the lowest octave, at least
LEAST_BANDS, LEAST_FRAMES = 3, 16
WELCH = 1.12  # half-overlapping Hann windows leave a little of what a time could tell (seen in trials of noise of five colours)
PER_OCTAVE_DB = 10 * math.log10(2)
BOLTZMANN = 1.380649e-23  # J/K, exact (SI Brochure, 9th edition)


@dataclass(frozen=True, slots=True)
class NoiseBand:
    """The density in one octave: level in dB of full scale² per hertz (a sine of full scale has −3 dB in all), standard uncertainty."""

    hz: float
    level_db: float
    u_db: float


@dataclass(frozen=True, slots=True)
class NoiseColour:
    """How the density level goes: its slope in dB per octave with the standard uncertainty, and the octaves it was read from."""

    slope_db: float
    slope_u_db: float
    bands: tuple[NoiseBand, ...]

    def line(self) -> tuple[float, ...]:
        """Return the fitted level at each octave, in dB."""
        octaves = np.log2([band.hz for band in self.bands])
        mean = float(np.mean([band.level_db for band in self.bands]))
        return tuple((mean + self.slope_db * (octaves - octaves.mean())).tolist())


def colour(samples: Floats, rate: float) -> NoiseColour | NotHad:
    """Return how the density of a noise goes over the octaves from 125 Hz to 8 kHz: white 0, pink −3.01 dB per octave.

    Averaged spectra (Hann, half overlapping; Welch, IEEE Trans. AU-15, 1967) give the mean density in each octave; the slope is the
    least-squares line of its level on log2 of the frequency. A density averaged over a bandwidth B and a time T scatters by
    1/√(B·T) (Bendat and Piersol, from memory), which is 4.34/√(B·T) dB; the slope's uncertainty is propagated from the octaves'.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz

    """
    wanted = [b for b in bands(1, LOWEST_HZ, HIGHEST_HZ) if b.high_hz < rate / 2]
    if len(wanted) < LEAST_BANDS:
        return NotHad(f"a rate of {rate:g} Hz has no room for {LEAST_BANDS} octaves from {LOWEST_HZ:g} Hz up")
    size = scipy.fft.next_fast_len(math.ceil(FINENESS * rate / wanted[0].width_hz), real=True)
    if len(samples) < size * (1 + (LEAST_FRAMES - 1) / 2):
        return NotHad(
            f"too short: {len(samples) / rate:.2f} s, and {size * (1 + (LEAST_FRAMES - 1) / 2) / rate:.1f} s are needed"
        )
    window = np.asarray(scipy.signal.get_window("hann", size), float)
    density = 2 * mean_power(samples, frames_in(len(samples), size, 2), window) / (rate * float(window @ window))
    hz = np.arange(len(density)) * rate / size
    read = [_band(hz, density, band, len(samples) / rate) for band in wanted]
    known = tuple(band for band in read if band)
    return _slope(known) if len(known) == len(wanted) else NotHad("there is silence in one of its octaves")


def _band(hz: Floats, density: Floats, band: Band, seconds: float) -> NoiseBand | None:
    step = float(hz[1])
    share = np.clip((np.minimum(hz + step / 2, band.high_hz) - np.maximum(hz - step / 2, band.low_hz)) / step, 0.0, 1.0)
    mean = float(share @ density) / float(share.sum())
    if mean <= 0:
        return None
    # in a steep noise the strong bins outweigh the others, so that fewer of them count than there are
    counts = float((share @ density) ** 2 / (share @ density**2)) * step
    return NoiseBand(band.middle_hz, 10 * math.log10(mean), WELCH * 10 / math.log(10) / math.sqrt(counts * seconds))


def _slope(read: tuple[NoiseBand, ...]) -> NoiseColour:
    octaves = np.log2([b.hz for b in read])
    octaves -= octaves.mean()
    weights = octaves / float(octaves @ octaves)
    levels, u = np.array([b.level_db for b in read]), np.array([b.u_db for b in read])
    return NoiseColour(float(weights @ levels), math.sqrt(float(np.sum((weights * u) ** 2))), read)


def density_slope_db(exponent: float) -> float:
    """Return the slope per octave of a density that goes with frequency to a power: 10·log10(2^e)."""
    return exponent * PER_OCTAVE_DB


def johnson_noise_v(ohms: float, kelvin: float, bandwidth_hz: float) -> float:
    """Return the noise voltage of a resistor, rms: √(4·k·T·R·B) (Johnson and Nyquist, Phys. Rev. 32, 1928)."""
    return math.sqrt(4 * BOLTZMANN * kelvin * ohms * bandwidth_hz)


def capacitor_noise_v(farads: float, kelvin: float) -> float:
    """Return the noise voltage that a switch leaves on a capacitor, rms: √(k·T/C)."""
    return math.sqrt(BOLTZMANN * kelvin / farads)


def butterworth_noise_bandwidth(order: int) -> float:
    """Return the noise bandwidth of a low-pass of n poles after Butterworth over its cut-off: (π/2n)/sin(π/2n)."""
    return math.pi / (2 * order) / math.sin(math.pi / (2 * order))


def equal_poles_noise_bandwidth(poles: int) -> float:
    """Return the noise bandwidth of equal buffered poles over their frequency: ∫ dx/(1 + x²)^n = √π·Γ(n − ½)/(2·Γ(n))."""
    return math.sqrt(math.pi) * math.gamma(poles - 0.5) / (2 * math.gamma(poles))
