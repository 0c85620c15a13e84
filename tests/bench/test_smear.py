"""Smear of harmonics under vibrato: against tones whose harmonics are known by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.shape import rise
from benchrecord.bench.smear import lost_shares
from benchrecord.bench.tones import Tone, distortion_lost, find_tone, thd
from sounds import with_noise
from waves import summed, triangle_series, wandering_phase

RATE = 48_000


def vibrato(hz: float, cents: float, rate_hz: float, *, rise_share: float = 0.3, length_s: float = 3.0) -> Floats:
    t = np.arange(round(length_s * RATE)) / RATE
    phase = wandering_phase(hz, cents * np.sin(2 * np.pi * rate_hz * t + 1), RATE)
    return 0.4 * summed(triangle_series(rise_share, int(15_000 / hz)), phase)


def found(samples: Floats) -> Tone:
    tone = find_tone(samples, RATE)
    assert isinstance(tone, Tone)
    return tone


def estimate(value: object) -> Estimate:
    assert isinstance(value, Estimate), value
    return value


@pytest.mark.parametrize(("hz", "cents", "rate_hz"), [(110.3, 18, 3), (440.6, 18, 3), (220.3, 10, 4), (1500.0, 18, 6)])
def test_a_ramp_loses_as_much_of_its_distortion_as_is_expected_of_its_course(hz: float, cents: float, rate_hz: float) -> None:
    tone = found(vibrato(hz, cents, rate_hz, rise_share=0.0))
    harmonics = np.abs(triangle_series(0.0, int(15_000 / hz)))
    true = math.sqrt(float(np.sum(harmonics[1:] ** 2))) / float(harmonics[0])
    assert distortion_lost(tone) / 3 < 1 - estimate(thd(tone)).value / true < 1.5 * distortion_lost(tone)


def test_a_steady_tone_loses_nothing() -> None:
    tone = found(with_noise(vibrato(440.6, 0, 1), 60))
    assert tone.smear == 0
    assert distortion_lost(tone) == 0


def test_no_harmonic_loses_more_than_all() -> None:
    assert lost_shares(0.1, np.array([1.0, 3.0, 10.0])).tolist() == pytest.approx([0.1, 0.9, 1.0])


def test_distortion_and_rise_are_within_their_uncertainty_under_vibrato() -> None:
    random, off = np.random.default_rng(4), []
    for n in range(16):
        hz, cents = 100 * 20 ** random.random(), 100 ** random.random()
        share = random.uniform(0.1, 0.9)
        made = vibrato(hz, cents, 0.5 * 12 ** random.random(), rise_share=share, length_s=2.0)
        tone = found(with_noise(made, random.uniform(50, 80), seed=n))
        true = np.abs(triangle_series(share, int(15_000 / hz)))
        distortion = estimate(thd(tone))
        off.append((distortion.value - math.sqrt(float(np.sum(true[1:] ** 2))) / float(true[0])) / distortion.expanded)
        rising = estimate(rise(tone))
        off.append((rising.value - share) / rising.expanded)
    assert sum(abs(one) <= 1 for one in off) >= 0.95 * len(off)
    assert max(map(abs, off)) < 1.5
    assert float(np.median(np.abs(off))) > 0.1
