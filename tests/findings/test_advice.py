"""Advice that knows what the job says of its trims and faults."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.publish.work import read_all
from folders import write

SHARP_TOP = "volts,as_left_hz\n0,110\n1,220.02\n2,440.2\n3,881\n4,1764.5\n5,3536\n"
FILES: dict[str, str | bytes] = {
    "job.yml": "title: T\nmodules: [{id: osc, title: Oscillator}]\n",
    "checks.yml": "- {id: one, title: One, kind: tracking, module: osc, file: a.csv, limit: 3 cents}\n"
    "- {id: two, title: Two, kind: tracking, module: osc, file: b.csv, limit: 3 cents}\n",
    "measurements/a.csv": SHARP_TOP,
    "measurements/b.csv": SHARP_TOP,
}
TRIMS = "ref,function,module,turns,position_left,check\n"


def advice(folder: Path, **more: str) -> tuple[str, str]:
    kinds = all_kinds()
    files = {**FILES, **{f"{name}.csv": text for name, text in more.items()}}
    jobs, problems = read_all([write(folder / "job", files)], kinds)
    assert not [p for p in problems if p.severity == "error"]
    found = work_out(jobs[0][1], kinds)
    return found.check("one").advice, found.check("two").advice


@pytest.mark.parametrize("position", ["0", "12"])
def test_a_trim_at_the_end_of_its_travel_is_not_to_be_turned(tmp_path: Path, position: str) -> None:
    said = advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,{position},one\n")
    assert said == ("RV6 (high end) is at the end of its travel.",) * 2


def test_another_trim_that_can_be_turned_keeps_the_advice(tmp_path: Path) -> None:
    said = advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,12,one\nRV4,scale,osc,12,5,one\n")
    assert "bends sharp" in said[0]
    assert said[0].endswith("RV6 (high end) is at the end of its travel.")


def test_a_trim_with_travel_left_changes_no_advice(tmp_path: Path) -> None:
    plain = advice(tmp_path / "plain")
    assert "bends sharp" in plain[0]
    assert advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,6,one\n") == plain


def test_a_trim_of_another_kind_of_check_changes_no_advice(tmp_path: Path) -> None:
    said = advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,12,\n")
    assert "bends sharp" in said[0]


def test_an_open_fault_of_the_trim_is_named(tmp_path: Path) -> None:
    said = advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,6,one\n", faults="symptom,ref,remedy\nsharp at the top,RV6,\n")
    assert said[0] == "Known and open: sharp at the top."


def test_a_fault_with_a_remedy_is_none_any_more(tmp_path: Path) -> None:
    said = advice(tmp_path, trims=f"{TRIMS}RV6,high end,osc,12,6,one\n", faults="symptom,ref,remedy\nsharp,RV6,replaced\n")
    assert "bends sharp" in said[0]
