"""An oscillator that need not track: from what to what frequency it runs, how its pitch wanders, and how it drifts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import stdev

from benchrecord.bench.conformity import verdict
from benchrecord.bench.estimate import Below, Estimate
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import NO_OSCILLATOR, of_an_oscillator
from benchrecord.bench.wander import Wander
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import NO_RANGE
from benchrecord.checks.non_negative import non_negative
from benchrecord.checks.tracking_points import COLUMNS, Point, Points, limit_of
from benchrecord.checks.wording import JUDGED, SAID, not_left, sides_said
from benchrecord.figures.style import Chart, magnitudes
from benchrecord.model.findings import CheckFinding, DataTable, Results, Side, Value, Verdict, downgrade, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown

KILO = 1000.0
LEAST_CENTS = 0.1  # that a sentence states
NO_COURSE = "single readings have no course in time"
ONCE = "each voltage was read once, which tells nothing of how it wanders"
LOW_END = "Its slowest is not slow enough: look at the low end of its control, and at what leaks into the timing part."
HIGH_END = "Its fastest is not fast enough: look at the high end of its control, its end resistor and the timing part."
RESTLESS = "It does not stand still: let it warm up, then look at its supply, its control's track and the timing part."


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How still a pitch stands at one position, in cents: what its readings, or the wander in its recording, come to."""

    rms: Estimate | NotHad
    peak: Estimate | NotHad
    drift: Estimate | NotHad
    whole: Estimate | NotHad
    rate_hz: Estimate | NotHad
    band_hz: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class _Held:
    """One result that is held against a limit; a bound on what noise hides is within it where the bound is."""

    name: str
    words: str
    number: float
    uncertainty: float | None
    limits: tuple[float | None, float | None]
    hidden: bool = False

    def verdict(self, points: Points, bench: Bench) -> Verdict:
        if self.hidden and self.limits[1] is not None:
            concluded = Verdict.IN if self.number <= self.limits[1] else Verdict.TOO_CLOSE
        else:
            concluded = Verdict(verdict(self.number, self.uncertainty, *self.limits, rule=bench.rule.value))
        return downgrade(concluded, points.warnings, self.name)


def range_side(check: Check, bench: Bench, points: Points) -> Side | None:
    """Hold the lowest and the highest frequency against the range, and the peak of the wander and the drift against the limit."""
    if not points.points:
        return Side(Verdict.NOT_MEASURED, reason=points.reason) if points.reason else None
    if not of_an_oscillator(points.volts, points.hz):
        return Side(Verdict.NOT_MEASURED, reason=NO_OSCILLATOR)
    lowest, highest = (pick(points.points, key=lambda p: p.hz) for pick in (min, max))
    still, (low, high) = steadiness_of(points), wanted_of(check)
    held = [
        _Held("lowest_hz", f"lowest {shown(frequency(lowest))}", lowest.hz, lowest.hz_u, (None, low)),
        _Held("highest_hz", f"highest {shown(frequency(highest))}", highest.hz, highest.hz_u, (high, None)),
        *_held_steadiness(still, limit_of(check, percent=False)),
    ]
    verdicts = [one.verdict(points, bench) for one in held]
    concluded = worst_of(verdicts)
    worst = max((one for one, v in zip(held, verdicts, strict=True) if v is concluded), key=_room)
    unit = "Hz" if worst.name.endswith("hz") else "cents"
    results = {
        "lowest_hz": frequency(lowest),
        "highest_hz": frequency(highest),
        **_steadiness_results(still),
        "expanded_uncertainty": Value(worst.uncertainty, unit, reason="" if worst.uncertainty is not None else NO_RANGE),
    }
    said = f"{worst.words}, {SAID[concluded]}" if concluded in JUDGED else ""
    return Side(concluded, results, (), said, warnings=points.warnings)


