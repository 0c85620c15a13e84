"""Topic 08: time constants. Class derived, each row with its formula."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import time_constants as t
from reference.published import checks

CHECKS = checks("08")
ONE_MS = t.time_constant_s(10e3, 100e-9)
SINGLE: dict[str, Callable[[], float]] = {
    "rise": lambda: t.rise_s(1.0),
    "rise2080": lambda: t.rise_s(1.0, 0.2, 0.8),
    "one-tau": lambda: t.charged(1.0, 1.0),
    "decay-tau": lambda: t.left_over(1.0, 1.0),
    "half": lambda: t.settling_s(0.5, 1.0),
    "db": lambda: t.decay_s(60.0, 1.0),
    "bw-tr": lambda: t.corner_hz(1.0) * t.rise_s(1.0),
    "rc-ex": lambda: 1e3 * ONE_MS,
    "rc-ex-fc": lambda: t.corner_hz(ONE_MS),
    "rc-ex-v": lambda: 10 * t.charged(2.5e-3, ONE_MS),
    "two-point-tau": lambda: t.tau_of_two_s(2.0, 0.5, 3.0),
    "slew": lambda: t.ramp_s(5.0, 2.0),
}


def computed(name: str) -> float:
    if name in SINGLE:
        return SINGLE[name]()
    kind, rest = name.split("-", 1)
    if kind == "charge":
        return t.charged(float(rest), 1.0)
    if kind == "attack":
        return t.rise_s(1.0, 0.0, 1.0, aim=float(rest))
    return t.settling_of_bits_s(int(rest[:-3]), 1.0) if rest.endswith("bit") else t.settling_s(float(rest) / 100, 1.0)


@pytest.mark.parametrize("name", CHECKS)
def test_published(name: str) -> None:
    assert computed(name) == pytest.approx(float(CHECKS[name]["value"]), rel=1e-9)


@given(st.floats(0.001, 100), st.floats(0.01, 0.99))
def test_what_has_settled_to_a_share_has_that_share_left(tau: float, share: float) -> None:
    assert t.left_over(t.settling_s(share, tau), tau) == pytest.approx(share)


@given(st.floats(0.01, 10), st.floats(0.1, 100), st.floats(0.001, 10))
def test_two_readings_of_a_discharge_give_its_time_constant(tau: float, volts: float, apart: float) -> None:
    if apart / tau < 100:
        assert t.tau_of_two_s(volts, volts * t.left_over(apart, tau), apart) == pytest.approx(tau, rel=1e-9)


@given(st.floats(20, 1e4))
def test_a_charge_that_aims_far_beyond_the_peak_is_a_ramp(aim: float) -> None:
    """The slope is then aim/τ, so that 80 % of the peak take 0.8·τ/aim."""
    assert t.rise_s(1.0, aim=aim) == pytest.approx(t.ramp_s(1.0, aim), rel=1 / aim)
