"""Units: what counts in what, and what cannot be compared."""

from __future__ import annotations

import pytest

from benchrecord.model.notation import parse_quantity, same_value, thousands_between, unit_of
from benchrecord.model.quantity import (
    SPELLINGS,
    UNITS,
    canonical_unit,
    dimension,
    factor,
    in_unit,
    powers_of_thousand,
    shown_unit,
)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("30 mV", "V", 0.03),
        ("30", "V", 30.0),
        ("30 mV", None, 30.0),
        ("30", "", 30.0),
        ("30 mV", "", None),
        ("30 mV", "A", None),
        ("90 min", "h", 1.5),
        ("4k7", "kohm", 4.7),
        ("1 semitone", "cents", 100.0),
    ],
)
def test_a_quantity_in_a_unit(text: str, unit: str | None, value: float | None) -> None:
    found = parse_quantity(text)
    assert found
    assert in_unit(found, unit) == (None if value is None else pytest.approx(value))


def test_every_unit_is_printed_in_a_way_that_is_read_again() -> None:
    assert [u for u in UNITS if canonical_unit(shown_unit(u)) != u] == []


def test_no_spelling_hides_a_unit_of_its_own() -> None:
    assert [s for s in SPELLINGS if s in UNITS] == []


def test_levels_of_another_reference_are_not_compared() -> None:
    assert len({dimension(u) for u in ("dB", "dBu", "dBV", "dBFS")}) == 4


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [("4k7", "4.7 kΩ", True), ("100n", "0.1 µF", True), ("4k7", "4700", True), ("4k7", "4.7 V", False), ("4k7", "4k70", True),
     ("red LED", "Red  led", True), ("red", "green", False), ("", "", True), ("10", "ten", False), ("104", "100n", True), ("104K", "0.1 µF", True), ("104", "100 k", False), ("104", "104", True),
     ("4,7k", "4k7", True), ("0,1 µF", "100n", True), ("100n", "", False)],
)  # fmt: skip
def test_two_texts_may_name_one_value(one: str, other: str, same: bool) -> None:  # noqa: FBT001  # a table of cases
    assert same_value(one, other) is same
    assert same_value(other, one) is same


@pytest.mark.parametrize(
    ("text", "unit"), [("12 VDC", "VDC"), ("−3,5 furlong", "furlong"), ("12", None), ("OL", None), ("", None)]
)
def test_the_unit_that_was_meant(text: str, unit: str | None) -> None:
    assert unit_of(text) == unit


@pytest.mark.parametrize("text", ["1e-999999999", "1e-400", "0.1e-400", "1e400"])
def test_a_number_beyond_all_numbers_is_none(text: str) -> None:
    assert parse_quantity(text) is None


def test_zero_is_a_number_however_it_is_written() -> None:
    for text in ("0", "0.000", "-0", "0e5", "0R", ".0"):
        found = parse_quantity(text)
        assert found
        assert found.value == 0


@pytest.mark.parametrize("digits", [10, 15, 22, 33, 47, 68, 82])
@pytest.mark.parametrize("power", [0, 1, 2, 3, 4, 5, 6, 8, 9])
def test_the_code_of_a_capacitor_is_the_value_that_it_stands_for(digits: int, power: int) -> None:
    """IEC 60062: two digits and the power of ten in picofarads; 8 and 9 for hundredths and tenths."""
    farads = digits * 10.0 ** ({8: -2, 9: -1}.get(power, power) - 12)
    spelt = [f"{farads * 1e12:g} pF", f"{farads * 1e9:.12g}n", f"{farads * 1e6:.12g} µF"]
    assert all(same_value(f"{digits}{power}{letter}", text) for text in spelt for letter in ("", "J", "K"))
    assert not same_value(f"{digits}{power}", f"{farads * 1.5e9:.12g}n")


@pytest.mark.parametrize(
    ("one", "other", "power"),
    [("27k", "27R", 1), ("27R", "27k", -1), ("27M", "27R", 2), ("27G", "27R", 3), ("100n", "100u", -1), ("100n", "104", 0), ("100u", "104", 1),
     ("33k", "27R", 1), ("27k", "10R", 0), ("27k", "27n", 0), ("47.2", "47k", -1), ("", "47k", 0), ("TL072", "TL074", 0), ("0", "10k", 0)],
)  # fmt: skip
def test_a_value_that_is_off_by_a_power_of_a_thousand(one: str, other: str, power: int) -> None:
    assert thousands_between(one, other) == power


@pytest.mark.parametrize(
    ("value", "seen"), [(47e3, "1000"), (0.047, "1000"), (47e6, "1,000,000"), (50e9, "1,000,000,000"), (47e-9, "1,000,000,000")]
)
def test_the_factor_is_the_one_that_is_seen(value: float, seen: str) -> None:
    assert factor(powers_of_thousand(value, 47.0)) == seen
