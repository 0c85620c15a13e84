"""Warm-up: how long a value takes to settle from cold, and how it drifts after that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.conformity import verdict
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.settling import Drift, Settled, departures, drift, settling
from benchrecord.bench.uncertainty import combine
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, reading_uncertainty, settled_by
from benchrecord.checks.wording import NOT_YET, SAID, change, counted, sides_said
from benchrecord.figures.style import Chart, curves
from benchrecord.model.findings import CheckFinding, DataTable, Side, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import convert, dimension
from benchrecord.model.table import Column, Holds, KindSchema, Row

STAGES = ("as_found", "as_left")
NO_LIMIT = "no limit is given to settle within"
TWO = 2  # readings that a line goes through exactly
NOT_AT_REST = (
    "It still moves in the last third of the time: watch on until it rests before any trim is set. If it never does, look for a part"
    " that drifts with its temperature."
)

SCHEMA = KindSchema(
    "warm-up",
    columns=(
        Column("minutes", Holds.NUMBER, unit="min"),
        Column("as_found", Holds.NUMBER, unit=""),
        Column("as_left", Holds.NUMBER, unit=""),
    ),
    keys=(Column("unit", Holds.UNIT),),
    one_of=(("minutes",), ("as_found", "as_left")),
)


@dataclass(frozen=True, slots=True)
class Watch:
    """The readings of one side in the order of time, and what they are held against.

    ``away`` is the departure of each from the last one, which like ``limit`` counts in ``measure``: the unit of the readings, or
    cents. ``drift`` is that of the last third.
    """

    minutes: tuple[float, ...]
    values: tuple[float, ...]
    rows: tuple[int, ...]
    decimals: int
    away: tuple[float, ...]
    limit: float | None
    measure: str
    drift: Drift | NotHad

    @property
    def since(self) -> float:
        """The minute from which on the value should be at rest: that of the last third, or of the last two readings."""
        return self.drift.from_minutes if isinstance(self.drift, Drift) else self.minutes[-2]


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Find when the value has settled and how it drifts, as found and as left."""
    watches = [_watch(check, stage) for stage in STAGES]
    found, left = (_side(check, bench, watch) for watch in watches)
    side, watch = (left, watches[1]) if left else (found, watches[0])
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(check, watches),
        plain=_plain(check, found, left),
        method=_method(check, bench, found, left),
        advice=NOT_AT_REST if side and side.verdict is Verdict.OUT else "",
        basis=_basis(side, watch) if side and isinstance(watch, Watch) else "",
    )


def unit_of(check: Check) -> str:
    """Return the unit of the readings: the one the check names, else the first that is written behind one."""
    rows = check.table.rows if check.table else ()
    written = (unit for row in rows for stage in STAGES if (unit := row.unit(stage)))
    return str(check.keys.get("unit") or next(written, ""))


def limit_of(check: Check, last: float) -> tuple[float | None, str]:
    """Return the band about the last value and the unit that it counts in; no band where the limit is one of something else."""
    unit, limit = unit_of(check), check.limit
    if limit is None or limit.unit in (None, unit):
        return (limit.value if limit else None), unit
    of = dimension(limit.unit)
    if of == dimension(unit):
        return convert(limit.value, limit.unit or "", unit), unit
    if of == "cents" and dimension(unit) == "Hz":
        return limit.in_base(), "cents"
    return (limit.in_base() * abs(last) / 100 if of == "%" else None), unit


def _watch(check: Check, stage: str) -> Watch | NotHad | None:
    """Return the readings of one side; None where it has none."""
    known = sorted(
        (m, n, v)
        for n, row in enumerate(check.table.rows if check.table else ())
        if (m := row.number("minutes")) is not None and (v := _reading(check, row, stage)) is not None
    )
    if len(known) < TWO:
        return NotHad("a single reading tells nothing of settling") if known else None
    minutes, rows, values = (tuple(m for m, _, _ in known), tuple(n for _, n, _ in known), tuple(v for _, _, v in known))
    limit, measure = limit_of(check, values[-1])
    away = departures(values, in_cents=measure == "cents" and unit_of(check) != "cents")
    if isinstance(away, NotHad):
        return away
    decimals = max((d for n in rows if check.table and (d := check.table.rows[n].decimals(stage)) is not None), default=0)
    return Watch(minutes, values, rows, decimals, away, limit, measure, drift(minutes, values, step=10.0**-decimals))


