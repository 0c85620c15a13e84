"""An oscillator that need not track: from what to what frequency it runs, and how still it stands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from statistics import stdev

from benchrecord.bench.conformity import verdict
from benchrecord.bench.estimate import Estimate
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import NO_OSCILLATOR, of_an_oscillator
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import NO_RANGE
from benchrecord.checks.tracking_points import COLUMNS, Point, Points, limit_of
from benchrecord.checks.wording import JUDGED, SAID, sides_said
from benchrecord.figures.style import Chart, magnitudes
from benchrecord.model.findings import CheckFinding, DataTable, Side, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown

KILO = 1000.0
ONCE = "each voltage was read once, which tells nothing of how it wanders"
LOW_END = "Its slowest is not slow enough: look at the low end of its control, and at what leaks into the timing part."
HIGH_END = "Its fastest is not fast enough: look at the high end of its control, its end resistor and the timing part."
RESTLESS = "It does not stand still: let it warm up, then look at its supply, its control's track and the timing part."


def range_side(check: Check, bench: Bench, points: Points) -> Side | None:
    """Hold the lowest and the highest frequency against the range that is wanted, and the wander against the limit."""
    if not points.points:
        return Side(Verdict.NOT_MEASURED, reason=points.reason) if points.reason else None
    if not of_an_oscillator(points.volts, points.hz):
        return Side(Verdict.NOT_MEASURED, reason=NO_OSCILLATOR)
    lowest, highest = (pick(points.points, key=lambda p: p.hz) for pick in (min, max))
    still, (low, high) = stability_of(points), wanted_of(check)
    held = [
        (f"lowest {shown(frequency(lowest))}", lowest.hz, lowest.hz_u, (None, low)),
        (f"highest {shown(frequency(highest))}", highest.hz, highest.hz_u, (high, None)),
    ]
    if isinstance(still, Estimate):
        said = f"wander {shown(Value(still.value, 'cents', still.expanded, 1))}"
        held.append((said, still.value, still.expanded, (None, limit_of(check, percent=False))))
    verdicts = [Verdict(verdict(number, u, *limits, rule=bench.rule.value)) for _, number, u, limits in held]
    concluded = worst_of(verdicts)
    at = verdicts.index(concluded)
    wander = (
        Value(None, "cents", reason=still.reason)
        if isinstance(still, NotHad)
        else Value(still.value, "cents", still.expanded, 1)
    )
    u, unit = held[at][2], "cents" if at == 2 else "Hz"  # noqa: PLR2004  # the third is the wander
    results = {
        "lowest_hz": frequency(lowest),
        "highest_hz": frequency(highest),
        "stability_cents": wander,
        "expanded_uncertainty": Value(u, unit, reason="" if u is not None else NO_RANGE),
    }
    return Side(concluded, results, (), f"{held[at][0]}, {SAID[concluded]}" if concluded in JUDGED else "")


def frequency(point: Point) -> Value:
    """Return the frequency of a reading as a result."""
    return Value(point.hz, "Hz", point.hz_u, point.decimals, "" if point.hz_u is not None else NO_RANGE)


def wanted_of(check: Check) -> tuple[float | None, float | None]:
    """Return the frequencies that it must come down to and up to; none where no range is wanted."""
    low, high = check.keys.get("range_hz") or (None, None)
    return low, high


def stability_of(points: Points) -> Estimate | NotHad:
    """Return the largest wander of all voltages: the standard deviation of the frequency there, in cents.

    From second to second, or from period to period, of a recording; else of repeated readings.
    """
    heard = [p.heard.wander_cents for p in points.points if p.heard]
    known = [w for w in heard if isinstance(w, Estimate)]
    if heard:
        return max(known, key=lambda w: w.value) if known else next(w for w in heard if isinstance(w, NotHad))
    again = [_of_readings([p for p in points.points if p.volts == volts]) for volts in dict.fromkeys(points.volts)]
    known = [w for w in again if w is not None]
    return max(known, key=lambda w: w.value) if known else NotHad(ONCE)


def _of_readings(alike: Sequence[Point]) -> Estimate | None:
    if len(alike) < 2:  # noqa: PLR2004  # one reading has no spread
        return None
    sd = stdev(cents(p.hz, alike[0].hz) for p in alike)
    return Estimate(sd, sd / math.sqrt(2 * (len(alike) - 1)))


def range_plain(found: Side | None, left: Side | None) -> str:
    """Say for a client from what to what it runs: ``As left, it runs from 0.10 Hz to 20.1 Hz and wanders by 2.1 cents``."""
    now, before = (_runs(side) for side in (left, found))
    if now:
        return f"As left, it runs {now}{f'; as found it ran {before}' if before else ''}."
    return f"As found, it ran {before}; it is not measured as left yet." if before else ""


def _runs(side: Side | None) -> str:
    if side is None or not side.results:
        return ""
    low, high, wander = (side.results[name] for name in ("lowest_hz", "highest_hz", "stability_cents"))
    span = f"at {spoken(low)}" if low.value == high.value else f"from {spoken(low)} to {spoken(high)}"
    return span if wander.value is None else f"{span} and wanders by {shown(wander)}"


def spoken(hz: Value) -> str:
    """Write a frequency for a client, in four figures at most."""
    if not isinstance(hz.value, float) or hz.value <= 0:
        return shown(hz)
    figures = max(0, 3 - math.floor(math.log10(hz.value)))
    return shown(Value(hz.value, hz.unit, hz.uncertainty, figures if hz.decimals is None else min(figures, hz.decimals)))


def range_advice(check: Check, side: Side | None) -> str:
    """Say where to look when it does not reach its range, or does not stand still (common practice, no source)."""
    if side is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE):
        return ""
    low, high = wanted_of(check)
    limit, results = limit_of(check, percent=False), {name: v.value for name, v in side.results.items()}
    lowest, highest, wander = (results[name] for name in ("lowest_hz", "highest_hz", "stability_cents"))
    said = [
        LOW_END if low is not None and isinstance(lowest, float) and lowest > low else "",
        HIGH_END if high is not None and isinstance(highest, float) and highest < high else "",
        RESTLESS if limit is not None and isinstance(wander, float) and wander > limit else "",
    ]
    return " ".join(s for s in said if s)


def range_table(points: Mapping[str, Points]) -> DataTable:
    """Return a line for each voltage, with its frequency and its wander on both sides."""
    keys = sorted({(p.volts, p.key, p.name) for side in points.values() for p in side.points})
    lines: list[tuple[Value | str, ...]] = []
    for volts, key, name in keys:
        own = [next((p for p in points[stage].points if (p.volts, p.key) == (volts, key)), None) for stage in COLUMNS]
        lines.append((name, *(cell for p in own for cell in _cells(p))))
    columns = [
        f"{what} as {when} in {unit}" for when in ("found", "left") for what, unit in (("Frequency", "Hz"), ("Wander", "cents"))
    ]
    return DataTable(("Position", *columns), tuple(lines))


def _cells(point: Point | None) -> tuple[Value, Value]:
    if point is None:
        return Value(None), Value(None)
    wander = point.heard.wander_cents if point.heard else None
    still = Value(wander.value, "", wander.expanded, 1) if isinstance(wander, Estimate) else Value(None)
    return Value(point.hz, "", point.hz_u, point.decimals), still


def range_chart(finding: CheckFinding) -> Chart | None:
    """Draw every frequency on one scale in tens, with what is wanted of the lowest and of the highest as a band."""
    names = list(dict.fromkeys(str(row[0]) for row in finding.table.rows))
    found, left = ([_read_at(finding.table, name, column) for name in names] for column in (1, 3))
    latest = [now or before for before, now in zip(found, left, strict=True)]
    ends = [f for at_one in latest for f in at_one]
    if not ends:
        return None
    low, high = wanted_of(finding.check)
    limits = [(high, None) if max(ends) in f else (None, low) if min(ends) in f else (None, None) for f in latest]
    paint, height = magnitudes(names, found, left, limits=limits, name=_tick)
    caption = f"{finding.plain} Frequencies stand on one scale in tens."
    alt = f"{finding.check.title}: frequency at each position, {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint, height, left_margin=0.3)


def _read_at(table: DataTable, name: str, column: int) -> list[float]:
    """Return all that was read at one position of the control."""
    read = (_number(row[column]) for row in table.rows if row[0] == name)
    return [hz for hz in read if hz is not None]


def _number(cell: Value | str) -> float | None:
    return cell.value if isinstance(cell, Value) and isinstance(cell.value, float) else None


def _tick(hz: float) -> str:
    return f"{hz / KILO:g} kHz" if hz >= KILO else f"{hz:g} Hz"
