"""Warm-up: when a value has settled, how it drifts, and what is said of both."""

from __future__ import annotations

import pytest

from benchrecord.checks import all_kinds
from benchrecord.model.findings import CheckFinding, Side, Verdict
from checks.conftest import Worked

VOLTS = "kind: warm-up, unit: V, limit: 0.01 V"
RISING = "minutes,as_found,as_left\n" + "".join(
    f"{5 * n},{10 + 0.02 * n:.3f},{10 - 0.2 * 0.5**n:.3f}\n" for n in range(13)
)  # as found it climbs on and on; as left every five minutes halve what is missing


def left(finding: CheckFinding) -> Side:
    assert finding.left
    return finding.left


def number(side: Side, name: str) -> float:
    found = side.results[name].value
    assert isinstance(found, float)
    return found


def test_it_settles_at_the_first_reading_that_stays_within_the_limit(worked: Worked) -> None:
    """0.2·0.5^n is within 0.01 of its end from the fifth halving on: minute 25."""
    finding = worked(VOLTS, RISING)
    assert number(left(finding), "settling_minutes") == 25
    assert left(finding).results["settling_minutes"].uncertainty == 5
    assert left(finding).verdict is Verdict.IN


def test_what_climbs_to_the_end_has_not_settled_and_drifts(worked: Worked) -> None:
    """0.02 V in five minutes are 0.24 V in an hour."""
    finding = worked(VOLTS, RISING)
    assert finding.found
    assert finding.found.verdict is Verdict.OUT
    assert finding.found.results["settling_minutes"].reason == "it had not settled when the readings ended after 60 minutes"
    assert number(finding.found, "drift_per_hour") == pytest.approx(0.24)
    assert finding.found.worst == "−0.080 V from its last value at minute 40, out of limits"


def test_the_sentences_of_a_check(worked: Worked) -> None:
    finding = worked(VOLTS + ", meter: dmm", RISING)
    assert finding.plain == (
        "As left, it stays within 0.01 V of its last value from minute 25 on;"
        " as found it had not settled when the readings ended after 60 minutes."
    )
    assert finding.basis.startswith("It settled between minute 20 and minute 25: nobody looked in between.")
    assert "through 5 readings from minute 40 on" in finding.basis
    assert "A departure has the uncertainty of two readings of the meter, 0.013 V." in finding.basis
    assert finding.advice == ""
    only_found = worked(
        VOLTS, RISING.replace("as_left", "note").replace(",note", ",as_left").replace("as_found,as_left", "as_left,as_found")
    )
    assert only_found.found


def test_what_does_not_settle_is_to_be_watched_on(worked: Worked) -> None:
    rows = "minutes,as_found\n" + "".join(f"{5 * n},{10 + 0.02 * n:.3f}\n" for n in range(13))
    finding = worked(VOLTS, rows)
    assert finding.plain == "As found, it had not settled when the readings ended after 60 minutes."
    assert finding.advice.startswith("It still moves")


def test_frequencies_settle_within_cents(worked: Worked) -> None:
    """Five cents below 440 Hz at first, then one."""
    rows = "minutes,as_left\n0,438.731\n10,439.746\n20,440.000\n30,440.000\n"
    side = left(worked("kind: warm-up, unit: Hz, limit: 3 cents", rows))
    assert number(side, "settling_minutes") == 10
    assert side.results["largest_departure"].unit == "cents"
    assert side.results["drift_per_hour"].unit == "Hz/h"


def test_a_limit_in_percent_is_one_of_the_last_value(worked: Worked) -> None:
    rows = "minutes,as_left\n0,9.8\n10,9.95\n20,10.0\n30,10.0\n"
    assert number(left(worked("kind: warm-up, unit: V, limit: 1 %", rows)), "settling_minutes") == 10


def test_units_may_stand_in_the_cells(worked: Worked) -> None:
    rows = "minutes,as_left\n0,9900 mV\n10,10.00 V\n20,10.00 V\n"  # two readings are no third: the last two must be at rest
    side = left(worked("kind: warm-up, unit: V, limit: 50 mV", rows))
    assert number(side, "settling_minutes") == 10
    assert side.results["largest_departure"].value == 0
    assert side.results["drift_per_hour"].reason == "the last third of the time holds a single reading"


def test_a_limit_of_another_quantity_is_a_problem_and_not_used(worked: Worked) -> None:
    finding = worked("kind: warm-up, unit: V, limit: 3 Hz", RISING, problems=["unused-limit"])
    assert finding.verdict is Verdict.INFORMATION
    assert finding.plain == "As left, it drifts by +0.0024 V/h after the warm-up."


def test_without_a_limit_there_is_still_a_drift(worked: Worked) -> None:
    side = left(worked("kind: warm-up, unit: V", RISING))
    assert (side.verdict, side.results["settling_minutes"].reason) == (
        Verdict.INFORMATION,
        "no limit is given to settle within",
    )


def test_the_meter_can_make_it_too_close_to_call(worked: Worked) -> None:
    """9 mV against 10 with a meter that is good to 9 mV at 10 V."""
    rows = "minutes,as_left\n0,9.800\n10,9.991\n20,9.991\n30,10.000\n"
    assert left(worked(VOLTS + ", meter: dmm", rows)).verdict is Verdict.TOO_CLOSE
    assert left(worked(VOLTS + ", meter: dmm", rows, rule="simple")).verdict is Verdict.IN


def test_readings_in_any_order_are_put_into_that_of_time(worked: Worked) -> None:
    finding = worked(VOLTS, "minutes,as_left\n20,10.000\n0,9.800\n30,10.000\n10,9.995\n")
    assert number(left(finding), "settling_minutes") == 10
    assert [row[0].value for row in finding.table.rows if not isinstance(row[0], str)] == [0, 10, 20, 30]


def test_too_little_is_said(worked: Worked) -> None:
    finding = worked(VOLTS, "minutes,as_left\n5,10.0\n")
    assert finding.plain == "Not worked out: a single reading tells nothing of settling."
    assert worked(VOLTS, "minutes,as_left\n5,\n").plain == "Not measured yet."
    assert all_kinds()["warm-up"].chart(worked(VOLTS, "minutes,as_left\n5,\n")) is None
    silent = worked("kind: warm-up, unit: Hz, limit: 3 cents", "minutes,as_left\n0,0\n10,440\n20,440\n")
    assert silent.plain == "Not worked out: a frequency of zero or below has no pitch."


def test_the_chart_shows_both_sides(worked: Worked) -> None:
    chart = all_kinds()["warm-up"].chart(worked(VOLTS, RISING))
    assert chart
    assert "as found and as left" in chart.alt
    assert chart.caption.endswith("In the last third of the time, it drifts by +0.0024 V/h as left.")