def _room(held: _Held) -> float:
    """Return how far a result is beyond its limit, as a share of that; the first of those that have none."""
    low, high = held.limits
    if high is None:
        return -math.inf if low is None else (low - held.number) / abs(low)
    return (abs(held.number) if low is not None else held.number) / abs(high) - 1 if high else math.inf


def _held_steadiness(still: Steadiness, limit: float | None) -> Iterator[_Held]:
    if isinstance(still.peak, Below):
        yield _Held(
            "wander_peak_cents", f"wander below {still.peak.most:.2g} cents", still.peak.most, None, (None, limit), hidden=True
        )
    if isinstance(still.peak, Estimate):
        words = f"wander up to {shown(_cents(still.peak))}"
        yield _Held("wander_peak_cents", words, still.peak.value, still.peak.expanded, (None, limit))
    if isinstance(still.drift, Estimate):
        words = f"drift {shown(_cents(still.drift), sign=True)}"
        yield _Held("drift_cents", words, still.drift.value, still.drift.expanded, (None if limit is None else -limit, limit))


def _cents(estimate: Estimate | NotHad) -> Value:
    if isinstance(estimate, NotHad):
        return Value(None, "cents", reason=estimate.reason)
    return Value(estimate.value, "cents", estimate.expanded, 1)


def _steadiness_results(still: Steadiness) -> Results:
    rate = still.rate_hz
    return {
        "stability_cents": _cents(still.whole),
        "wander_rms_cents": _cents(still.rms),
        "wander_peak_cents": _cents(still.peak),
        "drift_cents": _cents(still.drift),
        "wander_rate_hz": Value(None, "Hz", reason=rate.reason)
        if isinstance(rate, NotHad)
        else non_negative(Value(rate.value, "Hz", rate.expanded, 2)),
        "wander_band_hz": Value(still.band_hz, "Hz", reason="" if still.band_hz else NO_COURSE),
    }


def frequency(point: Point) -> Value:
    """Return the frequency of a reading as a result."""
    return Value(point.hz, "Hz", point.hz_u, point.decimals, "" if point.hz_u is not None else NO_RANGE)


def wanted_of(check: Check) -> tuple[float | None, float | None]:
    """Return the frequencies that it must come down to and up to; none where no range is wanted."""
    low, high = check.keys.get("range_hz") or (None, None)
    return low, high


def steadiness_of(points: Points) -> Steadiness:
    """Return how still the pitch stands at the position where it wanders or drifts farthest: of recordings, else of repeated readings."""
    every = [_of_wander(p.reading.wander) for p in points.points if p.reading]
    if not every:
        alike = [[p for p in points.points if p.volts == volts] for volts in dict.fromkeys(points.volts)]
        every = [_of_readings(own) for own in alike if len(own) > 1]
    return max(every, key=_size, default=_unknown(NotHad(ONCE)))


def _size(still: Steadiness) -> float:
    peak = still.peak.value if isinstance(still.peak, Estimate) else still.peak.most if isinstance(still.peak, Below) else -1.0
    return max(peak, abs(still.drift.value) if isinstance(still.drift, Estimate) else -1.0)


def _unknown(why: NotHad) -> Steadiness:
    return Steadiness(why, why, why, why, why)


def _of_wander(wander: Wander | NotHad) -> Steadiness:
    if isinstance(wander, NotHad):
        return _unknown(wander)
    whole = wander.whole_cents.estimate if isinstance(wander.whole_cents, Below) else wander.whole_cents
    parts = wander.rms_cents, wander.peak_cents, wander.drift_cents
    return Steadiness(*parts, whole, wander.rate_hz, wander.band_hz)


def _of_readings(alike: Sequence[Point]) -> Steadiness:
    """Return what repeated readings of one voltage come to; the order in which they were read is no time."""
    course = [cents(p.hz, alike[0].hz) for p in alike]
    sd, mean = stdev(course), sum(course) / len(course)
    whole = Estimate(sd, sd / math.sqrt(2 * (len(course) - 1)))
    peak = Estimate(max(abs(c - mean) for c in course), whole.u)
    return Steadiness(whole, peak, NotHad(NO_COURSE), whole, NotHad(NO_COURSE))


