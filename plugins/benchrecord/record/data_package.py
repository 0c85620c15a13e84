"""The data of a record as a Frictionless data package: tables as CSV, each with its columns described, and all findings as JSON.

Source: Data Package, Tabular Data Package and Table Schema, version 1 (specs.frictionlessdata.io).
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any

from benchrecord.model.findings import CheckFinding, DataTable, Item, Results, Side, Value
from benchrecord.model.quantity import shown_unit
from benchrecord.pages import addresses, words
from benchrecord.pages.view import View

Cell = str | int | float | bool | None


@dataclass(frozen=True, slots=True)
class Field:
    """A column: its name, what it holds (a type of Table Schema), its unit where all of it has one, and what it tells."""

    name: str
    type: str = "string"
    unit: str = ""
    about: str = ""

    def described(self) -> dict[str, str]:
        """Return its entry in a table schema."""
        told = (("name", self.name), ("type", self.type), ("unit", self.unit), ("description", self.about))
        return {key: said for key, said in told if said}


@dataclass(frozen=True, slots=True)
class DataFile:
    """A table as it is written: its name, what it tells, its columns and its rows."""

    name: str
    title: str
    fields: tuple[Field, ...]
    rows: tuple[tuple[Cell, ...], ...]


def package(view: View, findings: str) -> dict[str, bytes]:
    """Return every file of the package by its name; ``findings`` is the JSON of all results."""
    tables = [t for t in (*_job_tables(view), *_reading_tables(view)) if t.rows]
    files = {f"{t.name}.csv": _csv(t).encode() for t in tables} | {"findings.json": findings.encode()}
    described = json.dumps(_descriptor(view, tables), indent=1, ensure_ascii=False) + "\n"
    return {"datapackage.json": described.encode(), **files}


def _descriptor(view: View, tables: Sequence[DataFile]) -> dict[str, Any]:
    job = view.job
    about = {
        "profile": "data-package", "name": re.sub(r"[^a-z0-9._-]+", "-", job.id.lower()), "title": f"{words.instrument_name(job)}: {job.title}",
        "description": job.summary or "The readings and the work on one instrument.",
    }  # fmt: skip
    # its type is said, or some readers guess another by its keys
    results = {"name": "findings", "path": "findings.json", "title": "All results of all checks", "type": "json", "format": "json", "mediatype": "application/json"}  # fmt: skip
    return {**about, "resources": [*map(_resource, tables), {"profile": "data-resource", **results}]}


def _resource(table: DataFile) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource", "name": table.name, "path": f"{table.name}.csv", "title": table.title, "format": "csv",
        "mediatype": "text/csv", "encoding": "utf-8", "schema": {"fields": [f.described() for f in table.fields], "missingValues": [""]},
    }  # fmt: skip


def _csv(table: DataFile) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(f.name for f in table.fields)
    writer.writerows([_written(c) for c in row] for row in table.rows)
    return out.getvalue()


def _written(cell: Cell) -> str:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return words.csv_cell(cell) if isinstance(cell, str) else "" if cell is None else repr(cell)


def _job_tables(view: View) -> Iterator[DataFile]:
    """The tables of the job folder, as this reader has them."""
    job = view.job
    yield _of(job.parts, "parts", "What was done to each part", "board ref action was now reason was_rating now_rating measured qty# obsolete? original_kept? status")  # fmt: skip
    yield _of(job.faults, "faults", "What was wrong, why, and what was done about it", "symptom cause board ref remedy")
    yield _of(job.date_codes, "date-codes", "Date codes stamped on parts", "board ref code note")
    yield _of(job.trims, "trims", "Trims as found and as left, in the unit of each", "board ref function module unit target# low# high# as_found# as_left# turns# position_found# position_left# check")  # fmt: skip
    yield _of(job.photos, "photographs", "The photographs", "file caption stage date@ board module")
    yield _of(job.recordings, "recordings", "The recordings", "file rate# frames# channels# form lossy?")
    yield _of(job.notes, "notes", "The notes", "address title date@ stage board module")
    yield _of(job.meters, "meters", "What was measured with", "id title calibrated@")
    placed = [(b.id, p.ref, p.kind, p.value, p.function, p.x, p.y, b.frame) for b in job.boards for p in b.parts]
    fields = tuple(Field(n) for n in ("board", "ref", "kind", "value", "function"))
    places = (Field("x", "number"), Field("y", "number"), Field("unit", about="mm from the lower left corner, or percent of the first photograph"))  # fmt: skip
    yield DataFile("places", "Where each part is on its board", (*fields, *places), tuple(placed))
    yield _results(view)


TYPES = {"#": "number", "?": "boolean", "@": "date"}


def _of(items: Sequence[object], name: str, title: str, columns: str) -> DataFile:
    """Make a table of items; the sign behind a column's name tells what it holds: a number, yes or no, a date."""
    names = [c.rstrip("#?@") for c in columns.split()]
    fields = tuple(Field(n, TYPES.get(c[-1], "string")) for n, c in zip(names, columns.split(), strict=True))
    return DataFile(name, title, fields, tuple(tuple(_plain(getattr(item, n)) for n in names) for item in items))


