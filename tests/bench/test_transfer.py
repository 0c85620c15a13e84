"""Transfer: lines with a known truth, dead zones that were put in, and the identities of decibels. Definitions, class derived."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.transfer import DeadZone, Law, Pan, dead_zone, isolation_db, pan, straight_law

SLOPES = st.floats(-50, 50).filter(lambda s: abs(s) > 0.01)


def line(inputs: list[float], outputs: list[float]) -> Law:
    found = straight_law(inputs, outputs)
    assert isinstance(found, Law), found
    return found


@given(SLOPES, st.floats(-10, 10), st.integers(2, 30))
def test_a_line_is_found_as_it_was_made(slope: float, offset: float, n: int) -> None:
    x = [0.5 * k for k in range(n)]
    found = line(x, [offset + slope * v for v in x])
    assert (found.slope, found.offset) == (pytest.approx(slope, rel=1e-9), pytest.approx(offset, abs=1e-9))
    assert max(map(abs, found.departures)) < 1e-9
    assert (found.slope_u is None) is (n == 2)


def test_slope_and_its_uncertainty_as_a_second_witness_has_them() -> None:
    """scipy.stats.linregress gives slope and standard error; t for 9 degrees of freedom is 2.32 at 95.45 % (JCGM 100:2008, table G.2)."""
    x = np.linspace(0, 5, 11)
    y = 3 + 2 * x + np.sin(7 * x)
    witness = scipy.stats.linregress(x, y)
    found = line(x.tolist(), y.tolist())
    assert found.slope == pytest.approx(witness.slope, rel=1e-12)
    assert found.slope_u == pytest.approx(2.32 * witness.stderr, rel=2e-3)


@pytest.mark.parametrize("n", [5, 11, 25])
@pytest.mark.parametrize("normal", [True, False])
def test_the_stated_uncertainty_of_a_slope_covers_and_is_no_wider_than_it_must_be(n: int, normal: bool) -> None:  # noqa: FBT001
    """At least 95 of 100 slopes within U, and U no more than 3 times 2·rms of the errors."""
    rng, x, errors, stated = np.random.default_rng(n), np.linspace(0, 10, n), [], []
    for _ in range(400):
        noise = rng.normal(0, 0.02, n) if normal else rng.uniform(-0.03, 0.03, n)
        found = line(x.tolist(), (1 + 0.7 * x + noise).tolist())
        errors.append(found.slope - 0.7)
        stated.append(found.slope_u or 0.0)
    assert np.mean(np.abs(errors) <= stated) >= 0.93  # 400 draws of a true 95.45 % scatter by 1 %
    assert np.mean(stated) <= 3 * 2 * np.sqrt(np.mean(np.square(errors)))


def test_one_input_makes_no_line() -> None:
    assert isinstance(straight_law([1.0, 1.0], [2.0, 3.0]), NotHad)
    assert isinstance(straight_law([1.0], [2.0]), NotHad)


@given(st.floats(-140, -1), st.floats(0.01, 100))
def test_isolation_is_the_ratio_in_decibels(db: float, full: float) -> None:
    assert isolation_db(full, full * 10 ** (db / 20)) == pytest.approx(-db)
    assert isolation_db(-full, full * 10 ** (db / 20)) == pytest.approx(-db)


@pytest.mark.parametrize(
    ("full", "shut", "u", "said"),
    [
        (0.0, 0.1, None, "nothing came out when it was open"),
        (10.0, 0.0, None, "nothing is left that the meter can tell"),
        (10.0, 0.001, 0.002, "more than 70 dB: what is left is no more than is uncertain"),  # 20·log10(10/0.003) = 70.46
    ],
)
def test_an_isolation_that_cannot_be_had_says_how_much_it_is_at_least(
    full: float, shut: float, u: float | None, said: str
) -> None:
    found = isolation_db(full, shut, u)
    assert isinstance(found, NotHad)
    assert found.reason == said


def still(x: float, start: float, stop: float) -> float:
    return x - stop if x > stop else x - start if x < start else 0.0


@given(st.floats(-8, 4), st.floats(0, 5), SLOPES, st.integers(25, 80))
def test_a_dead_zone_of_a_line_is_found_to_its_ends_between_the_readings(
    start: float, width: float, slope: float, n: int
) -> None:
    x = np.linspace(-10, 10, n).tolist()
    step, stop = x[1] - x[0], start + width
    found = dead_zone(x, [slope * still(v, start, stop) for v in x])
    if width >= 2 * step:
        assert found == DeadZone(pytest.approx(start, abs=1e-6), pytest.approx(stop, abs=1e-6))
    else:  # narrower than the readings can tell for certain
        assert found is None or (isinstance(found, DeadZone) and found.width <= width + step)


@given(SLOPES, st.integers(3, 400))
def test_a_plain_line_has_no_dead_zone(slope: float, n: int) -> None:
    x = np.linspace(0, 5, n).tolist()
    found = dead_zone(x, [1 + slope * v for v in x])
    assert found is None or (isinstance(found, DeadZone) and found.width < 1e-6)


def test_a_dead_zone_at_the_beginning_reaches_to_the_first_reading() -> None:
    found = dead_zone([0, 1, 2, 3, 4, 5], [0.0, 0.0, 0.0, 0.5, 1.5, 2.5])
    assert found == DeadZone(0, pytest.approx(2.5))


def test_noise_of_the_meter_moves_its_ends_by_little() -> None:
    rng, widths = np.random.default_rng(1), []
    x = np.linspace(-25, 25, 26).tolist()
    for _ in range(100):
        found = dead_zone(x, [0.2 * still(v, -4, 4) + rng.uniform(-0.02, 0.02) for v in x])
        assert isinstance(found, DeadZone)
        widths.append(found.width)
    assert np.mean(widths) == pytest.approx(8, abs=0.2)
    assert np.std(widths) < 0.2


def test_no_dead_zone_where_nothing_moves_or_too_little_was_read() -> None:
    for outputs, said in (([1.0, 1.0, 1.0], "does not move"), ([1.0, 2.0], "fewer than three")):
        found = dead_zone(list(range(len(outputs))), outputs)
        assert isinstance(found, NotHad)
        assert said in found.reason


def levels(law: float, n: int = 11) -> tuple[list[float], list[float], list[float]]:
    """Return a pan control that keeps the sum of amplitudes to the power ``law`` even."""
    x = np.linspace(-5, 5, n)
    right = np.clip((x + 5) / 10, 1e-4, 1 - 1e-4)
    return x.tolist(), (20 / law * np.log10(1 - right)).tolist(), (20 / law * np.log10(right)).tolist()


@pytest.mark.parametrize(("law", "middle", "side"), [(2.0, 0.0, -3.0103), (1.0, -3.0103, -6.0206)])
def test_even_power_and_even_voltage_in_the_middle(law: float, middle: float, side: float) -> None:
    """Half the power is −3.01 dB, half the voltage −6.02 dB and 3.01 dB of the sum: exact."""
    found = pan(*levels(law))
    assert isinstance(found, Pan)
    assert found.middle == pytest.approx(middle, abs=2e-3)
    assert found.sides_in_middle == pytest.approx((side, side), abs=2e-3)
    assert max(map(abs, found.sums)) == pytest.approx(-middle, abs=2e-3)
    assert found.isolation == pytest.approx(20 / law * math.log10((1 - 1e-4) / 1e-4))
    assert found.match == pytest.approx(0)


def test_two_positions_make_no_pan() -> None:
    assert isinstance(pan([0, 1], [0, -60], [-60, 0]), NotHad)
