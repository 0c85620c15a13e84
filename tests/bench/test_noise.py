"""Noise. Published values of topic 06: derived, Boltzmann's constant from the SI Brochure (2019), windows after Harris 1978 (from memory)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import scipy

from benchrecord.bench import noise as n
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from reference.published import checks

CHECKS = checks("06")
COLOURS = {"white": 0, "pink": -1, "brown": -2, "blue": 1, "violet": 2}
SINGLE: dict[str, Callable[[], float]] = {
    **{f"slope-{name}": (lambda e=e: n.density_slope_db(e)) for name, e in COLOURS.items()},
    **{f"bandslope-{name}": (lambda e=e: n.density_slope_db(e + 1)) for name, e in COLOURS.items()},
    "k": lambda: n.BOLTZMANN,
    "jn-1000-300-1": lambda: n.johnson_noise_v(1000, 300, 1),
    "jn-1000-300-10000": lambda: n.johnson_noise_v(1000, 300, 10_000),
    "jn-1000-290-1": lambda: n.johnson_noise_v(1000, 290, 1),
    "jn-100000-293.15-20000": lambda: n.johnson_noise_v(1e5, 293.15, 20_000),
    "jn-10000-298.15-20000": lambda: n.johnson_noise_v(1e4, 298.15, 20_000),
    "jn-50-290-1": lambda: n.johnson_noise_v(50, 290, 1),
    "ktc-1e-12": lambda: n.capacitor_noise_v(1e-12, 300),
    "ktc-1e-09": lambda: n.capacitor_noise_v(1e-9, 300),
    "enbw-1": lambda: n.butterworth_noise_bandwidth(1),
    "enbw-bw2": lambda: n.butterworth_noise_bandwidth(2),
    "enbw-bw3": lambda: n.butterworth_noise_bandwidth(3),
    "enbw-bw4": lambda: n.butterworth_noise_bandwidth(4),
    "enbw-4x1": lambda: n.equal_poles_noise_bandwidth(4),
    "enbw-4x1-rel": lambda: n.equal_poles_noise_bandwidth(4) / math.sqrt(2**0.25 - 1),
}


@pytest.mark.parametrize("name", SINGLE)
def test_published_values(name: str) -> None:
    assert SINGLE[name]() == pytest.approx(
        float(CHECKS[name]["value"]), rel=1e-8, abs=1e-8 if abs(SINGLE[name]()) > 1e-3 else 0
    )


def noise_of(exponent: float, length_s: float, rate: float, seed: int) -> Floats:
    """Return noise whose density goes with the frequency to a power, at −20 dB of full scale."""
    size = round(length_s * rate)
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(size=size))
    hz = np.fft.rfftfreq(size, 1 / rate)
    hz[0] = hz[1]
    samples = np.fft.irfft(spectrum * hz ** (exponent / 2), size)
    return np.asarray(0.1 * samples / np.std(samples))


def found(samples: Floats, rate: float = 48_000) -> n.NoiseColour:
    """Return the colour of a noise that has one."""
    colour = n.colour(samples, rate)
    assert isinstance(colour, n.NoiseColour)
    return colour


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_the_stated_uncertainty_of_a_slope_is_honest(rate: int) -> None:
    """Noise of five colours, made with known truth: 95 of 100 within 2·u, and 2·u no more than three times what is seen."""
    trials = [(e, found(noise_of(e, 3, rate, seed), rate)) for e in COLOURS.values() for seed in range(40)]
    off = np.array([c.slope_db - n.density_slope_db(e) for e, c in trials])
    u = np.array([2 * c.slope_u_db for _, c in trials])
    assert np.mean(np.abs(off) <= u) >= 0.95
    assert np.mean(u) <= 3 * 2 * np.sqrt(np.mean(off**2))


def test_the_level_of_an_octave_is_that_of_its_density() -> None:
    """White noise of rms σ has the density 2σ²/rate on one side; second witness: scipy's own periodogram."""
    samples = np.random.default_rng(5).normal(0, 0.1, 10 * 48_000)
    own = found(samples)
    assert [b.level_db for b in own.bands] == pytest.approx([10 * math.log10(2 * 0.01 / 48_000)] * 7, abs=0.3)
    hz, density = scipy.signal.periodogram(samples, 48_000)
    inside = (hz >= 1000 / 10**0.15) & (hz < 1000 * 10**0.15)
    assert own.bands[3].level_db == pytest.approx(10 * math.log10(density[inside].mean()), abs=0.05)


def test_the_line_goes_through_the_octaves_of_a_straight_noise() -> None:
    own = found(noise_of(-1, 10, 48_000, 1))
    assert own.line() == pytest.approx([b.level_db for b in own.bands], abs=0.6)
    assert np.diff(own.line()) == pytest.approx([own.slope_db * math.log2(10**0.3)] * 6)


def test_what_is_too_short_too_slow_or_silent_has_a_reason() -> None:
    assert n.colour(noise_of(0, 1, 48_000, 0), 48_000) == NotHad("too short: 1.00 s, and 1.5 s are needed")
    assert "has no room for 3 octaves" in str(n.colour(np.ones(9000), 1000))
    assert n.colour(np.zeros(480_000), 48_000) == NotHad("there is silence in one of its octaves")
    assert len(found(noise_of(0, 5, 16_000, 0), 16_000).bands) == 6
