"""Numbers and quantities as the trade writes them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.model.notation import in_range, is_out_of_range, parse_quantity, split_bound
from benchrecord.model.quantity import SPELLINGS, UNITS, canonical_unit, convert, format_quantity
from reference.published import rows

CODES = rows("01-rkm-codes.csv")


@pytest.mark.parametrize("row", [r for r in CODES if r["value"]], ids=lambda r: r["code"])
def test_published_letter_codes(row: dict[str, str]) -> None:
    """Source: IEC 60062 clause 4; the rows say which are printed examples, the others are its rule."""
    found = parse_quantity(row["code"])
    assert found
    base = {"farad": "F"}.get(row["unit"], "ohm")
    assert convert(found.value, found.unit or base, base) == pytest.approx(float(row["value"]), rel=1e-12)


@pytest.mark.parametrize("row", [r for r in CODES if not r["value"]], ids=lambda r: r["code"])
def test_digits_alone_are_no_letter_code_but_a_plain_number(row: dict[str, str]) -> None:
    found = parse_quantity(row["code"])
    assert found
    assert (found.value, found.unit) == (float(row["code"]), None)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("-12.03", -12.03, None),
        ("−12.03", -12.03, None),
        ("±15 V", 15, "V"),
        ("+/-15 V", 15, "V"),
        ("0.5 %", 0.5, "%"),
        ("4.7 kΩ", 4.7, "kohm"),
        ("4.7kohm", 4.7, "kohm"),
        ("100n", 1e-7, "F"),
        ("100 nF", 100, "nF"),
        ("10 µF", 10, "uF"),
        ("10μF", 1e-5, "F"),
        ("2R2", 2.2, "ohm"),
        ("R47", 0.47, "ohm"),
        ("4k7", 4700, "ohm"),
        ("1M", 1e6, "ohm"),
        ("1.5e3 Hz", 1500, "Hz"),
        ("3 cents", 3, "cents"),
        (".5", 0.5, None),
    ],
)
def test_trade_notation(text: str, value: float, unit: str | None) -> None:
    found = parse_quantity(text)
    assert found
    assert (found.value, found.unit) == (pytest.approx(value, rel=1e-12), unit)
    assert found.text == text


@pytest.mark.parametrize(
    "text", ["", " ", "V", "four", "1,234.5", "4k7k", "1 2", "1e999", "nan", "inf", "--1", "1V2", "0x10", "1" * 50]
)
def test_what_is_no_number_is_none(text: str) -> None:
    assert parse_quantity(text) is None


def test_a_decimal_comma_is_read_where_the_file_has_it() -> None:
    found = parse_quantity("9,980 V", decimal_comma=True)
    assert found
    assert (found.value, found.decimals) == (9.98, 3)
    assert parse_quantity("9.980", decimal_comma=True) is None


@pytest.mark.parametrize(("text", "decimals"), [("10.000", 3), ("10", 0), ("4k70", -1), ("4.82e3", -1), ("1.5", 1)])
def test_the_decimals_are_those_written(text: str, decimals: int) -> None:
    found = parse_quantity(text)
    assert found
    assert found.decimals == decimals


IN_RANGE = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e15, max_value=1e15).filter(in_range)


@given(IN_RANGE, st.sampled_from([None, *UNITS]))
def test_a_quantity_that_was_written_is_read_back(value: float, unit: str | None) -> None:
    found = parse_quantity(format_quantity(value, unit))
    assert found
    assert (found.value, found.unit) == (value, unit)


@given(st.text(max_size=60))
def test_no_text_breaks_it(text: str) -> None:
    found = parse_quantity(text)
    assert found is None or math.isfinite(found.value)


@given(st.floats(min_value=1e-6, max_value=1e6), st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_converting_there_and_back_changes_nothing(value: float, one: str, other: str) -> None:
    if UNITS[one][0] != UNITS[other][0]:
        with pytest.raises(ValueError, match="different quantities"):
            convert(value, one, other)
    else:
        assert convert(convert(value, one, other), other, one) == pytest.approx(value, rel=1e-12)


def test_every_other_spelling_leads_to_a_unit() -> None:
    assert [s for s in SPELLINGS if canonical_unit(s) not in UNITS] == []


@pytest.mark.parametrize(
    ("text", "bound", "number"),
    [
        ("<= 0.3 ohm", "most", "0.3 ohm"),
        ("≤0.3", "most", "0.3"),
        ("< 3.5 mA", "most", "3.5 mA"),
        ("max. 0.3 ohm", "most", "0.3 ohm"),
        ("at most 0.3", "most", "0.3"),
        (">= 1 Mohm", "least", "1 Mohm"),
        ("> 200", "least", "200"),
        ("min 1M", "least", "1M"),
        ("0.3 ohm", "", "0.3 ohm"),
        ("±15 V", "", "±15 V"),
        ("minus 3", "", "minus 3"),
        ("<", "", "<"),
    ],
)
def test_a_bound_is_split_from_its_number(text: str, bound: str, number: str) -> None:
    assert split_bound(text) == (bound, number)


@pytest.mark.parametrize("text", ["1e20", "-1e308", "1e16 V", "1e-19", "123456789012345678", "2e400"])
def test_a_number_that_nothing_can_measure_is_none(text: str) -> None:
    assert parse_quantity(text) is None
    assert is_out_of_range(text)


@pytest.mark.parametrize("text", ["1e15", "-1e-18", "0", "0e99", "4k7", "12.5 V", "1 furlong", "words", "1e20 furlong", ""])
def test_what_is_in_range_or_no_number_is_not_out_of_range(text: str) -> None:
    assert not is_out_of_range(text)
