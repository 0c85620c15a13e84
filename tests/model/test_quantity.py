"""Units: what counts in what, and what cannot be compared."""

from __future__ import annotations

import pytest

from benchrecord.model.notation import parse_quantity, same_value, unit_of
from benchrecord.model.quantity import SPELLINGS, UNITS, canonical_unit, dimension, in_unit, shown_unit


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
     ("red LED", "Red  led", True), ("red", "green", False), ("", "", True), ("10", "ten", False)],
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
