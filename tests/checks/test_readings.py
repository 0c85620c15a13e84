"""Spot readings: deviation, margin and verdict, with the meter's uncertainty."""

from __future__ import annotations

import math

import pytest

from benchrecord.model.findings import CheckFinding, Item, Verdict
from checks.conftest import Worked

HEAD = "item,unit,nominal,low,high,as_found,as_left\n"
METERED = "kind: readings, meter: dmm"


def left(finding: CheckFinding) -> Item:
    assert finding.left
    return finding.left.items[0]


def value(item: Item, name: str) -> float:
    found = item.results[name].value
    assert isinstance(found, float)
    return found


def test_deviation_and_margin(worked: Worked) -> None:
    item = left(worked(METERED, HEAD + "+15 V,V,15,14.85,15.15,,15.02\n"))
    assert value(item, "deviation") == pytest.approx(0.02)
    assert value(item, "deviation_percent") == pytest.approx(100 * 0.02 / 15)
    assert value(item, "margin") == pytest.approx(0.13)
    assert item.verdict is Verdict.IN


def test_the_uncertainty_is_that_of_the_smallest_range_that_reaches_the_reading(worked: Worked) -> None:
    """U = 2 (percent of reading + counts × resolution) / √3: results.md, after JCGM 100:2008, 4.3.7."""
    fine = left(worked(METERED, HEAD + "a,V,15,,,,15.02\n"))
    coarse = left(worked(METERED, HEAD + "a,V,25,,,,25.02\n"))
    assert value(fine, "expanded_uncertainty") == pytest.approx(2 * (0.0005 * 15.02 + 3 * 0.001) / math.sqrt(3))
    assert value(coarse, "expanded_uncertainty") == pytest.approx(2 * (0.0005 * 25.02 + 3 * 0.01) / math.sqrt(3))


def test_a_reading_in_millivolts_uses_a_range_in_volts(worked: Worked) -> None:
    item = left(worked(METERED, HEAD + "a,mV,500,,,,500\n"))
    assert value(item, "expanded_uncertainty") == pytest.approx(1000 * 2 * (0.0005 * 0.5 + 3 * 0.001) / math.sqrt(3))


@pytest.mark.parametrize(("rule", "verdict"), [("simple", Verdict.IN), ("guarded", Verdict.TOO_CLOSE)])
def test_the_decision_rule_decides_close_to_a_limit(worked: Worked, rule: str, verdict: Verdict) -> None:
    finding = worked(METERED, HEAD + "ref,V,10,9.98,10.02,,10.015\n", rule=rule)
    assert left(finding).verdict is verdict


def test_beyond_a_limit_by_more_than_the_uncertainty_is_out_under_both_rules(worked: Worked) -> None:
    for rule in ("simple", "guarded"):
        assert left(worked(METERED, HEAD + "ref,V,10,9.98,10.02,,10.05\n", rule=rule)).verdict is Verdict.OUT


@pytest.mark.parametrize(
    ("limit", "reading", "verdict"),
    [
        ("5 mV", "4", Verdict.IN),
        ("5 mV", "6", Verdict.OUT),
        ("5", "-600", Verdict.IN),  # at most: no lower limit
        ("±5 mV", "-6", Verdict.OUT),
        ("±5 mV", "-4", Verdict.IN),
        ("0.005 V", "6", Verdict.OUT),
    ],
)
def test_a_limit_alone_is_the_most_or_about_zero_where_it_has_both_signs(
    worked: Worked, limit: str, reading: str, verdict: Verdict
) -> None:
    assert left(worked("kind: readings", f"item,unit,limit,as_left\na,mV,{limit},{reading}\n")).verdict is verdict


@pytest.mark.parametrize(("limit", "low", "high"), [("0.1", -12.1, -11.9), ("5 %", -12.6, -11.4), ("100 mV", -12.1, -11.9)])
def test_a_limit_beside_a_nominal_is_about_it(worked: Worked, limit: str, low: float, high: float) -> None:
    finding = worked("kind: readings", f"item,unit,nominal,limit,as_left\na,V,-12,{limit},-12\n")
    cells = [c.value for c in finding.table.rows[0][3:5]]  # type: ignore[union-attr]  # low and high are values
    assert cells == pytest.approx([low, high])


def test_a_check_s_own_limit_counts_for_rows_without_one(worked: Worked) -> None:
    assert left(worked("kind: readings, limit: 3 mV", "item,unit,as_left\na,mV,4\n")).verdict is Verdict.OUT


def test_without_limits_it_is_for_information(worked: Worked) -> None:
    finding = worked("kind: readings", "item,unit,as_left\na,mV,4\n")
    assert left(finding).verdict is Verdict.INFORMATION
    assert "reason" not in finding.plain
    assert left(finding).results["margin"].reason == "no limit is given"


def test_a_job_in_progress_has_no_as_left(worked: Worked) -> None:
    finding = worked("kind: readings", HEAD + "a,V,5,4.9,5.1,4.2,\nb,V,5,4.9,5.1,5.0,\n")
    assert finding.left is None
    assert finding.verdict is Verdict.OUT
    assert finding.plain == "As found, 1 of 2 readings is within limits; none of them is measured as left yet."


def test_a_nominal_of_zero_has_no_deviation_in_percent(worked: Worked) -> None:
    item = left(worked("kind: readings", HEAD + "offset,mV,0,-5,5,,1.1\n"))
    assert item.results["deviation_percent"].value is None
    assert "zero" in item.results["deviation_percent"].reason


def test_the_check_s_verdict_is_its_worst_item_s(worked: Worked) -> None:
    table = HEAD + "a,V,5,4.9,5.1,,5.0\nb,V,5,4.9,5.1,,5.5\nc,V,,,,,1\n"
    assert worked("kind: readings", table).verdict is Verdict.OUT


def test_the_worst_value_is_said_with_its_unit_and_how_far_it_is_from_its_limit(worked: Worked) -> None:
    finding = worked("kind: readings", HEAD + "a,V,5,4.9,5.1,,5.0\nb,V,5,4.9,5.1,,5.52\n")
    assert finding.left
    assert finding.left.worst == "b reads 5.52 V, 0.42 V beyond its limit"


def test_one_item_is_told_by_its_value(worked: Worked) -> None:
    finding = worked("kind: readings", HEAD + "noise out,V,1,0.9,1.1,0.31,1.02\n")
    assert finding.plain == "Noise out reads 1.02 V as left; it was 0.31 V as found."
