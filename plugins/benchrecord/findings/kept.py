"""A finding as bytes and back, so that a recording need not be analysed twice."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from benchrecord.model.findings import CheckFinding, DataTable, Item, Results, ResultWarning, Side, Value, Verdict
from benchrecord.model.job import Check

WORDS = ("limit", "plain", "method", "advice", "basis", "alarm", "caution")


def as_bytes(finding: CheckFinding) -> bytes:
    """Write a finding without its check; numbers keep every digit."""
    told = {
        "words": [getattr(finding, name) for name in WORDS],
        "sides": [_side(finding.found), _side(finding.left)],
        "tables": [_table(finding.table), _table(finding.curve)],
    }
    return json.dumps(told, allow_nan=False).encode()


def from_bytes(kept: bytes, check: Check) -> CheckFinding:
    """Read a finding of a check back."""
    told = json.loads(kept)
    found, left = (_read_side(side) for side in told["sides"])
    table, curve = (_read_table(table) for table in told["tables"])
    words = dict(zip(WORDS, told["words"], strict=True))
    return CheckFinding(check, found=found, left=left, table=table or DataTable((), ()), curve=curve, **words)


def _value(value: Value) -> list[Any]:
    return [value.value, value.unit, value.uncertainty, value.decimals, value.reason]


def _read_value(told: list[Any]) -> Value:
    number, *rest = told
    return Value(tuple(number) if isinstance(number, list) else number, *rest)


def _results(results: Results) -> dict[str, list[Any]]:
    return {name: _value(value) for name, value in results.items()}


def _read_results(told: Mapping[str, list[Any]]) -> Results:
    return {name: _read_value(value) for name, value in told.items()}


def _side(side: Side | None) -> list[Any] | None:
    if side is None:
        return None
    items = [[i.item, i.verdict, _results(i.results), i.ref, _warnings(i.warnings)] for i in side.items]
    return [side.verdict, _results(side.results), items, side.worst, side.reason, _warnings(side.warnings)]


def _read_side(told: list[Any] | None) -> Side | None:
    if told is None:
        return None
    verdict, results, items, worst, reason, warnings = told
    read = tuple(Item(name, Verdict(v), _read_results(own), ref, _read_warnings(w)) for name, v, own, ref, w in items)
    return Side(Verdict(verdict), _read_results(results), read, worst, reason, _read_warnings(warnings))


def _warnings(warnings: tuple[ResultWarning, ...]) -> list[list[Any]]:
    return [[w.code, w.message, w.affects, w.of_measurement] for w in warnings]


def _read_warnings(rows: list[list[Any]]) -> tuple[ResultWarning, ...]:
    return tuple(
        ResultWarning(code, message, tuple(affects), of_measurement) for code, message, affects, of_measurement in rows
    )


def _table(table: DataTable | None) -> list[Any] | None:
    if table is None:
        return None
    return [table.columns, [[c if isinstance(c, str) else _value(c) for c in row] for row in table.rows], table.refs]


def _read_table(told: list[Any] | None) -> DataTable | None:
    if told is None:
        return None
    columns, rows, refs = told
    read = tuple(tuple(c if isinstance(c, str) else _read_value(c) for c in row) for row in rows)
    return DataTable(tuple(columns), read, tuple(refs))
