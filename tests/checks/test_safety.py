"""Safety tests: the user's own limits decide, and nothing else; what is not written is never passed."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.bench.temperature import copper_conductor_ohm
from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.checks.safety import _place
from benchrecord.checks.safety_limits import (
    AGAINST_NATURE,
    NO_LIMIT,
    NO_UNIT,
    NOTHING_FAILS,
    TWICE,
    WHICH,
    Allowed,
    allowed,
    usual_side,
)
from benchrecord.model.findings import CheckFinding, Item, Verdict
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.quantity import Quantity
from benchrecord.model.table import Cell, Row, Table
from benchrecord.problems import Place
from checks.conftest import METER, Worked
from reference.published import checks, rows

KIND = all_kinds()["safety"]
HEAD = "test,unit,limit,as_found,as_left\n"
TESTS = HEAD + "protective conductor,ohm,0.3,0.42,0.11\ninsulation,Mohm,1,55,> 200\ntouch current,mA,0.5,0.04,0.03\n"
METERED = f"{METER}      - {{unit: ohm, up_to: 20, reading_percent: 1, counts: 2, resolution: 0.01}}\n"
AT = Place("c.csv")


def row(**cells: str | float) -> Row:
    """Make a row as it is read: numbers in the unit of the row, a limit with its bound before it."""
    read = {}
    for name, value in cells.items():
        bound, _, rest = str(value).partition(" ") if str(value)[:1] in "<>" else ("", "", value)
        read[name] = Cell(
            str(value),
            float(rest) if name not in ("test", "unit") else rest,
            AT,
            bound={"<": "most", ">": "least"}.get(bound, ""),
        )
    return Row(AT, read)


def left(finding: CheckFinding, n: int = 0) -> Item:
    assert finding.left
    return finding.left.items[n]


def test_each_test_keeps_to_its_own_limit(worked: Worked) -> None:
    finding = worked("kind: safety, equipment: appliance tester, frequency_hz: 50", TESTS)
    assert finding.found
    assert finding.left
    assert [i.verdict for i in finding.found.items] == [Verdict.OUT, Verdict.IN, Verdict.IN]
    assert [i.verdict for i in finding.left.items] == [Verdict.IN] * 3
    assert [left(finding, n).results["margin"].value for n in range(3)] == pytest.approx([0.19, 199, 0.47])
    assert finding.plain == "As left, 3 of 3 tests are within limits; as found it was 2 of 3."
    assert "Test equipment: appliance tester. At 50 Hz." in finding.method
    assert finding.table.rows[1][1] == "at least 1 MΩ"
    assert finding.table.rows[1][4] == "more than 200 MΩ"
    assert finding.alarm == ""


def test_a_fail_is_an_alarm(worked: Worked) -> None:
    finding = worked("kind: safety", HEAD + "protective conductor,ohm,0.3,0.1,0.42\n")
    assert finding.verdict is Verdict.OUT
    assert finding.alarm == (
        "1 safety test out of the limits that were set: protective conductor reads 0.42 Ω."
        " Keep the instrument unplugged until the cause is found and the tests are made again."
    )
    assert left(finding).results["margin"].value == pytest.approx(-0.12)


def test_what_failed_as_found_stays_an_alarm_until_it_is_measured_again(worked: Worked) -> None:
    table = HEAD + "protective conductor,ohm,0.3,0.42,\ninsulation,Mohm,1,55,60\n"
    assert "protective conductor reads 0.42 Ω" in worked("kind: safety", table).alarm
    assert "nothing has been measured since" in worked("kind: safety", HEAD + "touch current,mA,0.5,0.6,\n").alarm


def test_without_a_limit_there_is_no_verdict_and_a_word_on_what_to_write(worked: Worked) -> None:
    finding = worked("kind: safety", HEAD + "touch current,mA,,0.04,0.03\n")
    assert left(finding).verdict is Verdict.INFORMATION
    assert left(finding).results["margin"].reason == NO_LIMIT
    assert "without one a test is not judged" in finding.advice
    assert KIND.chart(finding) is None


def test_a_check_s_own_limit_counts_for_tests_of_its_quantity(worked: Worked) -> None:
    finding = worked("kind: safety, limit: 0.5 mA", HEAD + "touch current,mA,,,0.6\ninsulation,Mohm,,,60\n")
    assert [left(finding, n).verdict for n in (0, 1)] == [Verdict.OUT, Verdict.INFORMATION]


@pytest.mark.parametrize(
    ("test", "limit", "unit", "side"),
    [
        ("protective conductor", 0.3, "ohm", "most"),
        ("earth continuity", 200, "mohm", "most"),
        ("bonding of the panel", 0.1, "ohm", "most"),
        ("insulation", 1, "Mohm", "least"),
        ("isolation of the primary", 500, "kohm", "least"),
        ("insulation, mains to earth", 1, "Mohm", "least"),
        ("conductor through the insulated bush", 0.3, "ohm", "most"),
        ("earth leakage", 3.5, "mA", "most"),
        ("touch current", 250, "uA", "most"),
        ("insulation, mains to earth", 100, "ohm", ""),  # neither as small as a conductor nor as large as an insulation
        ("insulation", 0.3, "ohm", ""),  # its name and its size disagree
        ("protective conductor", 1, "Mohm", ""),
        ("panel to plug", 0.3, "ohm", ""),
        ("touch voltage", 50, "V", ""),
    ],
)
def test_which_side_a_bare_limit_bounds(test: str, limit: float, unit: str, side: str) -> None:
    assert usual_side(test, limit, unit) == side


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"limit": 50.0, "unit": "V"}, WHICH),
        ({"limit": 0.3, "unit": "ohm", "test": "panel to plug"}, WHICH),
        ({"limit": 0.3, "unit": "ohm", "test": "insulation"}, WHICH),
        ({"limit": 0.5, "high": 0.5, "unit": "mA"}, TWICE),
        ({"limit": "> 0.5", "unit": "mA"}, AGAINST_NATURE["most"]),
        ({"limit": "< 1", "unit": "Mohm", "test": "insulation"}, AGAINST_NATURE["least"]),
        ({"high": 1.0, "unit": "Mohm", "test": "insulation"}, AGAINST_NATURE["least"]),
        ({"limit": "> 0", "unit": "Mohm", "test": "insulation"}, NOTHING_FAILS),
        ({"low": -5.0, "unit": "V"}, NOTHING_FAILS),
        ({"limit": -0.5, "unit": "mA"}, "a most below zero is no limit"),
        ({"low": 2.0, "high": 1.0, "unit": "V"}, "its low limit lies above its high one"),
        ({}, NO_LIMIT),
    ],
)
def test_a_limit_that_can_be_taken_in_two_ways_is_refused_with_a_sentence(cells: dict[str, str | float], said: str) -> None:
    own = allowed(row(**{"test": "touch", **cells}), Check("c", "C", "safety"))
    assert (own.low, own.high, own.none, own.words) == (None, None, said, "no limit")


@pytest.mark.parametrize(
    "line", [r for r in rows("11-safety-limits.csv") if r["unit"]], ids=lambda r: f"{r['standard']} {r['quantity']}"
)
def test_a_bare_limit_bounds_the_side_that_published_ones_do(line: dict[str, str]) -> None:
    """Topic 11: limits of standards for tests after repair (classes source and memory, as each row says). None of them is the program's own."""
    unit, _, _ = line["unit"].partition(" ")
    wanted = "least" if line["unit"].endswith("min") else "most"
    number = line["limit"].lstrip("+").split()[0]
    assert usual_side(line["quantity"].split(",")[0], float(number), unit) == wanted


