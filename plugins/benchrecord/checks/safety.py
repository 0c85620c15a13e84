"""Safety tests: protective conductor, insulation, leakage and their like, against limits that the user sets."""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchrecord.bench.conformity import margin, verdict
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, reading_uncertainty, settled_by
from benchrecord.checks.safety_limits import NO_LIMIT, Allowed, allowed, unit_of
from benchrecord.checks.scale import BEYOND, place, room
from benchrecord.checks.wording import counted, found_and_left, nearest, side_of, sides_said, worst_item
from benchrecord.figures.style import Chart, spans
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.table import Column, Holds, KindSchema, Row

BEYOND_RANGE = {"least": "more than", "most": "less than"}
CAUTION = (
    "These tests put mains, or a test voltage of hundreds of volts, on the instrument: nobody touches it or the leads meanwhile, and it is"
    " discharged afterwards. Which tests are due, how they are made, with what limits and by whom is for local rules and licensed practice"
    " to say. A test in limits says that one reading kept to one number that was written here; it certifies nothing."
)
OWN_LIMITS = "The limits are those written in the table; there are none of the program's own."
ASK_FOR_LIMITS = (
    "Write the limits that apply where the work is done, such as <= 0.3 ohm or >= 1 Mohm: without one a test is not judged."
)
AGAIN = "Too close to call does not count as passed: measure again with less uncertainty."

