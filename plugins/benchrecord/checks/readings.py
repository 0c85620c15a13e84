"""Spot readings: a value against its nominal and its limits."""

from __future__ import annotations

from dataclasses import dataclass

from benchrecord.bench.conformity import margin, verdict
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import reading_uncertainty, settled_by
from benchrecord.checks.wording import SAID, found_and_left, nearest_limit_first, side_of
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import Quantity, convert
from benchrecord.model.table import Column, Holds, KindSchema, Row

SCHEMA = KindSchema(
    "readings",
    columns=(
        Column("item", required=True),
        Column("unit", Holds.UNIT),
        Column("nominal", Holds.NUMBER, unit=""),
        Column("low", Holds.NUMBER, unit=""),
        Column("high", Holds.NUMBER, unit=""),
        Column("limit", Holds.QUANTITY),
        Column("as_found", Holds.NUMBER, unit=""),
        Column("as_left", Holds.NUMBER, unit=""),
        Column("ref", Holds.REF),
    ),
    one_of=(("as_found", "as_left"),),
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What an item may read, in its unit."""

    nominal: float | None
    low: float | None
    high: float | None
    decimals: int | None = None


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Hold each reading against its limits, as found and as left."""
    rows = check.table.rows if check.table else ()
    found, left = (_side(check, bench, rows, column) for column in ("as_found", "as_left"))
    return CheckFinding(
        check,
        limit=check.limit.text if check.limit else "",
        found=found,
        left=left,
        table=_table(check, rows, found, left),
        plain=found_and_left(found, left, "readings"),
        method=settled_by(check, bench),
    )


def limits_of(row: Row, check: Check) -> Limits:
    """Return an item's limits.

    ``low`` and ``high`` as they stand; else a ``limit`` (the row's, or the check's): about the nominal where there is one, about
    zero where it is written with ±, and else the most that may be read.
    """
    nominal, low, high = (row.number(name) for name in ("nominal", "low", "high"))
    decimals = max((d for d in map(row.decimals, ("nominal", "low", "high")) if d is not None), default=None)
    limit = _limit(row, check)
    if low is not None or high is not None or limit is None:
        return Limits(nominal, low, high, decimals)
    width = limit.value * abs(nominal or 0.0) / 100 if limit.unit == "%" != row.text("unit") else _in_unit(limit, row)
    if nominal is not None:
        return Limits(nominal, nominal - width, nominal + width, decimals)
    return Limits(None, -width if limit.either_sign else None, width, limit.decimals)


def _limit(row: Row, check: Check) -> Quantity | None:
    value = row.number("limit")
    if value is None:
        return check.limit
    return Quantity(value, row.unit("limit"), row.text("limit"), row.decimals("limit"), row.cells["limit"].either_sign)


def _in_unit(limit: Quantity, row: Row) -> float:
    unit = _unit(row)
    return convert(limit.value, limit.unit, unit) if limit.unit and unit else limit.value


def _unit(row: Row) -> str:
    value = row.cells["unit"].value if "unit" in row.cells else None
    return value if isinstance(value, str) else row.text("unit")


def _side(check: Check, bench: Bench, rows: tuple[Row, ...], column: str) -> Side | None:
    items = [_item(check, bench, row, column) for row in rows]
    worst = next(iter(nearest_limit_first(items)), None)
    return side_of(items, _worst_words(worst) if worst else "")


def _item(check: Check, bench: Bench, row: Row, column: str) -> Item:
    name, ref, value, unit = row.text("item"), row.text("ref"), row.number(column), _unit(row)
    if value is None:
        return Item(name, Verdict.NOT_MEASURED, {"value": Value(None, unit, reason="not measured")}, ref)
    limits, u = limits_of(row, check), reading_uncertainty(check, bench, value, unit)
    concluded = Verdict(verdict(value, u, limits.low, limits.high, rule=bench.rule.value))
    return Item(name, concluded, _results(row, column, limits, u), ref)


def _results(row: Row, column: str, limits: Limits, u: float | None) -> dict[str, Value]:
    value, unit, decimals = row.number(column) or 0.0, _unit(row), row.decimals(column)
    finest = max(decimals or 0, limits.decimals or 0)
    deviation = None if limits.nominal is None else value - limits.nominal
    percent = None if deviation is None or not limits.nominal else 100 * deviation / abs(limits.nominal)
    room = margin(value, limits.low, limits.high)
    return {
        "value": Value(value, unit, u, decimals),
        "unit": Value(unit),
        "deviation": Value(deviation, unit, u, finest, "" if deviation is not None else "no nominal value is given"),
        "deviation_percent": Value(
            percent, "%", None, 2, "" if percent is not None else "no nominal value other than zero is given"
        ),
        "margin": Value(room, unit, u, finest, "" if room is not None else "no limit is given"),
        "expanded_uncertainty": Value(
            u, unit, None, None, "" if u is not None else "no range of a meter is given for this reading"
        ),
    }


def _worst_words(item: Item) -> str:
    margin_value, value = item.results["margin"], item.results["value"]
    room = float(margin_value.value or 0.0)  # type: ignore[arg-type]  # a judged item has a number
    distance = shown(Value(abs(room), margin_value.unit, margin_value.uncertainty, margin_value.decimals))
    where = f"{distance} inside its limit" if room >= 0 else f"{distance} beyond its limit"
    return f"{item.item} reads {shown(value)}, {where}: {SAID[item.verdict]}"


def _table(check: Check, rows: tuple[Row, ...], found: Side | None, left: Side | None) -> DataTable:
    columns = ("Item", "Unit", "Nominal", "Low", "High", "As found", "Verdict", "As left", "U (k = 2)", "Verdict")
    lines = []
    for n, row in enumerate(rows):
        limits = limits_of(row, check)
        bounds = (limits.nominal, limits.low, limits.high)
        before, after = (side.items[n] if side else None for side in (found, left))
        lines.append(
            (
                row.text("item"),
                _unit(row),
                *(Value(b, decimals=limits.decimals or _written(row)) for b in bounds),
                _bare(before, "value"),
                before.verdict.value if before else "not-measured",
                _bare(after, "value"),
                _bare(after or before, "expanded_uncertainty"),
                after.verdict.value if after else "not-measured",
            )
        )
    return DataTable(columns, tuple(lines), tuple(row.text("ref") for row in rows))


def _written(row: Row) -> int | None:
    return max((d for d in (row.decimals(n) for n in ("low", "high", "as_left", "as_found")) if d is not None), default=None)


def _bare(item: Item | None, name: str) -> Value:
    value = item.results.get(name, Value(None)) if item else Value(None)
    return Value(value.value, "", value.uncertainty, value.decimals, value.reason)


def chart(finding: CheckFinding) -> Chart | None:
    """Each item on a scale of its own: nominal in the middle, its limits at either end of the band."""
    rows = finding.check.table.rows if finding.check.table else ()
    limits = [limits_of(row, finding.check) for row in rows]
    kept = [n for n, own in enumerate(limits) if own.high is not None or own.low is not None]
    if not kept:
        return None
    paint, height = spans(
        [rows[n].text("item") for n in kept],
        [_place(rows[n].number("as_found"), limits[n]) for n in kept],
        [_place(rows[n].number("as_left"), limits[n]) for n in kept],
        ends=("", "limit") if all(limits[n].low is None for n in kept) else ("low", "high"),
    )
    caption = _caption(finding)
    return Chart(
        finding.check.title,
        caption,
        f"{finding.check.title}: {len(kept)} readings as found and as left, each on the scale of its own limits. {caption}",
        paint,
        height,
        left_margin=0.34,
    )


def _place(value: float | None, limits: Limits) -> float | None:
    """Return where a value lies: -1 at its low limit, 1 at its high one; a one-sided limit is 1, and zero stands at 0."""
    if value is None:
        return None
    if limits.low is None or limits.high is None:
        bound = limits.high if limits.high is not None else limits.low
        if not bound:
            return 0.0 if value == bound else 3.0
        return value / bound if limits.high is not None else 2 - value / bound
    middle, half = (limits.low + limits.high) / 2, (limits.high - limits.low) / 2
    return (value - middle) / half if half else 0.0


def _caption(finding: CheckFinding) -> str:
    side = finding.left or finding.found
    when = "as left" if finding.left else "as found"
    return f"{finding.plain} Nearest to a limit {when}: {side.worst}." if side and side.worst else finding.plain


KIND = Kind(SCHEMA, "Spot readings", examine, chart)
