"""Beating: two tones under a contour are found by their phase, and one tone is never taken for two."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchrecord.bench.beating import Beating, beating_of
from benchrecord.bench.contour_sight import tone_periods_s
from benchrecord.bench.fits import Floats
from contours import Made, tone, two_tones
from sounds import RATE, noise, seconds

LONG = Made(attack=0.1, plateau=0.3, decay=0.64)
AGAIN = Made(attack=0.05, plateau=0.2, decay=0.3, period=1.1)


def found(samples: Floats, rate: int = RATE) -> Beating | None:
    return beating_of(samples, rate, tone_periods_s(samples, rate)[0])


def heard(made: Made, carrier: Floats, length_s: float) -> Floats:
    return made.level(length_s) * carrier + noise(length_s, 5e-4)


@pytest.mark.parametrize("kind", ["sine", "ramp", "square"])
@pytest.mark.parametrize("made", [LONG, AGAIN], ids=["once", "again"])
@pytest.mark.parametrize("apart_hz", [1.5, 4.0, 11.0])
def test_two_oscillators_beat_by_their_difference(kind: str, made: Made, apart_hz: float) -> None:
    beating = found(heard(made, two_tones(443, apart_hz, 3.0, kind=kind), 3.0))
    assert beating
    assert beating.certain
    assert beating.hz == pytest.approx(apart_hz, rel=0.25) or apart_hz * AGAIN.period < 2  # slower than its cycles
    assert beating.ratio > 0.3


@pytest.mark.parametrize("ratio", [0.05, 0.1, 0.3])
def test_a_fainter_second_tone_is_told_with_its_share(ratio: float) -> None:
    beating = found(heard(LONG, two_tones(443, 5.0, 3.0, ratio=ratio), 3.0))
    assert beating
    assert beating.certain
    assert beating.ratio == pytest.approx(ratio, rel=0.25)


def test_one_tone_hardly_ever_beats_whatever_its_contour() -> None:
    """One in 24 at most: an offset on top of a narrow pulse that fades is told from a second tone no better."""
    wrong = []
    for seed in range(24):
        g = np.random.default_rng(seed)
        made = Made(10 ** g.uniform(-2.5, 0), g.uniform(0, 0.4), 10 ** g.uniform(-1.3, 0), (math.inf, 1.2)[seed % 2])
        if seed % 3:
            made = Made(**{**vars(made), "period": made.falling(0.05) + made.decay * g.uniform(0.2, 1.5)})
        long, kind = 4.0, ("sine", "ramp", "square", "pulse")[seed % 4]
        samples = made.level(long) * tone(10 ** g.uniform(1.9, 3.2), long, kind=kind) + noise(long, 10 ** g.uniform(-4, -2))
        wrong += [seed] if found(samples + 0.02) else []
    assert len(wrong) <= 1


def test_a_tone_that_drifts_does_not_beat() -> None:
    """By five cents in three seconds."""
    turns = np.cumsum(443 * 2 ** (5 / 3 * seconds(3.0) / 1200)) / RATE
    for made in (LONG, AGAIN):
        assert found(heard(made, np.sin(2 * math.pi * turns), 3.0)) is None


def test_vibrato_is_not_certain_to_beat() -> None:
    turns = np.cumsum(443 * 2 ** (10 * np.sin(2 * math.pi * 5 * seconds(3.0)) / 1200)) / RATE
    for made in (LONG, AGAIN):
        beating = found(heard(made, np.sin(2 * math.pi * turns), 3.0))
        assert beating is None or not beating.certain


@pytest.mark.parametrize("length", [1, 2, 50, 500, 5000])
def test_no_recording_is_too_short(length: int) -> None:
    assert beating_of(noise(1.0, 0.1)[:length], RATE, 1 / 440) is None or length > 1000
    assert beating_of(np.zeros(length), RATE, 1 / 440) is None
