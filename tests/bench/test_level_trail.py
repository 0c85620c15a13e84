"""Trails and their running means: exact properties (class derived)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.level_trail import Trail, level_trail, smoothed, voltage_trail, without_mean
from contours import tone
from sounds import RATE, noise, seconds


@given(st.lists(st.integers(1, 700), min_size=1, max_size=9), st.integers(0, 5))
def test_blocks_may_be_cut_anywhere(cuts: list[int], seed: int) -> None:
    samples = noise(0.05, 0.1, seed=seed)
    pieces = np.split(samples, np.cumsum(cuts)[np.cumsum(cuts) < len(samples)])
    whole, cut = (level_trail(blocks, RATE, len(samples), periods_s=(1e-3, 1e-3)) for blocks in ([samples], pieces))
    assert cut.means == pytest.approx(whole.means)
    assert cut.noise == pytest.approx(whole.noise)
    assert voltage_trail(pieces, RATE, len(samples)).means == pytest.approx(voltage_trail([samples], RATE, len(samples)).means)


def test_the_power_of_a_step_is_its_mean_square_without_the_running_mean() -> None:
    samples = noise(0.1, 0.2)
    course = level_trail([samples], RATE, len(samples))
    assert course.noise is None
    alone = np.concatenate(list(without_mean([samples], round(0.02 * RATE))))
    total = np.concatenate([[0.0], np.cumsum(alone**2)])
    ends = np.interp(np.arange(len(course.means) + 1) * course.step_s * RATE, np.arange(len(total)), total)
    assert course.means == pytest.approx(np.diff(ends) / (course.step_s * RATE))
    assert course.at_s(0) == pytest.approx((course.step_s - 1 / RATE) / 2)


def test_what_comes_again_is_no_noise() -> None:
    """A tone of 0.5 rms with noise of 0.05: the noise has a hundredth of its power."""
    samples = tone(440, 1.0, kind="ramp") + noise(1.0, 0.05)
    course = level_trail([samples], RATE, len(samples), periods_s=(1 / 440, 1 / 440))
    assert course.noise is not None
    assert float(course.noise[100:].mean()) == pytest.approx(0.0025, rel=0.1)
    assert float(course.means.mean()) == pytest.approx(0.2525, rel=0.01)


def test_a_long_recording_is_taken_in_longer_steps() -> None:
    assert voltage_trail([], RATE, 3600 * RATE).step_s == pytest.approx(3600 / 1.2e6)
    assert voltage_trail([], RATE, 60 * RATE).step_s == pytest.approx(1e-4)


@given(st.floats(50, 5000), st.floats(1, 3600))
def test_a_period_is_a_whole_number_of_steps_or_a_step_of_periods(hz: float, length_s: float) -> None:
    ratio = 1 / hz / level_trail([], RATE, round(length_s * RATE), periods_s=(1 / hz, 1 / hz)).step_s
    assert ratio == pytest.approx(round(ratio)) or 1 / ratio == pytest.approx(round(1 / ratio))


@pytest.mark.parametrize("ripple", [0.0, 0.004])
@pytest.mark.parametrize("window", [0.003, 0.0171])
def test_a_sharp_mean_leaves_a_parabola_as_it_is(window: float, ripple: float) -> None:
    """A plain running mean of width W adds W²/24 of the second derivative, which is 2 here."""
    t = seconds(0.2)
    course = Trail(t**2, None, 1 / RATE, RATE)
    inside = slice(3000, 6000)
    plain, sharp = (smoothed(course, window, ripple_s=ripple, sharp=sharp)[inside] for sharp in (False, True))
    assert plain - t[inside] ** 2 == pytest.approx((window**2 + ripple**2) / 12, rel=1e-2)
    assert sharp == pytest.approx(t[inside] ** 2, abs=2e-9)


def test_the_mean_over_a_period_has_no_ripple() -> None:
    samples = tone(440, 0.5, kind="ramp")
    course = level_trail([samples], RATE, len(samples), periods_s=(1 / 440, 1 / 440))
    level = smoothed(course, 1 / 440)[500:-500]
    assert float(np.ptp(level)) < 0.01 * float(level.mean())


@given(st.lists(st.integers(1, 900), min_size=1, max_size=9), st.integers(1, 300))
def test_a_running_mean_is_taken_off_whatever_the_blocks(cuts: list[int], size: int) -> None:
    samples = noise(0.05, 0.1) + 0.3
    pieces = np.split(samples, np.cumsum(cuts)[np.cumsum(cuts) < len(samples)])
    whole, cut = (np.concatenate(list(without_mean(blocks, size))) for blocks in ([samples], pieces))
    assert len(whole) == len(samples)
    assert cut == pytest.approx(whole, abs=1e-12)


@given(st.lists(st.integers(1, 900), min_size=1, max_size=9), st.integers(1, 300))
def test_attacks_are_kept_to_whatever_the_blocks(cuts: list[int], size: int) -> None:
    samples, attacks = noise(0.05, 0.1) + 0.3, ((500, 560), (900, 930), (2300, 2399))
    pieces = np.split(samples, np.cumsum(cuts)[np.cumsum(cuts) < len(samples)])
    whole, cut = (np.concatenate(list(without_mean(blocks, size, attacks))) for blocks in ([samples], pieces))
    assert len(whole) == len(samples)
    assert cut == pytest.approx(whole, abs=1e-12)


@pytest.mark.parametrize("offset", [0.0, 0.1])
@pytest.mark.parametrize("hz", [90.0, 440.0])
def test_a_running_mean_does_not_reach_across_a_sudden_attack(hz: float, offset: float) -> None:
    """The mean over part of a period is none that lies under the tone: taken off, it leaves the tone itself another."""
    samples = np.where(seconds(1.0) < 0.5, 0.0, tone(hz, 1.0, phase=-0.5 * hz))
    size, half = round(4 * RATE / hz), RATE // 2
    off = np.concatenate(list(without_mean([samples + offset], size, ((half - 100, half + 100),)))) - samples
    assert np.abs(off[3 * size : -3 * size]).max() < 1e-3
    spoilt = np.concatenate(list(without_mean([samples + offset], size))) - samples
    assert np.abs(spoilt[3 * size : -3 * size]).max() > 0.01


@pytest.mark.parametrize("offset", [0.0, 0.03, -0.4])
def test_direct_voltage_adds_no_power_to_a_tone(offset: float) -> None:
    samples = tone(440, 0.5)
    trails = [level_trail([x], RATE, len(x), periods_s=(1 / 440, 1 / 880)) for x in (samples, samples + offset)]
    assert trails[1].means == pytest.approx(trails[0].means, abs=1e-12)
    assert float(trails[1].means.mean()) == pytest.approx(0.25, rel=1e-3)


def test_a_recording_shorter_than_the_window_has_its_mean_taken_off() -> None:
    (short,) = without_mean([np.array([1.0, 2.0, 3.0])], 100)
    assert short.tolist() == [-1.0, 0.0, 1.0]
    assert sum(map(len, without_mean([np.empty(0)], 100))) == 0
