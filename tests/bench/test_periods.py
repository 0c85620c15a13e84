"""Slow waves timed by their passages: frequencies known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.periods import Periods, count_periods
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.wander import Wander, wander_of_periods
from contours import tone
from sounds import noise, with_noise


def wave(kind: str, hz: float, length_s: float, rate: int, phase: float = 0.0) -> Floats:
    """Return a sine, or a square whose edges fall between two samples."""
    turns = hz * np.arange(round(length_s * rate) + 1) / rate + phase
    if kind == "sine":
        return np.sin(2 * np.pi * turns[:-1])
    high = np.floor(turns) * 0.5 + np.minimum(np.mod(turns, 1.0), 0.5)  # the time that it was high until then, in periods
    return 2 * np.diff(high) * rate / hz - 1


def counted(samples: Floats, rate: int = 48_000) -> Periods:
    found = count_periods(samples, rate)
    assert isinstance(found, Periods), found
    return found


@pytest.mark.parametrize(
    ("hz", "length_s", "rate"), [(0.1, 60.0, 2000), (1.3, 8.0, 48_000), (5.0, 4.0, 48_000), (20.0, 0.5, 96_000)]
)
@pytest.mark.parametrize("kind", ["sine", "square"])
def test_a_slow_wave_is_timed(hz: float, length_s: float, rate: int, kind: str) -> None:
    found = counted(with_noise(wave(kind, hz, length_s, rate), 40.0), rate)
    assert abs(found.hz.value - hz) <= 1.5 * found.hz.expanded < 1e-4 * hz


def test_it_may_lie_anywhere_and_be_as_narrow_as_a_twentieth() -> None:
    turns = np.mod(np.arange(48_000 * 3) / 48_000 * 4.0, 1.0)
    assert counted(np.where(turns < 0.05, 0.9, 0.7)).hz.value == pytest.approx(4.0, rel=1e-5)


def test_a_wave_that_wanders_tells_how_much() -> None:
    """Periods that differ by 1 % (standard deviation) are 17.2 cents."""
    generator = np.random.default_rng(3)
    periods = 0.2 * (1 + generator.normal(0, 0.01, 60))
    turns = np.interp(np.arange(0, periods.sum(), 1e-3), np.concatenate([[0], np.cumsum(periods)]), np.arange(61))
    wander = wander_of_periods(counted(np.sin(2 * np.pi * turns), 1000))
    assert isinstance(wander, Wander)
    assert isinstance(wander.rms_cents, Estimate)
    assert wander.rms_cents.value == pytest.approx(17.2, abs=3.5)  # sixty draws are known to a tenth


def test_too_few_periods_are_said() -> None:
    for samples in (tone(1.0, 2.5), np.zeros(1000), np.zeros(0), np.array([1.0, -1.0])):
        assert isinstance(count_periods(samples, 48_000), NotHad)


@pytest.mark.parametrize("snr_db", [20, 40, 60])
def test_the_stated_uncertainty_covers_what_is_seen(snr_db: float) -> None:
    z = []
    for seed in range(60):
        hz = np.random.default_rng(seed).uniform(2, 25)
        samples = wave(("sine", "square")[seed % 2], hz, 10 / hz, 8000, 0.37 * seed)
        found = counted(with_noise(samples, snr_db, seed=seed), 8000)
        z.append((found.hz.value - hz) / found.hz.expanded)
    assert np.mean(np.abs(z) <= 1) >= 0.95
    assert 1 / (2 * np.sqrt(np.mean(np.square(z)))) <= 3


def test_a_bend_between_two_values_is_covered_where_a_period_is_nearly_whole_samples() -> None:
    """The values of every passage lie nearly alike about its middle: what the line leaves of the bend does not scatter."""
    z = []
    for n in range(40):
        random = np.random.default_rng(n)
        hz = 44_100 / (random.integers(1700, 2200) + random.uniform(-0.12, 0.12))
        found = counted(with_noise(tone(hz, 0.4, kind="pulse", phase=random.uniform(), rate=44_100), 80, seed=n), 44_100)
        z.append((found.hz.value - hz) / found.hz.expanded)
    assert np.mean(np.abs(z) <= 1) >= 0.95
    assert 1 / (2 * np.sqrt(np.mean(np.square(z)))) <= 3


def test_noise_has_periods_that_are_not_alike() -> None:
    found = count_periods(noise(1.0, 0.1), 48_000)
    assert isinstance(found, NotHad) or np.std(found.periods) > 0.3 * np.mean(found.periods)
