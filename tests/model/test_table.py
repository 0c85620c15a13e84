"""What a row says of its cells, those that it does not have too."""

from __future__ import annotations

from benchrecord.model.table import Cell, Row
from benchrecord.problems import Place

AT = Place("t.csv", 3)
HERE = Place("t.csv", 3, "as_left")
ROW = Row(
    AT,
    {
        "as_left": Cell(" 15.02 V ", 15.02, HERE, "V", 2),
        "item": Cell("+15 V", "+15 V", AT),
        "ref": Cell("R1 R2", ("R1", "R2"), AT),
        "kept": Cell("yes", value=True, place=AT),
        "lost": Cell("no", value=False, place=AT),
        "wrong": Cell("x", None, AT),
    },
)


def test_a_cell_as_it_was_written_and_as_it_was_read() -> None:
    assert (ROW.text("as_left"), ROW.number("as_left"), ROW.unit("as_left"), ROW.decimals("as_left")) == (
        "15.02 V",
        15.02,
        "V",
        2,
    )
    assert (ROW.text("item"), ROW.words("ref"), ROW.flag("kept"), ROW.flag("lost")) == ("+15 V", ("R1", "R2"), True, False)


def test_a_cell_that_is_not_there_is_empty() -> None:
    assert (ROW.text("no"), ROW.number("no"), ROW.unit("no"), ROW.decimals("no")) == ("", None, None, None)
    assert (ROW.words("no"), ROW.flag("no")) == ((), False)


def test_a_cell_is_no_number_unless_it_was_read_as_one() -> None:
    assert [ROW.number(name) for name in ("item", "ref", "kept", "wrong")] == [None] * 4
    assert ROW.words("item") == ()


def test_a_cell_knows_its_place_and_one_that_is_not_there_that_of_the_row() -> None:
    assert (ROW.at("as_left"), ROW.at("no")) == (HERE, AT)
