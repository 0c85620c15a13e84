"""Front matter that is not recognised: every key that was not read is an error with its line, its column and a fix."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.intake.note_file import KEYS, parse_note
from benchrecord.problems import Problem

ROOT = Path(__file__).parents[2]
VALUES = {"title": "The first look", "date": "2026-02-03", "hours": "1.5", "stage": "repair", "board": "psu", "module": "filter", "edition": "archive"}  # fmt: skip
FENCES = [("", ""), ("----", "----"), ("+++", "+++"), (";;;", ";;;"), (" ---", " ---"), ("—", "—"), ("```yaml", "```"), ("~~~", "~~~"), ("<!--", "-->"), ("\ufeff---", "---"), ("\u200b---", "---"), ("***", "***"), ("===", "===")]  # fmt: skip
BEFORE = ["", "\n", "# A heading\n", "# A heading\n\n", "A heading\n=========\n\n", "Some words.\n\n", "---\n---\n", "---\ntitle: T\n---\n\n", "<!-- x -->\n"]  # fmt: skip
WAYS = ["{key}: {value}", "{key}:{value}", "{key} : {value}", "{key} = {value}", '{key} = "{value}"', '"{key}": "{value}",', "  {key}: {value}", "\t{key}: {value}", "- {key}: {value}", "* **{key}:** {value}", "> {key}: {value}", "{{{key}: {value}}}", ":{key}: {value}", "{key}\uff1a {value}", "\u00a0{key}: {value}"]  # fmt: skip
SPELLINGS: list[Callable[[str], str]] = [str, str.capitalize, str.upper]


def problems_of(text: str) -> list[Problem]:
    report: list[Problem] = []
    parse_note(text, "notes/10-a.md", report)
    return [p for p in report if p.code == "front-matter"]


@given(
    st.sampled_from(BEFORE),
    st.sampled_from(FENCES),
    st.sampled_from(WAYS),
    st.sampled_from(SPELLINGS),
    st.lists(st.sampled_from([*VALUES]), min_size=1, max_size=4, unique=True),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_each_key_that_was_not_read_is_an_error_where_it_stands(
    before: str, fence: tuple[str, str], way: str, spell: Callable[[str], str], keys: list[str], end: str
) -> None:
    lines = [fence[0], *(way.format(key=spell(key), value=VALUES[key]) for key in keys), fence[1], "", "Words."]
    first = before.count("\n") + 2
    columns = [line.index(spell(key)) + 1 for key, line in zip(keys, lines[1:], strict=False)]
    found = [(p.place.line, p.place.column, p.got) for p in problems_of((before + "\n".join(lines)).replace("\n", end))]
    assert found == [(first + n, columns[n], lines[1 + n].strip()) for n in range(len(keys))]


@pytest.mark.parametrize(
    "line",
    [
        "edition: archive",
        "Edition: for the archive only",
        "editon: archive",
        "| edition | archive |",
        "edition archive",
        '{"draft": true, "edition": "archive"}',
        "# edition: owner",
        "<!-- edition: archive -->",
        "% edition: archive",
    ],
)
def test_an_edition_is_found_in_whatever_form(line: str) -> None:
    assert [p.place.line for p in problems_of(f"# A\n\n{line}\n\nWords.\n")] == [3]


@pytest.mark.parametrize("line", ["edition: archive", "Edition = owner", "| edition | archive |", "- **edition:** owner"])
def test_an_edition_is_found_far_below_the_top_too(line: str) -> None:
    assert [p.place.line for p in problems_of("Words.\n" * 400 + line + "\n")] == [401]


@pytest.mark.parametrize(
    ("text", "line", "fix"),
    [
        ("edition: archive\n", 1, "begin the note with a line ---, write edition: below it, and close with another line ---"),
        ("---\ntitle: A\n---\nboard: psu\n", 4, "move board: up between the two lines of ---, or word the line otherwise"),
        ("---\ntitle: >\n  A\n  edition: archive\n---\n", 4, "begin the line with edition:, exactly below the other keys"),
    ],
)
def test_the_fix_is_for_this_note(text: str, line: int, fix: str) -> None:
    assert [(p.place.line, p.remedy) for p in problems_of(text)] == [(line, fix)]


@pytest.mark.parametrize("end", ["...", "--- ", "---"])
def test_a_head_that_ends_otherwise_is_never_published_without_a_word(end: str) -> None:
    found = problems_of(f"---\nedition: archive\n{end}\nWords.\n")
    assert bool(found) == (end == "...")


@pytest.mark.parametrize(
    "text",
    [
        "---\ntitle: A\nedition: owner\n---\nWords.\n",
        "---\n# edition: archive\ntitle: A\n---\nWords.\n",
        '---\n{"title": "A", "edition": "owner"}\n---\nWords.\n',
        "Board: the tone board came out first, with all its screws.\n",
        "Edit: a later word. The second edition of the manual: see below.\n",
        "## Stage: two\n\n## Module: filter\n",
        "| title | maker |\n|---|---|\n| a | b |\n",
        "Date codes: 7713 and 7721.\n\nOn this board: R1.\n",
        "Words.\n\n" * 20 + "Board: psu\nDate: 2026-02-03\n",
        "https://example.org/edition/owner\n",
    ],
)
def test_what_was_read_and_ordinary_words_are_no_problem(text: str) -> None:
    assert problems_of(text) == []


@pytest.mark.parametrize(
    "note", sorted([*ROOT.glob("sample_job/notes/*.md"), *ROOT.glob("site_src/*/notes/*.md")]), ids=lambda n: n.stem
)
def test_the_notes_of_the_demo_are_clean(note: Path) -> None:
    assert problems_of(note.read_text("utf-8")) == []


def test_the_values_above_are_of_all_keys() -> None:
    assert set(VALUES) == set(KEYS)