def test_a_published_conductor_passes_a_published_limit(worked: Worked) -> None:
    """Topic 11, class derived: 5 m of copper of 1.5 mm² have 0.0575 Ω (IEC 60028); up to 5 m 0.3 Ω are allowed there."""
    ohm = copper_conductor_ohm(5.0, 1.5)
    assert ohm == pytest.approx(float(checks("11")["pe-cable"]["value"]), rel=1e-8)
    limit = checks("11")["pe-5"]["value"]
    finding = worked("kind: safety", HEAD + f"protective conductor,ohm,{limit},,{ohm:.4f}\n")
    assert left(finding).verdict is Verdict.IN


def test_a_refused_limit_is_told_of(worked: Worked) -> None:
    finding = worked("kind: safety", HEAD + "touch voltage,V,50,,12\n")
    assert left(finding).verdict is Verdict.INFORMATION
    assert f"Not judged, touch voltage: {WHICH}." in finding.method


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("touch voltage,V,<= 50,,12", "at most 50 V"),
        ("insulation,Mohm,500 kohm,,12", "at least 0.5 MΩ"),
        ("insulation,Mohm,>= 1,,12", "at least 1 MΩ"),
        ("leakage,mA,±0.5,,-0.2", "at most 0.5 mA"),
        ("panel to plug,ohm,max 0.2 ohm,,0.1", "at most 0.2 Ω"),
    ],
)
def test_a_limit_is_said_in_words(worked: Worked, cells: str, words: str) -> None:
    finding = worked("kind: safety", HEAD + cells + "\n")
    assert finding.table.rows[0][1] == words
    assert left(finding).verdict is Verdict.IN


