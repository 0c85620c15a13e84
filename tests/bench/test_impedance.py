"""Impedance from two levels. The formulas are those of a divider; the library `uncertainties` is the second witness."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from benchrecord.bench.impedance import Impedance, Reading, input_impedance, output_impedance
from benchrecord.bench.reasons import NotHad

OHMS = st.floats(1.0, 1e7)
PARTS = st.floats(1e-5, 0.01)


def had(found: Impedance | NotHad) -> Impedance:
    assert isinstance(found, Impedance), found
    return found


def test_by_hand() -> None:
    """Half the level through 100 kΩ: an input of 100 kΩ. A third less into 1200 Ω: an output of 600 Ω."""
    assert had(input_impedance(Reading(1.0), Reading(0.5), Reading(100e3))).ohm == pytest.approx(100e3)
    assert had(output_impedance(Reading(3.0), Reading(2.0), Reading(1200.0))).ohm == pytest.approx(600.0)


@given(OHMS, OHMS)
def test_both_ways_give_back_what_a_divider_was_made_of(z: float, r: float) -> None:
    loaded = Reading(3.7 * r / (z + r))
    through = Reading(3.7 * z / (z + r))
    for found in (output_impedance(Reading(3.7), loaded, Reading(r)), input_impedance(Reading(3.7), through, Reading(r))):
        if isinstance(found, Impedance):  # a resistor far too large or small takes nothing away that a float could show
            assert found.ohm == pytest.approx(z, rel=1e-6 * max(1.0, z / r, r / z))
        else:
            assert max(z / r, r / z) > 1e6


@given(OHMS, st.floats(0.03, 30), PARTS, PARTS, PARTS)
def test_uncertainty_as_a_second_witness_has_it(z: float, share: float, ua: float, ub: float, ur: float) -> None:
    r = z * share
    for method, b_value in ((input_impedance, z / (z + r)), (output_impedance, r / (z + r))):
        a, b, resistor = ufloat(1.0, ua), ufloat(b_value, ub * b_value), ufloat(r, ur * r)
        witness = resistor * b / (a - b) if method is input_impedance else resistor * (a - b) / b
        found = method(Reading(1.0, ua), Reading(b_value, ub * b_value), Reading(r, ur * r))
        if isinstance(found, Impedance):
            assert found.ohm == pytest.approx(witness.n, rel=1e-9)
            assert found.u_ohm == pytest.approx(witness.s, rel=1e-9)
        else:
            assert 1 - b_value <= 2.001 * np.hypot(ua, ub * b_value)


@pytest.mark.parametrize(
    ("without", "with_resistor", "said"),
    [
        (Reading(1.0), Reading(1.0), "does not lower"),
        (Reading(1.0), Reading(1.2), "does not lower"),
        (Reading(0.0), Reading(0.0), "nothing"),
        (Reading(1.0), Reading(0.0), "nothing"),
        (Reading(1.0, 0.01), Reading(0.98, 0.01), "no more than is uncertain"),
    ],
)
def test_levels_that_tell_nothing_say_why(without: Reading, with_resistor: Reading, said: str) -> None:
    for method, take in ((input_impedance, "larger"), (output_impedance, "smaller")):
        found = method(without, with_resistor, Reading(1e3))
        assert isinstance(found, NotHad)
        assert said in found.reason
        assert take in found.reason or said == "nothing"


def test_unknown_uncertainties() -> None:
    """Of the levels: none is known of the impedance. Of the resistor: it counts as exact."""
    assert had(input_impedance(Reading(1.0), Reading(0.5, 0.001), Reading(1e3, 1.0))).u_ohm is None
    exact = had(input_impedance(Reading(1.0, 0.001), Reading(0.5, 0.001), Reading(1e3, None)))
    assert exact.u_ohm == had(input_impedance(Reading(1.0, 0.001), Reading(0.5, 0.001), Reading(1e3, 0.0))).u_ohm


def test_the_stated_uncertainty_covers_and_is_no_wider_than_it_must_be() -> None:
    """Readings that a meter scatters within its limits of error: at least 95 of 100 within U, and U no more than 3 times 2·rms."""
    rng = np.random.default_rng(4)
    for z, r in ((600.0, 600.0), (100e3, 47e3), (1e6, 1e6), (150.0, 600.0)):
        u_a, u_b = 0.003 / 3**0.5, 0.002 / 3**0.5
        errors, stated = [], []
        for _ in range(400):
            a, b = 1.0 + rng.uniform(-0.003, 0.003), r / (z + r) + rng.uniform(-0.002, 0.002)
            found = had(output_impedance(Reading(a, u_a), Reading(b, u_b), Reading(r, 0.0)))
            errors.append(found.ohm - z)
            stated.append(2 * (found.u_ohm or 0.0))
        inside = np.mean(np.abs(errors) <= stated)
        assert inside >= 0.95
        assert np.mean(stated) <= 3 * 2 * np.sqrt(np.mean(np.square(errors)))
