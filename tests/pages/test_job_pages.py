"""The pages of a job, as Markdown: what is on them, what they lead to, and what they do with strange words."""

from __future__ import annotations

import html
import io
import re
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.model.findings import Item, Side, Value, Verdict
from benchrecord.model.job import Edition, Job
from benchrecord.pages import addresses, words
from benchrecord.pages.job_pages import data_csv, job_pages, pairs
from benchrecord.pages.view import BoardDrawing, Pictures, View
from benchrecord.publish.cache import Cache
from benchrecord.publish.hearing import findings_of
from benchrecord.publish.work import read_all
from folders import write

RAILS = "item,unit,nominal,low,high,as_found,as_left,ref\n+15 V,V,15,14.85,15.15,13.4,15.02,R2\n"


def view_of(folder: Path, files: dict[str, str | bytes], pictures: Pictures | None = None) -> View:
    """Read a folder and return its view for the owner."""
    kinds = all_kinds()
    jobs, problems = read_all([write(folder, files)], kinds)
    assert [p for p in problems if p.severity == "error"] == []
    job: Job = jobs[0][1]
    return View(job, work_out(job, kinds), pictures or Pictures(), Edition.OWNER)


def pages_of(folder: Path, files: dict[str, str | bytes], pictures: Pictures | None = None) -> dict[str, str]:
    """Return the pages of a folder by their name inside the job."""
    return {p.src.split("/", 2)[2]: p.markdown for p in job_pages(view_of(folder, files, pictures))}


def test_a_job_with_nothing_but_its_job_yml_has_an_overview_and_a_page_for_its_handover(tmp_path: Path) -> None:
    pages = pages_of(tmp_path / "x", {})
    assert set(pages) == {"index.md", "handover.md"}
    assert "The record has just begun." in pages["index.md"]
    assert "certifies nothing" in pages["handover.md"]


def test_a_job_in_progress_says_so(tmp_path: Path) -> None:
    table = "item,unit,low,high,as_found\n+12 V,V,11.5,12.5,11.2\n"
    files = {"checks.yml": "- {id: r, title: Rails, kind: readings, file: r.csv}\n", "measurements/r.csv": table}
    overview = pages_of(tmp_path / "x", files)["index.md"]
    assert "0 of 1 check was in limits as found; the work goes on." in overview
    assert "not measured" in overview


def test_every_page_of_the_design_is_there(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "job.yml": "title: T\nmodules: [{id: psu, title: Supply, boards: [main]}]\n",
        "notes/10-a.md": "---\nboard: main\nmodule: psu\n---\nR2 was dark.\n",
        "boards/main.csv": "ref,x_mm,y_mm\nR2,10,10\n",
        "parts.csv": "board,ref,action\nmain,R2,replaced\n",
        "trims.csv": "board,ref,module\nmain,RV1,psu\n",
        "checks.yml": "- {id: r, title: Rails, kind: readings, module: psu, board: main, file: r.csv}\n",
        "measurements/r.csv": RAILS,
        "patches.yml": "- {id: drone, title: Drone}\n",
    }
    assert set(pages_of(tmp_path / "x", files)) == {
        "index.md", "notes.md", "notes/10-a.md", "boards/main.md", "modules/psu.md", "checks.md", "numbers.md", "parts.md", "trims.md", "handover.md",
        "patches.md",
    }  # fmt: skip


def test_a_part_and_all_that_knows_of_it_lead_to_each_other(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "notes/10-a.md": "---\nboard: main\ntitle: Dark\n---\nR2 was dark.\n",
        "boards/main.csv": "ref,x_mm,y_mm\nR2,10,10\nRV1,20,10\n",
        "parts.csv": "board,ref,action\nmain,R2,replaced\n",
        "faults.csv": "symptom,board,ref\nhum,main,R2\n",
        "date-codes.csv": "board,ref,code\nmain,R2,7642\n",
        "trims.csv": "board,ref\nmain,RV1\n",
        "checks.yml": "- {id: r, title: Rails, kind: readings, board: main, file: r.csv}\n",
        "measurements/r.csv": RAILS,
    }
    pages = pages_of(tmp_path / "x", files)
    board = pages["boards/main.md"]
    r2 = re.search(r'<tr id="part-R2">.*?</tr>', board, re.DOTALL)
    rv1 = re.search(r'<tr id="part-RV1">.*?</tr>', board, re.DOTALL)
    assert r2
    assert rv1
    assert "date code 7642" in r2[0]
    for target in ("parts.md#row-main-R2", "checks.md#check-r", "notes/10-a.md", "index.md#faults"):
        assert f"br:/jobs/x/{target}" in r2[0]
    assert "br:/jobs/x/trims.md#trim-main-RV1" in rv1[0]
    pin = "br:/jobs/x/boards/main.md#R2"
    for name in ("parts.md", "index.md", "notes/10-a.md", "checks.md"):
        assert pin in pages[name], name
    assert "br:/jobs/x/boards/main.md#RV1" in pages["trims.md"]