def _plain(value: Any) -> Cell:
    if isinstance(value, date):
        return value.isoformat()
    return value.value if isinstance(value, Enum) else value  # type: ignore[no-any-return]  # a word, a number or yes


def _results(view: View) -> DataFile:
    """Every result of every check, a row each."""
    fields = (
        *(Field(n) for n in ("check", "kind", "stage", "item", "verdict", "result")), Field("value", "number"), Field("text"), Field("unit"),
        Field("expanded_uncertainty", "number", about="k = 2, in the unit of the value"), Field("reason", about="why there is no value"),
    )  # fmt: skip
    rows = (row for f in view.findings.checks for row in _check_rows(f))
    return DataFile("results", "Every result of every check", fields, tuple(rows))


def _check_rows(finding: CheckFinding) -> Iterator[tuple[Cell, ...]]:
    for stage, side in (("as_found", finding.found), ("as_left", finding.left)):
        whole: Sequence[Side | Item] = (side, *side.items) if side else ()
        for part in whole:
            head = (finding.check.id, finding.check.kind, stage, getattr(part, "item", ""), part.verdict.value)
            yield from ((*head, *row) for row in _result_rows(part.results))


def _result_rows(results: Results) -> Iterator[tuple[Cell, ...]]:
    for name, result in results.items():
        value = result.value
        number = value if isinstance(value, int | float) and not isinstance(value, bool) else None
        text = (
            ""
            if number is not None or value is None
            else " ".join(map(repr, value))
            if isinstance(value, tuple)
            else str(value)
        )
        yield name, number, text, result.unit, result.uncertainty, result.reason


def _reading_tables(view: View) -> Iterator[DataFile]:
    """The readings of each check, and the points of its chart where they are others."""
    for finding in view.findings.checks:
        name = re.sub(r"[^a-z0-9._-]+", "-", addresses.slug(finding.check.id).lower())
        yield _readings(f"readings-{name}", finding.check.title, finding.table)
        if finding.curve:
            yield _readings(f"points-{name}", f"{finding.check.title}: the points of the chart", finding.curve)


def _readings(name: str, title: str, table: DataTable) -> DataFile:
    """Describe a table of readings: a column of numbers has a unit, or one beside each number where they differ."""
    columns: list[tuple[Field, list[Cell]]] = []
    for number, words_of_it in enumerate(table.columns):
        cells = [row[number] for row in table.rows]
        columns += _column(words_of_it, cells, mixed_beside="Unit" not in table.columns)
    taken: dict[str, int] = {}
    fields = []
    for field, _ in columns:
        taken[field.name] = taken.get(field.name, 0) + 1
        again = f" {taken[field.name]}" if taken[field.name] > 1 else ""
        fields.append(Field(field.name + again, field.type, field.unit, field.about))
    return DataFile(name, title, tuple(fields), tuple(zip(*(cells for _, cells in columns), strict=True)))


def _column(name: str, cells: Sequence[Value | str], *, mixed_beside: bool) -> list[tuple[Field, list[Cell]]]:
    values = [c if isinstance(c, Value) else Value(c or None) for c in cells]
    known = [v for v in values if v.value is not None]
    if not known or not all(isinstance(v.value, int | float) and not isinstance(v.value, bool) for v in known):
        return [(Field(name), [words.csv_cell(c) if isinstance(c, Value) else c for c in cells])]
    numbers: list[Cell] = [v.value for v in values]  # type: ignore[misc]  # all of them are numbers, or nothing
    units = {v.unit for v in known}
    if len(units) == 1:
        return [(Field(name, "number", shown_unit(units.pop())), numbers)]
    beside: list[tuple[Field, list[Cell]]] = (
        [(Field(f"{name} unit"), [shown_unit(v.unit) for v in values])] if mixed_beside else []
    )
    return [(Field(name, "number"), numbers), *beside]
