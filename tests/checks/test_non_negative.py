"""Results that cannot be negative: less certain than large, they are bounds and no values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.checks.non_negative import TOO_UNCERTAIN, non_negative, upper_bound
from benchrecord.model.findings import Value

SIZES = st.floats(0.0, 1e9)


@given(SIZES, SIZES)
def test_a_value_is_given_just_where_it_is_larger_than_its_uncertainty(number: float, u: float) -> None:
    value = Value(number, "%", u)
    assert (non_negative(value) == value) is (u <= number)


@pytest.mark.parametrize(
    ("number", "u", "most"),
    [(0.0, 34e6, "34000000 %"), (0.32, 2.2, "2.5 %"), (0.0004, 0.0011, "0.0015 %"), (0.0, 14.0, "14 %")],
)
def test_the_reason_names_the_most_that_it_can_be(number: float, u: float, most: str) -> None:
    assert non_negative(Value(number, "%", u)) == Value(None, "%", reason=f"{TOO_UNCERTAIN}: it is {most} at most")


def test_a_quotient_whose_divisor_may_be_zero_has_no_bound() -> None:
    assert non_negative(Value(1.0, "s", 3.0), bounded=False).reason == TOO_UNCERTAIN


@pytest.mark.parametrize("value", [Value(0.0, "%", 0.0), Value(0.5, "%"), Value(None, "%", 1.0, reason="silent"), Value("x")])
def test_what_is_no_uncertain_number_stays(value: Value) -> None:
    assert non_negative(value) is value
    assert upper_bound(value) is None