SCHEMA = KindSchema(
    "safety",
    columns=(
        Column("test", required=True),
        Column("unit", Holds.UNIT),
        Column("limit", Holds.QUANTITY, bounded=True),
        *(Column(name, Holds.NUMBER, unit="") for name in ("low", "high")),
        *(Column(name, Holds.NUMBER, unit="", bounded=True) for name in ("as_found", "as_left")),
    ),
    keys=(Column("equipment"), Column("frequency_hz", Holds.NUMBER, unit="Hz", positive=True)),
    one_of=(("as_found", "as_left"),),
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Hold each test against its own limit, as found and as left."""
    rows = check.table.rows if check.table else ()
    limits = [allowed(row, check) for row in rows]
    found, left = (_side(check, bench, limits, column) for column in ("as_found", "as_left"))
    now = _as_things_stand(found, left)
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(rows, limits, found, left),
        plain=_plain(found, left),
        method=_method(check, bench, limits, found, left),
        advice=_advice(limits, now),
        basis=_basis(check, bench, now),
        alarm=_alarm(now, left),
        caution=CAUTION,
    )


def _side(check: Check, bench: Bench, limits: Sequence[Allowed], column: str) -> Side | None:
    rows = check.table.rows if check.table else ()
    items = [_item(check, bench, row, column) for row in rows]
    worst = worst_item(
        items, [room(_size(row.number(column), own), own.low, own.high) for row, own in zip(rows, limits, strict=True)]
    )
    return side_of(items, _words(worst, limits[items.index(worst)]) if worst else "")


def _size(value: float | None, own: Allowed) -> float | None:
    """Return what is held against a limit: of a most the size of the reading, whichever way its current flows."""
    return value if value is None or own.low is not None else abs(value)


def _item(check: Check, bench: Bench, row: Row, column: str) -> Item:
    name, unit, value, own = row.text("test"), unit_of(row), row.number(column), allowed(row, check)
    size = _size(value, own)
    if value is None or size is None:
        return Item(name, Verdict.NOT_MEASURED, {"value": Value(None, unit, reason="not measured")})
    u, bound = reading_uncertainty(check, bench, value, unit), row.bound(column)
    concluded = Verdict(verdict(size, u, own.low, own.high, rule=bench.rule.value))
    told = concluded is Verdict.INFORMATION or _told(bound, concluded, size, own)
    distance = margin(size, own.low, own.high) if told else None
    left = distance if distance is not None and math.isfinite(distance) else None
    decimals = row.decimals(column)
    results = {
        "value": Value(value, unit, u, decimals),
        **({"bound": Value(BEYOND_RANGE[bound])} if bound else {}),
        "unit": Value(unit),
        "margin": Value(
            left, unit, u, decimals, "" if left is not None else own.none or "the meter's range ends before the limit"
        ),
        "expanded_uncertainty": Value(u, unit, reason="" if u is not None else NO_RANGE),
    }
    return Item(name, concluded if told else Verdict.TOO_CLOSE, results)


def _told(bound: str, concluded: Verdict, size: float, own: Allowed) -> bool:
    """Say whether a reading beyond the meter's range settles the matter: more than 200 MΩ is at least 1 MΩ, and nothing of a most."""
    if bound == "least":
        return concluded is Verdict.IN if own.high is None else size > own.high
    if bound == "most":
        return concluded is Verdict.IN if own.low is None else size < own.low
    return True


def _reading(item: Item) -> str:
    bound = item.results.get("bound")
    return f"{shown(bound)} {shown(item.results['value'])}" if bound else shown(item.results["value"])


def _words(item: Item, own: Allowed) -> str:
    """Tell of a judged test: ``protective conductor reads 0.42 Ω where at most 0.3 Ω is allowed``."""
    close = ", too close to call" if item.verdict is Verdict.TOO_CLOSE else ""
    return f"{item.item} reads {_reading(item)} where {own.words} is allowed{close}"


def _as_things_stand(found: Side | None, left: Side | None) -> tuple[Item, ...]:
    """Return each test as left where it was measured then, else as found: what failed once has failed until it is measured again."""
    before, after = (side.items if side else () for side in (found, left))
    if not before or not after:
        return after or before
    return tuple(a if a.verdict is not Verdict.NOT_MEASURED else b for b, a in zip(before, after, strict=True))


def _plain(found: Side | None, left: Side | None) -> str:
    side = left or found
    if side and len(side.items) == 1:
        said = [f"{_reading(s.items[0])} {when}" for s, when in ((left, "as left"), (found, "as found")) if s]
        name = side.items[0].item
        return f"{name[:1].upper()}{name[1:]} reads {said[0]}{f'; it was {said[1]}' if len(said) > 1 else ''}."
    plain = found_and_left(found, left, "tests")
    missing = sum(i.verdict is Verdict.NOT_MEASURED for i in side.items) if side else 0
    return f"{plain} {counted(missing, 'test')} {'is' if missing == 1 else 'are'} not measured." if missing else plain


def _method(check: Check, bench: Bench, limits: Sequence[Allowed], *sides: Side | None) -> str:
    said = [settled_by(check, bench, *sides)]
    if check.keys.get("equipment"):
        said.append(f"Test equipment: {check.keys['equipment']}.")
    if check.keys.get("frequency_hz"):
        said.append(f"At {check.keys['frequency_hz']:g} Hz.")
    rows = check.table.rows if check.table else ()
    refused = [(row.text("test"), own.none) for row, own in zip(rows, limits, strict=True) if own.none not in ("", NO_LIMIT)]
    said += [f"Not judged, {test}: {why}." for test, why in refused]
    return " ".join([*said, OWN_LIMITS])


def _advice(limits: Sequence[Allowed], now: Sequence[Item]) -> str:
    said = [AGAIN] if any(i.verdict is Verdict.TOO_CLOSE for i in now) else []
    if any(own.none for own in limits):
        said.append(ASK_FOR_LIMITS)
    return " ".join(said)


def _alarm(now: Sequence[Item], left: Side | None) -> str:
    failed = [i for i in now if i.verdict is Verdict.OUT]
    if not failed:
        return ""
    names = "; ".join(f"{i.item} reads {_reading(i)}" for i in failed)
    again = "" if left else " and nothing has been measured since"
    return (
        f"{counted(len(failed), 'safety test')} out of the limits that were set: {names}{again}."
        " Keep the instrument unplugged until the cause is found and the tests are made again."
    )


def _basis(check: Check, bench: Bench, now: Sequence[Item]) -> str:
    judged = [i for i in now if i.verdict in (Verdict.IN, Verdict.OUT, Verdict.TOO_CLOSE)]
    known = [i for i in judged if i.results["expanded_uncertainty"].value is not None]
    said = [
        f"{len(judged)} of {counted(len(now), 'test')} had a limit and were held against it; the margin is the distance to that limit."
    ]
    if known and check.meter in bench.meters:
        said.append(
            "The uncertainty is that of the meter's range: its limits of error over √3, doubled (k = 2); for"
            f" {known[0].item} it is {shown(_uncertainty(known[0]))}."
        )
    else:
        said.append("No range of a meter is given for these readings, so that no uncertainty is known.")
    return " ".join([*said, OWN_LIMITS])


def _table(rows: Sequence[Row], limits: Sequence[Allowed], found: Side | None, left: Side | None) -> DataTable:
    columns = ("Test", "Allowed", "As found", "Verdict as found", "As left", "U (k = 2)", "Verdict as left")
    lines = []
    for n, (row, own) in enumerate(zip(rows, limits, strict=True)):
        before, after = (side.items[n] if side else Item("", Verdict.NOT_MEASURED) for side in (found, left))
        last = after if after.verdict is not Verdict.NOT_MEASURED else before
        lines.append(
            (
                row.text("test"),
                own.words,
                _cell(before),
                before.verdict.value,
                _cell(after),
                _uncertainty(last),
                after.verdict.value,
            )
        )
    return DataTable(columns, tuple(lines))


def _uncertainty(item: Item) -> Value:
    """Return an item's expanded uncertainty as it is shown: with two digits of its own."""
    u = item.results.get("expanded_uncertainty", Value(None))
    return Value(u.value, u.unit, u.value if isinstance(u.value, float) else None, None, u.reason)


def _cell(item: Item) -> Value | str:
    return _reading(item) if "bound" in item.results else item.results.get("value", Value(None))


def chart(finding: CheckFinding) -> Chart | None:
    """Each test on the scale of its own limit."""
    rows = finding.check.table.rows if finding.check.table else ()
    limits = [allowed(row, finding.check) for row in rows]
    kept = [(row, own) for row, own in zip(rows, limits, strict=True) if own.low is not None or own.high is not None]
    if not kept or not sides_said(finding):
        return None
    paint, height = spans(
        [row.text("test") for row, _ in kept],
        *([_place(_size(row.number(c), own), own) for row, own in kept] for c in ("as_found", "as_left")),
        ends=("least", "most"),
    )
    caption = f"{nearest(finding)} Each test stands on the scale of its own limit; the band is what that allows."
    alt = f"{finding.check.title}: {counted(len(kept), 'test')} {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.38)


def _place(size: float | None, own: Allowed) -> float | None:
    """Return where a reading stands: at 1 it is the most, at -1 the least, and the farther inside a single limit, the nearer the middle."""
    if size is None or own.low is None or own.high is not None:
        return place(size, own.low, own.high)
    return -own.low / size if size > 0 else -BEYOND


KIND = Kind(SCHEMA, "Safety tests", examine, chart)
