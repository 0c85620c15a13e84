"""Impedance of inputs and outputs: two levels, without a known resistor and with it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchrecord.bench.conformity import margin, verdict
from benchrecord.bench.impedance import Impedance, Reading, input_impedance, output_impedance
from benchrecord.bench.levels import amplitude_of, amplitude_uncertainty
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import DIVISORS
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, reading_uncertainty, settled_by
from benchrecord.checks.scale import room
from benchrecord.checks.wording import NOT_YET, against_limit, counted, found_and_left, nearest, side_of, sides_said, worst_item
from benchrecord.figures.style import Chart, magnitudes, one_or_none
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import convert, dimension
from benchrecord.model.table import Column, Holds, KindSchema, Row

LEVELS = ("dB", "dBu", "dBV", "dBFS")
METHODS = {"input": input_impedance, "output": output_impedance}
FORMULAS = {
    "input": "input: R·with/(without − with), the resistor R in series",
    "output": "output: R·(without − with)/with, loaded with the resistor R",
}
NOT_MEASURED, NO_LIMIT = "not measured", "no limit is given"
NO_WAY = "it is not written whether an input or an output was measured, or with what resistor"

SCHEMA = KindSchema(
    "impedance",
    columns=(
        Column("item", required=True),
        Column("method", Holds.WORD, choice=tuple(METHODS), required=True),
        Column("resistor_ohm", Holds.NUMBER, unit="ohm", positive=True, required=True),
        *(Column(f"as_{when}_{how}", Holds.NUMBER) for when in ("found", "left") for how in ("without", "with")),
        Column("low", Holds.NUMBER, unit="ohm"),
        Column("high", Holds.NUMBER, unit="ohm"),
    ),
    keys=(Column("resistor_tolerance", Holds.NUMBER, unit="%", positive=True),),
    one_of=(("as_found_with", "as_left_with"), ("as_found_without", "as_left_without")),
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Work out each impedance and hold it against its limits, as found and as left."""
    rows = check.table.rows if check.table else ()
    found, left = (_side(check, bench, rows, stage) for stage in ("as_found", "as_left"))
    return CheckFinding(
        check,
        limit="",
        found=found,
        left=left,
        table=_table(rows, found, left),
        plain=_plain(found, left),
        method=_method(check, bench, rows, found, left),
        advice=_advice(left or found),
        basis=_basis(check, bench, rows, stage="as_left" if left else "as_found", side=left or found),
    )


def _side(check: Check, bench: Bench, rows: Sequence[Row], stage: str) -> Side | None:
    items = [_item(check, bench, row, stage) for row in rows]
    rooms = [room(_ohm(item), row.number("low"), row.number("high")) for item, row in zip(items, rows, strict=True)]
    worst = worst_item(items, rooms)
    had = any(i.results["impedance_ohm"].reason != NOT_MEASURED for i in items)
    side = side_of(items, f"{worst.item} has {_shown(worst)}, {against_limit(worst)}" if worst else "")
    return side or (Side(Verdict.NOT_MEASURED, {}, tuple(items)) if had else None)


def _ohm(item: Item) -> float | None:
    value = item.results["impedance_ohm"].value
    return value if isinstance(value, float) else None


def _shown(item: Item) -> str:
    return shown(item.results["impedance_ohm"])


def _item(check: Check, bench: Bench, row: Row, stage: str) -> Item:
    name, found = row.text("item"), _impedance(check, bench, row, stage)
    if isinstance(found, NotHad):
        return Item(name, Verdict.NOT_MEASURED, {"impedance_ohm": Value(None, "ohm", reason=found.reason)})
    low, high = row.number("low"), row.number("high")
    u = None if found.u_ohm is None else 2 * found.u_ohm
    left = margin(found.ohm, low, high)
    results = {
        "impedance_ohm": Value(found.ohm, "ohm", u, _finest(found.ohm)),
        "margin": Value(left, "ohm", u, _finest(found.ohm), "" if left is not None else NO_LIMIT),
        "expanded_uncertainty": Value(u, "ohm", reason="" if u is not None else NO_RANGE),
    }
    return Item(name, Verdict(verdict(found.ohm, u, low, high, rule=bench.rule.value)), results)