def test_what_is_still_not_right_stands_together_on_the_overview(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "checks.yml": "- {id: r, title: Rails, kind: readings, file: r.csv}\n",
        "measurements/r.csv": "item,unit,low,high,as_left\n+15 V,V,14.85,15.15,15.4\n",
        "faults.csv": "symptom,remedy\nhums,\nclicks,cleaned\n",
        "parts.csv": "ref,action,now,status\nU3,replaced,CX 41,ordered\nR1,replaced,10k,fitted\n",
    }
    overview = pages_of(tmp_path / "x", files)["index.md"]
    still = overview.split("## Still not right")[1].split("##")[0]
    assert "Out of limits:" in still
    assert "0.25 V beyond its limit" in still
    assert "hums" in still
    assert "clicks" not in still
    assert "Ordered:" in still
    assert "U3 CX 41" in still
    assert "R1" not in still


@lru_cache(maxsize=8)
def recorded(samples: bytes) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, np.frombuffer(samples), 48000, format="WAV", subtype="PCM_16")
    return out.getvalue()


TONE = np.sin(2 * np.pi * 440 * np.arange(96000) / 48000) / 2
UNUSABLE = {"silent": np.zeros(96000), "short": TONE[:400], "noise": np.random.default_rng(1).normal(0, 0.1, 96000)}
KINDS_OF_TONE = [
    "kind: spectrum, expect: sine, nominal_hz: 440, limit: 1 %",
    "kind: tracking, steps: [0, 1, 2], limit: 3 cents",
]


def with_recordings(folder: Path, files: dict[str, str | bytes]) -> View:
    """Return the view of a folder whose recordings are analysed."""
    kinds = all_kinds()
    jobs, problems = read_all([write(folder / "job", files)], kinds)
    assert [p for p in problems if p.severity == "error"] == []
    job: Job = jobs[0][1]
    return View(job, findings_of(folder / "job", job, kinds, Cache(folder / "cache")), Pictures(), Edition.OWNER)


@pytest.mark.parametrize("why", UNUSABLE)
@pytest.mark.parametrize("kind", KINDS_OF_TONE)
def test_a_recording_without_a_result_is_not_called_unmeasured_and_is_listed(tmp_path: Path, kind: str, why: str) -> None:
    files: dict[str, str | bytes] = {
        "checks.yml": f"- {{id: c, title: Tone, {kind}, as_left: a.wav}}\n",
        "recordings/a.wav": recorded(UNUSABLE[why].tobytes()),
    }
    view = with_recordings(tmp_path, files)
    pages = {p.src.split("/", 2)[2]: p.markdown for p in job_pages(view)}
    (side,) = (f.left for f in view.findings.checks)
    assert side
    assert side.no_verdict
    still = pages["index.md"].split("## Still not right")[1].split("##")[0]
    assert side.no_verdict.split("'")[0] in html.unescape(still)
    for name, times in (("index.md", 1), ("checks.md", 2)):
        assert pages[name].count("not measured") == times  # as found
        assert pages[name].count("no result") >= times
    assert "recorded: " in pages["checks.md"]


