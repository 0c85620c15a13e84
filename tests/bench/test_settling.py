"""Settling and drift: definitions of this project (class derived), held by their exact properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.settling import Drift, Settled, departures, drift, settling
from benchrecord.bench.time_constants import settling_s

EVERY_FIVE = [5.0 * n for n in range(13)]


def test_the_first_reading_that_stays_close_counts_and_not_one_that_passes_by() -> None:
    """The reading at minute 5 happens to equal the last one, on the way through."""
    values = [9.0, 10.0, 11.0, 10.4, 10.1, 10.0]
    away = departures(values)
    assert isinstance(away, tuple)
    assert settling([0, 5, 10, 15, 20, 25], away, 0.15) == Settled(20, 15)
    assert settling([0, 5, 10, 15, 20, 25], away, 0.5) == Settled(15, 10)
    assert settling([0, 5, 10, 15, 20, 25], away, 1.0) == Settled(0, 0)


def test_a_value_on_the_limit_is_within_it() -> None:
    assert settling([0, 1, 2], (0.3, 0.1 + 0.2, 0.0), 0.3) == Settled(0, 0)


def test_what_ends_on_the_move_has_not_settled() -> None:
    calm = settling([0, 5, 10], (-2.0, -1.0, 0.0), 0.5)
    assert calm == NotHad("it had not settled when the readings ended after 10 minutes")
    assert isinstance(settling([0], (0.0,), 1.0), NotHad)


@given(st.floats(1, 30), st.floats(0.001, 0.2))
def test_an_exponential_settles_when_its_time_constant_says(tau: float, share: float) -> None:
    """v = 1 − e^(−t/τ): within ``share`` after τ·ln(1/share), watched for ever; the reading after that moment counts."""
    minutes = np.arange(0.0, 20 * tau, 0.25)
    away = departures((1 - np.exp(-minutes / tau)).tolist())
    assert isinstance(away, tuple)
    calm = settling(minutes.tolist(), away, share)
    assert isinstance(calm, Settled)
    assert calm.since - 1e-6 <= settling_s(share + math.exp(-minutes[-1] / tau), tau) <= calm.minutes + 1e-6


def test_departures_may_count_in_cents() -> None:
    assert departures([440.0, 880.0], in_cents=True) == pytest.approx((-1200.0, 0.0))
    assert isinstance(departures([0.0, 440.0], in_cents=True), NotHad)


def test_the_drift_is_the_slope_of_the_last_third() -> None:
    """Steep until minute 40 of 60, then 0.6 an hour."""
    values = [m if m < 40 else 40 + 0.01 * (m - 40) for m in EVERY_FIVE]
    slope = drift(EVERY_FIVE, values)
    assert isinstance(slope, Drift)
    assert slope.per_hour == pytest.approx(0.6)
    assert (slope.from_minutes, slope.readings) == (40, 5)


def test_the_time_counts_from_cold_and_not_from_the_first_reading() -> None:
    slope = drift([3.0, 20.0, 40.0, 50.0, 60.0], [0.0, 0.0, 5.0, 5.5, 6.0])
    assert isinstance(slope, Drift)
    assert (slope.from_minutes, slope.per_hour) == (40, pytest.approx(3.0))


def test_readings_that_repeat_still_have_the_uncertainty_of_their_last_digit() -> None:
    """u of a slope is u/√Σ(t − mean)²; of readings in steps of 0.01 it is 0.01/(2√3)."""
    slope = drift([0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0], [5.0] * 7, step=0.01)
    assert isinstance(slope, Drift)
    assert slope.per_hour == pytest.approx(0)
    assert slope.expanded_uncertainty == pytest.approx(2 * 0.01 / math.sqrt(12) / math.sqrt(0.5**2 + 0.5**2))


def test_a_last_third_without_a_second_reading_has_no_drift() -> None:
    assert isinstance(drift([0.0, 10.0, 100.0], [1.0, 2.0, 3.0]), NotHad)
    assert isinstance(drift([0.0], [1.0]), NotHad)


def test_slope_and_standard_error_agree_with_a_second_witness() -> None:
    generator = np.random.default_rng(8)
    minutes = np.arange(0.0, 95.0, 5.0)
    values = generator.normal(0, 0.2, len(minutes)) + 0.02 * minutes
    slope = drift(minutes.tolist(), values.tolist())
    assert isinstance(slope, Drift)
    last = minutes >= 60
    witness = scipy.stats.linregress(minutes[last] / 60, values[last])
    assert slope.per_hour == pytest.approx(witness.slope)
    factor = scipy.stats.t.ppf(0.97725, last.sum() - 2)
    assert slope.expanded_uncertainty == pytest.approx(witness.stderr * factor)


@pytest.mark.parametrize("readings", [13, 25, 61])
def test_the_stated_uncertainty_of_a_drift_covers_what_is_seen(readings: int) -> None:
    """A drift of 0.3 an hour with scatter, a thousand times over: inside in 95 of 100, and stated no more than three times too wide."""
    generator = np.random.default_rng(readings)
    minutes = np.linspace(0, 60, readings)
    slopes = [drift(minutes.tolist(), (0.005 * minutes + generator.normal(0, 0.02, readings)).tolist()) for _ in range(1000)]
    off = np.array([s.per_hour - 0.3 for s in slopes if isinstance(s, Drift)])
    stated = np.array([s.expanded_uncertainty or 0.0 for s in slopes if isinstance(s, Drift)])
    assert np.mean(np.abs(off) <= stated) >= 0.94
    assert np.median(stated) <= 3 * 2 * np.sqrt(np.mean(off**2))
