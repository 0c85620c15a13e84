"""Designators in the words of tables lead to their parts, as those in notes do."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.pages.linked import board_of, linked
from pages.test_job_pages import view_of

FILES: dict[str, str | bytes] = {
    "job.yml": "title: T\nmodules: [{id: supply, title: Supply, boards: [psu]}, {id: both, title: Both, boards: [psu, tone]}]\n",
    "boards/psu.csv": "ref,x_mm,y_mm\nR1,10,10\nR2,20,10\n",
    "boards/tone.csv": "ref,x_mm,y_mm\nR1,10,10\n",
    "checks.yml": "- {id: r, title: Rails, kind: readings, module: supply, file: r.csv, note: R1 was dark.}\n"
    "- {id: s, title: More, kind: readings, module: both, file: r.csv}\n",
    "measurements/r.csv": "item,unit,as_left\n+15 V,V,15.02\n",
}
PIN = '<a class="br-ref" href="br:/jobs/x/boards/{}">{}</a>'


@pytest.mark.parametrize(
    ("text", "board", "html"),
    [
        ("R2 was dark & hot", "", f"{PIN.format('psu.md#R2', 'R2')} was dark &amp; hot"),
        ("see tone:R1/R2", "", f"see {PIN.format('tone.md#R1', 'tone:R1')}/R2"),
        ("R1", "tone", PIN.format("tone.md#R1", "R1")),
        ("R1, of two boards", "", "R1, of two boards"),
        ("R99 <b>is</b> nowhere", "psu", "R99 &lt;b&gt;is&lt;/b&gt; nowhere"),
        ("", "psu", ""),
    ],
)
def test_a_designator_is_linked_where_one_part_has_it(tmp_path: Path, text: str, board: str, html: str) -> None:
    assert linked(view_of(tmp_path / "x", FILES), text, board) == html


def test_a_check_is_about_its_own_board_or_the_only_one_of_its_module(tmp_path: Path) -> None:
    view = view_of(tmp_path / "x", FILES)
    assert [board_of(view, f.check) for f in view.findings.checks] == ["psu", ""]
