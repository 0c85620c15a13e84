"""Components measured: marked against measured, and how hard each is worked."""

from __future__ import annotations

import math

from benchrecord.bench.conformity import margin, verdict
from benchrecord.bench.quantities import preferred_value
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.resistors import FULL_POWER_TO_C, dissipation_w, drift_percent, load_percent
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, how_uncertain, reading_uncertainty, settled_by
from benchrecord.checks.wording import (
    against_limit,
    counted,
    found_and_left,
    nearest,
    side_of,
    sides_said,
    unit_slip,
    with_sign,
    worst_item,
)
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import UNITS, factor, powers_of_thousand
from benchrecord.model.table import Column, Holds, KindSchema, Row

AMBIENT_C = 40.0
HARD_WORKED_PERCENT, FULLY_WORKED_PERCENT = 50, 100  # of the derated rating; half of it is common practice
FINE_TOLERANCE_PERCENT = 2.0  # parts as fine as this are made in E96 values, others in E24
WORKED = (
    " The dissipation is the voltage across the part, squared, by its measured resistance; the load is its share of what the part may"
    " bear at this ambient temperature."
)
COOLER = "A part with a higher rating, set off from the board, runs cooler (common practice)."

SCHEMA = KindSchema(
    "components",
    columns=(
        Column("ref", Holds.REF, required=True),
        Column("marked", Holds.QUANTITY, required=True, positive=True),
        Column("tolerance", Holds.NUMBER, unit="%", positive=True),
        Column("rating_w", Holds.NUMBER, unit="W", positive=True),
        Column("volts", Holds.NUMBER, unit="V"),
        Column("as_found", Holds.QUANTITY, positive=True, like="marked", near="marked"),
        Column("as_left", Holds.QUANTITY, positive=True, like="marked", near="marked"),
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
        limit=_limit_words(check, rows),
        found=found,
        left=left,
        table=_table(rows, found, left),
        plain=found_and_left(found, left, "parts"),
        method=settled_by(check, bench, found, left) + _load_method(check, found, left),
        advice=_advice(left or found),
        basis=_basis(check, bench, left or found),
    )


def _basis(check: Check, bench: Bench, side: Side | None) -> str:
    """Tell how drift, dissipation and load come about, on the first part that was measured."""
    measured = [i for i in (side.items if side else ()) if i.results["value"].value is not None]
    if not measured:
        return ""
    sure = [i for i in measured if i.results["value"].uncertainty] or measured
    drift = "The drift is the measured value less the marked one, as a share of the marked one."
    loaded = any(i.results["dissipation_w"].value is not None for i in measured if "dissipation_w" in i.results)
    return f"{drift}{WORKED if loaded else ''} {how_uncertain(check, bench, sure[0].item, sure[0].results['value'])}"


def _limit_words(check: Check, rows: tuple[Row, ...]) -> str:
    own = any(row.number("tolerance") for row in rows)
    if check.limit:
        return f"each part's own tolerance, else {check.limit.text}" if own else check.limit.text
    return "each part's own tolerance" if own else ""


def _load_method(check: Check, *sides: Side | None) -> str:
    loads = [i.results["load_percent"].value for s in sides if s for i in s.items if "load_percent" in i.results]
    if all(load is None for load in loads):
        return ""
    return f" Load: dissipation against the rating, derated from {FULL_POWER_TO_C:g} °C up, at {_ambient(check):g} °C."


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
    worst = worst_item(items, [_room(check, row, item) for row, item in zip(rows, items, strict=True)])
    return side_of(items, _worst_words(worst) if worst else "")


def _room(check: Check, row: Row, item: Item) -> float | None:
    """Return the margin of a part as a share of its tolerance."""
    drift, tolerance = item.results.get("drift_percent"), _tolerance(check, row)
    return 1 - abs(drift.value) / tolerance if drift and tolerance and isinstance(drift.value, float) else None


def _item(check: Check, bench: Bench, row: Row, column: str) -> Item:
    measured, marked, ref = base(row, column), base(row, "marked"), row.text("ref")
    if measured is None or marked is None or (lacking := _lacks_unit(row, column, measured, marked)):
        reason = lacking if measured is not None and marked is not None else "not measured"
        return Item(ref, Verdict.NOT_MEASURED, {"value": Value(None, base_unit(row), reason=reason)}, ref)
    tolerance = _tolerance(check, row)
    low, high = (None, None) if tolerance is None else (marked * (1 - tolerance / 100), marked * (1 + tolerance / 100))
    u = reading_uncertainty(check, bench, measured, base_unit(row))
    room, decimals = margin(measured, low, high), _decimals(row, column)
    judged = Verdict(verdict(measured, u, low, high, rule=bench.rule.value))
    inside = verdict(measured, None, low, high, rule="simple") == Verdict.IN
    results = {
        "value": Value(measured, base_unit(row), u, decimals),
        "drift_percent": Value(
            drift_percent(marked, measured), "%", 100 * u / marked if u else None, _percent_decimals(decimals, marked)
        ),
        "within_tolerance": Value(inside) if room is not None else Value(None, reason="no tolerance is given"),
        "margin": Value(room, base_unit(row), u, decimals, "" if room is not None else "no tolerance is given"),
        "expanded_uncertainty": Value(u, base_unit(row), reason="" if u is not None else NO_RANGE),
        "preferred_value": Value(preferred_value(marked, _series(tolerance)), base_unit(row)),
        **_load(check, row, measured),
    }
    return Item(ref, judged, results, ref, unit_slip(measured, marked, "value", "drift_percent"))


def _decimals(row: Row, column: str) -> int | None:
    """Return the decimals of the base unit that a cell supports: 4.82 kohm was read to 10 ohm."""
    decimals, unit = row.decimals(column), row.unit(column)
    if decimals is None or unit not in UNITS:
        return decimals
    return decimals - round(math.log10(UNITS[unit][1]))


def _lacks_unit(row: Row, column: str, measured: float, marked: float) -> str:
    """Return why a plain number is no value: nobody measures farads, and 47.2 beside 47k was read in kilohms or is a short."""
    if row.unit(column) is not None and row.unit("marked") is not None:
        return ""
    if base_unit(row) != "ohm" and row.unit(column) is None:
        return "its unit is not written"
    power = powers_of_thousand(measured, marked)
    ratio = f"{row.text(column)} for {row.text('marked')} is a factor of {factor(power)}"
    return f"{ratio}: its unit is not written" if power else ""


def _percent_decimals(decimals: int | None, marked: float) -> int:
    """Return the decimals of a drift in percent that the reading's last digit supports; two where nothing is known, two at most."""
    if decimals is None:
        return 2
    return min(2, max(0, math.ceil(-math.log10(100 * 10.0**-decimals / marked))))


def _series(tolerance: float | None) -> str:
    return "E96" if tolerance is not None and tolerance <= FINE_TOLERANCE_PERCENT else "E24"


def _tolerance(check: Check, row: Row) -> float | None:
    return row.number("tolerance") or (check.limit.in_base() if check.limit else None)


def _load(check: Check, row: Row, measured: float) -> dict[str, Value]:
    volts, rating = row.number("volts"), row.number("rating_w")
    if base_unit(row) != "ohm" or volts is None:
        reason = "no voltage across the part is given" if base_unit(row) == "ohm" else "it is no resistor"
        return {"dissipation_w": Value(None, "W", reason=reason), "load_percent": Value(None, "%", reason=reason)}
    watts = dissipation_w(volts, measured)
    load = load_percent(watts, rating, _ambient(check)) if rating else NotHad("no rating is given")
    percent = load if isinstance(load, float) else None
    return {
        "dissipation_w": Value(watts, "W", decimals=3),
        "load_percent": Value(percent, "%", decimals=0, reason=load.reason if isinstance(load, NotHad) else ""),
    }


def _worst_words(item: Item) -> str:
    drift = with_sign(item.results["drift_percent"])
    return f"{item.item} measures {shown(item.results['value'])}, {drift} from its marking, {against_limit(item)}"


def _advice(side: Side | None) -> str:
    loads = [(i.item, load) for i in (side.items if side else ()) if (load := i.results.get("load_percent"))]
    known = [(f"{ref} ({shown(load)})", load.value) for ref, load in loads if isinstance(load.value, float)]
    groups = {
        "Beyond the derated rating": [ref for ref, percent in known if percent > FULLY_WORKED_PERCENT],
        "Worked above half of the derated rating": [ref for ref, p in known if HARD_WORKED_PERCENT < p <= FULLY_WORKED_PERCENT],
    }
    said = [f"{words}: {', '.join(refs)}." for words, refs in groups.items() if refs]
    return " ".join([*said, COOLER]) if said else ""


def _table(rows: tuple[Row, ...], found: Side | None, left: Side | None) -> DataTable:
    columns = (
        "Part",
        "Marked",
        "Tolerance",
        "As found",
        "Drift as found",
        "Verdict as found",
        "As left",
        "Drift as left",
        "Dissipation",
        "Load",
        "Verdict as left",
    )
    lines = []
    for n, row in enumerate(rows):
        before, after = (side.items[n] if side else None for side in (found, left))
        lines.append(
            (
                row.text("ref"),
                Value(base(row, "marked"), base_unit(row), decimals=_decimals(row, "marked"))
                if row.unit("marked")
                else row.text("marked"),
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
    if not drawn or not sides_said(finding):
        return None
    sides = ([_place(side, n, tolerance) for n, tolerance in drawn] for side in (finding.found, finding.left))
    paint, height = spans(
        [f"{rows[n].text('ref')}  {rows[n].text('marked')}" for n, _ in drawn], *sides, ends=("− tolerance", "+ tolerance")
    )
    caption = f"{nearest(finding)} Each part stands on the scale of its own tolerance."
    alt = f"{finding.check.title}: drift of {counted(len(drawn), 'part')} {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.26)


def _place(side: Side | None, n: int, tolerance: float) -> float | None:
    drift = side.items[n].results.get("drift_percent") if side else None
    return float(drift.value) / tolerance if drift and isinstance(drift.value, float) else None


KIND = Kind(SCHEMA, "Components measured", examine, chart)