def _reading(check: Check, row: Row, stage: str) -> float | None:
    """Return a reading in the unit of the check; None for one of another quantity."""
    value, own, unit = row.number(stage), row.unit(stage), unit_of(check)
    if value is None or not own or own == unit:
        return value
    return convert(value, own, unit) if dimension(own) == dimension(unit) else None


def _side(check: Check, bench: Bench, watch: Watch | NotHad | None) -> Side | None:
    if watch is None:
        return None
    if isinstance(watch, NotHad):
        return Side(Verdict.NOT_MEASURED, reason=watch.reason)
    at = max((n for n, m in enumerate(watch.minutes) if m >= watch.since), key=lambda n: abs(watch.away[n]))
    u = _departure_uncertainty(check, bench, watch, at)
    departure = Value(watch.away[at], watch.measure, u, _decimals(check, watch))
    results = {
        "settling_minutes": _settling(watch),
        "drift_per_hour": _drift(check, watch),
        "largest_departure": departure,
        "expanded_uncertainty": Value(u, watch.measure, reason="" if u is not None else NO_RANGE),
    }
    low = None if watch.limit is None else -watch.limit
    concluded = Verdict(verdict(watch.away[at], u, low, watch.limit, rule=bench.rule.value))
    said = f"{shown(departure, sign=True)} from its last value at minute {watch.minutes[at]:g}"
    return Side(concluded, results, (), f"{said}, {SAID[concluded]}" if concluded in SAID else said)


def _departure_uncertainty(check: Check, bench: Bench, watch: Watch, at: int) -> float | None:
    """Return the expanded uncertainty of a departure: that of both readings, as if the meter's errors had nothing in common."""
    each = []
    for value in (watch.values[at], watch.values[-1]):
        u = reading_uncertainty(check, bench, value, unit_of(check))
        if u is None:
            return None
        each.append(cents(value + u, value) if watch.measure != unit_of(check) else u)
    return combine(*each)


def _settling(watch: Watch) -> Value:
    calm = NotHad(NO_LIMIT) if watch.limit is None else settling(watch.minutes, watch.away, watch.limit)
    if not isinstance(calm, Settled):
        return Value(None, "min", reason=calm.reason)
    return Value(calm.minutes, "min", calm.minutes - calm.since, 0 if calm.minutes.is_integer() else 1)


def _drift(check: Check, watch: Watch) -> Value:
    slope = watch.drift
    unit = f"{unit_of(check)}/h" if unit_of(check) else "per hour"
    if isinstance(slope, NotHad):
        return Value(None, unit, reason=slope.reason)
    return Value(slope.per_hour, unit, slope.expanded_uncertainty, watch.decimals + 1)


def _decimals(check: Check, watch: Watch) -> int:
    return watch.decimals if watch.measure == unit_of(check) else 1


def _plain(check: Check, found: Side | None, left: Side | None) -> str:
    """Say for a client when it has settled: ``As left, it stays within 3 cents of its last value from minute 20 on``."""
    side, when = (left, "as left") if left else (found, "as found")
    if side is None:
        return NOT_YET
    if not side.results:
        return f"Not worked out: {side.reason}."
    if check.limit is None or side.results["settling_minutes"].reason == NO_LIMIT:
        return f"{when.capitalize()}, {_drift_words(side)} after the warm-up."
    said = _settled_words(side, f"it stays within {check.limit.text} of its last value from minute {{}} on")
    before = _settled_words(found, "it did so from minute {} on") if found and left and found.results else ""
    return f"{when.capitalize()}, {said}{f'; as found {before}' if before else ''}."


def _drift_words(side: Side) -> str:
    slope = side.results["drift_per_hour"]
    return f"the drift is not known ({slope.reason})" if slope.value is None else f"it drifts by {change(slope)}"


def _settled_words(side: Side, how: str) -> str:
    minutes = side.results["settling_minutes"]
    return minutes.reason if minutes.value is None else how.format(shown(Value(minutes.value, decimals=minutes.decimals)))


def _method(check: Check, bench: Bench, found: Side | None, left: Side | None) -> str:
    said = [settled_by(check, bench, found, left)]
    if found or left:
        said.append(
            "Settled: the first reading from which on every one stays within the limit of the last. Drift: slope of the last third of"
            " the time; the largest departure in that third is held against the limit."
        )
    return " ".join(said)


