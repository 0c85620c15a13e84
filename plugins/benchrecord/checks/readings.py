"""Spot readings: a value against its nominal and its limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from benchrecord.bench.conformity import margin, verdict
from benchrecord.bench.fits import summary
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import uncertainty_of_mean
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, how_uncertain, reading_uncertainty, settled_by
from benchrecord.checks.scale import place, room
from benchrecord.checks.wording import (
    against_limit,
    counted,
    found_and_left,
    nearest,
    side_of,
    sides_said,
    unit_slip,
    worst_item,
)
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Results, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import Quantity, convert, dimension
from benchrecord.model.table import Column, Holds, KindSchema, Row

SAME = ("item", "ref", "nominal", "low", "high", "limit")  # of two readings of one quantity
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
        Column("as_found", Holds.NUMBER, unit="", near="nominal"),
        Column("as_left", Holds.NUMBER, unit="", near="nominal"),
        Column("ref", Holds.REF),
    ),
    one_of=(("as_found", "as_left"),),
)


Rows = tuple[Row, ...]  # of one quantity, the first of them with its limits


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
    sets = sets_of(check)
    found, left = (_side(check, bench, sets, column) for column in ("as_found", "as_left"))
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(check, sets, found, left),
        plain=found_and_left(found, left, "readings"),
        basis=_basis(check, bench, left or found),
        method=" ".join([settled_by(check, bench, found, left), *_of_no_use([limits_of(rows[0], check) for rows in sets])]),
    )


def sets_of(check: Check) -> tuple[Rows, ...]:
    """Return the rows of each quantity, in the order of the table: an item that stands several times was read several times."""
    sets: dict[tuple[str, ...], list[Row]] = {}
    for row in check.table.rows if check.table else ():
        sets.setdefault((_unit(row), *(row.text(name) for name in SAME)), []).append(row)
    return tuple(tuple(rows) for rows in sets.values())


def _basis(check: Check, bench: Bench, side: Side | None) -> str:
    """Show on the first reading that has an uncertainty, else on the first, how it came about."""
    measured = [i for i in (side.items if side else ()) if i.results["value"].value is not None]
    sure = [i for i in measured if i.results["value"].uncertainty] or measured
    if not sure:
        return ""
    several = [i for i in measured if "readings" in i.results]
    repeated = f" {_repeated(several[0])}" if several else ""
    return how_uncertain(check, bench, sure[0].item, sure[0].results["value"]) + repeated


def _repeated(item: Item) -> str:
    """Tell how the spread of several readings enters."""
    count, spread, value = item.results["readings"], item.results["spread"], item.results["value"]
    own = shown(Value(value.uncertainty, value.unit, value.uncertainty))
    return (
        f"{item.item[:1].upper()}{item.item[1:]} was read {shown(count)} times, with a standard deviation of {shown(spread)}: that over"
        f" the root of their number, and the meter's own uncertainty, together make {own} about the mean."
    )


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


def _side(check: Check, bench: Bench, sets: tuple[Rows, ...], column: str) -> Side | None:
    items = [_item(check, bench, rows, column) for rows in sets]
    worst = worst_item(items, [_room(_read(item), limits_of(rows[0], check)) for item, rows in zip(items, sets, strict=True)])
    return side_of(items, _worst_words(worst) if worst else "")


def _read(item: Item | None) -> float | None:
    """Return what an item reads; None where it was not measured."""
    value = item.results["value"].value if item else None
    return value if isinstance(value, float) else None


def _room(value: float | None, limits: Limits) -> float | None:
    """Return the margin of a reading as a share of what its limits leave."""
    return room(value, limits.low, limits.high)


def _item(check: Check, bench: Bench, rows: Rows, column: str) -> Item:
    row, unit = rows[0], _unit(rows[0])
    read = [(value, _decimals(own, column)) for own in rows if (value := _number(own, column)) is not None]
    if not read:
        return Item(
            row.text("item"), Verdict.NOT_MEASURED, {"value": Value(None, unit, reason="not measured")}, row.text("ref")
        )
    limits, value = limits_of(row, check), read[0][0] if len(read) == 1 else sum(v for v, _ in read) / len(read)
    of_meter = reading_uncertainty(check, bench, value, unit)
    u, more = _with_spread([v for v, _ in read], of_meter, Value(None, unit, None, read[0][1]))
    concluded = Verdict(verdict(value, u, limits.low, limits.high, rule=bench.rule.value))
    results = {**_results(Value(value, unit, u, read[0][1]), limits), **more}
    return Item(row.text("item"), concluded, results, row.text("ref"), unit_slip(value, limits.nominal, *results))


def _with_spread(values: Sequence[float], of_meter: float | None, like: Value) -> tuple[float | None, Results]:
    """Return the expanded uncertainty of the mean of readings, and what is told of them where there are several."""
    spread = summary(values)
    if isinstance(spread, NotHad):
        return of_meter, {}
    told = {"readings": Value(spread.n), "spread": replace(like, value=spread.sd, uncertainty=spread.sd or None, decimals=None)}
    return uncertainty_of_mean(spread, (of_meter or 0.0) / 2), told


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


def _table(check: Check, sets: tuple[Rows, ...], found: Side | None, left: Side | None) -> DataTable:
    verdicts = ("Verdict as found", "Verdict as left")
    columns = ("Item", "Unit", "Nominal", "Low", "High", "As found", verdicts[0], "As left", "U (k = 2)", verdicts[1])
    lines = []
    for n, rows in enumerate(sets):
        limits = limits_of(rows[0], check)
        bounds = (limits.nominal, limits.low, limits.high)
        decimals = _written(rows[0]) if limits.decimals is None else limits.decimals
        before, after = (side.items[n] if side else None for side in (found, left))
        lines.append(
            (
                rows[0].text("item") + (f", mean of {len(rows)}" if len(rows) > 1 else ""),
                _unit(rows[0]),
                *(Value(b, decimals=decimals) for b in bounds),
                _bare(before, "value"),
                before.verdict.value if before else "not-measured",
                _bare(after, "value"),
                _bare(after if after and after.verdict is not Verdict.NOT_MEASURED else before, "expanded_uncertainty"),
                after.verdict.value if after else "not-measured",
            )
        )
    return DataTable(columns, tuple(lines), tuple(rows[0].text("ref") for rows in sets))


def _written(row: Row) -> int | None:
    return max((d for d in (_decimals(row, n) for n in ("low", "high", "as_left", "as_found")) if d is not None), default=None)


def _bare(item: Item | None, name: str) -> Value:
    value = item.results.get(name, Value(None)) if item else Value(None)
    return Value(value.value, "", value.uncertainty, value.decimals, value.reason)


def chart(finding: CheckFinding) -> Chart | None:
    """Each item on a scale of its own: nominal in the middle, its limits at either end of the band."""
    sets = sets_of(finding.check)
    limits = [limits_of(rows[0], finding.check) for rows in sets]
    kept = [n for n, own in enumerate(limits) if own.high is not None or own.low is not None]
    if not kept or not sides_said(finding):
        return None
    paint, height = spans(
        [sets[n][0].text("item") for n in kept],
        *([_place(_read(side.items[n] if side else None), limits[n]) for n in kept] for side in (finding.found, finding.left)),
        ends=_ends([limits[n] for n in kept]),
    )
    caption = f"{nearest(finding)} Each reading stands on the scale of its own limits."
    alt = f"{finding.check.title}: {counted(len(kept), 'reading')} {sides_said(finding)}. {caption}"
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
