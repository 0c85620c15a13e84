"""What a designator or a reference in a text leads to."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.model.prose import line_and_column, links, running_words
from benchrecord.model.references import (
    Ambiguous,
    Index,
    Target,
    index_of,
    is_reference,
    looks_forgotten,
    mentions,
    parts_in_note,
)
from folders import write


@pytest.fixture
def index(tmp_path: Path) -> Index:
    files: dict[str, str | bytes] = {
        "job.yml": "title: T\nmodules: [{id: psu, title: P}]\n",
        "boards/psu.csv": "ref,x_mm,y_mm\nR1,1,1\nR2,1,1\nR3,1,1\nR4,1,1\n",
        "boards/tone.csv": "ref,x_mm,y_mm\nR1,1,1\nU7,1,1\n",
        "trims.csv": "board,ref\ntone,RV3\n",
        "parts.csv": "ref,action\nP9,replaced\n",
        "checks.yml": "- {id: rails, title: R, kind: readings, file: r.csv}\n",
        "measurements/r.csv": "item,as_found\na,1\n",
        "notes/10-a.md": "x",
    }
    job, _ = read_job(write(tmp_path / "job", files), schemas(all_kinds()))
    assert job
    return index_of(job)


def test_a_bare_designator_belongs_to_its_own_board_first_then_to_the_only_one_that_has_it(index: Index) -> None:
    assert index.part("R1", "tone") == Target("part", "tone:R1")
    assert index.part("R2", "tone") == Target("part", "psu:R2")
    assert index.part("R1") == Ambiguous(("psu", "tone"))
    assert index.part("R99") is None


def test_one_with_its_board_is_exact(index: Index) -> None:
    assert index.part("psu:R1", "tone") == Target("part", "psu:R1")
    assert index.part("psu:U7", "tone") is None


def test_a_part_that_only_a_row_names_is_known_too(index: Index) -> None:
    assert index.part("P9") == Target("part", "P9")


@pytest.mark.parametrize(
    ("text", "kind", "name"),
    [
        ("check:rails", "check", "rails"),
        ("module:psu", "module", "psu"),
        ("board:psu", "board", "psu"),
        ("note:10-a", "note", "10-a"),
        ("trim:tone:RV3", "trim", "tone:RV3"),
        ("trim:RV3", "trim", "tone:RV3"),
        ("part:psu:R2", "part", "psu:R2"),
        ("psu:R2", "part", "psu:R2"),
    ],
)
def test_links_lead_to_things_by_kind(index: Index, text: str, kind: str, name: str) -> None:
    assert index.link(text) == Target(kind, name)


@pytest.mark.parametrize("text", ["check:rials", "trim:psu:R1", "photo:gone.jpg", "note:x", "module:"])
def test_links_may_lead_nowhere(index: Index, text: str) -> None:
    assert index.link(text) is None


@pytest.mark.parametrize(
    ("text", "ours"), [("check:x", True), ("psu:R1", True), ("https://x", False), ("a.html", False), ("mailto:a@b", False)]
)
def test_what_is_a_reference_of_ours(text: str, ours: bool) -> None:  # noqa: FBT001  # a table of cases
    assert is_reference(text, ["psu"]) is ours


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("R1/R2", ["R1", "R2"]),
        ("R1–R4", ["R1", "R4"]),
        ("R1 - R4", ["R1", "R4"]),
        ("R1...R4", ["R1", "R4"]),
        ("R1, R2 and R7", ["R1", "R2", "R7"]),
        ("(C12)", ["C12"]),
        ("psu:R1/R2.", ["psu:R1", "psu:R2"]),
        ("R12a", ["R12a"]),
        ("4k7 100n T800mA 0R47 +5V R2D2x x1 r12 a.R1 #R1", []),
        ("See R1: it", ["R1"]),
    ],
)
def test_designators_in_a_sentence(text: str, found: list[str]) -> None:
    assert [f"{m.board}:{m.ref}" if m.board else m.ref for m in mentions(text)] == found


def test_a_range_stands_for_those_between(index: Index) -> None:
    assert parts_in_note("R1–R4 of psu", index, "psu") == {"psu:R1", "psu:R2", "psu:R3", "psu:R4"}
    assert parts_in_note("R1/R4", index, "psu") == {"psu:R1", "psu:R4"}


@pytest.mark.parametrize(
    "text",
    ["`R2`", "```\nR2\n```", "# R2", "R2\n===", "[R2](x.html)", "<b title='R2'>", "    R2", "<!-- R2 -->", "![R2](x.jpg)"],
)
def test_code_headings_and_links_are_no_running_words(index: Index, text: str) -> None:
    assert parts_in_note(text, index, "psu") == frozenset()


def test_a_link_to_a_trim_speaks_of_its_part(index: Index) -> None:
    assert parts_in_note("[the scale](trim:RV3)", index, "") == {"tone:RV3"}


@pytest.mark.parametrize(("ref", "forgotten"), [("R12", True), ("RV3", True), ("A4", False), ("MK2", False), ("VP9", False)])
def test_only_usual_letters_make_a_forgotten_designator(ref: str, forgotten: bool) -> None:  # noqa: FBT001
    assert looks_forgotten(ref) is forgotten


@given(st.text("R1 `\n#[]()<>!-=~*:x/", max_size=120))
def test_what_is_blanked_keeps_every_offset_and_line(text: str) -> None:
    blanked = running_words(text)
    assert len(blanked) == len(text)
    assert all(b in (" ", t) for b, t in zip(blanked, text, strict=True))
    assert blanked.count("\n") == text.count("\n")


def test_links_outside_of_code_are_found_with_their_place() -> None:
    text = "a [b](check:c)\n`[d](check:e)` ![f](board:g)\n"
    assert [(line_and_column(text, at), image, target) for at, image, target in links(text)] == [
        ((1, 7), False, "check:c"),
        ((2, 21), True, "board:g"),
    ]
