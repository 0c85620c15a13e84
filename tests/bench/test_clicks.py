"""Clicks: found where a contour lasts beside them, never where the burst is the contour itself."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.clicks import blanked, clicks_in
from benchrecord.bench.fits import Floats
from contours import Made, tone
from sounds import RATE, noise

LASTING = Made(attack=0.05, plateau=0.1, decay=0.3)


def clicked(samples: Floats, at_s: float, *, seed: int) -> Floats:
    g, made = np.random.default_rng(seed), samples.copy()
    start, count = round(at_s * RATE), round(RATE * 10 ** g.uniform(-4, -2.6))
    made[start : start + count] += g.uniform(0.4, 1.0) * (g.normal(size=count) if seed % 2 else np.hanning(count))
    return made


@pytest.mark.parametrize("at_s", [0.1, 0.2])
@pytest.mark.parametrize("hz", [0.0, 220.0, 1500.0])
def test_a_click_before_or_at_an_attack_is_found(hz: float, at_s: float) -> None:
    for seed in range(8):
        carrier = 0.3 * tone(hz, 1.2, kind="ramp") if hz else 0.3
        made = clicked(LASTING.level(1.2) * carrier + noise(1.2, 1e-4), at_s, seed=seed)
        found = clicks_in(made, RATE, period_s=1 / hz if hz else 0.0)
        assert len(found) == 1
        assert found[0][0] <= round(at_s * RATE) <= found[0][1]


@pytest.mark.parametrize("decay", [0.003, 0.01, 0.05, 1.0])
@pytest.mark.parametrize("period", [None, 1.5])
def test_a_contour_is_no_click_however_short(decay: float, period: float | None) -> None:
    made = Made(attack=0.002, plateau=0.0, decay=decay)
    if period:
        made = Made(**{**vars(made), "period": period})
    for carrier in (0.5, tone(700, 4.0)):
        assert clicks_in(made.level(4.0) * carrier + noise(4.0, 1e-4), RATE, period_s=1 / 700) == ()


def test_what_is_blanked_is_a_straight_line_and_no_more() -> None:
    samples = np.ones(1000)
    samples[400:410] = 9.0
    assert blanked(samples, ((400, 410),)) == pytest.approx(np.ones(1000))
    assert blanked(samples, ()) is samples


@pytest.mark.parametrize("length", [0, 1, 2, 100, 700])
def test_no_recording_is_too_short(length: int) -> None:
    assert clicks_in(np.zeros(length), RATE) == ()
    assert isinstance(clicks_in(noise(1.0, 0.1)[:length], RATE), tuple)
