"""Spot readings: a value against its nominal and its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from benchrecord.bench.conformity import margin, verdict
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, how_uncertain, reading_uncertainty, settled_by
from benchrecord.checks.scale import place, room
from benchrecord.checks.wording import against_limit, counted, found_and_left, nearest, side_of, sides_said, worst_item
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import Quantity, convert, dimension
from benchrecord.model.table import Column, Holds, KindSchema, Row

NO_LIMIT, NO_PERCENT = "no limit is given", "a limit in percent needs a nominal value other than zero"

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
    """What an item may read, in its unit; ``none`` says why there is no limit."""

    nominal: float | None
    low: float | None
    high: float | None
    decimals: int | None = None
    none: str = NO_LIMIT


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
        basis=_basis(check, bench, left or found),
        method=" ".join([settled_by(check, bench, found, left), *_of_no_use([limits_of(row, check) for row in rows])]),
    )


def _basis(check: Check, bench: Bench, side: Side | None) -> str:
    """Show on the first reading that has an uncertainty, else on the first, how it came about."""
    measured = [i for i in (side.items if side else ()) if i.results["value"].value is not None]
    sure = [i for i in measured if i.results["value"].uncertainty] or measured
    return how_uncertain(check, bench, sure[0].item, sure[0].results["value"]) if sure else ""


def _of_no_use(limits: list[Limits]) -> list[str]:
    """Say, once each, which limits nothing could be held against."""
    reasons = dict.fromkeys(own.none for own in limits if own.none != NO_LIMIT)
    return [f"{reason[0].upper()}{reason[1:]}." for reason in reasons]


def limits_of(row: Row, check: Check) -> Limits:
    """Return an item's limits.

    ``low`` and ``high`` as they stand; else a ``limit`` (the row's, or the check's): about the nominal where there is one, about
    zero where it is written with ±, and else the most that may be read.
    """
    nominal, low, high = (_number(row, name) for name in ("nominal", "low", "high"))
    decimals = max((d for d in (_decimals(row, name) for name in ("nominal", "low", "high")) if d is not None), default=None)
    limit = _limit(row, check)
    if low is not None or high is not None or limit is None:
        return Limits(nominal, low, high, decimals)
    width = _width(limit, nominal, _unit(row))
    if isinstance(width, str):
        return Limits(nominal, None, None, decimals, width)
    if nominal is not None:
        return Limits(nominal, nominal - abs(width), nominal + abs(width), max(decimals or 0, _digits(width)))
    return Limits(None, -width if limit.either_sign else None, width, _digits(width))


def _limit(row: Row, check: Check) -> Quantity | None:
    value = row.number("limit")
    if value is None:
        return check.limit
    return Quantity(value, row.unit("limit"), row.text("limit"), row.decimals("limit"), row.cells["limit"].either_sign)


def _width(limit: Quantity, nominal: float | None, unit: str) -> float | str:
    """Return a limit in the unit of its row, or why it cannot be held against it."""
    if not limit.unit or not unit:
        return limit.value
    if dimension(limit.unit) == dimension(unit):
        return convert(limit.value, limit.unit, unit)
    if dimension(limit.unit) == "%":
        return limit.in_base() * abs(nominal) / 100 if nominal else NO_PERCENT
    return f"a limit in {limit.unit} is none for a reading in {unit}"


def _digits(width: float) -> int:
    """Return the decimals that a limit needs to be told in full, six digits at most."""
    exponent = Decimal(f"{width:.6g}").normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def _unit(row: Row) -> str:
    """Return the unit of a row: the one it names, else the one that its readings are written in."""
    value = row.cells["unit"].value if "unit" in row.cells else None
    if isinstance(value, str):
        return value
    return next((u for name in ("as_left", "as_found", "nominal", "low", "high") if (u := row.unit(name))), "")


def _number(row: Row, name: str) -> float | None:
    """Return a cell in the unit of its row."""
    value = row.number(name)
    return None if value is None else value * _factor(row, name)


def _decimals(row: Row, name: str) -> int | None:
    decimals = row.decimals(name)
    return None if decimals is None else max(0, decimals - round(math.log10(_factor(row, name))))


def _factor(row: Row, name: str) -> float:
    own, unit = row.unit(name), _unit(row)
    return convert(1.0, own, unit) if own and unit and own != unit and dimension(own) == dimension(unit) else 1.0


def _side(check: Check, bench: Bench, rows: tuple[Row, ...], column: str) -> Side | None:
    items = [_item(check, bench, row, column) for row in rows]
    worst = worst_item(items, [_room(_number(row, column), limits_of(row, check)) for row in rows])
    return side_of(items, _worst_words(worst) if worst else "")


def _room(value: float | None, limits: Limits) -> float | None:
    """Return the margin of a reading as a share of what its limits leave."""
    return room(value, limits.low, limits.high)


def _item(check: Check, bench: Bench, row: Row, column: str) -> Item:
    name, ref, value, unit = row.text("item"), row.text("ref"), _number(row, column), _unit(row)
    if value is None:
        return Item(name, Verdict.NOT_MEASURED, {"value": Value(None, unit, reason="not measured")}, ref)
    limits, u = limits_of(row, check), reading_uncertainty(check, bench, value, unit)
    concluded = Verdict(verdict(value, u, limits.low, limits.high, rule=bench.rule.value))
    return Item(name, concluded, _results(Value(value, unit, u, _decimals(row, column)), limits), ref)


def _results(reading: Value, limits: Limits) -> dict[str, Value]:
    value, unit, u = float(reading.value or 0.0), reading.unit, reading.uncertainty  # type: ignore[arg-type]  # it is a number
    finest = max(reading.decimals or 0, limits.decimals or 0)
    deviation = None if limits.nominal is None else value - limits.nominal
    percent = None if deviation is None or not limits.nominal else 100 * deviation / abs(limits.nominal)
    left = margin(value, limits.low, limits.high)
    return {
        "value": reading,
        "unit": Value(unit),
        "deviation": Value(deviation, unit, u, finest, "" if deviation is not None else "no nominal value is given"),
        "deviation_percent": Value(
            percent, "%", None, 2, "" if percent is not None else "no nominal value other than zero is given"
        ),
        "margin": Value(left, unit, u, finest, "" if left is not None else limits.none),
        "expanded_uncertainty": Value(u, unit, None, None, "" if u is not None else NO_RANGE),
    }


def _worst_words(item: Item) -> str:
    return f"{item.item} reads {shown(item.results['value'])}, {against_limit(item)}"


def _table(check: Check, rows: tuple[Row, ...], found: Side | None, left: Side | None) -> DataTable:
    verdicts = ("Verdict as found", "Verdict as left")
    columns = ("Item", "Unit", "Nominal", "Low", "High", "As found", verdicts[0], "As left", "U (k = 2)", verdicts[1])
    lines = []
    for n, row in enumerate(rows):
        limits = limits_of(row, check)
        bounds = (limits.nominal, limits.low, limits.high)
        decimals = _written(row) if limits.decimals is None else limits.decimals
        before, after = (side.items[n] if side else None for side in (found, left))
        lines.append(
            (
                row.text("item"),
                _unit(row),
                *(Value(b, decimals=decimals) for b in bounds),
                _bare(before, "value"),
                before.verdict.value if before else "not-measured",
                _bare(after, "value"),
                _bare(after if after and after.verdict is not Verdict.NOT_MEASURED else before, "expanded_uncertainty"),
                after.verdict.value if after else "not-measured",
            )
        )
    return DataTable(columns, tuple(lines), tuple(row.text("ref") for row in rows))


def _written(row: Row) -> int | None:
    return max((d for d in (_decimals(row, n) for n in ("low", "high", "as_left", "as_found")) if d is not None), default=None)


def _bare(item: Item | None, name: str) -> Value:
    value = item.results.get(name, Value(None)) if item else Value(None)
    return Value(value.value, "", value.uncertainty, value.decimals, value.reason)


def chart(finding: CheckFinding) -> Chart | None:
    """Each item on a scale of its own: nominal in the middle, its limits at either end of the band."""
    rows = finding.check.table.rows if finding.check.table else ()
    limits = [limits_of(row, finding.check) for row in rows]
    kept = [n for n, own in enumerate(limits) if own.high is not None or own.low is not None]
    if not kept or not sides_said(finding):
        return None
    paint, height = spans(
        [rows[n].text("item") for n in kept],
        [_place(_number(rows[n], "as_found"), limits[n]) for n in kept],
        [_place(_number(rows[n], "as_left"), limits[n]) for n in kept],
        ends=_ends([limits[n] for n in kept]),
    )
    caption = nearest(finding)
    alt = f"{finding.check.title}: {counted(len(kept), 'reading')} {sides_said(finding)}, each on the scale of its own limits. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.34)


def _ends(limits: list[Limits]) -> tuple[str, str]:
    """Name the ends of the band: where all items have the same single limit, the other end is none."""
    if all(own.low is None for own in limits):
        return "", "limit"
    return ("limit", "") if all(own.high is None for own in limits) else ("low", "high")


def _place(value: float | None, limits: Limits) -> float | None:
    """Return where a value lies: -1 at its low limit, 1 at its high one."""
    return place(value, limits.low, limits.high)


KIND = Kind(SCHEMA, "Spot readings", examine, chart)
