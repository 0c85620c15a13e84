"""No result is infinite or no number: where a sum ends in one, there is no value, with the reason."""

from __future__ import annotations

import math
from dataclasses import replace

from benchrecord.model.findings import CheckFinding, DataTable, Item, Results, Side, Value, Verdict

NOT_FINITE = "the numbers are too far apart in size to be worked with"


def finite(finding: CheckFinding) -> CheckFinding:
    """Return a finding whose numbers are all finite; a stage or item that has another one is not judged."""
    found, left = (_stage(side) if side else None for side in (finding.found, finding.left))
    table, curve = (_table(t) if t else None for t in (finding.table, finding.curve))
    return replace(finding, found=found, left=left, table=table or finding.table, curve=curve)


def _stage(side: Side) -> Side:
    items = tuple(_item(item) for item in side.items)
    if items == side.items and _all_finite(side.results):
        return side
    return replace(side, verdict=Verdict.NOT_MEASURED, results=_results(side.results), items=items, worst="", reason=NOT_FINITE)


def _item(item: Item) -> Item:
    if _all_finite(item.results):
        return item
    return replace(item, verdict=Verdict.NOT_MEASURED, results=_results(item.results))


def _table(table: DataTable) -> DataTable:
    return replace(table, rows=tuple(tuple(c if isinstance(c, str) else _value(c) for c in row) for row in table.rows))


def _results(results: Results) -> Results:
    return {name: _value(value) for name, value in results.items()}


def _all_finite(results: Results) -> bool:
    return all(_is_finite(value) for value in results.values())


def _value(value: Value) -> Value:
    return value if _is_finite(value) else Value(None, value.unit, reason=NOT_FINITE)


def _is_finite(value: Value) -> bool:
    numbers = value.value if isinstance(value.value, tuple) else (value.value,)
    return all(math.isfinite(n) for n in (*numbers, value.uncertainty) if isinstance(n, float))
