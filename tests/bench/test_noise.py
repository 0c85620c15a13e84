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
from waves import summed, triangle_series

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


def hum(length_s: float, hz: float, level_db: float, rate: int = 48_000) -> Floats:
    """Return the mains and seven of its multiples, so many dB of full scale together."""
    t = np.arange(round(length_s * rate)) / rate
    made = np.sum([np.sin(2 * np.pi * n * hz * t + n) / n**0.5 for n in range(1, 9)], axis=0)
    return np.asarray(10 ** (level_db / 20) * made / np.std(made))


@pytest.mark.parametrize("mains", [50.0, 60.02])
@pytest.mark.parametrize("below_db", [10, 20, 30])
def test_hum_does_not_bend_the_slope_of_a_noise(mains: float, below_db: float) -> None:
    """White, pink and brown noise at −20 dB: nothing but a tenth of the errors may lie beyond U."""
    off = []
    for seed, exponent in enumerate((0, -1, -2, 0, -1, -2)):
        own = found(noise_of(exponent, 5, 48_000, seed) + hum(5, mains, -20 - below_db))
        off.append(abs(own.slope_db - n.density_slope_db(exponent)) / (2 * own.slope_u_db))
    assert np.mean(np.array(off) <= 1) >= 0.9
    assert max(off) < 1.5


def test_lines_that_are_taken_out_are_named() -> None:
    t = np.arange(5 * 48_000) / 48_000
    own = found(noise_of(0, 5, 48_000, 1) + 0.01 * np.sin(2 * np.pi * 1234 * t) + 0.005 * np.sin(2 * np.pi * 3000 * t))
    assert own.lines_hz == pytest.approx((1234, 3000), abs=0.2)
    assert own.slope_db == pytest.approx(0, abs=2 * own.slope_u_db)
    assert own.lines_share == pytest.approx(1.25e-4 / 2 / 0.01 * 24 / 11.2, rel=0.2)
    assert found(noise_of(0, 5, 48_000, 1)).lines_hz == ()


@pytest.mark.parametrize("mains", [50.0, 59.98])
@pytest.mark.parametrize("length_s", [3, 10])
def test_no_line_is_invented_beside_those_of_hum(mains: float, length_s: int) -> None:
    """Neither noise at a multiple of the mains that holds none, nor the skirt of a strong line, nor a bin in place of a frequency."""
    t, known = np.arange(length_s * 48_000) / 48_000, []
    for seed, exponent in enumerate((-2, -1, 0, 1)):
        for level in (0.01, 0.08):
            humming = level * np.sum(
                [a * np.sin(2 * np.pi * k * mains * t) for k, a in ((1, 1), (2, 0.4), (3, 0.5), (5, 0.2))], axis=0
            )
            own = n.colour(noise_of(exponent, length_s, 48_000, seed) + humming, 48_000)
            known.extend(own.lines_hz if isinstance(own, n.NoiseColour) else ())
    off = [hz - mains * round(hz / mains) for hz in known]
    assert {2, 3} <= {round(hz / mains) for hz in known} <= {2, 3, 5}
    assert np.max(np.abs(off)) < 0.3 * 12 / length_s  # of a bin


def chord(length_s: float, *, vibrato_s: float = 0.0, decay_s: float = math.inf) -> Floats:
    """Return four ramps, held or struck once a second, each with a vibrato of its own."""
    t = np.arange(round(length_s * 48_000)) / 48_000
    hz = 146.8 * 2 ** (np.array([0, 4, 7, 11]) / 12)
    voices = [
        summed(triangle_series(0.97, 30), f * (t + vibrato_s * np.sin(2 * np.pi * (4 + k) * t))) for k, f in enumerate(hz)
    ]
    return np.asarray(0.1 * np.sum(voices, axis=0) * np.exp(-(t % 1) / decay_s))


def drums(length_s: float, *, fill: float) -> Floats:
    """Return strokes of noise and of a low tone, four a second, over noise that dies away between them."""
    t, random = np.arange(round(length_s * 48_000)) / 48_000, np.random.default_rng(3)
    low = np.sin(2 * np.pi * 55 * (t % 0.5)) * np.exp(-(t % 0.5) / 0.12)
    hats = random.normal(0, 0.3, len(t)) * np.exp(-(t % 0.25) / 0.04)
    return np.asarray(0.3 * low + hats + fill * random.normal(0, 0.3, len(t)))


def sweep(length_s: float) -> Floats:
    t = np.arange(round(length_s * 48_000)) / 48_000
    return np.asarray(0.3 * np.sin(2 * np.pi * 20 * length_s / math.log(1000) * np.expm1(t / length_s * math.log(1000))))


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (chord(4), "it is no noise: lines at"),
        (chord(4, vibrato_s=3e-4), "it is no noise"),
        (chord(4, decay_s=0.4), "it is no"),
        (drums(4, fill=0.0), "it is no steady noise but comes and goes"),
        (drums(4, fill=0.1), "it is no steady noise but comes and goes"),
        (sweep(4), "it is no steady noise but comes and goes"),
    ],
    ids=["chord", "vibrato", "plucked", "drums", "drums and noise", "sweep"],
)
def test_music_is_no_noise(samples: Floats, reason: str) -> None:
    own = n.colour(samples + noise_of(0, 4, 48_000, 2) * 1e-3, 48_000)
    assert isinstance(own, NotHad)
    assert own.reason.startswith(reason)


@pytest.mark.parametrize(
    ("edges_hz", "kind"), [(2000, "lowpass"), (800, "highpass"), ([700, 1400], "bandpass"), ([990, 1010], "bandpass")]
)
def test_noise_through_a_filter_is_noise(edges_hz: float, kind: str) -> None:
    sections = scipy.signal.butter(1, edges_hz, kind, fs=48_000, output="sos")
    for seed in range(5):
        found(scipy.signal.sosfilt(sections, noise_of(0, 4, 48_000, seed)) + noise_of(0, 4, 48_000, seed + 50) * 1e-4)


def test_noise_whose_level_sways_a_little_is_noise_and_knows_its_slope() -> None:
    t = np.arange(5 * 48_000) / 48_000
    for seed in range(5):
        own = found(noise_of(-1, 5, 48_000, seed) * (1 + 0.2 * np.sin(2 * np.pi * 0.9 * t)))
        assert own.slope_db == pytest.approx(n.density_slope_db(-1), abs=2 * own.slope_u_db)


def test_what_is_too_short_too_slow_or_silent_has_a_reason() -> None:
    assert n.colour(noise_of(0, 1, 48_000, 0), 48_000) == NotHad("too short: 1.00 s, and 1.5 s are needed")
    assert "has no room for 3 octaves" in str(n.colour(np.ones(9000), 1000))
    assert n.colour(np.zeros(480_000), 48_000) == NotHad("there is silence in one of its octaves")
    assert len(found(noise_of(0, 5, 16_000, 0), 16_000).bands) == 6
