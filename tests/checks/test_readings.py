"""Spot readings: deviation, margin and verdict, with the meter's uncertainty."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import reading_uncertainty
from benchrecord.checks.readings import Limits, _place
from benchrecord.model.findings import SEVEREST_FIRST, CheckFinding, Item, Value, Verdict
from benchrecord.model.job import Check, DecisionRule, Meter, MeterRange
from benchrecord.model.quantity import convert
from benchrecord.model.table import Cell, Row, Table
from benchrecord.problems import Place
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


def test_limits_written_in_another_unit_than_the_row_s_are_brought_to_it(worked: Worked) -> None:
    item = left(worked("kind: readings", HEAD + "a,mV,1 V,0.99 V,1.01 V,,1.02 V\n"))
    assert (item.results["value"].value, item.results["value"].unit) == (1020, "mV")
    assert value(item, "margin") == pytest.approx(-10)


def test_without_a_unit_column_the_unit_is_that_of_the_readings(worked: Worked) -> None:
    item = left(worked("kind: readings", "item,low,as_left\na,14.85 V,15020 mV\n"))
    assert convert(value(item, "margin"), item.results["margin"].unit, "V") == pytest.approx(0.17)
    assert item.verdict is Verdict.IN


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("a,V,0,5 %,1", "a limit in percent needs a nominal value other than zero"),
        ("a,V,,5 %,1", "a limit in percent needs a nominal value other than zero"),
        ("a,Hz,440,5 mV,440", "a limit in mV is none for a reading in Hz"),
    ],
)
def test_a_limit_that_says_nothing_of_a_reading_judges_nothing(worked: Worked, row: str, reason: str) -> None:
    item = left(worked("kind: readings", f"item,unit,nominal,limit,as_left\n{row}\n", problems=None))
    assert item.verdict is Verdict.INFORMATION
    assert item.results["margin"].reason == reason


def test_a_check_s_limit_judges_the_rows_of_its_own_quantity(worked: Worked) -> None:
    finding = worked("kind: readings, limit: 5 mV", "item,unit,as_left\nripple,mV,6\nrate,Hz,50\n", problems=None)
    assert finding.left
    assert [i.verdict for i in finding.left.items] == [Verdict.OUT, Verdict.INFORMATION]


@pytest.mark.parametrize(
    ("nominal", "limit", "shown"),
    [("15", "2 %", (14.7, 15.3, 1)), ("1", "6 mV", (0.994, 1.006, 3)), ("-12.0", "0.25", (-12.25, -11.75, 2))],
)
def test_limits_about_a_nominal_are_shown_in_full(
    worked: Worked, nominal: str, limit: str, shown: tuple[float, float, int]
) -> None:
    low, high = worked("kind: readings", f"item,unit,nominal,limit,as_left\na,V,{nominal},{limit},0\n").table.rows[0][3:5]
    assert isinstance(low, Value)
    assert isinstance(high, Value)
    assert (low.value, high.value, low.decimals) == (pytest.approx(shown[0]), pytest.approx(shown[1]), shown[2])


@pytest.mark.parametrize(
    ("low", "high", "reading", "place"),
    [
        (14.0, 16.0, 15.0, 0.0),
        (14.0, 16.0, 16.0, 1.0),
        (14.0, 16.0, 13.0, -2.0),
        (-16.0, -14.0, -14.5, 0.5),
        (None, 5.0, 0.0, 0.0),
        (None, 5.0, 4.0, 0.8),
        (None, 5.0, 10.0, 2.0),
        (None, 5.0, -100.0, -0.9),  # far inside, and in the band
        (None, -50.0, -60.0, 0.8),  # decibels: more negative is better
        (None, -50.0, -40.0, 1.2),
        (10.0, None, 12.0, -0.8),
        (10.0, None, 5.0, -1.5),
        (-5.0, None, -3.0, -0.6),
        (None, 0.0, -1.0, 0.0),
        (None, 0.0, 0.0, 1.0),
        (None, 0.0, 0.1, 3.0),
        (0.0, 0.0, 0.0, 1.0),
        (0.0, 0.0, -0.1, -3.0),
        (None, None, 1.0, None),
        (1.0, 2.0, None, None),
    ],
)
def test_a_reading_stands_in_the_band_exactly_when_it_is_within_its_limits(
    low: float | None, high: float | None, reading: float | None, place: float | None
) -> None:
    found = _place(reading, Limits(None, low, high))
    assert found == (None if place is None else pytest.approx(place, abs=1e-12))
    if reading is not None and found is not None:
        inside = (low is None or reading >= low) and (high is None or reading <= high)
        assert (abs(found) <= 1) is inside


def test_the_worst_is_worst_by_what_its_limits_leave(worked: Worked) -> None:
    """The first has used half of ±10 mV, the second a tenth of ±10 mV; the volts of the readings have no say."""
    finding = worked("kind: readings", HEAD + "a,V,0,-0.01,0.01,,0.005\nb,V,10,9.99,10.01,,10.001\n")
    assert finding.left
    assert finding.left.worst == "a reads 0.005 V, 0.005 V inside its limit"


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        ("10.000", "ref reads 10.000 V, 0.020 V inside its limit"),
        ("10.020", "ref reads 10.020 V, just on its limit, too close to call with an uncertainty of 0.0092 V"),
        ("10.015", "ref reads 10.015 V, 0.005 V inside its limit, too close to call with an uncertainty of 0.0092 V"),
        ("10.025", "ref reads 10.025 V, 0.005 V beyond its limit, too close to call with an uncertainty of 0.0093 V"),
        ("10.050", "ref reads 10.050 V, 0.030 V beyond its limit"),
    ],
)
def test_the_worst_value_in_words(worked: Worked, reading: str, said: str) -> None:
    finding = worked(METERED, HEAD + f"ref,V,10,9.980,10.020,,{reading}\n")
    assert finding.left
    assert finding.left.worst == said


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ((",15", ",15", ",15"), "As left, 3 of 3 readings are within limits."),
        (
            ("16,15", "15,15", ",16"),
            "As left, 2 of 3 readings are within limits; of the 2 measured both times, 2 are, and 1 was as found.",
        ),
        ((",15", ",15.1", ",16"), "As left, 1 of 3 readings is within limits and 1 is too close to call."),
        (("15,", "16,", ","), "As found, 1 of 2 readings is within limits; none of them is measured as left yet."),
        ((",", ",", ","), "Not measured yet."),
    ],
)
def test_a_client_is_told_how_many_are_within_limits(worked: Worked, readings: tuple[str, ...], said: str) -> None:
    rows = "".join(f"r{n},V,15,14.9,15.1,{r}\n" for n, r in enumerate(readings))
    assert worked(METERED, HEAD + rows).plain == said


def test_readings_without_limits_and_with_one_limit_in_plain_words(worked: Worked) -> None:
    assert (
        worked("kind: readings", HEAD + "a,V,,,,,1\nb,V,,,,,2\n").plain
        == "These readings are for information: there is no limit to hold them against."
    )
    assert worked("kind: readings", HEAD + "a,V,,,3,,1\nb,V,,,,,2\n").plain == "As left, 1 of 1 reading is within limits."


@pytest.mark.parametrize(
    ("keys", "rule", "said"),
    [
        (METERED, "guarded", "the limits are guarded by the expanded uncertainty (k = 2)."),
        (METERED, "simple", "the limits are taken as they stand (simple acceptance)."),
        ("kind: readings", "guarded", "No meter is named, so no uncertainty is known; the limits are taken as they stand."),
    ],
)
def test_a_colleague_is_told_what_the_verdict_rests_on(worked: Worked, keys: str, rule: str, said: str) -> None:
    assert worked(keys, HEAD + "a,V,15,14.9,15.1,,15\n", rule=rule).method.endswith(said)


def test_a_meter_without_a_range_for_the_reading_guards_nothing(worked: Worked) -> None:
    none, some = HEAD + "a,s,15,14.9,15.1,,15\n", HEAD + "a,s,15,14.9,15.1,,15\nb,V,15,14.9,15.1,,15\n"
    assert "it has no range for these readings, so that no uncertainty is known" in worked(METERED, none).method
    assert worked(METERED, some).method.endswith("(k = 2), where the meter has a range for the reading.")


def test_where_there_is_no_limit_nothing_is_said_of_one(worked: Worked) -> None:
    assert worked(METERED, HEAD + "a,V,,,,,15\n").method == "Meter: Bench multimeter, calibrated 3 November 2025."


def test_a_chart_s_words_name_what_is_shown(worked: Worked) -> None:
    chart = all_kinds()["readings"].chart
    one = chart(worked("kind: readings", HEAD + "a,V,5,4.9,5.1,,5.0\n"))
    assert one
    assert one.alt.startswith("C: 1 reading as left. A reads 5.0 V as left.")
    assert one.caption.endswith(
        "Nearest to its limit as left: a reads 5.0 V, 0.1 V inside its limit. Each reading stands on the scale of its own limits."
    )
    out = chart(worked("kind: readings", HEAD + "a,V,5,4.9,5.1,6.0,\nb,V,5,4.9,5.1,5.0,\n"))
    assert out
    assert "Farthest out as found: a reads 6.0 V, 0.9 V beyond its limit." in out.caption


def by_hand(reading: float, low: float | None, high: float | None, *, u_percent: float = 0.0, rule: str = "guarded") -> Verdict:
    """Judge a reading in volts with a meter that is good to so many percent of it."""
    nowhere = Place("")
    cells = {"item": Cell("a", "a", nowhere), "unit": Cell("V", "V", nowhere), "as_left": Cell("", reading, nowhere)}
    cells |= {name: Cell("", v, nowhere) for name, v in (("low", low), ("high", high)) if v is not None}
    meter = Meter("m", "M", ranges=(MeterRange("V", 1e6, reading_percent=u_percent),))
    check = Check("c", "C", "readings", meter="m", table=Table("", (), (Row(nowhere, cells),)))
    return all_kinds()["readings"].examine(check, Bench(DecisionRule(rule), {"m": meter})).verdict


LIMIT = st.none() | st.floats(-1e3, 1e3)
PERCENT = st.floats(0, 20)


@settings(deadline=None)
@given(st.floats(-1e3, 1e3), LIMIT, LIMIT, PERCENT, PERCENT)
def test_a_worse_meter_never_improves_a_verdict(
    reading: float, low: float | None, high: float | None, percent: float, more: float
) -> None:
    """What was in may become too close, and what was too close stays so; what was out may become too close, never in."""
    sharp, blunt = (by_hand(reading, low, high, u_percent=p) for p in (percent, percent + more))
    assert blunt in (sharp, Verdict.TOO_CLOSE)
    assert SEVEREST_FIRST.index(blunt) <= SEVEREST_FIRST.index(sharp) or sharp is Verdict.OUT


@settings(deadline=None)
@given(st.floats(-1e3, 1e3), LIMIT, LIMIT, PERCENT)
def test_the_simple_rule_takes_limits_as_they_stand(
    reading: float, low: float | None, high: float | None, percent: float
) -> None:
    inside = (low is None or reading >= low) and (high is None or reading <= high)
    expected = Verdict.INFORMATION if low is None and high is None else Verdict.IN if inside else Verdict.OUT
    near = min((abs(reading - x) for x in (low, high) if x is not None), default=1.0) < 1e-9
    assert near or by_hand(reading, low, high, u_percent=percent, rule="simple") is expected


def test_two_ranges_of_one_size_are_no_trouble() -> None:
    meter = Meter("m", "M", ranges=(MeterRange("V", 20, 0.05, 3, 0.001), MeterRange("V", 20, 0.5, 3, 0.001)))
    check = Check("c", "C", "readings", meter="m")
    assert reading_uncertainty(check, Bench(DecisionRule.SIMPLE, {"m": meter}), 10, "V") == pytest.approx(
        2 * (0.005 + 0.003) / math.sqrt(3)
    )


def test_a_reading_beyond_every_range_has_no_uncertainty(worked: Worked) -> None:
    item = left(worked(METERED, HEAD + "mains,V,,,,,230\n"))
    assert item.results["expanded_uncertainty"].reason == "no range of a meter is given for this reading"


def test_the_table_shows_the_limits_and_both_verdicts(worked: Worked) -> None:
    table = worked(METERED, HEAD + "a,V,5,4.9,5.1,6.0,5.0\n").table
    assert len(set(table.columns)) == len(table.columns)
    row = dict(zip(table.columns, table.rows[0], strict=True))
    assert (row["Verdict as found"], row["Verdict as left"]) == ("out", "in")


def test_a_limit_that_nothing_could_be_held_against_is_told_of_once(worked: Worked) -> None:
    finding = worked("kind: readings, limit: 3 cents", "item,unit,as_left\na,V,1\nb,V,2\n", problems=None)
    assert finding.method == "No meter is named, so no uncertainty is known. A limit in cents is none for a reading in V."


def test_nothing_measured_is_no_chart(worked: Worked) -> None:
    assert all_kinds()["readings"].chart(worked("kind: readings", HEAD + "a,V,5,4.9,5.1,,\n")) is None
    assert all_kinds()["components"].chart(worked("kind: components", "ref,marked,tolerance,as_found\nR1,1k,5 %,\n")) is None


@pytest.mark.parametrize(("unit", "factor"), [("V", 1.0), ("mV", 1e3), ("uV", 1e6), ("kV", 1e-3)])
@pytest.mark.parametrize(("volts", "verdict"), [(15.0, Verdict.IN), (15.148, Verdict.TOO_CLOSE), (15.3, Verdict.OUT)])
def test_a_verdict_does_not_know_the_prefix(worked: Worked, unit: str, factor: float, volts: float, verdict: Verdict) -> None:
    low, high, read = (repr(x * factor) for x in (14.85, 15.15, volts))
    assert left(worked(METERED, HEAD + f"a,{unit},,{low},{high},,{read}\n")).verdict is verdict


def test_an_item_that_stands_several_times_was_read_several_times(worked: Worked) -> None:
    rows = "".join(f"+10 V,V,9.99,10.02,{v}\n" for v in ("10.01", "10.03", "9.99", "10.02", "10.00"))
    found = worked("kind: readings", "item,unit,low,high,as_left\n" + rows + "5 V,V,4.9,5.1,5.0\n")
    assert found.left
    mean, alone = found.left.items
    assert (mean.results["value"].value, mean.results["readings"].value) == (pytest.approx(10.01), 5)
    assert mean.results["expanded_uncertainty"].value == pytest.approx(
        0.02029, abs=1e-5
    )  # 2.8693 · s/√5, as in the bench's tests
    assert "readings" not in alone.results
    assert [row[0] for row in found.table.rows] == ["+10 V, mean of 5", "5 V"]
    assert "was read 5 times, with a standard deviation of 0.016 V" in found.basis


def test_the_same_words_with_other_limits_are_another_quantity(worked: Worked) -> None:
    found = worked("kind: readings", "item,unit,low,high,as_left\ngain,V,1,2,1.5\ngain,V,3,4,3.5\n")
    assert found.left
    assert [item.verdict for item in found.left.items] == ["in", "in"]