@pytest.mark.parametrize(
    ("limit", "why"), [("0.5 V", "a limit in V is none for a reading in mA"), ("5 %", "a limit in % is none")]
)
def test_a_limit_of_another_quantity_judges_nothing(worked: Worked, limit: str, why: str) -> None:
    finding = worked("kind: safety", HEAD + f"leakage,mA,{limit},,0.2\n", problems=None)
    assert left(finding).verdict is Verdict.INFORMATION
    assert why in left(finding).results["margin"].reason


def test_a_reading_without_a_unit_is_not_held_against_a_limit_with_one(worked: Worked) -> None:
    finding = worked("kind: safety", "test,limit,as_left\nleakage,500 uA,0.2\n")
    assert left(finding).verdict is Verdict.INFORMATION
    assert left(finding).results["margin"].reason == NO_UNIT


@pytest.mark.parametrize(
    ("cells", "verdict"),
    [
        ("leakage,mA,0.5,,-0.6", Verdict.OUT),  # the size of a current counts, whichever way it flows
        ("insulation,Mohm,1,,-5", Verdict.OUT),
        ("insulation,Mohm,1,,> 200", Verdict.IN),
        ("insulation,Mohm,500,,> 200", Verdict.TOO_CLOSE),  # the range ends below the limit
        ("insulation,Mohm,1,,< 0.5", Verdict.OUT),
        ("insulation,Mohm,1,,< 2", Verdict.TOO_CLOSE),
        ("leakage,mA,0.5,,< 0.01", Verdict.IN),
        ("leakage,mA,0.5,,< 1", Verdict.TOO_CLOSE),
        ("leakage,mA,0.5,,> 10", Verdict.OUT),
        ("leakage,mA,0.5,,> 0.1", Verdict.TOO_CLOSE),
    ],
)
def test_readings_beyond_the_range_of_a_meter_pass_only_where_nothing_is_left_open(
    worked: Worked, cells: str, verdict: Verdict
) -> None:
    finding = worked("kind: safety", HEAD + cells + "\n")
    assert left(finding).verdict is verdict
    assert ("measure again" in finding.advice) is (verdict is Verdict.TOO_CLOSE)


def test_low_and_high_are_the_limits_themselves(worked: Worked) -> None:
    finding = worked("kind: safety", "test,unit,low,high,as_left\nheater voltage,V,6.0,6.6,6.9\n")
    assert left(finding).verdict is Verdict.OUT
    assert finding.table.rows[0][1] == "6.0 V to 6.6 V"


def test_the_meter_guards_the_limit(worked: Worked) -> None:
    """U = 2 (percent of reading + counts × resolution)/√3, results.md after JCGM 100:2008, 4.3.7."""
    more = {"job.yml": f"title: T\ndecision_rule: guarded\n{METERED}"}
    finding = worked("kind: safety, meter: dmm", HEAD + "protective conductor,ohm,0.3,,0.29\n", more=more)
    u = left(finding).results["expanded_uncertainty"].value
    assert u == pytest.approx(2 * (0.01 * 0.29 + 2 * 0.01) / 3**0.5)
    assert left(finding).verdict is Verdict.TOO_CLOSE
    assert "for protective conductor it is 0.026 Ω" in finding.basis
    assert finding.left
    assert finding.left.worst == "protective conductor reads 0.29 Ω where at most 0.3 Ω is allowed, too close to call"


