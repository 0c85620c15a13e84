"""Wander above the band that is read: tones whose pitch moves at a known rate, and others that only look alike."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.fast_wander import FastWander, fast_wander
from benchrecord.bench.fits import Floats
from benchrecord.bench.tones import Tone, find_tone
from sounds import noise
from waves import summed, triangle_series, wandering_phase

RATE = 48_000
T = np.arange(4 * RATE) / RATE


def read(samples: Floats) -> FastWander | None:
    noisy = samples + noise(len(samples) / RATE, 3e-4)
    tone = find_tone(noisy, RATE)
    assert isinstance(tone, Tone)
    return fast_wander(noisy, tone)


@pytest.mark.parametrize("ramp", [False, True])
@pytest.mark.parametrize(
    ("hz", "cents", "rate_hz"), [(55.3, 2, 16.2), (440.6, 3, 66.2), (1500.3, 0.5, 450.7), (3000.7, 10, 120.0)]
)
def test_what_moves_faster_than_the_band_is_found_with_its_rate(hz: float, cents: float, rate_hz: float, *, ramp: bool) -> None:
    series = triangle_series(0.0, int(15_000 / hz)) if ramp else np.array([-0.5j])
    found = read(0.4 * summed(series, wandering_phase(hz, cents * np.sin(2 * np.pi * rate_hz * T), RATE)))
    assert found
    assert found.rate_hz == pytest.approx(rate_hz, abs=0.3)
    assert found.rms_cents == pytest.approx(cents / np.sqrt(2), rel=0.15)
    assert found.band_hz < rate_hz


@pytest.mark.parametrize(
    "samples",
    [
        np.sin(2 * np.pi * 440.6 * T),
        np.sin(2 * np.pi * wandering_phase(440.6, 30 * np.sin(2 * np.pi * 8 * T), RATE)),
        np.sin(2 * np.pi * 220.3 * T) + 0.03 * np.sin(2 * np.pi * 150 * T),
        (1 + 0.3 * np.sin(2 * np.pi * 60 * T)) * np.sin(2 * np.pi * 440.6 * T),
        np.sin(2 * np.pi * (440 * T + 3 * T**2)),
        np.exp(-T) * np.sin(2 * np.pi * 440.6 * T),
        summed(triangle_series(0.0, 100), 110.3 * T),
    ],
    ids=["steady", "vibrato", "hum", "tremolo", "glide", "decay", "ramp"],
)
def test_what_does_not_move_so_fast_is_none(samples: Floats) -> None:
    assert read(0.5 * samples) is None


def test_too_few_periods_show_nothing() -> None:
    assert read(0.5 * np.sin(2 * np.pi * 55 * T[: round(1.7 * RATE)])) is None
