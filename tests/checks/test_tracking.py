"""Tracking: scale, errors in cents, curvature, and which trim to turn which way."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from benchrecord.model.findings import CheckFinding, Side, Verdict
from checks.conftest import Worked

KEYS = "kind: tracking, limit: 3 cents, volts_per_octave: 1"


def table(hz: Callable[[float], float], column: str = "as_left_hz") -> str:
    return f"volts,{column}\n" + "".join(f"{v / 2},{hz(v / 2)!r}\n" for v in range(11))


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
    assert side.worst == "−117.6 cents at 5 V: out of limits"
    assert "top notes are flat; widen the scale" in finding.advice


def test_too_few_volts_are_the_other_way_round(worked: Worked) -> None:
    advice = worked(KEYS + ", trim: RV3", table(lambda v: 55 * 2 ** (v / 0.99)), more={"trims.csv": "ref\nRV3\n"}).advice
    assert "top notes are sharp; narrow the scale with RV3 before the offset" in advice


def test_a_bend_at_the_top_is_told_from_the_scale(worked: Worked) -> None:
    """An error of b·octaves² cents has the curvature b."""
    finding = worked(KEYS, table(lambda v: 55 * 2 ** (v - 0.8 * v * v / 1200)))
    assert number(left(finding), "curvature_cents_per_octave2") == pytest.approx(-0.8)
    assert "The top end runs flat" in finding.advice


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
