"""Cells by their column: numbers in their unit, words of a list, dates, designators."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

from benchrecord.intake.csv_file import RawTable, check_header
from benchrecord.intake.paths import escape_problem, outside
from benchrecord.intake.yaml_file import NO, YES, Wrong, day_of
from benchrecord.model.notation import (
    IN_RANGE,
    LETTER_ALONE,
    capacitor_code,
    is_out_of_range,
    parse_quantity,
    prefix_meant,
    split_bound,
    unit_of,
)
from benchrecord.model.quantity import (
    SPELLINGS,
    UNITS,
    Quantity,
    canonical_unit,
    convert,
    dimension,
    factor,
    powers_of_thousand,
)
from benchrecord.model.table import Cell, Column, Holds, Row, Table
from benchrecord.problems import Place, Problem, nearest, write_one_of

NUMERIC = (Holds.NUMBER, Holds.QUANTITY, Holds.PLAIN)
_REF = re.compile(r"(?:[\w-]+:)?[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
_NOTE = re.compile(r"[A-Ga-g][#♯b♭]?-?\d+")
_GROUPED = re.compile(
    r"\d[,. '\u00a0\u202f\u2009]\d{3}[,. ]\d|\d,\d+,\d|\d\.\d+\.\d|\d[ '\u00a0\u202f\u2009]\d{3}\b"
)  # thousands apart
_ONE_GROUP = re.compile(r"[^\d.,]*[1-9]\d{0,2},\d{3}(?!\d)[^.,]*")
FORMULA_SIGNS = tuple("=+-−@")  # after an apostrophe, which is how they are typed where no formula is meant
SHORT = 80
LATEST_FIRST = ("as_left", "as_found")
EMPTY = ", or leave the cell empty"


def typed_table(raw: RawTable, columns: Sequence[Column], report: list[Problem]) -> Table:
    """Read every cell of a table by its column; what is wrong goes to ``report``."""
    check_header(raw, [c.name for c in columns], [c.name for c in columns if c.required], report)
    by_name = {c.name: c for c in columns}
    comma = decimal_comma(raw, by_name, report)
    rows = []
    for line, cells in raw.rows:
        found = zip_longest(raw.header, cells[: len(raw.header)], fillvalue="")
        texts = {n: _without_text_mark(c, by_name[n]) for n, c in found if n in by_name}
        rows.append(_row(Place(raw.file, line), texts, by_name, report, decimal_comma=comma))
    return Table(raw.file, raw.header, tuple(rows))


def _without_text_mark(text: str, column: Column) -> str:
    """Return a cell without the apostrophe before it by which a spreadsheet is told that what follows is text: ``'+12 V``."""
    is_mark = text.startswith("'") and (column.holds in NUMERIC or text[1:2] in FORMULA_SIGNS)
    return text[1:].lstrip() if is_mark else text


def decimal_comma(raw: RawTable, columns: dict[str, Column], report: list[Problem]) -> bool | None:
    """Find the decimal sign of a file; None, with a problem that names them, where its cells disagree."""
    numeric = [n for n, name in enumerate(raw.header) if name in columns and columns[name].holds in NUMERIC]
    cells = [(line, raw.header[n], row[n]) for line, row in raw.rows for n in numeric if n < len(row) and row[n]]
    commas = [c for c in cells if re.search(r"\d,\d", c[2]) and not _GROUPED.search(c[2])]
    points = [c for c in cells if re.search(r"\d\.\d|^\.\d", c[2]) and not _GROUPED.search(c[2])]
    if commas and not points and raw.delimiter == "," and all(_ONE_GROUP.fullmatch(c[2]) for c in commas):
        line, name, text = commas[0]
        remedy = f"write {text.replace(',', '.')} or {text.replace(',', '')}"
        report.append(
            Problem("ambiguous-decimal", Place(raw.file, line, name), text, "a number that reads in one way only", remedy)
        )
        return None
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
    own_unit = _unit_of_row(texts, columns, decimal_comma=bool(decimal_comma)) if "unit" in columns else None
    cells = {}
    for name, text in texts.items():
        column, at = columns[name], Place(place.file, place.line, name)
        if not text:
            if column.required:
                remedy = f"fill in {name}, or take the row out"
                report.append(Problem("missing-value", at, "nothing", f"a value for {name}", remedy))
            continue
        cells[name] = _cell(column, text, at, report, comma=decimal_comma, row_unit=own_unit)
    cells = _with_capacitor_codes(columns, cells)
    report += [problem for name in cells if (problem := _unlike(columns[name], cells) or _slip(columns[name], cells))]
    return Row(place, cells)


def _with_capacitor_codes(columns: dict[str, Column], cells: dict[str, Cell]) -> dict[str, Cell]:
    """Read three digits as the code of a capacitor where what they are compared with was measured in farad."""
    codes = {
        columns[name].like: code
        for name, cell in cells.items()
        if dimension(cell.unit) == "F" and (other := cells.get(columns[name].like)) and (code := capacitor_code(other.text))
    }
    return {
        name: replace(cell, value=codes[name].value, unit=codes[name].unit, decimals=codes[name].decimals)
        if name in codes
        else cell
        for name, cell in cells.items()
    }


def _slip(column: Column, cells: dict[str, Cell]) -> Problem | None:
    """Ask about a value that is 1000ⁿ times the one it lies near: most likely its unit or its prefix is another."""
    own, other = cells[column.name], cells.get(column.near)
    if not other or not (power := powers_of_thousand(in_base(own), in_base(other))):
        return None
    times = f"{factor(power)} times" if power > 0 else f"1/{factor(power)} of"
    return Problem(
        "unit-slip",
        own.place,
        own.text[:SHORT],
        f"a value near {column.near} {other.text[:SHORT]}: this is about {times} that",
        "write the unit of both; nothing to do where the reading is right",
    )


