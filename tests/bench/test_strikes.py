"""Strikes: found where the level rises, and only there; a click apart from the answer tells the predelay."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.decays import ringing
from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.strikes import Strike, power_of, strikes
from benchrecord.bench.struck import struck

RATE = 48_000


def found(samples: Floats) -> tuple[Strike, ...]:
    return strikes(*power_of(samples, RATE))


def clicked(gap_s: float, level: float) -> Floats:
    """A click, and so much later noise that dies away within 1.2 s."""
    made = ringing([(1, 1.2)], RATE, 1.6, floor_db=-60, seed=5, lead_s=0.5)
    at = round((0.5 - gap_s) * RATE)
    made[at : at + 24] += np.random.default_rng(1).normal(0, level, 24)
    return made


def test_power_is_taken_about_the_level_that_the_recording_rests_at() -> None:
    power, step_s = power_of(np.full(RATE, 0.3), RATE)
    assert step_s == 0.0005
    assert power == pytest.approx(np.zeros(2000), abs=1e-15)


@given(st.floats(0.05, 1.5))
@settings(deadline=None, max_examples=20)
def test_a_strike_is_found_where_it_starts(lead_s: float) -> None:
    (strike,) = found(ringing([(1, 1.0)], RATE, 1.5, floor_db=-60, seed=3, lead_s=lead_s))
    assert strike.start * 0.0005 == pytest.approx(lead_s, abs=0.002)


def test_a_recording_that_starts_with_the_strike_has_it_too() -> None:
    (strike,) = found(ringing([(1, 1.0)], RATE, 1.5, floor_db=-60, seed=3))
    assert strike.start == 0


def test_several_strikes_are_each_followed_to_the_next() -> None:
    made = [gain * ringing([(1, 1.2)], RATE, 2.0, floor_db=-60, seed=n) for n, gain in enumerate((1, 0.7, 1.3))]
    one, two, three = struck(np.concatenate([np.zeros(1000), *made]), RATE)
    assert (one.stop_s, two.stop_s) == pytest.approx((two.start_s, three.start_s), abs=0.02)
    assert three.loudest > one.loudest > two.loudest


def test_a_knock_far_below_the_strikes_is_none() -> None:
    made = ringing([(1, 1.0)], RATE, 2.5, floor_db=-70, seed=3, lead_s=1.0)
    made[9600:9648] += 0.002
    assert len(found(made)) == 1


def test_echoes_of_a_strike_are_no_strikes() -> None:
    """A click that comes again every 66 ms and loses as much each time: 60 dB in 2 s."""
    made = 1e-4 * np.random.default_rng(0).normal(size=3 * RATE)
    for n in range(36):
        at = round((0.5 + 0.066 * n) * RATE)
        made[at : at + 200] += 10 ** (-3 * 0.066 * n / 2.0) * np.random.default_rng(n).normal(size=200)
    assert len(found(made)) == 1


@pytest.mark.parametrize("level", [2.0, 0.3, 0.05])
@pytest.mark.parametrize("gap_s", [0.02, 0.033, 0.1])
def test_a_click_apart_from_the_answer_tells_the_predelay(gap_s: float, level: float) -> None:
    (strike,) = found(clicked(gap_s, level))
    assert isinstance(strike.predelay_s, Estimate)
    assert strike.predelay_s.value == pytest.approx(gap_s, abs=0.001)
    assert strike.start * 0.0005 == pytest.approx(0.5, abs=0.001)


def test_the_stated_uncertainty_of_a_predelay_is_honest() -> None:
    """Clicks of 0.2 to 2 ms, answers of every width, noise 40 to 80 dB down: 95 of 100 within U, and U at most three times too wide."""
    off = []
    for seed in range(60):
        g = np.random.default_rng(seed)
        rate, gap_s, width_s = int(g.choice([44_100, 48_000, 96_000])), g.uniform(0.015, 0.12), g.uniform(2e-4, 2e-3)
        answer = ringing([(1, g.uniform(0.5, 2))], rate, 0.3, floor_db=-90, seed=seed, lead_s=0.3 + gap_s)
        if seed % 2:
            band = scipy.signal.butter(2, [100, 10 ** g.uniform(2.9, 4.1)], "bandpass", fs=rate)
            answer = scipy.signal.lfilter(*band, answer)
        at, width = round(0.3 * rate), round(width_s * rate)
        click = g.normal(size=width) if seed % 3 else np.hanning(width)
        answer[at : at + width] += 10 ** g.uniform(-1.3, 0.3) * click
        (strike,) = strikes(*power_of(answer + g.normal(0, 10 ** g.uniform(-4.7, -2.7), len(answer)), rate))
        assert isinstance(strike.predelay_s, Estimate)
        off.append((strike.predelay_s.value - gap_s) / strike.predelay_s.expanded)
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


def test_without_a_click_there_is_no_predelay_and_it_says_why() -> None:
    (strike,) = found(ringing([(1, 1.2)], RATE, 1.6, floor_db=-60, seed=5, lead_s=0.5))
    assert isinstance(strike.predelay_s, NotHad)
    assert "no click" in strike.predelay_s.reason


def test_noise_and_silence_have_no_strikes() -> None:
    assert found(np.random.default_rng(1).normal(0, 0.01, 2 * RATE)) == ()
    assert found(np.zeros(RATE)) == ()
    assert found(np.zeros(0)) == ()
