"""Changes to a table: what was to change has changed, and every other byte is where it was."""

from __future__ import annotations

import codecs

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchrecord.intake.csv_edits import add_row, remove_row, set_cells
from benchrecord.intake.csv_file import LINE, parse_table
from benchrecord.intake.edits import CannotChangeError
from benchrecord.intake.fixed_tables import BOARD_MM, MARKS
from benchrecord.intake.tables import typed_table
from benchrecord.model.table import Column, Holds
from benchrecord.problems import Problem

COLUMNS = (Column("ref"), Column("x", Holds.NUMBER, unit="mm"), Column("text"), Column("more"))
WORDS = st.text(" abÄ;,\t\"'\n\r#.0·", max_size=8)
NUMBERS = st.integers(-9999, 99999).map(lambda n: n / 100)
R12 = {"ref": "R12", "x_mm": 30.25, "y_mm": 4.0}


def rows(data: bytes) -> list[tuple[str, ...]]:
    """Return the rows of a table without a problem, as intake reads them."""
    report: list[Problem] = []
    table = parse_table(data.removeprefix(codecs.BOM_UTF8).decode(), "t.csv", report)
    typed_table(table, COLUMNS, report)
    assert [p for p in report if p.code in ("csv-syntax", "ambiguous-decimal")] == []
    return [tuple((*cells, *[""] * len(table.header))[: len(table.header)]) for _, cells in table.rows]


@st.composite
def tables(draw: st.DrawFn) -> tuple[bytes, list[int], str]:
    """Write a table in any of the ways that programs have; return it, the lines its rows begin at, and its decimal sign."""
    delimiter, end = draw(st.sampled_from(",;\t")), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    sign = draw(st.sampled_from(".,"))
    always = draw(st.booleans())

    def cell(words: str) -> str:
        spaces = draw(st.sampled_from(["", "", " "])) if delimiter != "\t" else ""
        wanted = always or any(s in words for s in (delimiter, '"', "\r", "\n")) or words.lstrip().startswith("#")
        quoted = '"' + words.replace('"', '""') + '"' if wanted else words.strip(" \t")
        return spaces + quoted + draw(st.sampled_from(["", " "])) if delimiter != "\t" else quoted

    body = [["ref", "x", "text"]] + [
        [f"R{n}", f"{draw(NUMBERS):.2f}".replace(".", sign), draw(WORDS).strip()][: draw(st.sampled_from([3, 3, 2]))]
        for n in range(draw(st.integers(0, 5)))
    ]
    lines: list[str] = []
    begins: list[int] = []
    for row in body:
        lines += draw(st.lists(st.sampled_from(["", "# a remark", '# with "', "   "]), max_size=2))
        begins.append(sum(len(LINE.findall(line + end)) for line in lines) + 1)
        lines.append(delimiter.join(cell(c) for c in row))
    lines += draw(st.lists(st.sampled_from(["", "# the end"]), max_size=2))
    text = end.join(lines) + draw(st.sampled_from(["", end]))
    data = codecs.BOM_UTF8 * draw(st.booleans()) + text.encode()
    return data, begins[1:], sign