def in_base(cell: Cell) -> float:
    """Return a number in the base unit of its own unit, as it stands where it has none; 0 of what is no number."""
    number = float(cell.value) if isinstance(cell.value, int | float) else 0.0
    return number * UNITS[cell.unit][1] if cell.unit in UNITS else number


def _unit_of_row(texts: dict[str, str], columns: dict[str, Column], *, decimal_comma: bool) -> str | None:
    """Return the unit that the numbers of a row count in: that of its cell, else the one written behind a number, a reading before a limit."""
    told = canonical_unit(texts.get("unit", ""))
    names = sorted(texts, key=lambda name: LATEST_FIRST.index(name) if name in LATEST_FIRST else len(LATEST_FIRST))
    counted = [texts[name] for name in names if columns[name].holds is Holds.NUMBER and columns[name].unit == ""]
    found = (parse_quantity(split_bound(text)[1], decimal_comma=decimal_comma) for text in counted if not texts.get("unit"))
    return told or next((q.unit for q in found if q and q.unit), None)


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
        bound, number = split_bound(text) if column.bounded else ("", text)
        cell = _number_cell(column, number, at, report, comma=comma, row_unit=row_unit)
        return replace(cell, text=text, bound=bound) if bound else cell
    value, wrong = read_value(column, text)
    if wrong:
        report.append(Problem(wrong[0], at, text[:SHORT], wrong[1], _for(column, wrong[2])))
    return Cell(text, value, at)


def _for(column: Column, remedy: str) -> str:
    """Reword a remedy for a cell that may not be empty."""
    return remedy.replace(EMPTY, ", or take the row out") if column.required else remedy


def _number_cell(
    column: Column, text: str, at: Place, report: list[Problem], *, comma: bool | None, row_unit: str | None
) -> Cell:
    if comma is None and re.search(r"\d[.,]\d", text):
        return Cell(text, None, at)  # its sign is in doubt, which is a problem of the file already
    quantity = parse_quantity(text, decimal_comma=bool(comma))
    wanted = column.unit or (row_unit if column.unit == "" else None)
    if quantity is None:
        report.append(_no_number(column, text, at, wanted))
        return Cell(text, None, at)
    if column.positive and quantity.value <= 0:
        report.append(Problem("not-positive", at, text[:SHORT], "more than zero", _for(column, f"mend the value{EMPTY}")))
        return Cell(text, None, at)
    if column.holds is Holds.PLAIN and quantity.unit:
        report.append(Problem("wrong-unit", at, text[:SHORT], "a plain number, without a unit", "write the number alone"))
        return Cell(text, None, at)
    return _in_unit(quantity, wanted, at, report) if column.holds is Holds.NUMBER else _kept(quantity, at)


def _no_number(column: Column, text: str, at: Place, wanted: str | None) -> Problem:
    unit = unit_of(text)
    expected = (
        "a plain number, without a unit" if column.holds is Holds.PLAIN else f"a number in {wanted}" if wanted else "a number"
    )
    such_as = "12.5, 4k7 or 30 mV" if column.holds is Holds.QUANTITY else "12.5"
    if _GROUPED.search(text):
        return Problem(
            "not-a-number",
            at,
            text[:SHORT],
            "a number without signs between its thousands",
            "write the digits alone, as 12345.6",
        )
    if is_out_of_range(text):
        return Problem("not-a-number", at, text[:SHORT], IN_RANGE, _for(column, f"mend the number{EMPTY}"))
    if unit and canonical_unit(unit) is None and column.holds is not Holds.PLAIN:
        expected += f", in a unit that is known here; {unit[:SHORT]} is none"
    return Problem("not-a-number", at, text[:SHORT], expected, _for(column, f"write a number such as {such_as}{EMPTY}"))


def _kept(quantity: Quantity, at: Place) -> Cell:
    return Cell(quantity.text, quantity.value, at, quantity.unit, quantity.decimals, quantity.either_sign)


def _in_unit(quantity: Quantity, wanted: str | None, at: Place, report: list[Problem]) -> Cell:
    """Convert a quantity to the unit of its column or row; a plain number counts in it already."""
    if wanted is None or quantity.unit is None or quantity.unit == wanted:
        return _kept(quantity, at)
    if dimension(quantity.unit) != dimension(wanted):
        meant = prefix_meant(quantity.text, wanted)
        expected = f"a value in {wanted}{LETTER_ALONE * bool(meant)}"
        remedy = f"write {meant}" if meant else f"write the value in {wanted}, or mend the unit"
        report.append(Problem("wrong-unit", at, quantity.text[:SHORT], expected, remedy))
        return Cell(quantity.text, None, at)
    value = convert(quantity.value, quantity.unit, wanted)
    shift = math.trunc(round(math.log10(convert(1.0, wanted, quantity.unit)), 9))
    decimals = None if quantity.decimals is None else quantity.decimals + shift
    return Cell(quantity.text, value, at, wanted, decimals, quantity.either_sign)


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
    found, wrong = day_of(text)
    return (found.isoformat() if found else None), wrong


def _unit(text: str) -> Read:
    if unit := canonical_unit(text):
        return unit, None
    guess = canonical_unit(nearest(text, [*UNITS, *SPELLINGS]) or "")
    known = "a unit: V, mV, ohm, kohm, Hz, mA, dB, cents, %, s …"
    return None, ("wrong-unit", known, f"write {guess}" if guess else "write one of those")


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