def _finest(ohm: float) -> int:
    """Return the decimals of three digits: two levels of a division tell no more, however little the meter is in doubt."""
    return 2 - math.floor(math.log10(ohm)) if ohm > 0 else 2


def _impedance(check: Check, bench: Bench, row: Row, stage: str) -> Impedance | NotHad:
    names = [f"{stage}_{how}" for how in ("without", "with")]
    if any(row.number(name) is None for name in names):
        return NotHad(NOT_MEASURED)
    resistor, method = row.number("resistor_ohm"), METHODS.get(row.text("method"))
    if resistor is None or method is None:
        return NotHad(NO_WAY)
    if len({_compared_in(row, name) for name in names}) > 1:
        return NotHad("its two levels are not written in one unit")
    without, with_resistor = (_level(check, bench, row, name) for name in names)
    return method(without, with_resistor, Reading(resistor, _resistor_u(check, bench, resistor)))


def _compared_in(row: Row, name: str) -> str:
    """Return what a level is told in: volts, or decibels of one kind; a plain number counts in volts."""
    unit = row.unit(name) or "V"
    return "V" if unit in ("dBu", "dBV") else dimension(unit) or unit


def _level(check: Check, bench: Bench, row: Row, name: str) -> Reading:
    """Return a level as an amplitude with its standard uncertainty; one in decibels is brought to what it stands for."""
    number, unit = row.number(name) or 0.0, row.unit(name) or "V"
    expanded = reading_uncertainty(check, bench, number, unit)
    u = None if expanded is None else expanded / 2
    if unit in LEVELS:
        amplitude = amplitude_of(number, unit)
        return Reading(amplitude, None if u is None else amplitude_uncertainty(u, amplitude))
    base = dimension(unit) or unit
    return Reading(convert(number, unit, base), None if u is None else convert(u, unit, base))


def _resistor_u(check: Check, bench: Bench, ohm: float) -> float | None:
    """Return the standard uncertainty of the resistor: by its tolerance where that is given, else as the check's meter reads it."""
    tolerance = check.keys.get("resistor_tolerance")
    if tolerance:
        return ohm * float(tolerance) / 100 / DIVISORS["rectangular"]
    expanded = reading_uncertainty(check, bench, ohm, "ohm")
    return None if expanded is None else expanded / 2


def _plain(found: Side | None, left: Side | None) -> str:
    side = left or found
    if side is None:
        return NOT_YET
    if len(side.items) > 1:
        return found_and_left(found, left, "impedances")
    item = side.items[0]
    if _ohm(item) is None:
        return f"{item.item[:1].upper()}{item.item[1:]} could not be told: {item.results['impedance_ohm'].reason}."
    before = f"; it was {_shown(found.items[0])}" if left and found and _ohm(found.items[0]) is not None else ""
    return (
        f"{item.item[:1].upper()}{item.item[1:]} has an impedance of {_shown(item)}{' as found' if not left else ''}{before}."
    )


def _method(check: Check, bench: Bench, rows: Sequence[Row], *sides: Side | None) -> str:
    ways = "; ".join(words for way, words in FORMULAS.items() if any(row.text("method") == way for row in rows))
    said = [settled_by(check, bench, *sides), f"{ways[:1].upper()}{ways[1:]}."]
    return " ".join(said)


def _advice(side: Side | None) -> str:
    told = [(i.item, i.results["impedance_ohm"].reason) for i in (side.items if side else ())]
    said = [f"{name}: {reason}." for name, reason in told if reason not in ("", NOT_MEASURED)]
    if side and any(i.verdict is Verdict.TOO_CLOSE for i in side.items):
        said.append("A resistor near the impedance itself tells it best: there the level halves.")
    return " ".join(said)


