"""How a number is shown: no more digits than its uncertainty, or the reading itself, supports."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.model.findings import Value
from benchrecord.model.numbers import decimals_for, roughly, rounded, shown


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Value(15.02, "V", 0.012, 2), "15.02 V"),
        (Value(15.0234567, "V", 0.012), "15.023 V"),
        (Value(15.02, "V", 0.0012, 2), "15.02 V"),
        (Value(-12.0, "V", None, 2), "−12.00 V"),
        (Value(4700.0, "ohm", None, -2), "4.7 kΩ"),
        (Value(4820.0, "ohm", None, -1), "4.82 kΩ"),
        (Value(1.61e-3, "F", None, 6), "1610 µF"),
        (Value(2.2e-10, "F", None, 11), "220 pF"),
        (Value(1234.5678, "Hz"), "1235 Hz"),
        (Value(0.0, "V", None, 3), "0.000 V"),
        (Value(-0.0001, "V", None, 2), "0.00 V"),
        (Value(None, "V", reason="not measured"), "—"),
        (Value("in"), "in"),
        (Value(3), "3"),
    ],
)
def test_a_result_as_it_stands_on_a_page(value: Value, text: str) -> None:
    assert shown(value) == text


@pytest.mark.parametrize(("uncertainty", "decimals"), [(0.012, 3), (0.12, 2), (1.2, 1), (12, 0), (120, -1)])
def test_an_uncertainty_keeps_two_significant_digits(uncertainty: float, decimals: int) -> None:
    """Source: JCGM 100:2008, 7.2.6."""
    assert decimals_for(uncertainty) == decimals


def test_a_sign_is_shown_where_it_is_asked_for_but_not_before_zero() -> None:
    assert shown(Value(4.6, "cents", None, 1), sign=True) == "+4.6 cents"
    assert shown(Value(0.0, "cents", None, 1), sign=True) == "0.0 cents"


@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_rounding_is_never_off_by_more_than_half_a_digit(value: float, decimals: int) -> None:
    assert float(rounded(value, decimals).replace("−", "-")) == pytest.approx(
        value, abs=0.5000001 * 10**-decimals + math.ulp(value)
    )


@pytest.mark.parametrize(
    ("value", "words"), [(0.0567, "0.057"), (4.16, "4.2"), (90.06, "90"), (221.3, "220"), (12345.0, "12000")]
)
def test_a_rough_number_has_two_digits_and_no_exponent(value: float, words: str) -> None:
    assert roughly(value) == words
