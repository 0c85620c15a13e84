"""The readers one by one: what they make of a text, and that no text whatever makes them fall over."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.intake.csv_file import parse_table
from benchrecord.intake.note_file import parse_note
from benchrecord.intake.tables import typed_table
from benchrecord.intake.yaml_file import parse_yaml
from benchrecord.model.table import Column, Holds, Table
from benchrecord.problems import Problem

COLUMNS = (
    Column("item", required=True),
    Column("unit", Holds.UNIT),
    Column("value", Holds.NUMBER, unit=""),
    Column("marked", Holds.QUANTITY, positive=True),
    Column("flag", Holds.FLAG),
    Column("when", Holds.DATE),
    Column("word", Holds.WORD, choice=("one", "two")),
    Column("refs", Holds.REFS),
    Column("file", Holds.FILE),
    Column("note", Holds.NOTE),
)
ANYTHING = st.text(max_size=200) | st.text("a,;\t\"\n\r#.'0129-±µ= :[]{}&*!|>%@`\u2028\x85\x0b", max_size=200)


def table(text: str) -> tuple[Table, list[Problem]]:
    report: list[Problem] = []
    return typed_table(parse_table(text, "t.csv", report), COLUMNS, report), report


@given(ANYTHING)
def test_no_text_breaks_the_reader_of_tables(text: str) -> None:
    for header in ("", "item,unit,value,marked,flag,when,word,refs,file,note\n", "item;value\n"):
        _, report = table(header + text)
        lines = len(re.split("\r\n|\r|\n", header + text)) + 1
        assert all(p.place.line is None or 1 <= p.place.line <= lines for p in report)


@given(ANYTHING)
def test_no_text_breaks_the_reader_of_yaml(text: str) -> None:
    _, problems = parse_yaml(text, "t.yml")
    assert all(p.place.line is None or 1 <= p.place.line <= text.count("\n") + text.count("\r") + 3 for p in problems)


@given(ANYTHING)
def test_no_text_breaks_the_reader_of_notes(text: str) -> None:
    for head in ("", "---\n", "---\ntitle: x\n---\n"):
        note = parse_note(head + text, "notes/10-a.md", [])
        assert note.title
        assert (head + text).replace("\r\n", "\n").replace("\r", "\n").endswith(note.body)


CELLS = {
    "item": "a",
    "unit": "mV",
    "value": "1234,5",
    "marked": "4k7",
    "flag": "yes",
    "when": "2026-02-03",
    "word": "two",
    "refs": "R1 C2",
}


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiter_line_ends_and_order_make_no_difference(delimiter: str, end: str) -> None:
    sign = "." if delimiter == "," else ","
    for names in itertools.islice(itertools.permutations(CELLS), 0, 40320, 5003):
        row = [CELLS[n].replace(",", sign) for n in names]
        read, report = table(delimiter.join(names) + end + delimiter.join(row) + end)
        assert report == []
        (found,) = read.rows
        assert (found.number("value"), found.unit("marked"), found.number("marked")) == (1234.5, "ohm", 4700.0)
        assert (found.flag("flag"), found.words("refs"), found.text("item")) == (True, ("R1", "C2"), "a")


def test_a_value_in_another_unit_of_the_same_quantity_is_converted() -> None:
    read, report = table("item,unit,value\na,mV,1.2 V\nb,V,30 mV\nc,V,7\n")
    assert report == []
    assert [r.number("value") for r in read.rows] == pytest.approx([1200, 0.03, 7])


def test_the_user_s_own_line_numbers_count_comments_blank_lines_and_quoted_breaks() -> None:
    read, _ = table('# first\n\nitem,value\n"two\nlines",1\n\n# between\nb,2\n')
    assert [(r.place.line, r.text("item")) for r in read.rows] == [(4, "two\nlines"), (8, "b")]


def test_a_thousands_separator_is_not_guessed_at() -> None:
    for text in ("1,234.5", "1,234,567", "1.234,5", "1 234.5", "1'234"):
        _, report = table(f'item;value\na;"{text}"\nb;2.5\n')
        assert [(p.code, p.expected) for p in report] == [("not-a-number", "a number without signs between its thousands")]


def test_cells_that_disagree_about_the_decimal_sign_are_named() -> None:
    _, report = table("item;value\na;1,5\nb;2.5\nc;3,5\n")
    assert [(p.code, p.place.line, p.place.column) for p in report] == [("ambiguous-decimal", 3, "value")]
    assert "line 3 value 2.5" in report[0].got


@pytest.mark.parametrize(
    ("column", "cell", "code"),
    [
        ("value", "twelve", "not-a-number"),
        ("value", "1e999", "not-a-number"),
        ("value", "nan", "not-a-number"),
        ("value", "12 furlong", "not-a-number"),
        ("marked", "-4k7", "not-positive"),
        ("flag", "perhaps", "wrong-type"),
        ("when", "2026-02-30", "not-a-date"),
        ("when", "3.2.2026", "not-a-date"),
        ("word", "three", "unknown-word"),
        ("refs", "R1 and", "wrong-type"),
        ("unit", "furlong", "wrong-unit"),
        ("file", "../x", "path-outside"),
        ("file", "C:\\x", "path-outside"),
        ("note", "H4", "wrong-type"),
    ],
)
def test_each_kind_of_cell_says_what_is_wrong_with_it(column: str, cell: str, code: str) -> None:
    _, report = table(f"item,{column}\na,{cell}\n")
    assert [(p.code, p.place.line, p.place.column) for p in report] == [(code, 2, column)]
    assert report[0].got == cell


def test_html_in_a_cell_is_text() -> None:
    read, report = table('item\n"<b>""x"" & y</b>"\n')
    assert report == []
    assert read.rows[0].text("item") == '<b>"x" & y</b>'


def test_yaml_keeps_the_place_of_keys_and_values() -> None:
    node, problems = parse_yaml("a: 1\nb:\n  - {c: two}\n", "t.yml", first_line=5)
    assert problems == []
    assert node
    assert node.keys
    key_place, value = node.keys["b"]
    assert (key_place.line, key_place.column) == (6, 1)
    assert value.items
    assert value.items[0].keys
    assert (value.items[0].keys["c"][1].place.line, value.items[0].keys["c"][1].place.column) == (7, 9)


def test_a_note_takes_its_title_from_its_facts_its_heading_or_its_name() -> None:
    assert parse_note("---\ntitle: Facts\n---\n# Heading\n", "notes/10-the-name.md", []).title == "Facts"
    assert parse_note("# Heading\n", "notes/10-the-name.md", []).title == "Heading"
    assert parse_note("Words.\n", "notes/10-the-name.md", []).title == "The name"


def test_lines_of_a_note_count_its_facts() -> None:
    note = parse_note("---\r\ntitle: A\r\n---\r\nbody\r\n", "notes/a.md", [])
    assert (note.body, note.body_line) == ("body\n", 4)
