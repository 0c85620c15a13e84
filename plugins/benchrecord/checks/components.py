"""Components measured: marked against measured, and how hard each is worked."""

from __future__ import annotations

import math

from benchrecord.bench.conformity import margin, verdict
from benchrecord.bench.quantities import preferred_value
from benchrecord.bench.resistors import dissipation_w, drift_percent, load_percent
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import reading_uncertainty, settled_by
from benchrecord.checks.wording import SAID, found_and_left, nearest_limit_first, side_of, with_sign
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import UNITS
from benchrecord.model.table import Column, Holds, KindSchema, Row

AMBIENT_C = 40.0
FINE_TOLERANCE_PERCENT = 2.0  # parts as fine as this are made in E96 values, others in E24

SCHEMA = KindSchema(
    "components",
    columns=(
        Column("ref", Holds.REF, required=True),
        Column("marked", Holds.QUANTITY, required=True, positive=True),
        Column("tolerance", Holds.NUMBER, unit="%", positive=True),
        Column("rating_w", Holds.NUMBER, unit="W", positive=True),
        Column("volts", Holds.NUMBER, unit="V"),
        Column("as_found", Holds.QUANTITY, positive=True, like="marked"),
        Column("as_left", Holds.QUANTITY, positive=True, like="marked"),
    ),
    keys=(Column("ambient_c", Holds.NUMBER),),
    one_of=(("as_found", "as_left"),),
    limit_unit="%",
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Work out drift, dissipation and load of each part, as found and as left."""
    rows = check.table.rows if check.table else ()
    found, left = (_side(check, bench, rows, column) for column in ("as_found", "as_left"))
    return CheckFinding(
        check,
        limit=check.limit.text if check.limit else "its own tolerance",
        found=found,
        left=left,
        table=_table(rows, found, left),
        plain=found_and_left(found, left, "parts"),
        method=f"{settled_by(check, bench)} Load: dissipation against the rating derated from 70 °C, at {_ambient(check):g} °C.",
        advice=_advice(left or found),
    )


def base(row: Row, name: str) -> float | None:
    """Return a cell in the base unit, ohm or farad."""
    number, unit = row.number(name), row.unit(name)
    return None if number is None else number * UNITS[unit][1] if unit in UNITS else number


def base_unit(row: Row) -> str:
    """Return the base unit of a part's marked value: ohm where none is written."""
    unit = row.unit("marked")
    return UNITS[unit][0] if unit in UNITS else "ohm"


def _ambient(check: Check) -> float:
    return float(check.keys.get("ambient_c", AMBIENT_C))


def _side(check: Check, bench: Bench, rows: tuple[Row, ...], column: str) -> Side | None:
    items = [_item(check, bench, row, column) for row in rows]
    worst = next(iter(nearest_limit_first(items)), None)
    return side_of(items, _worst_words(worst) if worst else "")


def _item(check: Check, bench: Bench, row: Row, column: str) -> Item:
    measured, marked, ref = base(row, column), base(row, "marked"), row.text("ref")
    if measured is None or marked is None:
        return Item(ref, Verdict.NOT_MEASURED, {"value": Value(None, base_unit(row), reason="not measured")}, ref)
    tolerance = _tolerance(check, row)
    low, high = (None, None) if tolerance is None else (marked * (1 - tolerance / 100), marked * (1 + tolerance / 100))
    u = reading_uncertainty(check, bench, measured, base_unit(row))
    room = margin(measured, low, high)
    judged = Verdict(verdict(measured, u, low, high, rule=bench.rule.value))
    drift = Value(drift_percent(marked, measured), "%", 100 * u / marked if u else None, 2)
    results = {
        "value": Value(measured, base_unit(row), u, _decimals(row, column)),
        "drift_percent": drift,
        "within_tolerance": Value(room >= 0) if room is not None else Value(None, reason="no tolerance is given"),
        "margin": Value(room, base_unit(row), u, reason="" if room is not None else "no tolerance is given"),
        "expanded_uncertainty": Value(
            u, base_unit(row), reason="" if u is not None else "no range of a meter is given for this reading"
        ),
        "preferred_value": Value(preferred_value(marked, _series(tolerance)), base_unit(row)),
        **_load(check, row, measured),
    }
    return Item(ref, judged, results, ref)


def _decimals(row: Row, column: str) -> int | None:
    """Return the decimals of the base unit that a cell supports: 4.82 kohm was read to 10 ohm."""
    decimals, unit = row.decimals(column), row.unit(column)
    if decimals is None or unit not in UNITS:
        return decimals
    return decimals - round(math.log10(UNITS[unit][1]))


def _series(tolerance: float | None) -> str:
    return "E96" if tolerance is not None and tolerance <= FINE_TOLERANCE_PERCENT else "E24"


def _tolerance(check: Check, row: Row) -> float | None:
    return row.number("tolerance") or (check.limit.value if check.limit else None)


def _load(check: Check, row: Row, measured: float) -> dict[str, Value]:
    volts, rating = row.number("volts"), row.number("rating_w")
    if volts is None or base_unit(row) != "ohm":
        reason = "no voltage across the part is given" if volts is None else "a capacitor does not dissipate"
        return {"dissipation_w": Value(None, "W", reason=reason), "load_percent": Value(None, "%", reason=reason)}
    watts = dissipation_w(volts, measured)
    load = load_percent(watts, rating, _ambient(check)) if rating else None
    percent = load if isinstance(load, float) else None
    reason = (
        "" if percent is not None else "no rating is given" if not rating else "no power is allowed at this ambient temperature"
    )
    return {"dissipation_w": Value(watts, "W", decimals=3), "load_percent": Value(percent, "%", decimals=0, reason=reason)}


def _worst_words(item: Item) -> str:
    return f"{item.item} measures {shown(item.results['value'])}, {with_sign(item.results['drift_percent'])} from its marking: {SAID[item.verdict]}"


def _advice(side: Side | None) -> str:
    worked = [i for i in side.items if (i.results.get("load_percent") or Value(None)).value] if side else []
    hot = [i for i in worked if float(i.results["load_percent"].value or 0) > 50]  # type: ignore[arg-type]  # noqa: PLR2004  # half the rating: common practice
    if not hot:
        return ""
    named = ", ".join(f"{i.item} ({shown(i.results['load_percent'])})" for i in hot)
    return f"Worked above half of the derated rating: {named}. A part with a higher rating, set off from the board, runs cooler (common practice)."


def _table(rows: tuple[Row, ...], found: Side | None, left: Side | None) -> DataTable:
    columns = (
        "Part",
        "Marked",
        "Tolerance",
        "As found",
        "Drift",
        "Verdict",
        "As left",
        "Drift",
        "Dissipation",
        "Load",
        "Verdict",
    )
    lines = []
    for n, row in enumerate(rows):
        before, after = (side.items[n] if side else None for side in (found, left))
        lines.append(
            (
                row.text("ref"),
                Value(base(row, "marked"), base_unit(row)) if row.unit("marked") else row.text("marked"),
                Value(row.number("tolerance"), "%", decimals=row.decimals("tolerance")),
                *_pick(before, "value", "drift_percent"),
                before.verdict.value if before else "not-measured",
                *_pick(after, "value", "drift_percent"),
                *_pick(
                    after if after and after.verdict is not Verdict.NOT_MEASURED else before, "dissipation_w", "load_percent"
                ),
                after.verdict.value if after else "not-measured",
            )
        )
    return DataTable(columns, tuple(lines), tuple(row.text("ref") for row in rows))


def _pick(item: Item | None, *names: str) -> tuple[Value, ...]:
    return tuple(item.results.get(name, Value(None)) if item else Value(None) for name in names)


def chart(finding: CheckFinding) -> Chart | None:
    """Drift of each part on the scale of its own tolerance."""
    rows = finding.check.table.rows if finding.check.table else ()
    kept = [(n, _tolerance(finding.check, row)) for n, row in enumerate(rows)]
    drawn = [(n, tolerance) for n, tolerance in kept if tolerance]
    if not drawn:
        return None
    sides = ([_place(side, n, tolerance) for n, tolerance in drawn] for side in (finding.found, finding.left))
    paint, height = spans(
        [f"{rows[n].text('ref')}  {rows[n].text('marked')}" for n, _ in drawn], *sides, ends=("− tolerance", "+ tolerance")
    )
    side = finding.left or finding.found
    caption = (
        f"{finding.plain} Farthest from its marking {'as left' if finding.left else 'as found'}: {side.worst if side else ''}."
    )
    alt = f"{finding.check.title}: drift of {len(drawn)} parts as found and as left, each on the scale of its own tolerance. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.26)


def _place(side: Side | None, n: int, tolerance: float) -> float | None:
    drift = side.items[n].results.get("drift_percent") if side else None
    return float(drift.value) / tolerance if drift and isinstance(drift.value, float) else None


KIND = Kind(SCHEMA, "Components measured", examine, chart)
