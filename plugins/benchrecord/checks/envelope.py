"""Envelope: what the stages of a contour last, and how far its controls reach."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchrecord.bench.conformity import margin, verdict
from benchrecord.bench.envelope import Contour
from benchrecord.bench.reasons import NotHad
from benchrecord.checks.envelope_times import COLUMNS, STAGES, Listened, Timed, listened, of_contours, of_table, wanted_of
from benchrecord.checks.envelope_words import advice, basis, method, plain, told
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE
from benchrecord.checks.recordings import settings_of
from benchrecord.checks.scale import room
from benchrecord.checks.wording import against_limit, counted, listed, nearest, sides_said, worst_item
from benchrecord.figures.style import Chart, curves, magnitudes, one_or_none
from benchrecord.model.findings import (
    CheckFinding,
    DataTable,
    Item,
    Results,
    ResultWarning,
    Side,
    Value,
    Verdict,
    downgrade,
    worst_of,
)
from benchrecord.model.job import Check
from benchrecord.model.table import Column, Holds, KindSchema

LISTED = 40
NO_LIMIT = "no limits are given"

SCHEMA = KindSchema(
    "envelope",
    columns=(
        Column("stage", required=True),
        Column("setting"),
        *(Column(name, Holds.NUMBER, unit="s", positive=True) for name in COLUMNS.values()),
        Column("low", Holds.NUMBER, unit="s"),
        Column("high", Holds.NUMBER, unit="s"),
    ),
    keys=(
        Column("source", Holds.WORD, choice=("signal", "voltage")),
        Column("mode", Holds.WORD, choice=("one-shot", "repeating")),
        Column("wanted", Holds.PAIRS, unit="s"),
    ),
    one_of=(tuple(COLUMNS.values()),),
    recordings=True,
    limit_unit="%",
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Time the stages, as found and as left, and hold them against what is wanted."""
    heard = {side: listened(check, bench, side) for side in COLUMNS}
    times = {side: of_contours(check, heard[side]) if heard[side] else of_table(check, bench, side) for side in COLUMNS}
    found, left = (_side(check, bench, times[side], heard[side]) for side in COLUMNS)
    side, stage = (left, "as_left") if left else (found, "as_found")
    table, whole = listed(_table(times), LISTED)
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=table,
        plain=plain(check, found, left, times),
        method=method(check, bench, heard, found=found, left=left),
        advice=advice(_of_instrument(times[stage], heard[stage]))
        if side and side.verdict in (Verdict.OUT, Verdict.TOO_CLOSE)
        else "",
        basis=basis(check, bench, times[stage], heard[stage]),
        curve=_curve(check, heard) or whole,
    )


def _of_instrument(times: Sequence[Timed], heard: Sequence[Listened]) -> list[Timed]:
    """Return the times that no fault of the recorder makes doubtful."""
    warnings = {one.at: one.warnings for one in heard}
    return [t for t in times if not any(w.of_measurement and w.touches(f"{t.stage}_s") for w in warnings.get(t.at, ()))]


def _side(check: Check, bench: Bench, times: Sequence[Timed], heard: Sequence[Listened]) -> Side | None:
    if not times:
        return None
    doubts = {one.at: one.warnings for one in heard}
    items = [_item(bench, t, doubts.get(t.at, ())) for t in times]
    worst = worst_item(items, [room(t.seconds, t.low, t.high) for t in times])
    said = f"{worst.item} {told(worst.results['value'])}, {against_limit(worst)}" if worst else ""
    concluded = worst_of(i.verdict for i in items)
    if not heard:
        return Side(concluded, _reach(times), tuple(items), said)
    reasons = [one.contour.reason for one in heard if isinstance(one.contour, NotHad)]
    if len(reasons) == len(heard):
        return Side(Verdict.NOT_MEASURED, reason=reasons[0], warnings=heard[0].warnings)
    if settings_of(check):
        return Side(concluded, _reach(times), tuple(_position(one, times, items) for one in heard), said)
    return Side(concluded, {**_results(times), **_of_contour(heard[0]), **_held(worst)}, (), said, warnings=heard[0].warnings)


def _item(bench: Bench, timed: Timed, doubts: Sequence[ResultWarning]) -> Item:
    value, seconds = timed.value, timed.seconds
    if seconds is None:
        return Item(timed.name, Verdict.NOT_MEASURED, {f"{timed.stage}_s": value})
    clear = Verdict(verdict(seconds, value.uncertainty, timed.low, timed.high, rule=bench.rule.value))
    concluded = downgrade(clear, doubts, f"{timed.stage}_s")
    left = margin(seconds, timed.low, timed.high)
    results = {
        f"{timed.stage}_s": value,
        "value": value,
        "unit": Value("s"),
        "margin": Value(left, "s", value.uncertainty, value.decimals, "" if left is not None else NO_LIMIT),
        "expanded_uncertainty": Value(value.uncertainty, "s", None, None, "" if value.uncertainty is not None else NO_RANGE),
    }
    return Item(timed.name, concluded, results)


def _position(one: Listened, times: Sequence[Timed], items: Sequence[Item]) -> Item:
    """Gather what was heard at one position of the control."""
    own = [(t, i) for t, i in zip(times, items, strict=True) if t.at == one.at]
    concluded = worst_of(i.verdict for _, i in own)
    worst = worst_item([i for _, i in own], [room(t.seconds, t.low, t.high) for t, _ in own])
    results = {**_results([t for t, _ in own]), **_of_contour(one), **_held(worst)}
    return Item(one.at, concluded, results, warnings=one.warnings)