def only_between(old: bytes, new: bytes) -> tuple[bytes, bytes]:
    """Return what was taken out and what was put in, between what both begin and end with."""
    start = next((n for n, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    ends = zip(reversed(old[start:]), reversed(new[start:]), strict=False)
    same = next((n for n, (a, b) in enumerate(ends) if a != b), min(len(old), len(new)) - start)
    return old[start : len(old) - same], new[start : len(new) - same]


@given(tables(), NUMBERS, WORDS)
def test_a_row_more_is_read_back_and_nothing_is_taken_out(table: tuple[bytes, list[int], str], x: float, text: str) -> None:
    data, begins, sign = table
    new = add_row(data, {"ref": "R99", "x": x, "text": text}, COLUMNS)
    assert rows(new)[:-1] == rows(data)
    ref, number, words = rows(new)[-1]
    assert (ref, words) == ("R99", text.strip())
    assert float(number.replace(",", ".")) == x
    if begins:
        assert ("," in number) <= (sign == ",")
    taken, put = only_between(data, new)
    assert taken == b""
    assert put.count(b"R99") == 1


@given(tables(), NUMBERS, WORDS, st.integers(0, 4))
def test_cells_of_a_row_change_and_no_byte_outside_it(
    table: tuple[bytes, list[int], str], x: float, text: str, number: int
) -> None:
    data, begins, _ = table
    assume(number < len(begins))
    new = set_cells(data, begins[number], {"x": x, "text": text}, COLUMNS)
    before, after = rows(data), rows(new)
    assert [r for n, r in enumerate(after) if n != number] == [r for n, r in enumerate(before) if n != number]
    assert after[number][0] == before[number][0]
    assert float(after[number][1].replace(",", ".")) == x
    assert after[number][2] == text.strip()
    lines, ends = LINE.findall(data.decode()), begins[number] - 1
    following = begins[number + 1] - 1 if number + 1 < len(begins) else len(lines)
    assert new.startswith("".join(lines[:ends]).encode())
    assert new.endswith("".join(lines[following:]).encode())


@given(tables(), st.integers(0, 4))
def test_a_row_less_leaves_all_others_and_their_remarks(table: tuple[bytes, list[int], str], number: int) -> None:
    data, begins, _ = table
    assume(number < len(begins))
    new = remove_row(data, begins[number], COLUMNS)
    before = rows(data)
    assert rows(new) == before[:number] + before[number + 1 :]
    assert only_between(data, new)[1] == b""
    for remark in (b"# a remark", b'# with "', b"# the end"):
        assert new.count(remark) >= data.count(remark) - before[number][2].encode().count(remark)


@given(tables(), NUMBERS)
def test_taking_out_what_was_added_gives_the_file_back(table: tuple[bytes, list[int], str], x: float) -> None:
    data, _, _ = table
    assume(data.endswith((b"\n", b"\r")) or data == b"")
    new = add_row(data, {"ref": "R99", "x": x}, COLUMNS)
    report: list[Problem] = []
    line = parse_table(new.removeprefix(codecs.BOM_UTF8).decode(), "t.csv", report).rows[-1][0]
    assert remove_row(new, line, COLUMNS) == data


def test_a_row_follows_the_delimiter_the_decimal_comma_and_the_line_ends_of_its_table() -> None:
    old = "\ufeff# from the bench\r\nref;x_mm;y_mm;kind\r\nR1;12,5;3;resistor\r\n\r\n# to do\r\n"
    new = add_row(old.encode(), R12, BOARD_MM).decode()
    assert new == old + "R12;30,25;4;\r\n"


def test_blank_lines_at_the_end_stay_at_the_end() -> None:
    assert add_row(b"ref,x_mm,y_mm\nR1,1,2\n\n\n", R12, BOARD_MM) == b"ref,x_mm,y_mm\nR1,1,2\nR12,30.25,4\n\n\n"


def test_a_last_line_without_an_end_stays_without_one() -> None:
    assert add_row(b"ref,x_mm,y_mm\nR1,1,2", R12, BOARD_MM) == b"ref,x_mm,y_mm\nR1,1,2\nR12,30.25,4"


def test_columns_of_quoted_cells_go_on_in_quotes() -> None:
    old = b'"ref","x_mm","y_mm","value"\n"R1",1,2,"10k"\n'
    assert add_row(old, {**R12, "value": "4k7"}, BOARD_MM) == old + b'"R12",30.25,4,"4k7"\n'
    assert set_cells(old, 2, {"value": "4k7"}, BOARD_MM) == old.replace(b"10k", b"4k7")


def test_a_cell_changes_in_place_and_the_spaces_about_it_stay() -> None:
    old = b"ref , x_mm ,  y_mm\nR1  , 12.5 ,   7\n"
    assert set_cells(old, 2, {"x_mm": 3.0}, BOARD_MM) == b"ref , x_mm ,  y_mm\nR1  , 3 ,   7\n"


def test_a_row_that_ends_early_gets_the_delimiters_it_lacks() -> None:
    old = b"photo,shape,x,y,w,h,text,ref\nphotos/a.jpg,point,1,2\nphotos/b.jpg,point,1,2\n"
    new = set_cells(old, 2, {"text": "cracked, and dry"}, MARKS)
    assert new == old.replace(b"a.jpg,point,1,2", b'a.jpg,point,1,2,,,"cracked, and dry"')


def test_a_column_that_the_header_lacks_comes_behind_the_others() -> None:
    old = b"photo,shape,x,y\nphotos/a.jpg,point,1,2\n"
    new = add_row(old, {"photo": "photos/a.jpg", "shape": "box", "x": 1, "y": 2, "w": 3.5, "h": 4}, MARKS)
    assert new == b"photo,shape,x,y,w,h\nphotos/a.jpg,point,1,2\nphotos/a.jpg,box,1,2,3.5,4\n"


def test_a_word_that_would_be_a_remark_is_quoted() -> None:
    columns = (Column("text"), Column("ref"))
    assert add_row(b"text,ref\n", {"text": "#1", "ref": "R1"}, columns) == b'text,ref\n"#1",R1\n'


def test_a_new_table_is_written_as_another_of_the_folder() -> None:
    like = "\ufeffref;x_mm;y_mm\r\nR1;1,5;2\r\n".encode()
    assert add_row(b"", R12, BOARD_MM, like=like) == "\ufeffref;x_mm;y_mm\r\nR12;30,25;4\r\n".encode()
    assert add_row(b"", R12, BOARD_MM) == b"ref,x_mm,y_mm\nR12,30.25,4\n"
    assert add_row(b"# to be measured\n", R12, BOARD_MM) == b"# to be measured\nref,x_mm,y_mm\nR12,30.25,4\n"


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"ref,x_mm,y_mm\n\xff,1,2\n", "no UTF-8"),
        (b'ref,x_mm,y_mm\n"R1,1,2\n', "close the cell"),
        (b"ref;x_mm;y_mm\nR1;1,5;2.5\n", "one decimal sign"),
        (b"ref,x_mm,x_mm,y_mm\nR1,1,2,3\n", "stands twice"),
    ],
)
def test_a_table_with_a_problem_is_left_as_it_is(data: bytes, why: str) -> None:
    with pytest.raises(CannotChangeError, match=why):
        add_row(data, R12, BOARD_MM)


@pytest.mark.parametrize("line", [0, 1, 3, 9])
def test_a_line_where_no_row_begins_is_not_changed(line: int) -> None:
    with pytest.raises(CannotChangeError, match=f"no row begins at line {line}"):
        set_cells(b"ref,x_mm,y_mm\nR1,1,2\n# R2,1,2\n", line, {"x_mm": 1}, BOARD_MM)


@given(st.text(" ab,;\t\"\n\r#.01'=", max_size=60), NUMBERS, WORDS)
def test_whatever_a_file_holds_it_is_changed_rightly_or_left(text: str, x: float, words: str) -> None:
    data = ("ref,x,text\n" + text).encode()
    try:
        new = add_row(data, {"ref": "R99", "x": x, "text": words}, COLUMNS)
    except CannotChangeError:
        return
    assert rows(new)[:-1] == rows(data)
    assert only_between(data, new)[0] == b""
