"""Tables: what does not change their meaning, and what is never guessed."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.intake.csv_file import RawTable, parse_table
from benchrecord.intake.tables import typed_table
from benchrecord.model.table import Column, Holds, Table
from benchrecord.problems import Problem

COLUMNS = (
    Column("item", required=True), Column("unit", Holds.UNIT), Column("as_found", Holds.NUMBER, unit=""),
    Column("as_left", Holds.NUMBER, unit=""), Column("low", Holds.NUMBER, unit=""), Column("qty", Holds.PLAIN), Column("mm", Holds.NUMBER, unit="mm", required=True),
)  # fmt: skip
NUMBERS = ["+12", "-12.03", "12", "4k7", "+12 V", "30 mV"]
CELL = st.text("aB1,;\t\"'#\n\r .-ß", max_size=8)


def raw(text: str) -> tuple[RawTable, list[Problem]]:
    report: list[Problem] = []
    return parse_table(text, "t.csv", report), report


def typed(text: str) -> tuple[Table, list[Problem]]:
    found, report = raw(text)
    return typed_table(found, COLUMNS, report), report


@given(st.lists(st.tuples(CELL, CELL, CELL), min_size=1, max_size=5), st.sampled_from(",;\t"), st.sampled_from(["\n", "\r\n"]))
def test_what_a_spreadsheet_writes_is_read_cell_by_cell(rows: list[tuple[str, str, str]], delimiter: str, end: str) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=csv.QUOTE_ALL)
    writer.writerows([("one", "two", "three"), *rows])
    found, report = raw(out.getvalue())
    assert report == []
    assert found.header == ("one", "two", "three")
    wanted = [tuple(c.strip() for c in row) for row in rows if any(c.strip() for c in row)]
    assert [cells for _, cells in found.rows] == wanted


@given(st.lists(st.integers(-(10**7), 10**7), min_size=1, max_size=6), st.integers(1, 5))
def test_the_decimal_sign_changes_nothing(values: list[int], decimals: int) -> None:
    texts = [f"{v / 10**decimals:.{decimals}f}" for v in values]
    read = [typed("item;as_found;mm\n" + "".join(f"a;{t.replace('.', sign)};1\n" for t in texts)) for sign in (".", ",")]
    for table, report in read:
        assert report == []
        assert [row.number("as_found") for row in table.rows] == [float(t) for t in texts]
        assert {row.decimals("as_found") for row in table.rows} == {decimals}


def test_a_line_that_names_the_separator_is_no_header() -> None:
    for line in ("sep=;\n", '"sep=;"\r\n'):
        found, report = raw(f"{line}item;mm\na;1\n")
        assert (report, found.header, found.header_line, found.rows) == ([], ("item", "mm"), 2, ((3, ("a", "1")),))


def test_a_quote_inside_a_cell_is_a_sign_like_others() -> None:
    found, report = raw('item,mm\n6" nail,1\n"a ""b"" c",2\n')
    assert report == []
    assert [cells[0] for _, cells in found.rows] == ['6" nail', 'a "b" c']


def test_a_group_of_three_digits_after_a_comma_is_not_guessed_at() -> None:
    _, report = typed('item,mm,as_found\na,1,"12,345"\n')
    assert [(p.code, p.remedy) for p in report] == [("ambiguous-decimal", "write 12.345 or 12345")]
    for fine in ('item,mm,as_found\na,1,"12,34"\n', "item;mm;as_found\na;1;12,345\n", 'item,mm,as_found\na,1,"0,345"\n'):
        assert typed(fine)[1] == []


@pytest.mark.parametrize(
    ("row", "values"),
    [
        ("30 mV,0.031 V,29", (0.03, 0.031, 29.0)),
        ("0.03,31 mV,0.029 V", (0.03, 31.0, 29.0)),
        ("1,2,3", (1.0, 2.0, 3.0)),
    ],
)
def test_a_row_without_a_unit_counts_in_that_of_its_latest_reading(row: str, values: tuple[float, float, float]) -> None:
    table, report = typed(f"item,mm,as_found,as_left,low\na,1,{row}\n")
    assert report == []
    (found,) = table.rows
    assert tuple(found.number(n) for n in ("as_found", "as_left", "low")) == pytest.approx(values)


def test_a_row_of_two_quantities_is_a_problem() -> None:
    _, report = typed("item,mm,as_found,as_left\na,1,30 mV,31 mA\n")
    assert [(p.code, p.place.column, p.expected) for p in report] == [("wrong-unit", "as_found", "a value in mA")]


@pytest.mark.parametrize(
    ("unit", "cell", "decimals"), [("mV", "0.030 V", 0), ("mV", "1.2 V", -2), ("V", "30 mV", 3), ("kohm", "4k70", 2), ("Hz", "1.61 kHz", -1)]
)  # fmt: skip
def test_converting_a_value_keeps_the_digits_that_were_read(unit: str, cell: str, decimals: int) -> None:
    table, _ = typed(f"item,mm,unit,as_found\na,1,{unit},{cell}\n")
    assert table.rows[0].decimals("as_found") == decimals


def test_a_cell_that_may_not_be_empty_is_not_to_be_emptied() -> None:
    _, report = typed("item,mm,as_found\na,x,y\n")
    assert {p.place.column: p.remedy.rpartition(", ")[2] for p in report} == {
        "mm": "or take the row out",
        "as_found": "or leave the cell empty",
    }


def test_pieces_and_money_have_no_unit() -> None:
    _, report = typed("item,mm,qty\na,1,2\nb,1,2 V\nc,1,€ 2\n")
    assert [(p.code, p.place.line) for p in report] == [("wrong-unit", 3), ("not-a-number", 4)]


NUMBER_LIKE = st.text("0123456789.,-−+±eEkRMn µΩV%'\u00a0", max_size=12)


@given(st.lists(st.tuples(NUMBER_LIKE, NUMBER_LIKE), min_size=1, max_size=4), st.sampled_from(",;\t"))
def test_a_cell_is_read_or_named_and_never_both(rows: list[tuple[str, str]], delimiter: str) -> None:
    body = "".join(f'a{delimiter}"{one}"{delimiter}"{two}"\n' for one, two in rows)
    table, report = typed(f"item{delimiter}as_found{delimiter}mm\n{body}")
    named = {(p.place.line, p.place.column) for p in report}
    in_doubt = any(p.code == "ambiguous-decimal" for p in report)
    for row in table.rows:
        for name in ("as_found", "mm"):
            if row.text(name):
                assert in_doubt or (row.number(name) is None) is ((row.place.line, name) in named)


def test_a_bound_is_read_only_where_a_column_takes_one() -> None:
    columns = (
        Column("unit", Holds.UNIT),
        Column("limit", Holds.QUANTITY, bounded=True),
        Column("as_left", Holds.NUMBER, unit="", bounded=True),
    )
    found, _ = raw("unit;limit;as_left\nMohm;>= 500 kohm;> 0,2 Gohm\n;<= 0,3 ohm;< 5 mA\n")
    report: list[Problem] = []
    first, second = typed_table(found, columns, report).rows
    assert report == []
    assert (first.number("limit"), first.unit("limit"), first.bound("limit")) == (500, "kohm", "least")
    assert (first.number("as_left"), first.unit("as_left"), first.bound("as_left")) == (200, "Mohm", "least")
    assert (second.number("as_left"), second.unit("as_left"), second.text("as_left")) == (5, "mA", "< 5 mA")
    assert [p.code for p in typed("item,as_left,mm\na,> 5,1\n")[1]] == ["not-a-number"]


@pytest.mark.parametrize("limit", [10, 10_000_000])
def test_another_library_s_limit_of_cells_changes_nothing(limit: int) -> None:
    csv.field_size_limit(limit)
    found, report = raw(f"one,two\n{'x' * 100_000},b\n")
    assert report == []
    assert len(found.rows[0][1][0]) == 100_000
    csv.field_size_limit(limit)
    _, report = raw(f"one,two\n{'x' * 200_000},b\n")
    assert [p.code for p in report] == ["csv-syntax"]


@pytest.mark.parametrize("number", NUMBERS)
def test_an_apostrophe_by_which_a_spreadsheet_keeps_text_is_no_part_of_a_number(number: str) -> None:
    plain, marked = (typed(f"item,unit,as_found,mm\nx,,{cell},1\n") for cell in (number, f"'{number}"))
    assert plain[1] == marked[1] == []
    assert [(c.value, c.unit) for r in marked[0].rows for c in r.cells.values()] == [
        (c.value, c.unit) for r in plain[0].rows for c in r.cells.values()
    ]


@pytest.mark.parametrize(
    ("cell", "text"), [("'+12 V", "+12 V"), ("'=sum", "=sum"), ("'77 model", "'77 model"), ("'tis", "'tis"), ("it's", "it's")]
)
def test_of_words_only_the_apostrophe_before_a_sign_is_left_out(cell: str, text: str) -> None:
    table, report = typed(f"item,as_found,mm\n{cell},1,1\n")
    assert report == []
    assert table.rows[0].text("item") == text


@pytest.mark.parametrize(
    ("cell", "unit", "fix"), [("450m", "V", "write 450 mV"), ("0.9k", "Hz", "write 0.9 kHz"), ("2M", "Hz", "write 2 MHz")]
)
def test_a_letter_alone_in_another_unit_names_the_number_to_write(cell: str, unit: str, fix: str) -> None:
    (problem,) = typed(f"item,unit,as_found,mm\nx,{unit},{cell},1\n")[1]
    assert (problem.code, problem.remedy) == ("wrong-unit", fix)
