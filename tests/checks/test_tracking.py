"""Tracking: scale, errors in cents, curvature, and which trim to turn which way."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.quantity import Quantity
from benchrecord.model.table import Cell, Row, Table
from benchrecord.problems import Place
from checks.conftest import Worked

KEYS = "kind: tracking, limit: 3 cents, volts_per_octave: 1"


def table(hz: Callable[[float], float], column: str = "as_left_hz") -> str:
    return f"volts,{column}\n" + "".join(f"{v / 2},{hz(v / 2)!r}\n" for v in range(11))


def by_hand(volts: list[float], hz: list[float], **keys: float) -> CheckFinding:
    """Work out a check whose table was never a file."""
    nowhere = Place("")
    pairs = zip(volts, hz, strict=True)
    rows = tuple(Row(nowhere, {"volts": Cell("", v, nowhere), "as_left_hz": Cell("", f, nowhere)}) for v, f in pairs)
    check = Check("c", "C", "tracking", limit=Quantity(3, "cents", "3 cents"), table=Table("", (), rows), keys=keys)
    return all_kinds()["tracking"].examine(check, Bench(DecisionRule.SIMPLE))


def left(finding: CheckFinding) -> Side:
    assert finding.left
    return finding.left


def number(side: Side, name: str) -> float:
    found = side.results[name].value
    assert isinstance(found, float)
    return found


def test_an_exact_scale_has_no_error(worked: Worked) -> None:
    side = left(worked(KEYS, table(lambda v: 55 * 2**v)))
    assert side.verdict is Verdict.IN
    assert number(side, "volts_per_octave") == pytest.approx(1, abs=1e-12)
    assert number(side, "worst_cents") == pytest.approx(0, abs=1e-9)


def test_too_many_volts_for_an_octave_leave_the_top_flat_and_the_scale_is_to_be_widened(worked: Worked) -> None:
    """At 1.02 V per octave, 5 V make 5/1.02 octaves: 1200 (5/1.02 − 5) = −117.6 cents."""
    finding = worked(KEYS, table(lambda v: 55 * 2 ** (v / 1.02)))
    side = left(finding)
    assert number(side, "volts_per_octave") == pytest.approx(1.02)
    assert number(side, "scale_error_percent") == pytest.approx(2)
    assert number(side, "worst_cents") == pytest.approx(1200 * (5 - 5 / 1.02))
    assert side.worst == "−117.6 cents at 5 V, out of limits"
    assert finding.advice == (
        "Scale first: an octave takes too much voltage and comes out 23.5 cents narrow, so that the pitch runs flat towards the top."
        " Widen the octaves, then set the offset."
    )


def test_too_few_volts_are_the_other_way_round(worked: Worked) -> None:
    advice = worked(KEYS + ", trim: RV3", table(lambda v: 55 * 2 ** (v / 0.99)), more={"trims.csv": "ref\nRV3\n"}).advice
    assert (
        "12.1 cents wide, so that the pitch runs sharp towards the top. Narrow the octaves with RV3, then set the offset"
        in advice
    )


def test_scale_and_bend_together_are_both_told_in_the_order_of_the_work(worked: Worked) -> None:
    """Errors of 6·octaves − 0.6·octaves²: 6 cents an octave at the low end, and −15 at the top of five."""
    advice = worked(KEYS, table(lambda v: 55 * 2 ** (v + (6 * v - 0.6 * v * v) / 1200))).advice
    assert "comes out 6.0 cents wide" in advice
    assert "After that, the top end bends flat, by 15.0 cents" in advice


def test_what_no_trim_takes_away_is_said(worked: Worked) -> None:
    """One reading of eleven is off, in the middle."""
    advice = worked(KEYS, table(lambda v: 55 * 2 ** (v + (5 / 1200 if v == 2.5 else 0)))).advice
    assert "neither the scale nor a bend" in advice


def test_within_limits_there_is_nothing_to_turn(worked: Worked) -> None:
    assert worked(KEYS, table(lambda v: 55 * 2 ** (v / 1.0001))).advice == ""


@settings(deadline=None)
@given(st.floats(0.9, 1.1), st.floats(20, 2000))
def test_turning_as_advised_brings_the_error_down(scale: float, base: float) -> None:
    """To widen the octaves is to lower the volts that one takes; the error at the top shrinks if that was the advice."""
    finding = by_hand([0.0, 1.0, 2.0, 3.0, 4.0], [base * 2 ** (v / scale) for v in (0, 1, 2, 3, 4)])
    if finding.verdict is not Verdict.OUT:
        return
    wanted = 0.999 if "Widen" in finding.advice else 1.001
    after = by_hand([0.0, 1.0, 2.0, 3.0, 4.0], [base * 2 ** (v / (scale * wanted)) for v in (0, 1, 2, 3, 4)])
    assert number(left(after), "worst_cents") < number(left(finding), "worst_cents")


@settings(deadline=None)
@given(
    st.lists(st.integers(-30, 60).map(lambda n: n / 10), min_size=2, max_size=9, unique=True),
    st.floats(0.2, 3),
    st.floats(1, 999),
)
def test_an_exact_scale_of_any_kind_is_in(volts: list[float], scale: float, base: float) -> None:
    finding = by_hand(volts, [base * 2 ** (v / scale) for v in volts], volts_per_octave=scale)
    assert number(left(finding), "worst_cents") == pytest.approx(0, abs=1e-6)
    assert finding.verdict is Verdict.IN


def test_a_bend_at_the_top_is_told_from_the_scale(worked: Worked) -> None:
    """An error of b·octaves² cents has the curvature b."""
    finding = worked(KEYS, table(lambda v: 55 * 2 ** (v - 0.8 * v * v / 1200)))
    assert number(left(finding), "curvature_cents_per_octave2") == pytest.approx(-0.8)
    assert finding.advice.startswith(
        "The scale is right, but the top end bends flat, by 20.0 cents at the last reading: raise it"
    )


def test_errors_count_from_the_reference(worked: Worked) -> None:
    side = left(worked(KEYS + ", reference_volts: 2.5", table(lambda v: 55 * 2 ** (v / 1.01))))
    errors = side.results["errors_cents"].value
    assert isinstance(errors, tuple)
    assert errors[5] == pytest.approx(0, abs=1e-9)
    assert errors[0] == pytest.approx(1200 * (2.5 - 2.5 / 1.01))
    assert errors[0] == pytest.approx(-errors[10])


def test_notes_serve_in_place_of_volts(worked: Worked) -> None:
    rows = "note,as_left_hz\nA2,110\nA3,220\nA4,440\nC5,523.2511306\n"
    side = left(worked(KEYS, rows))
    assert number(side, "worst_cents") == pytest.approx(0, abs=1e-5)


def test_a_linear_instrument_is_worked_out_in_percent(worked: Worked) -> None:
    side = left(worked("kind: tracking, hertz_per_volt: 500, limit: 1 %", "volts,as_left_hz\n1,500\n2,1000\n4,2060\n"))
    assert number(side, "worst_percent") == pytest.approx(3)
    assert side.verdict is Verdict.OUT


def test_two_oscillators_are_held_against_each_other(worked: Worked) -> None:
    """One runs 2 cents per volt sharp of the other: over 5 V they are 10 cents apart at most."""
    twin = "- {id: d, title: Twin, kind: tracking, file: d.csv}\n"
    keys = "- {id: c, title: C, file: c.csv, kind: tracking, tracks_with: d}\n"
    more = {"checks.yml": keys + twin, "measurements/d.csv": table(lambda v: 110 * 2**v)}
    side = left(worked("", table(lambda v: 55 * 2 ** (v + v * 2 / 1200)), more=more))
    assert number(side, "spread_cents") == pytest.approx(10)


def test_one_reading_makes_no_scale_and_says_so(worked: Worked) -> None:
    side = left(worked(KEYS, "volts,as_left_hz\n1,110\n"))
    assert side.verdict is Verdict.NOT_MEASURED
    assert "fewer than two" in side.reason


def test_the_counter_s_uncertainty_can_make_it_too_close_to_call(worked: Worked) -> None:
    """2.99 cents against 3 with a counter that is good to about 0.02 cents at 55 Hz."""
    rows = f"volts,as_left_hz\n0,55\n1,{110 * 2 ** (2.9 / 1200):.3f}\n"
    assert left(worked(KEYS + ", meter: dmm", rows)).verdict is Verdict.TOO_CLOSE
    assert left(worked(KEYS + ", meter: dmm", rows, rule="simple")).verdict is Verdict.IN


def test_the_note_that_is_farthest_off_is_called_by_its_name(worked: Worked) -> None:
    finding = worked(KEYS, "note,as_left_hz\nA2,110\nA3,220\nA4,442\n")
    assert left(finding).worst == "+7.9 cents at A4, out of limits"
    assert finding.table.columns[:2] == ("Note", "Control voltage in V")
    assert [row[0] for row in finding.table.rows] == ["A2", "A3", "A4"]


def test_a_linear_scale_cannot_be_had_from_notes(worked: Worked) -> None:
    finding = worked("kind: tracking, hertz_per_volt: 500", "note,as_left_hz\nA2,110\nA3,220\n")
    assert (finding.left, finding.plain) == (None, "Not measured yet.")


@pytest.mark.parametrize(
    ("keys", "limit", "verdict"),
    [
        ("", "3 cents", Verdict.OUT),
        ("", "0.05 semitones", Verdict.IN),
        ("", "0.5 %", Verdict.IN),  # 8.6 cents
        ("", "0.1 %", Verdict.OUT),  # 1.7 cents
        ("hertz_per_volt: 100, ", "3 cents", Verdict.OUT),  # 0.17 %
        ("hertz_per_volt: 100, ", "5 cents", Verdict.IN),  # 0.29 %
        ("hertz_per_volt: 100, ", "0.3 %", Verdict.IN),
    ],
)
def test_a_limit_in_cents_or_percent_means_the_same_interval(worked: Worked, keys: str, limit: str, verdict: Verdict) -> None:
    """The second reading is 4 cents sharp: 100·(2^(4/1200) − 1) = 0.231 %."""
    sharp = (100 if keys else 110) * 2 ** (1 + 4 / 1200)
    rows = f"volts,as_left_hz\n1,{100 if keys else 110}\n2,{sharp!r}\n"
    assert worked(f"kind: tracking, {keys}limit: {limit}", rows).verdict is verdict


def test_a_limit_in_another_unit_is_a_problem(worked: Worked) -> None:
    worked("kind: tracking, limit: 5 Hz", "volts,as_left_hz\n1,110\n2,220\n", problems=["wrong-unit"])


def test_each_side_is_held_against_the_other_oscillator_s_same_side(worked: Worked) -> None:
    """Both sides of one are the same; its twin was 10 cents off as found and is none as left."""
    keys = "- {id: c, title: C, file: c.csv, kind: tracking, tracks_with: d}\n- {id: d, title: Twin, kind: tracking, file: d.csv}\n"
    own = "volts,as_found_hz,as_left_hz\n0,110,110\n1,220,220\n"
    twin = f"volts,as_found_hz,as_left_hz\n0,110,110\n1,{220 * 2 ** (10 / 1200)!r},220\n"
    finding = worked("", own, more={"checks.yml": keys, "measurements/d.csv": twin})
    assert finding.found
    assert number(finding.found, "spread_cents") == pytest.approx(10)
    assert number(left(finding), "spread_cents") == pytest.approx(0)
    assert "Its interval to Twin wanders by 0.0 cents." in finding.method


def test_without_a_common_voltage_nothing_is_said_of_the_other(worked: Worked) -> None:
    keys = "- {id: c, title: C, file: c.csv, kind: tracking, tracks_with: d}\n- {id: d, title: Twin, kind: tracking, file: d.csv}\n"
    more = {"checks.yml": keys, "measurements/d.csv": "volts,as_left_hz\n7,110\n8,220\n"}
    finding = worked("", "volts,as_left_hz\n0,110\n1,220\n", more=more)
    assert left(finding).results["spread_cents"].reason == "no voltage at which d was read too"
    assert "wanders" not in finding.method


def test_the_severest_reading_is_named_not_the_largest_error(worked: Worked) -> None:
    """At 50 Hz the counter is good to 0.4 cents, at 1600 Hz to 0.05: 2.8 cents are too close to call, 2.9 are in."""
    rows = f"volts,as_left_hz\n0,{50 * 2 ** (2.8 / 1200):.4f}\n4,800\n5,{1600 * 2 ** (2.9 / 1200):.4f}\n"
    keys = "kind: tracking, limit: 3 cents, reference_volts: 4, meter: dmm"
    finding = worked(keys, rows)
    assert finding.verdict is Verdict.TOO_CLOSE
    assert left(finding).worst == "+2.8 cents at 0 V, too close to call"


def test_a_voltage_read_twice_has_two_lines(worked: Worked) -> None:
    finding = worked(KEYS, "volts,as_left_hz\n0,110\n1,220\n1,220.1\n2,440\n")
    assert [row[0] for row in finding.table.rows] == [Value(v, decimals=0) for v in (0.0, 1.0, 1.0, 2.0)]
    assert all_kinds()["tracking"].chart(finding)


def test_the_sentences_of_a_check(worked: Worked) -> None:
    rows = "volts,as_found_hz,as_left_hz\n0,110.00,110.00\n1,222.00,220.05\n"
    finding = worked(KEYS + ", meter: dmm", rows)
    assert finding.plain == "As left, no note is more than 0.4 cents out of tune; as found it was 15.7 cents."
    assert finding.method == (
        "Meter: Bench multimeter, calibrated 3 November 2025; the limits are guarded by the expanded uncertainty (k = 2)."
        " Least-squares scale 0.9997 V/octave."
    )
    assert worked(KEYS, "volts,as_found_hz\n0,110\n1,222\n").plain == (
        "As found, no note is more than 15.7 cents out of tune; it is not measured as left yet."
    )
    assert worked(KEYS, "volts,as_left_hz\n1,110\n").plain == "Not worked out: fewer than two readings at different voltages."
    assert worked(KEYS, "volts,as_left_hz\n1,\n").plain == "Not measured yet."


def test_without_a_limit_the_farthest_note_is_named_and_not_judged(worked: Worked) -> None:
    finding = worked("kind: tracking", "volts,as_left_hz\n0,110\n1,222\n")
    assert (left(finding).verdict, left(finding).worst, finding.advice) == (Verdict.INFORMATION, "+15.7 cents at 1 V", "")


@pytest.mark.parametrize(
    ("hz", "said"),
    [
        (lambda v: 515 * v, "The scale brings 3.0 % too much frequency for a volt: lower it with RV3 at the top."),
        (lambda v: 490 * v, "The scale brings 2.0 % too little frequency for a volt: raise it with RV3 at the top."),
        (lambda v: 500 * v + 10, "An offset leaves the low end 2.0 % sharp: lower it with the offset at the lowest reading."),
        (lambda v: 500 * v - 10, "An offset leaves the low end 2.0 % flat: raise it with the offset at the lowest reading."),
        (lambda v: 515 * v - 10, "3.0 % too much"),
        (lambda v: 515 * v - 10, "Each moves the other"),
        (lambda v: 500 * v * (1.03 if v == 4 else 1), "no trim takes them away"),
    ],
)
def test_a_linear_scale_and_its_offset_are_told_apart(worked: Worked, hz: Callable[[float], float], said: str) -> None:
    """f = scale·V + offset: 10 Hz are 2 % of 500 Hz at one volt, and less above."""
    rows = "volts,as_left_hz\n" + "".join(f"{v},{hz(v)!r}\n" for v in (1, 2, 4, 6, 8))
    keys = "kind: tracking, hertz_per_volt: 500, limit: 0.5 %, trim: RV3"
    assert said in worked(keys, rows, more={"trims.csv": "ref\nRV3\n"}).advice
