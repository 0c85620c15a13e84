"""Sudden attacks of a tone: found where they are, and no slow ones."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.attacks import sudden_attacks
from benchrecord.bench.fits import Floats
from contours import Made, tone
from sounds import RATE, noise, seconds


def plucked(starts_s: list[float], *, hz: float = 220.0, attack_s: float = 0.0, length_s: float = 2.0) -> Floats:
    own = [seconds(length_s) - start for start in starts_s]
    levels = [np.where(u < 0, 0.0, np.where(u < attack_s, u / (attack_s or 1.0), np.exp((attack_s - u) / 0.1))) for u in own]
    return np.sum(levels, axis=0) * tone(hz, length_s) + noise(length_s, 1e-4)


@pytest.mark.parametrize("offset", [0.0, 0.2])
@pytest.mark.parametrize("attack_s", [0.0, 0.005, 0.02])
def test_each_sudden_attack_lies_between_its_two_ends(attack_s: float, offset: float) -> None:
    starts = [0.3, 0.9, 1.5]
    found = sudden_attacks([plucked(starts, attack_s=attack_s) + offset], RATE, 1 / 220)
    assert len(found) == len(starts)
    for (begins, over), start in zip(found, starts, strict=True):
        assert start - 2 / 220 < begins / RATE <= start
        assert start + 0.9 * attack_s <= over / RATE < start + attack_s + 2 / 220


def test_blocks_may_be_cut_anywhere() -> None:
    samples = plucked([0.3, 1.0])
    whole = sudden_attacks([samples], RATE, 1 / 220)
    assert sudden_attacks(np.split(samples, [100, 14_399, 14_400, 50_000]), RATE, 1 / 220) == whole


@pytest.mark.parametrize("hz", [220.0, 880.0])
def test_a_slow_attack_and_a_steady_tone_have_none(hz: float) -> None:
    made = Made(attack=0.1, decay=0.3)
    assert sudden_attacks([made.level(2.0) * tone(hz, 2.0) + noise(2.0, 1e-4)], RATE, 1 / hz) == ()
    assert sudden_attacks([tone(hz, 1.0) + noise(1.0, 1e-3)], RATE, 1 / hz) == ()


def test_without_a_tone_there_is_none() -> None:
    assert sudden_attacks([noise(1.0, 0.1)], RATE, 0.0) == ()
    assert sudden_attacks([np.zeros(10)], RATE, 0.01) == ()
    assert sudden_attacks([], RATE, 0.01) == ()