def _basis(check: Check, bench: Bench, rows: Sequence[Row], *, stage: str, side: Side | None) -> str:
    """Tell of one item how its number came about: the first that could be told."""
    known = [(row, item) for row, item in zip(rows, side.items if side else (), strict=False) if _ohm(item) is not None]
    if not known:
        return ""
    row, item = known[0]
    way = "in series" if row.text("method") == "input" else "as a load"
    fell = f"from {_written(row, f'{stage}_without')} to {_written(row, f'{stage}_with')}"
    said = [
        f"With {shown(Value(row.number('resistor_ohm'), 'ohm'))} {way} the level of {item.item} fell {fell}, which makes {_shown(item)}."
    ]
    u = item.results["expanded_uncertainty"].value
    if not isinstance(u, float):
        return f"{said[0]} No range of a meter is given for the levels, so that no uncertainty is known."
    resistor = (
        f"its tolerance of {check.keys['resistor_tolerance']:g} %"
        if check.keys.get("resistor_tolerance")
        else "the meter's range for ohms"
        if _resistor_u(check, bench, row.number("resistor_ohm") or 0.0) is not None
        else ""
    )
    said.append(
        "The uncertainty of both levels is that of the meter's range, each on its own;"
        f" {f'that of the resistor comes from {resistor}' if resistor else 'the resistor counts as exact'}."
        f" Propagated to first order (JCGM 100:2008, 5.1.2) and doubled (k = 2) they leave {shown(Value(u, 'ohm', u))}."
    )
    return " ".join(said)


def _written(row: Row, name: str) -> str:
    return shown(_level_cell(row, name))


def _level_cell(row: Row, name: str) -> Value:
    return Value(row.number(name), row.unit(name) or "V", decimals=row.decimals(name))


def _table(rows: Sequence[Row], found: Side | None, left: Side | None) -> DataTable:
    stages = ("as found", "as left")
    levels = [(f"{how} {when}", f"{when.replace(' ', '_')}_{how.lower()}") for when in stages for how in ("Without", "With")]
    columns = ("Item", "Way", "Resistor", *(title for title, _ in levels), "Low", "High")
    results = ("As found", "Verdict as found", "As left", "U (k = 2)", "Verdict as left")
    lines = []
    for n, row in enumerate(rows):
        before, after = (side.items[n] if side else None for side in (found, left))
        last = after if after and after.verdict is not Verdict.NOT_MEASURED else before
        u = last.results.get("expanded_uncertainty", Value(None)) if last else Value(None)
        lines.append(
            (
                row.text("item"),
                row.text("method"),
                Value(row.number("resistor_ohm"), "ohm", decimals=row.decimals("resistor_ohm")),
                *(_level_cell(row, name) for _, name in levels),
                *(Value(row.number(name), "ohm", decimals=row.decimals(name)) for name in ("low", "high")),
                before.results["impedance_ohm"] if before else Value(None),
                before.verdict.value if before else Verdict.NOT_MEASURED.value,
                after.results["impedance_ohm"] if after else Value(None),
                Value(u.value, u.unit, u.value if isinstance(u.value, float) else None, None, u.reason),
                after.verdict.value if after else Verdict.NOT_MEASURED.value,
            )
        )
    return DataTable((*columns, *results), tuple(lines))


def chart(finding: CheckFinding) -> Chart | None:
    """Each impedance on one scale of ohms, in tens, with the limits of its own."""
    rows = finding.check.table.rows if finding.check.table else ()
    sides = [[_ohm(i) for i in side.items] if side else [None] * len(rows) for side in (finding.found, finding.left)]
    kept = [n for n in range(len(rows)) if any(values[n] is not None for values in sides)]
    if not kept:
        return None
    paint, height = magnitudes(
        [rows[n].text("item") for n in kept],
        *([one_or_none(values[n]) for n in kept] for values in sides),
        limits=[(rows[n].number("low"), rows[n].number("high")) for n in kept],
        name=lambda ohm: shown(Value(ohm, "ohm", decimals=-math.floor(math.log10(ohm)))),  # one digit
    )
    caption = f"{nearest(finding)} Each stands on one scale of ohms in steps of ten; the bands are the limits of each."
    alt = f"{finding.check.title}: {counted(len(kept), 'impedance')} {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.3)


def _unused_limit(check: Check) -> str:
    return "low and high of each item" if check.limit else ""


KIND = Kind(SCHEMA, "Impedance", examine, chart, _unused_limit)
