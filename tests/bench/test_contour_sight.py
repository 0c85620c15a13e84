"""How a contour is seen: the periods of the tone under it, and how far its power swings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchrecord.bench.contour_sight import sight_of, tone_periods_s
from benchrecord.bench.level_trail import level_trail
from contours import tone


@pytest.mark.parametrize("rate", [44_100, 96_000])
@pytest.mark.parametrize("hz", [61.7, 276.9, 385.6])
def test_the_power_of_a_narrow_pulse_comes_round_once_in_a_period(hz: float, rate: int) -> None:
    """Its peaks are narrower than a few samples, so that its own period alone would be read half a per cent beside."""
    periods = tone_periods_s(tone(hz, 0.5, kind="pulse", rate=rate), rate)
    assert periods == pytest.approx((1 / hz, 1 / hz), rel=1e-3)


def test_the_power_of_a_sine_comes_round_twice() -> None:
    assert tone_periods_s(tone(313.0, 0.5), 48_000) == pytest.approx((1 / 313, 1 / 626), rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "swing"), [("sine", 1.0), ("square", 0.0), ("ramp", 12 / math.pi**2), ("pulse", 1.7)], ids=lambda x: str(x)[:5]
)
@pytest.mark.parametrize("fade_s", [math.inf, 0.3])
def test_how_far_the_power_swings_is_read_off_it(kind: str, swing: float, fade_s: float) -> None:
    """1 − cos for a sine, t² for a ramp from −1 to 1, nothing for a square; the pulse here is two narrow peaks. However it dies away."""
    samples = tone(100.0, 1.0, kind=kind) * np.exp(-np.arange(48_000) / 48_000 / fade_s)
    ripple = 0.005 if kind == "sine" else 0.01
    sight = sight_of(level_trail([samples], 48_000, 48_000, periods_s=(0.01, ripple)), power=True, period_s=ripple)
    assert sight.swing == pytest.approx(swing, abs=0.1)