def range_plain(found: Side | None, left: Side | None) -> str:
    """Say for a client from what to what it runs: ``As left, it runs from 0.10 Hz to 20.1 Hz, wanders by 2.1 cents and drifts by +8.0 cents``."""
    now, before = (_runs(side) for side in (left, found))
    if now:
        return f"As left, it runs {now}{f'; as found it ran {before}' if before else ''}."
    return f"As found, it ran {before}; {not_left(left)}." if before else ""


def _runs(side: Side | None) -> str:
    if side is None or not side.results:
        return ""
    low, high = (side.results[name] for name in ("lowest_hz", "highest_hz"))
    span = f"at {spoken(low)}" if low.value == high.value else f"from {spoken(low)} to {spoken(high)}"
    *parts, last = [span, *_moves(side.results)]
    return f"{', '.join(parts)} and {last}" if parts else last


def _moves(results: Results) -> list[str]:
    """Say how a pitch wanders and drifts, as far as either shows; where neither does, to what it is steady."""
    wander, drift, whole = (results[name] for name in ("wander_rms_cents", "drift_cents", "stability_cents"))
    moves = [] if wander.value is None else [f"wanders by {shown(wander)}"]
    if isinstance(drift.value, float) and abs(drift.value) > (drift.uncertainty or 0.0):
        moves.append(f"drifts by {shown(drift, sign=True)}")
    if moves or not isinstance(whole.value, float):
        return moves
    return [f"is steady within {shown(Value(max(LEAST_CENTS, whole.value + (whole.uncertainty or 0.0)), 'cents', decimals=1))}"]


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
    lowest, highest, *wander = (results[n] for n in ("lowest_hz", "highest_hz", "wander_peak_cents", "drift_cents"))
    said = [
        LOW_END if low is not None and isinstance(lowest, float) and lowest > low else "",
        HIGH_END if high is not None and isinstance(highest, float) and highest < high else "",
        RESTLESS if limit is not None and any(isinstance(w, float) and abs(w) > limit for w in wander) else "",
    ]
    return " ".join(s for s in said if s)


def range_table(points: Mapping[str, Points]) -> DataTable:
    """Return a line for each voltage, with its frequency, its wander and its drift on both sides."""
    keys = sorted({(p.volts, p.key, p.name) for side in points.values() for p in side.points})
    lines: list[tuple[Value | str, ...]] = []
    for volts, key, name in keys:
        own = [next((p for p in points[stage].points if (p.volts, p.key) == (volts, key)), None) for stage in COLUMNS]
        lines.append((name, *(cell for p in own for cell in _cells(p))))
    read = (("Frequency", "Hz"), ("Wander (rms)", "cents"), ("Drift", "cents"))
    columns = [f"{what} as {when} in {unit}" for when in ("found", "left") for what, unit in read]
    return DataTable(("Position", *columns), tuple(lines))


def _cells(point: Point | None) -> tuple[Value, ...]:
    if point is None:
        return (Value(None),) * 3
    still = _of_wander(point.reading.wander) if point.reading else _unknown(NotHad(ONCE))
    own = (Value(e.value, "", e.expanded, 1) if isinstance(e, Estimate) else Value(None) for e in (still.rms, still.drift))
    return Value(point.hz, "", point.hz_u, point.decimals), *own


def range_chart(finding: CheckFinding) -> Chart | None:
    """Draw every frequency on one scale in tens, with what is wanted of the lowest and of the highest as a band."""
    names = list(dict.fromkeys(str(row[0]) for row in finding.table.rows))
    found, left = ([_read_at(finding.table, name, column) for name in names] for column in (1, 4))
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