def test_a_stage_says_what_is_missing_of_it() -> None:
    nothing, known = Value(None, "s", reason="the noise is too high"), Value(2.2, "s")
    assert words.stage_words(None) == words.stage_words(Side(Verdict.NOT_MEASURED)) == "not measured"
    assert words.stage_words(Side(Verdict.NOT_MEASURED, {"value": Value(None, reason="not measured")})) == "not measured"
    assert words.stage_words(Side(Verdict.NOT_MEASURED, {"t20_s": nothing})) == "no result"
    assert (
        words.stage_words(Side(Verdict.NOT_MEASURED, items=(Item("1 V", Verdict.NOT_MEASURED, {"t20_s": nothing}),)))
        == "no result"
    )
    assert words.stage_words(Side(Verdict.NOT_MEASURED, {"t20_s": nothing, "edt_s": known})) == "not judged"
    assert words.stage_words(Side(Verdict.IN, {"t20_s": known, "edt_s": nothing})) == "in limits"


@pytest.mark.parametrize("word", ["<script>alert(1)</script>", '"quoted" & <b>', "[a](b) *c* `d` # e", "{{ 7*7 }} {% x %}"])
def test_words_of_a_job_are_never_markup(tmp_path: Path, word: str) -> None:
    quoted = '"' + word.replace('"', '""') + '"'
    yaml_word = "'" + word.replace("'", "''") + "'"
    files: dict[str, str | bytes] = {
        "job.yml": f"title: {yaml_word}\nsummary: {yaml_word}\nmodules: [{{id: m, title: {yaml_word}}}]\n",
        "faults.csv": f"symptom,cause\n{quoted},{quoted}\n",
        "parts.csv": f"ref,action,was,reason\nR1,replaced,{quoted},{quoted}\n",
        "checks.yml": f"- {{id: c, title: {yaml_word}, kind: readings, module: m, file: c.csv, note: {yaml_word}}}\n",
        "measurements/c.csv": f"item,as_found\n{quoted},1\n",
    }
    for name, page in pages_of(tmp_path / "x", files).items():
        assert "<script" not in page, name
        assert "<b>" not in page.replace("<b></b>", ""), name
        assert "49" not in page, name


def test_a_note_draws_the_map_it_asks_for(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "notes/10-a.md": "---\nboard: main\n---\nSee below.\n\n![The main board](board:main)\n\n![](https://example.org/x.png)\n",
        "boards/main.csv": "ref,x_mm,y_mm\nR2,10,10\n",
    }
    pictures = Pictures(note_maps={("10-a", "main"): BoardDrawing("<svg>own</svg>")})
    page = pages_of(tmp_path / "x", files, pictures)["notes/10-a.md"]
    assert "<svg>own</svg>" in page
    assert "The main board</a></figcaption>" in page
    assert "![](https://example.org/x.png)" in page


def test_cautions_stand_where_the_work_is_with_mains(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "job.yml": "title: T\nmodules: [{id: psu, title: Power supply}, {id: vca, title: Amplifier}]\n",
        "notes/10-a.md": "---\nmodule: psu\nstage: repair\n---\nx\n",
        "notes/20-b.md": "---\nmodule: vca\nstage: repair\n---\nx\n",
        "parts.csv": "ref,action\nR1,replaced\n",
    }
    pages = pages_of(tmp_path / "x", files)
    assert "unplug it before it is opened" in pages["notes/10-a.md"]
    assert "unplug" not in pages["notes/20-b.md"]
    assert "solder" in pages["handover.md"]
    assert "licensed practice" in pages["handover.md"]


def test_pictures_as_found_stand_beside_those_as_left(tmp_path: Path) -> None:
    photos = view_of(tmp_path / "x", {f"photos/{n}.jpg": _jpeg() for n in ("psu-after", "psu-before", "lid")}).job.photos
    assert [[p.file for p in row] for row in pairs(list(photos))] == [
        ["photos/lid.jpg"],
        ["photos/psu-before.jpg", "photos/psu-after.jpg"],
    ]


def _jpeg() -> bytes:
    from folders import picture  # noqa: PLC0415

    return picture()


def test_designators_are_ordered_as_people_count() -> None:
    assert sorted(["R10", "R2", "C1", "R1"], key=words.natural) == ["C1", "R1", "R2", "R10"]


def test_readings_as_a_file_are_at_full_precision_and_no_spreadsheet_takes_them_for_a_formula(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "checks.yml": "- {id: r, title: Rails, kind: readings, file: r.csv}\n",
        "measurements/r.csv": "item,unit,nominal,limit,as_left\n=1+1,V,-12,0.25,-12.034567\n",
    }
    lines = data_csv(view_of(tmp_path / "x", files).findings.checks[0].table).splitlines()
    assert lines[1].startswith("'=1+1,V,-12.0,-12.25,-11.75,")
    assert "-12.034567" in lines[1]