def _basis(side: Side, watch: Watch) -> str:
    """Tell how far the minutes and the drift can be trusted."""
    if not side.results:
        return ""
    minutes, slope, departure = (side.results[n] for n in ("settling_minutes", "drift_per_hour", "largest_departure"))
    said = []
    if isinstance(minutes.value, float) and minutes.uncertainty:
        since = minutes.value - minutes.uncertainty
        said.append(f"It settled between minute {since:g} and minute {minutes.value:g}: nobody looked in between.")
    if isinstance(watch.drift, Drift):
        scatter = "their scatter about the line with Student's factor, and is no less than their last digit allows"
        of_two = "their last digit alone, as a line through two readings has no scatter"
        said.append(
            f"The drift is the slope of a straight line through {counted(watch.drift.readings, 'reading')} from minute"
            f" {watch.drift.from_minutes:g} on; its uncertainty of {_own(slope)} comes from"
            f" {of_two if watch.drift.readings == TWO else scatter}."
        )
    if departure.uncertainty:
        said.append(f"A departure has the uncertainty of two readings of the meter, {_own(departure)}.")
    return " ".join(said)


def _own(value: Value) -> str:
    """Write the uncertainty of a value."""
    return shown(Value(value.uncertainty, value.unit, value.uncertainty))


def _table(check: Check, watches: Sequence[Watch | NotHad | None]) -> DataTable:
    """Return a line for each row, in the order of time."""
    known = {stage: w for stage, w in zip(STAGES, watches, strict=True) if isinstance(w, Watch)}
    rows = sorted({(m, n) for w in known.values() for m, n in zip(w.minutes, w.rows, strict=True)})
    measure = next((w.measure for w in known.values()), "")
    columns = ["Minutes from cold"]
    for stage in STAGES:
        said = stage.replace("_", " ")
        columns += [f"{said.capitalize()} in {unit_of(check)}".removesuffix(" in "), f"Away from the last {said} in {measure}"]
    lines = [(Value(m, decimals=0 if m.is_integer() else 1), *_cells(check, known, n)) for m, n in rows]
    return DataTable(tuple(columns), tuple(lines))


def _cells(check: Check, known: dict[str, Watch], row: int) -> tuple[Value, ...]:
    cells: list[Value] = []
    for stage in STAGES:
        watch = known.get(stage)
        if watch is None or row not in watch.rows:
            cells += [Value(None), Value(None)]
        else:
            n = watch.rows.index(row)
            cells += [
                Value(watch.values[n], decimals=watch.decimals),
                Value(watch.away[n], decimals=_decimals(check, watch)),
            ]
    return tuple(cells)


def chart(finding: CheckFinding) -> Chart | None:
    """Departure from the last value over the minutes from cold, with the limit as a band."""
    found, left = (_points(finding.table, column) for column in (2, 4))
    if not found and not left:
        return None
    check = finding.check
    limit, measure = limit_of(check, _last(finding.table))
    labels = ("minutes from cold", f"away from the last value in {measure}".removesuffix(" in "))
    paint = curves(found, left, labels=labels, markers=True, limits=None if limit is None else (-limit, limit))
    side, when = (finding.left, "as left") if finding.left else (finding.found, "as found")
    drifts = f" In the last third of the time, {_drift_words(side)} {when}." if side and side.results else ""
    caption = finding.plain + drifts
    alt = f"{check.title}: departure from the last value against minutes from cold, {sides_said(finding)}. {caption}"
    return Chart(check.title, caption, alt, paint)


def _points(table: DataTable, column: int) -> list[tuple[float, float]]:
    cells = [(row[0], row[column]) for row in table.rows]
    return [
        (m.value, a.value)
        for m, a in cells
        if isinstance(m, Value) and isinstance(a, Value) and isinstance(m.value, float) and isinstance(a.value, float)
    ]


def _last(table: DataTable) -> float:
    """Return the last value as left, else as found."""
    for column in (3, 1):
        read = [v for _, v in _points(table, column)]
        if read:
            return read[-1]
    return 0.0


def _unused_limit(check: Check) -> str:
    return f"a limit of readings in {unit_of(check)}" if check.limit and limit_of(check, 1.0)[0] is None else ""


KIND = Kind(SCHEMA, "Warm-up", examine, chart, _unused_limit)