def _results(times: Sequence[Timed]) -> Results:
    return {name: value for t in times for name, value in ((f"{t.stage}_s", t.value), *t.more.items())}


def _of_contour(one: Listened) -> Results:
    if isinstance(one.contour, NotHad):
        return {}
    mode = "repeating" if one.contour.repeating else "one-shot"
    return {"mode": Value(mode), "cycles": Value(one.contour.cycles)}


def _held(worst: Item | None) -> Results:
    return {name: worst.results[name] for name in ("margin", "expanded_uncertainty")} if worst else {}


def _reach(times: Sequence[Timed]) -> Results:
    """Return from what to what each stage reaches over all positions."""
    found: dict[str, Value] = {}
    for stage in dict.fromkeys(t.stage for t in times):
        known = [t for t in times if t.stage == stage and t.seconds is not None]
        if len(known) > 1:
            for name, pick in (("shortest", min), ("longest", max)):
                found[f"{stage}_{name}_s"] = pick(known, key=lambda t: t.seconds or 0.0).value
    return found


def _table(times: Mapping[str, Sequence[Timed]]) -> DataTable:
    """Return a line for each stage and position, as found beside as left."""
    sides = [{(t.ref, t.stage, t.at): t for t in times[side]} for side in COLUMNS]
    keys = sorted({key for side in sides for key in side}, key=lambda key: _order(key, sides))
    columns = ("Stage", "Setting", "As found in s", "As left in s", "U (k = 2) in s", "Low in s", "High in s")
    lines: list[tuple[Value | str, ...]] = []
    for key in keys:
        found, left = (side.get(key) for side in sides)
        latest = left or found
        if latest and any(t and t.seconds for t in (found, left)):
            u, decimals = latest.value.uncertainty, latest.value.decimals
            limits = (Value(end, decimals=decimals) for end in (latest.low, latest.high))
            lines.append((latest.stage, latest.at, _bare(found), _bare(left), Value(u, "", u), *limits))
    return DataTable(columns, tuple(lines))


Key = tuple[int, str, str]


def _order(key: Key, sides: Sequence[Mapping[Key, Timed]]) -> tuple[int, int]:
    """Keep rows of a table in their order, and what was heard by stage, then by position."""
    ref, stage, _ = key
    place = next(list(side).index(key) for side in sides if key in side)
    return (ref, place) if ref else (STAGES.index(stage) if stage in STAGES and not ref else 0, place)


def _bare(timed: Timed | None) -> Value:
    return (
        Value(timed.value.value, "", timed.value.uncertainty, timed.value.decimals, timed.value.reason)
        if timed
        else Value(None)
    )


def _curve(check: Check, heard: Mapping[str, Sequence[Listened]]) -> DataTable | None:
    """Return one cycle of each side, a line for each point of either."""
    if settings_of(check):
        return None
    lines: list[tuple[float, int, float]] = []
    for column, side in enumerate(COLUMNS):
        contour = heard[side][0].contour if heard[side] else None
        if isinstance(contour, Contour):
            lines += [(float(s), column, float(level)) for s, level in contour.cycle]
    rows = tuple(
        (Value(s, decimals=5), *(Value(level, decimals=4) if n == column else Value(None) for n in range(2)))
        for s, column, level in sorted(lines)
    )
    return DataTable(("Time in s", "Level as found", "Level as left"), rows) if rows else None


def chart(finding: CheckFinding) -> Chart | None:
    """One cycle over time where one was recorded; else each time on one scale in tens, with what is wanted of it as its band."""
    check = finding.check
    if finding.curve and finding.curve.columns[0] == "Time in s":
        found, left = (_points(finding.curve, column) for column in (1, 2))
        paint = curves(found, left, labels=("time in s", "level, where the peak is 1"), limits=None)
        caption = f"{finding.plain} The curves are one cycle of each, from where it rises above a tenth of its peak."
        alt = f"{check.title}: level against time, {sides_said(finding)}. {caption}"
        return Chart(check.title, caption, alt, paint)
    rows = [row for row in finding.table.rows if _number(row[2]) or _number(row[3])]
    if not rows:
        return None
    labels = [f"{row[0]} at {row[1]}" if row[1] else str(row[0]) for row in rows]
    limits = [(_number(row[5]), _number(row[6])) for row in rows]
    painter, height = magnitudes(
        labels, *([one_or_none(_number(row[n])) for row in rows] for n in (2, 3)), limits=limits, name=_tick
    )
    caption = f"{nearest(finding)} Times stand on one scale in tens{', each with its limits as a band' if any(map(any, limits)) else ''}."
    alt = f"{check.title}: {counted(len(rows), 'time')} {sides_said(finding)}. {caption}"
    return Chart(check.title, caption, alt, painter, height, left_margin=0.3)


def _number(cell: Value | str) -> float | None:
    return cell.value if isinstance(cell, Value) and isinstance(cell.value, float) else None


def _points(table: DataTable, column: int) -> list[tuple[float, float]]:
    return [(x, y) for row in table.rows if (x := _number(row[0])) is not None and (y := _number(row[column])) is not None]


def _tick(seconds: float) -> str:
    return f"{seconds:g} s" if seconds >= 1 else f"{1000 * seconds:g} ms"


def _unused_limit(check: Check) -> str:
    """Say what is needed where the limit widens no other."""
    rows = check.table.rows if check.table else ()
    has_limits = wanted_of(check) or any(row.number(name) is not None for row in rows for name in ("low", "high"))
    return "wanted, or low and high of a stage, which the limit widens" if check.limit and not has_limits else ""


KIND = Kind(SCHEMA, "Envelope", examine, chart, _unused_limit)
