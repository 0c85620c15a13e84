"""Notes: facts at the head, words below, and references with the line and column the user sees."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.intake.note_file import parse_note
from benchrecord.model.job import Note
from benchrecord.problems import Place, Problem
from folders import write

KINDS = schemas(all_kinds())
BOARD = "ref,x_mm,y_mm\nR1,1,1\nR2,2,2\n"


def note(text: str) -> tuple[Note, list[Problem]]:
    report: list[Problem] = []
    return parse_note(text, "notes/10-a.md", report), report


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("before", ["", "\n", "  \n\n"])
def test_the_facts_may_follow_blank_lines_and_any_line_ends(before: str, end: str) -> None:
    found, report = note(f"{before}---\ntitle: A\nstage: repair\nhours: 90 min\n---\nWords.\nMore.\n".replace("\n", end))
    assert report == []
    assert (found.title, found.stage, found.hours, found.body) == ("A", "repair", 1.5, "Words.\nMore.\n")
    assert found.body_line == before.count("\n") + 6


@pytest.mark.parametrize("text", ["----\nWords.\n", "--- \tno facts\n", "Words.\n---\nMore.\n", ""])
def test_a_rule_or_a_heading_is_no_head(text: str) -> None:
    found, report = note(text)
    assert (found.body, found.body_line, report) == (text, 1, [])


@pytest.mark.parametrize("text", ["---\n", "---", "---\ntitle: A\n", "---\ntitle: A\n----\n", "---\ntitle: A\n ---\n"])
def test_facts_without_an_end_are_a_problem(text: str) -> None:
    assert [(p.code, p.place.line) for p in note(text)[1]] == [("front-matter", 1)]


def test_a_head_of_nothing_is_fine() -> None:
    assert note("---\n---\nWords.\n")[1] == []


def problems_of(tmp_path: Path, body: str, head: str = "") -> list[tuple[str, int | None, str | int | None, str]]:
    files: dict[str, str | bytes] = {"notes/10-a.md": head + body, "boards/psu.csv": BOARD, "boards/tone.csv": BOARD}
    return [(p.code, p.place.line, p.place.column, p.got) for p in read_job(write(tmp_path / "job", files), KINDS)[1]]


def test_the_place_of_a_reference_is_the_one_in_the_file(tmp_path: Path) -> None:
    head = "---\r\ntitle: A\r\n---\r\n"
    assert problems_of(tmp_path, "One\r\n\r\ntwo R1, é [x](board:gone)\r\n", head) == [
        ("ambiguous-reference", 6, 5, "R1"),
        ("dead-reference", 6, 15, "board:gone"),
    ]


def test_a_note_with_a_board_means_its_own_parts(tmp_path: Path) -> None:
    assert problems_of(tmp_path, "R1 and R2\n", "---\nboard: psu\n---\n") == []


@pytest.mark.parametrize(
    "body",
    [
        "`R1`",
        "```\nR1\n```",
        "# R1",
        "[R1](https://a.b)",
        "<!-- R1 -->",
        "An A4 sheet of the MK2, 4k7 and T800mA",
        "ratio 1:R1",
    ],
)
def test_what_is_no_reference_is_no_problem(tmp_path: Path, body: str) -> None:
    assert problems_of(tmp_path, body + "\n") == []


def test_a_board_that_is_misspelt_is_named(tmp_path: Path) -> None:
    assert problems_of(tmp_path, "psv:R1, Tone:R2 and x:R1\n") == [
        ("dead-reference", 1, 1, "psv:R1"),
        ("dead-reference", 1, 9, "Tone:R2"),
    ]


@given(
    st.lists(
        st.sampled_from(["R1", " ", "\n", "[a](check:b)", "`", "psu:R1", "# ", "R1–R2", "<!--", "-->", "é", "](", "---\n"]),
        max_size=20,
    )
)
def test_every_problem_stands_where_it_says(tmp_path_factory: pytest.TempPathFactory, pieces: list[str]) -> None:
    text = "".join(pieces)
    lines = text.split("\n")
    for code, line, column, got in problems_of(tmp_path_factory.mktemp("note"), text):
        if code in ("ambiguous-reference", "dead-reference", "unknown-designator"):
            assert isinstance(column, int)
            assert lines[(line or 0) - 1][column - 1 :].startswith(got)


@pytest.mark.parametrize(
    ("body", "line"),
    [
        ("=\n" * 1_001, 1),
        ("\n\n" + "|a|b|\n" * 1_001 + "\nMore.\n", 3),
        ("a " * 25_001, 1),
        ("# a\n\n" + "a\n" * 1_000 + "\n" + "b\n" * 1_001, 1_004),
    ],
)
def test_a_paragraph_that_is_too_long_is_a_problem_at_its_first_line(tmp_path: Path, body: str, line: int) -> None:
    assert [(code, at) for code, at, _, _ in problems_of(tmp_path, body)] == [("long-paragraph", line)]


@pytest.mark.parametrize("body", ["a\n" * 1_000, "a\n\n" * 5_000, "```\n" + "log\n" * 5_000 + "```\n"])
def test_a_long_note_and_long_code_are_none(tmp_path: Path, body: str) -> None:
    assert problems_of(tmp_path, body) == []


@pytest.mark.parametrize(
    ("target", "shown", "fix"),
    [
        ("<recording:a b.wav>", "recording:a b.wav", "write the words alone, without a link"),
        ("<recordings/a b.wav>", "recordings/a b.wav", "write <recording:a b.wav>"),
        ("parts.html", "parts.html", "write the words alone, without a link"),
        ("../boards/psv.html#R1", "../boards/psv.html#R1", "write board:psu"),
        ("../modules/gone.html", "../modules/gone.html", "write the words alone, without a link"),
        ("arrivel.html#x", "arrivel.html#x", "write note:20-arrival"),
        ("20-arrival.html", "20-arrival.html", "write note:20-arrival"),
        ("../checks.html", "../checks.html", "write the words alone, without a link"),
        ("../trims.html", "../trims.html", "write the words alone, without a link"),
        ("/parts.html", "/parts.html", "write the words alone, without a link"),
        ("x/../../boards/tune.html", "x/../../boards/tune.html", "write board:tone"),
    ],
)
def test_a_link_to_what_the_job_cannot_have_is_a_problem_here_already(
    tmp_path: Path, target: str, shown: str, fix: str
) -> None:
    files: dict[str, str | bytes] = {"notes/10-a.md": f"Words [x]({target})\n", "notes/20-arrival.md": "It came.\n"}
    files |= {"boards/psu.csv": BOARD, "boards/tone.csv": BOARD}
    _, found = read_job(write(tmp_path / "job", files), KINDS)
    column = 11 + target.startswith("<")
    assert [(p.code, p.place, p.got, p.remedy) for p in found] == [
        ("dead-reference", Place("notes/10-a.md", 1, column), shown, fix)
    ]


@pytest.mark.parametrize(
    "target",
    [
        "../index.html",
        "../notes.html",
        "../boards/psu.html#R1",
        "a.html",
        "a-2.html",
        "../../../about.html",
        "https://a.b/c.html",
    ],
)
def test_a_link_to_a_page_of_the_job_or_to_one_outside_of_it_is_none(tmp_path: Path, target: str) -> None:
    assert problems_of(tmp_path, f"Words [x]({target})\n") == []
