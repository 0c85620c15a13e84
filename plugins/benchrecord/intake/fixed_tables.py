"""The columns of the tables that every job may have, and what their rows become."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from benchrecord.intake.csv_file import read_table
from benchrecord.intake.paths import below, find
from benchrecord.intake.tables import typed_table
from benchrecord.model.job import BoardPart, DateCode, Document, Edition, Fault, Mark, PartWork, PhotoStage, TakenBy, Trim
from benchrecord.model.table import Column, Holds, Row, Table
from benchrecord.problems import Problem

ACTIONS = ("replaced", "repaired", "added", "removed", "cleaned")
STATUS = ("needed", "ordered", "fitted")
WHOSE = tuple(w.value for w in TakenBy)
STAGES = tuple(s.value for s in PhotoStage)
EDITIONS = tuple(e.value for e in Edition)
VALUES = ("target", "low", "high", "as_found", "as_left")  # of a trim
SHAPES = ("point", "box", "arrow")
LAYOUT = "layout_"  # begins the columns that a layout program wrote of its own: kept, and read by nobody
_EDITION = Column("edition", Holds.WORD, choice=EDITIONS)
_HOURS = Column("hours", Holds.NUMBER, unit="h")

PARTS = (
    Column("board"), Column("ref", Holds.REF, required=True), Column("action", Holds.WORD, required=True, choice=ACTIONS),
    *(Column(n) for n in ("was", "now", "reason", "was_rating", "now_rating", "measured", "supplier", "order_code", "note")),
    Column("qty", Holds.PLAIN, positive=True), Column("unit_cost", Holds.PLAIN), Column("obsolete", Holds.FLAG),
    Column("original_kept", Holds.FLAG), Column("status", Holds.WORD, choice=STATUS),
)  # fmt: skip
FAULTS = (
    Column("symptom", required=True),
    Column("cause"),
    Column("board"),
    Column("ref", Holds.REF),
    Column("remedy"),
    _HOURS,
)
DATE_CODES = (Column("board"), Column("ref", Holds.REF, required=True), Column("code", required=True), Column("note"))
DOCUMENTS = (Column("file", Holds.FILE, required=True), Column("title"), Column("kind"), _EDITION)
TRIMS = (
    Column("board"), Column("ref", Holds.REF, required=True), Column("function"), Column("module"), Column("after", Holds.REFS),
    Column("unit", Holds.UNIT), *(Column(n, Holds.NUMBER, unit="") for n in VALUES),
    Column("turns", Holds.NUMBER, unit="turns", positive=True), Column("position_found", Holds.NUMBER, unit="turns"),
    Column("position_left", Holds.NUMBER, unit="turns"), Column("check"),
)  # fmt: skip
PHOTOS = (
    Column("file", Holds.FILE, required=True), Column("caption"), Column("stage", Holds.WORD, choice=STAGES), Column("date", Holds.DATE),
    Column("board"), Column("module"), Column("refs", Holds.REFS), Column("taken_by", Holds.WORD, choice=WHOSE), _EDITION,
)  # fmt: skip
MARKS = (
    Column("photo", Holds.FILE, required=True), Column("shape", Holds.WORD, required=True, choice=SHAPES),
    *(Column(n, Holds.NUMBER, unit="%", required=True) for n in ("x", "y")), *(Column(n, Holds.NUMBER, unit="%") for n in ("w", "h")),
    Column("text"), Column("ref", Holds.REF),
)  # fmt: skip
BOARD_WORDS = (
    Column("kind"),
    Column("value"),
    Column("function"),
    Column("side"),
    Column("rotation", Holds.NUMBER, unit="deg"),
    Column(f"{LAYOUT}*"),
)
BOARD_MM = (
    Column("ref", Holds.REF, required=True), *(Column(n, Holds.NUMBER, unit="mm", required=True) for n in ("x_mm", "y_mm")), *BOARD_WORDS,
)  # fmt: skip
BOARD_PERCENT = (
    Column("ref", Holds.REF, required=True), *(Column(n, Holds.NUMBER, unit="%", required=True) for n in ("x", "y")), *BOARD_WORDS,
)  # fmt: skip

Item = TypeVar("Item")


def read_rows(folder: Path, name: str, columns: tuple[Column, ...], report: list[Problem]) -> Table:
    """Read a fixed table; an empty one where the file is not there."""
    if find(folder, name) is None:
        return Table(name)
    raw = read_table(folder, name, report)
    return typed_table(raw, _named_by(raw.header, columns), report) if raw else Table(name)


def _named_by(header: tuple[str, ...], columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Put in place of a column whose name ends in ``*`` each one of a header that begins so."""
    found = [c for c in columns if not c.name.endswith("*")]
    return (*found, *(replace(c, name=n) for c in columns if c not in found for n in header if n.startswith(c.name[:-1])))


