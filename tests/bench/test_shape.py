"""The shape of a wave in its period: recordings of pulses, triangles and ramps made with known truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.shape import (
    Share,
    Wave,
    high_share,
    middle_share,
    pulse_wave,
    rise,
    rising_share,
    triangle_wave,
)
from benchrecord.bench.tones import Tone, find_tone
from sounds import with_noise
from waves import phase_of, pulse_series, room, summed, triangle_series

RATE = 48_000
SHARES = st.floats(0.05, 0.95)


def found(samples: Floats, rate: float = RATE) -> Tone:
    """Return the tone of a recording that has one."""
    tone = find_tone(samples, rate)
    assert isinstance(tone, Tone)
    return tone


def known(estimate: Estimate | NotHad) -> Estimate:
    assert isinstance(estimate, Estimate)
    return estimate


def test_the_width_of_an_ideal_pulse_with_many_harmonics_is_its_own() -> None:
    for share in (0.05, 0.3, 0.5, 0.77, 0.95):
        own = high_share(pulse_wave(share, 2000))
        assert isinstance(own, Share)
        assert own.value == pytest.approx(share, abs=1e-5)


def test_the_rise_of_an_ideal_triangle_with_many_harmonics_is_its_own() -> None:
    for share in (0.05, 0.3, 0.5, 0.77, 0.95):
        own = rising_share(triangle_wave(share, 2000))
        assert isinstance(own, Share)
        assert own.value == pytest.approx(share, abs=1e-4)


@given(SHARES, st.floats(0, 1))
def test_a_share_does_not_depend_on_where_the_period_starts(share: float, start: float) -> None:
    wave = pulse_wave(share, 40)
    own, turned = high_share(wave), high_share(Wave(wave.harmonics * np.exp(2j * np.pi * start * np.arange(1, 41))))
    assert isinstance(own, Share)
    assert isinstance(turned, Share)
    assert turned.value == pytest.approx(own.value, abs=1e-6)


@given(SHARES)
def test_a_wave_upside_down_is_high_for_the_rest_of_the_period(share: float) -> None:
    wave = pulse_wave(share, 40)
    own, other = high_share(wave), high_share(Wave(-wave.harmonics))
    assert isinstance(own, Share)
    assert isinstance(other, Share)
    assert own.value + other.value == pytest.approx(1, abs=1e-6)


@given(SHARES, st.integers(1, 39), st.floats(-1e-6, 1e-6))
def test_the_weights_tell_how_a_share_follows_a_harmonic(share: float, number: int, by: float) -> None:
    harmonics = pulse_wave(share, 40).harmonics
    own, moved = high_share(Wave(harmonics)), high_share(Wave(harmonics + by * (np.arange(1, 41) == number)))
    assert isinstance(own, Share)
    assert isinstance(moved, Share)
    told = own.weights @ (2 * by * np.cos(2 * np.pi * number * own.phases))
    assert moved.value - own.value == pytest.approx(told, abs=1e-8)


RATES = (44_100, 48_000, 96_000)
Off = list[float]


def rises_off(count: int, seed: int) -> Off:
    """Return errors over U of triangles that rise for 3 to 97 %, from 60 Hz to 10 kHz, with noise 20 to 80 dB down."""
    random, off = np.random.default_rng(seed), []
    for n in range(count):
        rate, hz, share = RATES[n % 3], 60 * (10_000 / 60) ** random.random(), random.uniform(0.03, 0.97)
        made = summed(triangle_series(share, room(hz, rate)), phase_of(hz, 1.25, rate, random.random()))
        own = known(rise(found(with_noise(0.4 * made, random.uniform(20, 80), seed=n), rate)))
        off.append((own.value - share) / own.expanded)
    return off


@pytest.mark.parametrize(("count", "seed"), [(100, 1), pytest.param(300, 2, marks=pytest.mark.slow)])
def test_the_stated_uncertainty_of_a_rise_is_honest(count: int, seed: int) -> None:
    """95 of 100 lie within U, and U is no more than three times what is seen: two rms of the errors."""
    off = np.array(rises_off(count, seed))
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(off**2)) >= 1 / 6


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_a_ramp_rises_all_the_time_or_never(share: float) -> None:
    series = triangle_series(1.0, 45) * (1 if share else -1)
    own = known(rise(found(with_noise(summed(series, phase_of(440.3, 2, RATE)), 50))))
    assert own.value == pytest.approx(share, abs=own.expanded)
    assert own.expanded < 0.002


def test_noise_moves_the_rise_of_a_ramp_as_much_as_its_weights_tell() -> None:
    """It crosses each level of its slow flank several times, by noise and by ripple; its means cross it once."""
    ideal, number, random = triangle_wave(1 - 1e-9, 300), np.arange(1, 301), np.random.default_rng(1)
    own, off = rising_share(ideal), []
    assert isinstance(own, Share)
    follows = own.weights @ (np.sinc(np.outer(own.spans, number)) * np.exp(2j * np.pi * np.outer(own.phases, number)))
    size = float(np.abs(ideal.harmonics[-1])) / 4  # of the noise, so that the last harmonic just stands out
    for _ in range(60):
        noisy = rising_share(Wave(ideal.harmonics + size * (random.normal(0, math.sqrt(0.5), (2, 300)).T @ [1, 1j])))
        assert isinstance(noisy, Share)
        off.append(noisy.value - own.value)
    assert float(np.std(off)) == pytest.approx(size * math.sqrt(2) * float(np.linalg.norm(follows)), rel=0.3)


def test_how_far_a_triangle_is_from_an_ideal_one_counts() -> None:
    made = triangle_series(0.3, 40)
    ideal = known(rise(found(with_noise(summed(made, phase_of(440.3, 2, RATE)), 60))))
    bent = known(rise(found(with_noise(summed(made * (1 + 0.2 * (np.arange(40) == 2)), phase_of(440.3, 2, RATE)), 60))))
    assert bent.u > 5 * ideal.u


@pytest.mark.parametrize(
    ("series", "share"),
    [(np.array([-0.5j]), 1 / 3), (triangle_series(0.3, 100), 1 / 2), (pulse_series(0.3, 100), 0)],
    ids=["sine", "triangle", "pulse"],
)
def test_waves_differ_in_how_long_they_are_near_their_middle(series: Floats, share: float) -> None:
    """From the definition: a sine is within a quarter of its peak-to-peak of its middle for 2·asin(1/2)/π of the time."""
    assert middle_share(found(with_noise(summed(series, phase_of(220, 2, RATE)), 60))) == pytest.approx(share, abs=0.03)


def test_too_few_harmonics_do_not_tell_a_wave_from_another() -> None:
    assert middle_share(found(np.sin(2 * np.pi * phase_of(5000, 1, RATE)))) == NotHad("too few harmonics lie in the band")
