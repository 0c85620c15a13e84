"""Cells by their column: numbers in their unit, words of a list, dates, designators."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from itertools import zip_longest

from benchrecord.intake.csv_file import RawTable, check_header
from benchrecord.intake.paths import escape_problem, outside
from benchrecord.intake.yaml_file import NO, YES
from benchrecord.model.notation import parse_quantity, unit_of
from benchrecord.model.quantity import Quantity, canonical_unit, convert, dimension
from benchrecord.model.table import Cell, Column, Holds, Row, Table
from benchrecord.problems import Place, Problem, write_one_of

NUMERIC = (Holds.NUMBER, Holds.QUANTITY)
_REF = re.compile(r"(?:[\w-]+:)?[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
_NOTE = re.compile(r"[A-Ga-g][#♯b♭]?-?\d+")
SHORT = 80


def typed_table(raw: RawTable, columns: Sequence[Column], report: list[Problem]) -> Table:
    """Read every cell of a table by its column; what is wrong goes to ``report``."""
    check_header(raw, [c.name for c in columns], [c.name for c in columns if c.required], report)
    by_name = {c.name: c for c in columns}
    comma = _decimal_comma(raw, by_name, report)
    rows = []
    for line, cells in raw.rows:
        texts = {n: c for n, c in zip_longest(raw.header, cells[: len(raw.header)], fillvalue="") if n in by_name}
        rows.append(_row(Place(raw.file, line), texts, by_name, report, decimal_comma=comma))
    return Table(raw.file, raw.header, tuple(rows))


def _decimal_comma(raw: RawTable, columns: dict[str, Column], report: list[Problem]) -> bool | None:
    """Find the decimal sign of a file; None, with a problem that names them, where its cells disagree."""
    numeric = [n for n, name in enumerate(raw.header) if name in columns and columns[name].holds in NUMERIC]
    cells = [(line, raw.header[n], row[n]) for line, row in raw.rows for n in numeric if n < len(row) and row[n]]
    commas = [c for c in cells if re.search(r"\d,\d", c[2])]
    points = [c for c in cells if re.search(r"\d\.\d|^\.\d", c[2])]
    if commas and points:
        few, many = sorted((commas, points), key=len)
        said = "; ".join(f"line {line} {name} {text}" for line, name, text in (*few[:3], *many[:1]))
        sign = "comma" if few is commas else "point"
        remedy = f"write one decimal sign in the whole file; {len(few)} of {len(few) + len(many)} cells have a {sign}"
        report.append(
            Problem(
                "ambiguous-decimal", Place(raw.file, few[0][0], few[0][1]), said, "one decimal sign in the whole file", remedy
            )
        )
        return None
    return bool(commas)


def _row(
    place: Place, texts: dict[str, str], columns: dict[str, Column], report: list[Problem], *, decimal_comma: bool | None
) -> Row:
    own_unit = canonical_unit(texts.get("unit", "")) if "unit" in columns else None
    cells = {}
    for name, text in texts.items():
        column, at = columns[name], Place(place.file, place.line, name)
        if not text:
            if column.required:
                report.append(
                    Problem("missing-value", at, "nothing", f"a value for {name}", f"fill in {name}, or take the row out")
                )
            continue
        cells[name] = _cell(column, text, at, report, comma=decimal_comma, row_unit=own_unit)
    report += [problem for name in cells if (problem := _unlike(columns[name], cells))]
    return Row(place, cells)


def _unlike(column: Column, cells: dict[str, Cell]) -> Problem | None:
    """Complain of a quantity that is not of the kind of the one it is compared with; a plain number is of any."""
    own, other = cells[column.name], cells.get(column.like)
    dimensions = [dimension(cell.unit) for cell in (own, other) if cell]
    if len(dimensions) < 2 or None in dimensions or dimensions[0] == dimensions[1]:  # noqa: PLR2004  # both are there
        return None
    expected = f"a value in {dimensions[1]}, as {column.like} has it"
    return Problem(
        "wrong-unit", own.place, own.text[:SHORT], expected, f"write the value in {dimensions[1]}, or mend {column.like}"
    )


def _cell(column: Column, text: str, at: Place, report: list[Problem], *, comma: bool | None, row_unit: str | None) -> Cell:
    if column.holds in NUMERIC:
        return _number_cell(column, text, at, report, comma=comma, row_unit=row_unit)
    value, wrong = read_value(column, text)
    if wrong:
        report.append(Problem(wrong[0], at, text[:SHORT], wrong[1], wrong[2]))
    return Cell(text, value, at)


def _number_cell(
    column: Column, text: str, at: Place, report: list[Problem], *, comma: bool | None, row_unit: str | None
) -> Cell:
    if comma is None and re.search(r"\d[.,]\d", text):
        return Cell(text, None, at)  # its sign is in doubt, which is a problem of the file already
    quantity = parse_quantity(text, decimal_comma=bool(comma))
    if quantity is None:
        unit = unit_of(text)
        known = f", in a unit that is known here; {unit} is none" if unit and canonical_unit(unit) is None else ""
        report.append(
            Problem(
                "not-a-number",
                at,
                text[:SHORT],
                f"a number{known}",
                "write a number such as 12.5, 4k7 or 30 mV, or leave the cell empty",
            )
        )
        return Cell(text, None, at)
    if column.positive and quantity.value <= 0:
        report.append(Problem("not-positive", at, text[:SHORT], "more than zero", "mend the value, or leave the cell empty"))
        return Cell(text, None, at)
    wanted = column.unit or (row_unit if column.unit == "" else None)
    return _in_unit(quantity, wanted, at, report) if column.holds is Holds.NUMBER else _kept(quantity, at)


def _kept(quantity: Quantity, at: Place) -> Cell:
    return Cell(quantity.text, quantity.value, at, quantity.unit, quantity.decimals, quantity.either_sign)


def _in_unit(quantity: Quantity, wanted: str | None, at: Place, report: list[Problem]) -> Cell:
    """Convert a quantity to the unit of its column or row; a plain number counts in it already."""
    if wanted is None or quantity.unit is None or quantity.unit == wanted:
        return _kept(quantity, at)
    if dimension(quantity.unit) != dimension(wanted):
        report.append(
            Problem(
                "wrong-unit",
                at,
                quantity.text[:SHORT],
                f"a value in {wanted}",
                f"write the value in {wanted}, or mend the unit",
            )
        )
        return Cell(quantity.text, None, at)
    value = convert(quantity.value, quantity.unit, wanted)
    shift = len(f"{convert(1.0, wanted, quantity.unit):.0f}") - 1 if convert(1.0, wanted, quantity.unit) >= 1 else 0
    decimals = None if quantity.decimals is None else quantity.decimals + shift
    return Cell(quantity.text, value, at, wanted, decimals, quantity.either_sign)


Wrong = tuple[str, str, str]
Read = tuple[float | str | bool | tuple[str, ...] | None, Wrong | None]


def read_value(column: Column, text: str) -> Read:
    """Read a cell that holds no number; return the value, or what is wrong: code, what was expected, what to write."""
    readers = {
        Holds.FLAG: _flag, Holds.DATE: _date, Holds.UNIT: _unit, Holds.REF: _ref, Holds.REFS: _refs, Holds.FILE: _file, Holds.NOTE: _note,
    }  # fmt: skip
    if column.holds is Holds.WORD:
        return _word(text, column.choice)
    return readers[column.holds](text) if column.holds in readers else (text, None)


def _flag(text: str) -> Read:
    said = text.lower()
    return (said in YES, None) if said in YES | NO else (None, ("wrong-type", "yes or no", "write yes or no"))


def _date(text: str) -> Read:
    try:
        return date.fromisoformat(text).isoformat(), None
    except ValueError:
        return None, ("not-a-date", "a date: 2026-02-03", "write year, month and day, as 2026-02-03")


def _unit(text: str) -> Read:
    unit = canonical_unit(text)
    return (
        (unit, None)
        if unit
        else (None, ("wrong-unit", "a unit: V, mV, ohm, kohm, Hz, mA, dB, cents, %, s …", "write one of those"))
    )


def _ref(text: str) -> Read:
    fine = _REF.fullmatch(text)
    return (
        (text, None)
        if fine
        else (None, ("wrong-type", "a designator such as R12 or psu:R12", "write one designator, or leave the cell empty"))
    )


def _refs(text: str) -> Read:
    words = tuple(w for w in re.split(r"[\s,;]+", text) if w)
    if all(_REF.fullmatch(w) for w in words):
        return words, None
    return None, ("wrong-type", "designators such as R12 C3", "write designators with a space between, or leave the cell empty")


def _file(text: str) -> Read:
    return (
        (text, None)
        if not outside(text)
        else (
            None,
            (
                "path-outside",
                escape_problem(text, Place("")).expected,
                "copy the file into the folder and write its path from there",
            ),
        )
    )


def _note(text: str) -> Read:
    return (
        (text, None)
        if _NOTE.fullmatch(text)
        else (None, ("wrong-type", "a note such as C4 or F#3", "write the note's letter and octave"))
    )


def _word(text: str, choice: Sequence[str]) -> Read:
    return (
        (text, None) if text in choice else (None, ("unknown-word", f"one of: {', '.join(choice)}", write_one_of(text, choice)))
    )