def items(table: Table, make: Callable[[Row], Item], needed: tuple[str, ...]) -> tuple[Item, ...]:
    """Make an item of each row that has what it needs."""
    return tuple(make(row) for row in table.rows if all(n in row.cells and row.cells[n].value is not None for n in needed))


def part_work(row: Row) -> PartWork:
    """Make a row of parts.csv."""
    words = {
        n: row.text(n)
        for n in (
            "board",
            "ref",
            "action",
            "was",
            "now",
            "reason",
            "was_rating",
            "now_rating",
            "measured",
            "supplier",
            "order_code",
            "note",
        )
    }
    return PartWork(
        **words, qty=row.number("qty") or 1.0, unit_cost=row.number("unit_cost"), obsolete=row.flag("obsolete"),
        original_kept=row.flag("original_kept"), status=row.text("status") or "fitted", place=row.place,
    )  # fmt: skip


def fault(row: Row) -> Fault:
    """Make a row of faults.csv."""
    words = {n: row.text(n) for n in ("symptom", "cause", "board", "ref", "remedy")}
    return Fault(**words, hours=row.number("hours"), place=row.place)


def date_code(row: Row) -> DateCode:
    """Make a row of date-codes.csv."""
    return DateCode(row.text("board"), row.text("ref"), row.text("code"), row.text("note"), row.place)


def document(row: Row) -> Document:
    """Make a row of documents.csv."""
    file = below("documents", row.text("file"))
    return Document(file, row.text("title") or file, row.text("kind"), edition(row), row.place)


def trim(row: Row) -> Trim:
    """Make a row of trims.csv; a trim named without a board in ``after`` is one of the same board."""
    board = row.text("board")
    after = tuple(a if ":" in a or not board else f"{board}:{a}" for a in row.words("after"))
    numbers: dict[str, Any] = {n: row.number(n) for n in (*VALUES, "turns", "position_found", "position_left")}
    written = [d for n in ("as_left", "as_found", "target") if (d := row.decimals(n)) is not None]
    unit = row.cells["unit"].value if "unit" in row.cells else next((u for n in VALUES if (u := row.unit(n))), "")
    words: dict[str, Any] = {n: row.text(n) for n in ("ref", "function", "module", "check")}
    return Trim(
        board=board, after=after, unit=str(unit or ""), decimals=max(written, default=None), place=row.place, **words, **numbers
    )


def mark(row: Row) -> Mark:
    """Make a row of marks.csv; a point has no width and height, and an arrow with one of them has none of the other."""
    x, y = row.number("x") or 0.0, row.number("y") or 0.0
    photo, shape, sizes = below("photos", row.text("photo")), row.text("shape"), (row.number("w"), row.number("h"))
    if shape == "point":
        sizes = None, None
    if shape == "arrow" and sizes != (None, None):
        sizes = sizes[0] or 0.0, sizes[1] or 0.0
    return Mark(photo, shape, x, y, *sizes, row.text("text"), row.text("ref"), row.place)


def board_part(row: Row) -> BoardPart:
    """Make a row of a board's table, in mm or percent."""
    x, y = (row.number("x_mm"), row.number("y_mm")) if "x_mm" in row.cells else (row.number("x"), row.number("y"))
    words = {n: row.text(n) for n in ("ref", "kind", "value", "function", "side")}
    return BoardPart(x=x or 0.0, y=y or 0.0, rotation=row.number("rotation"), place=row.place, **words)


def edition(row: Row) -> Edition | None:
    """Return the reader that a row is meant for."""
    value = row.cells["edition"].value if "edition" in row.cells else None
    return Edition(value) if isinstance(value, str) else None


def stage(row: Row) -> PhotoStage | None:
    """Return the stage of a photo's row."""
    value = row.cells["stage"].value if "stage" in row.cells else None
    return PhotoStage(value) if isinstance(value, str) else None


def day(row: Row) -> date | None:
    """Return the date of a row."""
    value = row.cells["date"].value if "date" in row.cells else None
    return date.fromisoformat(value) if isinstance(value, str) else None
