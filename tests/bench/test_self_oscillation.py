"""Self-oscillation: its frequency, how far it strays, and whether it is a sine."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.self_oscillation import SelfOscillation, self_oscillation
from benchrecord.bench.wander import Wander
from sounds import RATE, noise, seconds


@given(st.floats(150, 8000))
@settings(deadline=None, max_examples=10)
def test_a_steady_sine_is_one(hz: float) -> None:
    found = self_oscillation(0.3 * np.sin(2 * np.pi * hz * seconds(3.0)) + noise(3.0, 1e-5), RATE)
    assert isinstance(found, SelfOscillation)
    assert abs(found.tone.hz.value - hz) <= 3 * found.tone.hz.u + 1e-6 * hz
    assert found.is_sine is True
    assert isinstance(found.stability_cents, Estimate)
    assert found.stability_cents.value < 0.05


def test_a_drift_departs_from_the_mean_at_its_ends() -> None:
    """From 1000 to 1002 Hz in 4 s: half of 3.46 cents at either end, of which the first and the last moment are not seen."""
    t = seconds(4.0)
    found = self_oscillation(0.3 * np.sin(2 * np.pi * (1000 * t + 0.25 * t**2)), RATE)
    assert isinstance(found, SelfOscillation)
    assert isinstance(found.stability_cents, Estimate)
    assert isinstance(found.wander, Wander)
    assert found.stability_cents.value == pytest.approx(cents(1002, 1001), abs=0.1)
    assert found.wander.drift_cents.value == pytest.approx(cents(1002, 1000), abs=0.01)
    assert len(found.course) <= 400


def test_a_vibrato_is_seen() -> None:
    swing = 10 * np.sin(2 * np.pi * 7 * seconds(3.0))
    found = self_oscillation(0.3 * np.sin(2 * np.pi * np.cumsum(700 * 2 ** (swing / 1200)) / RATE), RATE)
    assert isinstance(found, SelfOscillation)
    assert isinstance(found.stability_cents, Estimate)
    assert found.stability_cents.value == pytest.approx(10, rel=0.05)


def test_a_clipped_sine_is_none() -> None:
    found = self_oscillation(np.clip(np.sin(2 * np.pi * 500 * seconds(2.0)), -0.6, 0.6), RATE)
    assert isinstance(found, SelfOscillation)
    assert found.is_sine is False


def test_noise_does_not_oscillate() -> None:
    assert isinstance(self_oscillation(noise(2.0, 0.1), RATE), NotHad)
