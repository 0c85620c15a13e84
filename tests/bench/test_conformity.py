"""Topic 10: conformity. Sources: JCGM 106:2012 clauses 7, 8, 9.5.4 and ILAC-G8, with the class that each row states."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchrecord.bench import conformity as c
from reference.published import checks, rows

CHECKS = checks("10")
CASES = rows("10-conformity.csv")


def number(text: str) -> float | None:
    return float(text) if text else None


def bearings(um: float) -> float:
    """Return the density of run-out of JCGM 106:2012, 9.5.4: gamma(4, scale 1/4)."""
    return float(stats.gamma.pdf(um, 4, scale=0.25))


SINGLE: dict[str, Callable[[], float]] = {
    "r-false": lambda: 1 - c.conformance_probability(0.0, 0.5, None, 1.0),
    **{f"r-{r}": (lambda r=r: c.false_accept_probability(float(r))) for r in ("0", "0.83", "1", "1.5", "3")},  # type: ignore[misc]
    "tur": lambda: c.uncertainty_ratio(-0.5, 0.5, 0.12),
    "bb-oot": lambda: c.consumer_risk(bearings, 0.25, 2.0, 1e3),
    "bb-rc": lambda: c.consumer_risk(bearings, 0.25, 2.0, 2.0),
    "bb-al": lambda: c.acceptance_limit_for_risk(bearings, 0.25, 2.0, 0.001),
}


@pytest.mark.parametrize("name", SINGLE)
def test_published(name: str) -> None:
    assert SINGLE[name]() == pytest.approx(float(CHECKS[name]["value"]), rel=2e-6)


@pytest.mark.parametrize("row", CASES, ids=[r["case"] for r in CASES])
def test_case(row: dict[str, str]) -> None:
    low, high, y, u = number(row["lower_limit"]), number(row["upper_limit"]), float(row["y"]), float(row["U"])
    assert c.verdict(y, u, low, high, rule="simple") == {"pass": "in", "fail": "out"}[row["simple_acceptance"]]
    guarded = c.verdict(y, u, low, high, rule="guarded")
    assert (guarded == "in") is (row["binary_guard_band"] == "pass")
    assert guarded == {"pass": "in", "fail": "out"}.get(row["non_binary"], "too-close")
    assert c.conformance_probability(y, float(row["u"]), low, high) == pytest.approx(
        float(row["conformance_probability"]), abs=1e-9
    )
    wanted = number(row["acceptance_lower_w_equals_U"]), number(row["acceptance_upper_w_equals_U"])
    for got, limit in zip(c.acceptance_limits(low, high, u), wanted, strict=True):
        assert got == (None if limit is None else pytest.approx(limit))
    if row["printed_value"]:
        assert c.conformance_probability(y, float(row["u"]), low, high) == pytest.approx(float(row["printed_value"]), abs=0.005)


LIMIT = st.none() | st.floats(-1e3, 1e3)
UNSURE = st.floats(0, 100)


@given(st.floats(-1e3, 1e3), LIMIT, LIMIT, UNSURE, UNSURE)
def test_more_uncertainty_never_decides(value: float, low: float | None, high: float | None, u: float, more: float) -> None:
    before, after = (c.verdict(value, x, low, high, rule="guarded") for x in (u, u + more))
    assert after in {before, "too-close"}


@given(st.floats(-1e3, 1e3), LIMIT, LIMIT, UNSURE)
def test_the_simple_rule_does_not_ask_for_the_uncertainty(
    value: float, low: float | None, high: float | None, u: float
) -> None:
    plain = c.verdict(value, None, low, high, rule="simple")
    assert plain == c.verdict(value, u, low, high, rule="simple") == c.verdict(value, None, low, high, rule="guarded")
    assert (plain == "information") is (low is None and high is None)


def test_margin_is_to_the_nearer_limit() -> None:
    assert c.margin(3.0, 1.0, 4.0) == 1.0
    assert c.margin(5.0, 1.0, 4.0) == -1.0
    assert c.margin(5.0, 1.0, None) == 4.0
    assert c.margin(5.0, None, None) is None


def test_a_reading_on_paper_at_the_guard_is_not_lost_to_binary_fractions() -> None:
    assert c.verdict(0.1 + 0.2, None, None, 0.3, rule="simple") == "in"
    assert c.verdict(10.62, 0.12, 9.5, 10.5, rule="guarded") == "too-close"


@pytest.mark.parametrize(("u", "rule"), [(0.1, "lenient"), (-0.1, "guarded")])
def test_misuse_is_refused(u: float, rule: str) -> None:
    with pytest.raises(ValueError, match=r"rule|below zero"):
        c.verdict(1.0, u, 0.0, 2.0, rule=rule)


def test_every_check_of_the_topic_is_used_somewhere() -> None:
    elsewhere = ("h1-", "h2-", "h3-", "div-", "dmm", "typea", "ws")  # test_uncertainty.py, test_fits.py
    assert {i for i in CHECKS if not i.startswith(elsewhere)} == SINGLE.keys()
