"""The sums of a whole job, and their JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from benchrecord.checks import all_kinds
from benchrecord.findings import as_json, parts_finding, trim_results, work_out
from benchrecord.findings.text import as_text
from benchrecord.model.findings import Findings, Verdict
from benchrecord.model.job import PartWork, Trim
from benchrecord.publish.work import read_all
from folders import write

GOLDEN = Path(__file__).parent / "small_job.json"
SMALL: dict[str, str | bytes] = {
    "job.yml": "title: T\nid: small\ndecision_rule: guarded\nmodules: [{id: psu, title: Supply}]\n",
    "checks.yml": "- {id: rails, title: Rails, kind: readings, module: psu, file: rails.csv}\n"
    "- {id: osc, title: Oscillator, kind: tracking, file: osc.csv, limit: 3 cents}\n"
    "- {id: hiss, title: Hiss, kind: readings, file: hiss.csv}\n",
    "measurements/hiss.csv": "item,unit,as_found,as_left\nhiss,mV,,\n",
    "measurements/rails.csv": "item,unit,nominal,low,high,as_found,as_left\n+15 V,V,15,14.5,15.5,14,15.25\n-15 V,V,-15,,,,-15\n",
    "measurements/osc.csv": "volts,as_left_hz\n0,110\n1,220\n2,440\n",
    "parts.csv": "ref,action,was,now,was_rating,now_rating,reason,qty,unit_cost,obsolete,status\n"
    "R1,replaced,4k7,4.7k,0.25 W,0.125 W,drifted,1,0.5,no,fitted\n"
    "C1,replaced,47u,100u,25 V,35 V,dry,2,1.25,no,fitted\n"
    "U1,replaced,XY 1,XY 2,,,dead,1,,yes,fitted\n"
    "R2,replaced,1k,1k,,,drifted,1,9,no,ordered\n"
    "J1,cleaned,,,,,,1,,no,fitted\n",
    "trims.csv": "ref,after,unit,target,low,high,as_found,as_left,turns,position_found,position_left\n"
    "RV1,RV2,V,10,9.5,10.5,8,9.75,10,2,5.5\nRV2,,V,1,,,,,,,\n",
}


def findings(folder: Path, files: dict[str, str | bytes]) -> Findings:
    kinds = all_kinds()
    jobs, _ = read_all([write(folder, files)], kinds)
    return work_out(jobs[0][1], kinds)


def test_the_json_of_a_small_job_is_exactly_this(tmp_path: Path) -> None:
    """The readings are such that every number can be worked out in the head."""
    made = json.loads(json.dumps(as_json(findings(tmp_path, SMALL), with_cost=True), allow_nan=False))
    same(made, json.loads(GOLDEN.read_text("utf-8")))


def same(made: object, wanted: object) -> None:
    """Compare two trees; numbers need only agree to nine digits."""
    if isinstance(wanted, dict):
        assert isinstance(made, dict)
        assert list(made) == list(wanted)
        for key, value in wanted.items():
            same(made[key], value)
    elif isinstance(wanted, list):
        assert isinstance(made, list)
        assert len(made) == len(wanted)
        for one, other in zip(made, wanted, strict=True):
            same(one, other)
    else:
        assert made == (pytest.approx(wanted, rel=1e-9, abs=1e-9) if isinstance(wanted, float) else wanted)


def test_a_result_that_cannot_be_had_is_null_with_a_reason(tmp_path: Path) -> None:
    made = as_json(findings(tmp_path, SMALL), with_cost=False)

    def walk(node: object) -> None:
        if isinstance(node, dict):
            if any(v is None for v in node.get("results", {}).values()):
                assert node.get("reason"), node
            for value in node.values():
                walk(value)
        elif isinstance(node, list):
            for value in node:
                walk(value)

    walk(made)


def test_the_cost_is_left_out_where_it_may_not_be_seen(tmp_path: Path) -> None:
    assert "cost" not in as_json(findings(tmp_path, SMALL), with_cost=False)["parts"]


def part(**facts: object) -> PartWork:
    return PartWork("", "R1", **{"action": "replaced", **facts})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("was", "now", "changed"),
    [
        ("4k7", "4.7 kΩ", False),
        ("100n", "0.1 uF", False),
        ("47u", "100u", True),
        ("CX 60", "cx  60", False),
        ("47u", "47k", True),
        ("", "1k", False),
    ],
)
def test_a_value_has_changed_only_if_it_is_another(was: str, now: str, changed: bool) -> None:  # noqa: FBT001  # a table of cases
    assert bool(parts_finding((part(was=was, now=now),)).value_changed) is changed


@pytest.mark.parametrize(
    ("was", "now", "lower"),
    [
        ("0.25 W", "0.6 W", False),
        ("35 V", "25 V", True),
        ("1/2 W", "250 mW", True),
        ("25 V", "0.5 W", False),
        ("", "25 V", False),
    ],
)
def test_a_rating_is_lowered_only_against_one_of_its_own_kind(was: str, now: str, lower: bool) -> None:  # noqa: FBT001
    assert bool(parts_finding((part(was_rating=was, now_rating=now),)).downrated) is lower


def test_what_is_only_ordered_counts_for_nothing_yet() -> None:
    found = parts_finding((part(status="ordered", unit_cost=3.0, obsolete=True),))
    assert (found.replaced, found.obsolete, found.cost) == (0, (), None)


def test_there_is_no_cost_where_a_new_part_has_no_price() -> None:
    found = parts_finding((part(unit_cost=2.0, qty=3.0), part(), part(action="cleaned")))
    assert (found.cost, found.cost_reason) == (None, "at least 6.00; no price for 1: R1")
    assert parts_finding((part(unit_cost=2.0, qty=3.0), part(action="cleaned"))).cost == 6.0
    assert parts_finding((part(),)).cost_reason == "no prices are given"


def test_turns_to_target_follow_from_the_logged_turns() -> None:
    """8 V at 2 turns and 9.75 V at 5.5: half a volt a turn, and half a turn to 10 V."""
    trim = Trim("", "RV1", unit="V", target=10, as_found=8, as_left=9.75, turns=10, position_found=2, position_left=5.5)
    results = trim_results(trim)
    assert results["sensitivity_per_turn"].value == pytest.approx(0.5)
    assert results["turns_to_target"].value == pytest.approx(0.5)
    assert results["travel_left_turns"].value == pytest.approx(4.5)


def test_a_trim_whose_turns_were_not_logged_says_so() -> None:
    results = trim_results(Trim("", "RV1", as_found=8, as_left=9))
    assert all(v.value is None and v.reason for v in results.values())


METERED = {
    "job.yml": "title: T\ndecision_rule: guarded\n"
    "meters: [{id: dmm, title: M, ranges: [{unit: V, up_to: 20, reading_percent: 0.05, counts: 3, resolution: 0.001}]}]\n",
    "checks.yml": "- {id: rails, title: Rails, kind: readings, file: rails.csv, meter: dmm}\n",
    "measurements/rails.csv": "item,unit,low,high,as_found,as_left\n+10 V,V,9.98,10.02,9.871,10.016\n",
    "trims.csv": "ref,unit,low,high,as_found,as_left,check\nRV1,V,9.98,10.02,9.871,10.016,rails\nRV2,V,9.98,10.02,,10.016,\n",
}


def test_a_trim_and_its_check_reach_the_same_verdict(tmp_path: Path) -> None:
    """10.016 V is 4 mV inside its limit and uncertain by 9.2 mV; without a check nothing tells how uncertain a reading is."""
    known = findings(tmp_path, METERED)
    rail = known.check("rails")
    trims = {t.trim.ref: t for t in known.trims}
    assert rail.found
    assert rail.left
    assert (trims["RV1"].verdict_found, trims["RV1"].verdict_left) == (rail.found.verdict, rail.left.verdict)
    assert trims["RV1"].verdict_left is Verdict.TOO_CLOSE
    assert trims["RV2"].verdict_left is Verdict.IN


def test_trims_come_after_those_they_wait_for(tmp_path: Path) -> None:
    assert [t.trim.ref for t in findings(tmp_path, SMALL).trims] == ["RV2", "RV1"]


def test_the_text_has_a_block_for_each_check(tmp_path: Path) -> None:
    text = as_text(findings(tmp_path, SMALL))
    assert "rails: Rails\n  as found: out" in text
    assert "hiss: Hiss\n  as found: not measured\n  as left: not measured" in text
    assert text.endswith("Trims: 2")


def test_a_side_that_was_not_measured_says_why(tmp_path: Path) -> None:
    checks = {c["id"]: c for c in as_json(findings(tmp_path, SMALL), with_cost=False)["checks"]}
    assert checks["osc"]["as_found"] == {"verdict": "not-measured", "results": {}, "reason": "not measured"}
    assert checks["hiss"]["as_left"]["reason"] == "not measured"


def test_a_position_beyond_the_trim_s_turns_leaves_no_travel() -> None:
    travel = trim_results(Trim("", "RV1", turns=10, position_left=12))["travel_left_turns"]
    assert (travel.value, travel.reason) == (None, "the position lies beyond the trim's turns")


def test_no_turns_to_the_target_have_no_sign() -> None:
    trim = Trim("", "RV1", target=1.0, as_found=3.0, as_left=1.0, position_found=1, position_left=2)
    assert str(trim_results(trim)["turns_to_target"].value) == "0.0"


def test_a_trim_that_changes_nothing_has_no_turns_to_its_target() -> None:
    results = trim_results(Trim("", "RV1", target=2.0, as_found=1.0, as_left=1.0, position_found=1, position_left=2))
    assert (results["sensitivity_per_turn"].value, results["turns_to_target"].value) == (0.0, None)
    assert results["turns_to_target"].reason == "turning it changes nothing"


READING = st.none() | st.floats(-1e9, 1e9)


@settings(deadline=None)
@given(READING, READING, READING, READING, READING)
@example(0.0, 1.0, 2.2e-311, 0.0, None)  # no slope: the positions are too close together
@example(0.0, 1e-300, 1.0, 0.0, 1e9)  # no turns: more than a float can hold
def test_whatever_was_logged_the_json_holds_numbers_or_null(
    found: float | None, left: float | None, at: float | None, then: float | None, target: float | None
) -> None:
    trim = Trim("", "RV1", target=target, as_found=found, as_left=left, turns=10, position_found=at, position_left=then)
    made = json.loads(json.dumps({n: v.value for n, v in trim_results(trim).items()}, allow_nan=False))
    assert all(v is None or isinstance(v, float) for v in made.values())


def test_the_text_says_why_a_side_was_not_worked_out(tmp_path: Path) -> None:
    files = {
        "checks.yml": "- {id: c, title: C, kind: tracking, file: c.csv}\n",
        "measurements/c.csv": "volts,as_left_hz\n1,110\n",
    }
    assert "as left: no result (fewer than two readings at different voltages)" in as_text(findings(tmp_path, {**files}))