def test_a_chart_says_what_it_shows_and_how_many_tests(worked: Worked) -> None:
    drawn = KIND.chart(worked("kind: safety", TESTS))
    assert drawn
    assert "3 tests as found and as left" in drawn.alt
    assert "nothing has" not in drawn.caption


@pytest.mark.parametrize(
    ("size", "own", "at"),
    [
        (0.0, Allowed(high=0.5), 0.0),
        (0.5, Allowed(high=0.5), 1.0),
        (0.75, Allowed(high=0.5), 1.5),
        (1.0, Allowed(low=1.0), -1.0),
        (200.0, Allowed(low=1.0), -0.005),
        (0.5, Allowed(low=1.0), -2.0),
        (0.0, Allowed(low=1.0), -3.0),
        (6.9, Allowed(low=6.0, high=6.6), 2.0),
        (None, Allowed(low=6.0, high=6.6), None),
    ],
)
def test_the_farther_inside_the_nearer_the_middle(size: float | None, own: Allowed, at: float | None) -> None:
    assert _place(size, own) == (None if at is None else pytest.approx(at))


def test_a_test_that_is_not_measured_is_counted(worked: Worked) -> None:
    finding = worked("kind: safety", HEAD + "touch current,mA,0.5,,0.03\ninsulation,Mohm,1,,\n")
    assert finding.plain == "As left, 1 of 1 test is within limits. 1 test is not measured."


WORDS = st.sampled_from(
    ["insulation", "protective conductor", "leakage", "panel", "earth bond", "safe distance", "high voltage"]
)
UNITS = st.sampled_from(["ohm", "Mohm", "mA", "uA", "V", "W", ""])
NUMBERS = st.floats(-1e4, 1e4, allow_nan=False)


@settings(max_examples=300)
@given(WORDS, UNITS, NUMBERS, st.sampled_from(["", "<", ">"]), st.sampled_from(list(DecisionRule)))
def test_no_reading_passes_without_a_limit_of_the_user(
    test: str, unit: str, reading: float, bound: str, rule: DecisionRule
) -> None:
    cells = {"test": test, **({"unit": unit} if unit else {}), "as_left": f"{bound} {reading!r}" if bound else reading}
    finding = KIND.examine(Check("c", "C", "safety", table=Table("c.csv", rows=(row(**cells),))), Bench(rule))
    assert left(finding).verdict is Verdict.INFORMATION
    assert finding.verdict is Verdict.INFORMATION


@settings(max_examples=300)
@given(WORDS, UNITS, NUMBERS, NUMBERS, st.sampled_from(["", "<", ">"]))
def test_what_passes_keeps_to_the_number_that_was_written(
    test: str, unit: str, limit: float, reading: float, bound: str
) -> None:
    cells: dict[str, str | float] = {"test": test, **({"unit": unit} if unit else {}), "as_left": reading}
    cells["limit"] = f"{bound} {limit!r}" if bound else limit
    finding = KIND.examine(Check("c", "C", "safety", table=Table("c.csv", rows=(row(**cells),))), Bench(DecisionRule.SIMPLE))
    if left(finding).verdict is Verdict.IN:
        assert abs(reading) <= limit or reading >= limit > 0
        assert bound != "<" or abs(reading) <= limit
        assert bound != ">" or reading >= limit


@pytest.mark.parametrize("limit", [Quantity(0.5, "mA", "0.5 mA"), None])
def test_the_instrument_is_never_called_safe(worked: Worked, limit: Quantity | None) -> None:
    finding = worked("kind: safety" + (f", limit: {limit.text}" if limit else ""), TESTS)
    drawn = KIND.chart(finding)
    assert drawn
    texts = [getattr(finding, f.name) for f in fields(finding) if isinstance(getattr(finding, f.name), str)]
    assert not [t for t in [*texts, drawn.caption, drawn.alt] if re.search(r"\bsafe(ly)?\b", t, re.IGNORECASE)]
    assert "certifies nothing" in finding.caution
    assert "local rules and licensed practice" in finding.caution
