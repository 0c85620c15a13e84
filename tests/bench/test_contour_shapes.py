"""Shapes of stages: class derived, from v = k·(1 − e^(−t/τ))."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.contour_shapes import BENT, EXPONENTIAL, LEVELS, STRAIGHT, aim_of, shape_of, slopes
from benchrecord.bench.time_constants import rise_s


def passed(aim: float, tau: float) -> list[float]:
    return [rise_s(tau, 0.0, level, aim=aim) for level in LEVELS]


@given(st.floats(1.0, 20.0), st.floats(0.001, 10))
def test_an_exponential_tells_its_aim_by_when_it_is_half_done(aim: float, tau: float) -> None:
    t = passed(aim, tau)
    assert aim_of((t[2] - t[0]) / (t[4] - t[0])) == pytest.approx(aim, rel=2e-3)


def test_a_straight_one_is_half_done_halfway() -> None:
    assert math.isinf(aim_of(0.5))
    assert aim_of(0.2) == 1.0
    assert shape_of([0.1, 0.3, 0.5, 0.7, 0.9], 0.0).name == STRAIGHT


@pytest.mark.parametrize("aim", [1.0, 1.2, 1.5, 2.0])
def test_the_time_constant_of_an_exponential(aim: float) -> None:
    """Attacks aim at 1.2 to 2 times their peak, decays at rest (common practice, no source)."""
    shape = shape_of(passed(aim, 0.3), 0.0)
    assert (shape.name, shape.aim) == (EXPONENTIAL, pytest.approx(aim, rel=2e-3))
    assert shape.time_constant_s == pytest.approx(0.3, rel=5e-3)


def test_neither_straight_nor_exponential() -> None:
    """One that starts and ends gently, and one that dwells in the middle as a contour with a sustain does."""
    assert shape_of([math.acos(1 - 2 * level) for level in LEVELS], 0.0).name == BENT
    assert shape_of([0.0, 0.1, 0.9, 0.95, 1.0], 0.0).name == BENT


def test_the_uncertainty_of_a_time_constant_covers_what_noise_does_to_it() -> None:
    generator = np.random.default_rng(2)
    for aim in (1.0, 1.2, 1.5):
        true, u = passed(aim, 0.3), 5e-4
        shapes = [shape_of([t + generator.normal(0, u) for t in true], u, seconds_u=2 * math.sqrt(2) * u) for _ in range(300)]
        off = np.array([(s.time_constant_s or math.inf) - 0.3 for s in shapes])
        stated = np.array([s.expanded_uncertainty or 0.0 for s in shapes])
        assert np.mean(np.abs(off) <= stated) >= 0.95
        assert np.median(stated) <= 3 * 2 * np.sqrt(np.mean(off**2))


@given(st.floats(1.0, 10.0), st.floats(0.01, 5))
def test_slopes_are_those_of_the_exponential(aim: float, tau: float) -> None:
    """dv/dt = (k − v)/τ."""
    t = passed(aim, tau)
    first, last = slopes(t[4] - t[0], (t[2] - t[0]) / (t[4] - t[0]))
    assert (first, last) == (pytest.approx((aim - 0.1) / tau, rel=0.02), pytest.approx((aim - 0.9) / tau, rel=0.02))


def test_slopes_of_a_straight_stage() -> None:
    assert slopes(2.0, 0.5) == (0.4, 0.4)
