"""The page that tells how each number came about, and what stands at the top of a job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.model.job import Edition, MeterRange
from benchrecord.pages import words
from benchrecord.pages.job_pages import job_pages
from benchrecord.pages.view import Pictures, View
from benchrecord.publish.work import read_all
from folders import write

JOB = (
    "title: T\ndecision_rule: guarded\nmeters: [{id: m, title: Bench meter, calibrated: 2025-11-03,"
    " ranges: [{unit: V, up_to: 20, reading_percent: 0.05, counts: 3, resolution: 0.001}]}]\n"
)
CHECKS = "- {id: r, title: Supply rails, kind: readings, file: r.csv, meter: m}\n"
RAILS = "item,unit,nominal,low,high,as_found,as_left\n+15 V,V,15,14.85,15.15,13.4,15.02\n"


def view_of(folder: Path, job: str = JOB) -> View:
    """Return the view of a job with one check."""
    kinds = all_kinds()
    files: dict[str, str | bytes] = {"job.yml": job, "checks.yml": CHECKS, "measurements/r.csv": RAILS}
    jobs, problems = read_all([write(folder / "x", files)], kinds)
    assert not problems
    return View(jobs[0][1], work_out(jobs[0][1], kinds), Pictures(), Edition.OWNER)


def page(view: View, name: str) -> str:
    """Return one page as Markdown."""
    return next(p.markdown for p in job_pages(view) if p.src.endswith(f"/{name}.md"))


def test_the_uncertainty_is_told_on_a_reading_of_this_job(tmp_path: Path) -> None:
    numbers = page(view_of(tmp_path), "numbers")
    assert "<strong>+15 V</strong> reads 15.02 V. Its limit is 0.13 V away and the reading is uncertain by 0.012 V" in numbers
    assert "0.05 % of the reading and 3 last digits of 0.001 V, which is 0.011 V" in numbers  # 0.0075 V + 0.003 V
    assert "this makes 0.012 V" in numbers  # 2 · 0.0105 V / √3
    assert "up to 20 V: 0.05 % of reading + 3 counts of 0.001 V" in numbers
    assert "3 November 2025" in numbers


def test_the_rule_of_the_job_is_the_one_that_is_explained(tmp_path: Path) -> None:
    assert "guarded limits" in page(view_of(tmp_path), "numbers")
    assert "takes its limits as they stand" in page(view_of(tmp_path, JOB.replace("guarded", "simple")), "numbers")


def test_every_check_leads_to_how_its_number_came_about(tmp_path: Path) -> None:
    view = view_of(tmp_path)
    assert 'href="br:/jobs/x/numbers.md#numbers-r"' in page(view, "checks")
    assert "{ #numbers-r }" in page(view, "numbers")


def test_a_check_without_a_meter_says_that_nobody_can_tell(tmp_path: Path) -> None:
    view = view_of(tmp_path, "title: T\nmeters: [{id: m, title: M}]\n")
    assert "no range of a meter is given for this reading" in page(view, "numbers")


@pytest.mark.parametrize("name", ["index", "checks"])
def test_an_alarm_stands_above_everything_else(tmp_path: Path, name: str) -> None:
    view = view_of(tmp_path)
    loud = replace(view.findings.checks[0], alarm="The case is not bonded to the protective conductor.")
    markdown = page(View(view.job, replace(view.findings, checks=(loud,)), view.pictures, view.edition), name)
    alarm, rest = markdown.index("not bonded"), markdown.index("in limits as left")
    assert markdown.index("# ") < alarm < rest
    assert 'class="br-alarm"' not in page(view, name)


@pytest.mark.parametrize(
    ("reach", "said"),
    [
        (MeterRange("Hz", 100_000, 0.001, 1, 0.01), "up to 100000 Hz: 0.001 % of reading + 1 count of 0.01 Hz"),
        (MeterRange("s", 0.01, 2, 1, 0.00001), "up to 0.01 s: 2 % of reading + 1 count of 0.00001 s"),
        (MeterRange("kohm", 2000), "up to 2000 kΩ: none stated"),
    ],
)
def test_ranges_are_written_without_powers_of_ten(reach: MeterRange, said: str) -> None:
    assert words.range_words(reach) == said


@pytest.mark.parametrize(("seconds", "said"), [(4.24, "4.2 s"), (59.9, "59.9 s"), (123, "2 min 3 s"), (3600, "60 min 0 s")])
def test_playing_times_are_told_in_minutes_from_one_on(seconds: float, said: str) -> None:
    assert words.playing(seconds) == said


def test_no_page_claims_an_uncertainty_that_no_check_states(tmp_path: Path) -> None:
    lede = page(view_of(tmp_path, "title: T\nmeters: [{id: m, title: M}]\n"), "numbers").split("br-lede")[1].split("</p>")[0]
    assert "is not known: no meter with its limits of error is given" in lede
    assert "comes with an uncertainty" not in lede
    assert "Each number below comes with an uncertainty" in page(view_of(tmp_path / "metered"), "numbers")