@pytest.mark.parametrize(
    ("cell", "written"), [("-5", "-5"), ("+4.0", "+4.0"), ("@x", "'@x"), ("\tx", "'\tx"), ("-x", "'-x"), ("", "")]
)
def test_cells_that_look_like_formulas_are_quoted_but_numbers_are_not(cell: str, written: str) -> None:
    """Source: OWASP, CSV Injection; that plain numbers pass is a choice of this project."""
    assert words.csv_cell(cell) == written
    assert words.csv_cell(Value(-5.0)) == "-5.0"


def test_slugs_keep_letters_of_every_alphabet() -> None:
    assert addresses.slug("Größe 1/2") == "Größe-1-2"
    assert addresses.slug("///") == "x"


def test_dates_and_counts_are_written_out() -> None:
    assert words.day("2031-04") == "April 2031"
    assert words.plural(1, "part") == "1 part"
    assert words.plural(2.5, "hour") == "2.5 hours"


def rails(as_found: list[str], as_left: list[str]) -> dict[str, str | bytes]:
    """Return a check for each reading of +12 V."""
    pairs_of = list(zip(as_found, as_left, strict=True))
    checks = "".join(f"- {{id: r{n}, title: R{n}, kind: readings, file: r{n}.csv}}\n" for n in range(len(pairs_of)))
    head = "item,unit,low,high,as_found,as_left\n"
    tables = {f"measurements/r{n}.csv": f"{head}+12 V,V,11.5,12.5,{a},{b}\n" for n, (a, b) in enumerate(pairs_of)}
    return {"checks.yml": checks, **tables}


@pytest.mark.parametrize(
    ("as_found", "as_left", "said"),
    [
        (["11", "11"], ["12", "12"], "2 of 2 checks are in limits as left; as found it was 0 of 2."),
        (
            ["11", ""],
            ["12", "12"],
            "2 of 2 checks are in limits as left; of the 1 measured both times, 1 is, and 0 were as found.",
        ),
        (["11", ""], ["", "12"], "1 of 1 check is in limits as left; none of them was measured as found."),
        (["", ""], ["12", "11"], "1 of 2 checks are in limits as left; none of them was measured as found."),
    ],
)
def test_found_and_left_are_counted_over_the_same_checks(
    tmp_path: Path, as_found: list[str], as_left: list[str], said: str
) -> None:
    assert said in pages_of(tmp_path / "x", rails(as_found, as_left))["index.md"]


def test_a_sum_of_hours_says_which_notes_give_none(tmp_path: Path) -> None:
    notes: dict[str, str | bytes] = {f"notes/{n}.md": f"---\nhours: {n}\n---\nWork.\n" for n in (1, 2)}
    assert "3 hours in all." in pages_of(tmp_path / "all", notes)["index.md"]
    partly = pages_of(tmp_path / "partly", {**notes, "notes/3.md": "More work.\n"})["index.md"]
    assert "At least 3 hours; 1 note gives none." in partly


def test_a_sum_of_prices_says_which_are_missing(tmp_path: Path) -> None:
    head = "ref,action,now,unit_cost\nR1,replaced,1k,0.10\nC1,replaced,10u,10\n"
    assert "Parts cost 10.10." in pages_of(tmp_path / "all", {"parts.csv": head})["parts.md"]
    partly = pages_of(tmp_path / "partly", {"parts.csv": f"{head}U1,replaced,XY,\n"})["parts.md"]
    assert "Parts cost at least 10.10; no price for 1: U1." in partly


def test_a_recording_as_left_without_a_result_is_no_missing_one(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "checks.yml": "- {id: c, title: T, kind: spectrum, expect: sine, nominal_hz: 440, limit: 1 %, as_found: a.wav, as_left: b.wav}\n",
        "recordings/a.wav": recorded(TONE.tobytes()),
        "recordings/b.wav": recorded(UNUSABLE["silent"].tobytes()),
    }
    (finding,) = with_recordings(tmp_path, files).findings.checks
    assert finding.plain.endswith("it could not be worked out as left.")
