"""Tracking: pitch against control voltage, and which trim to turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.conformity import verdict
from benchrecord.bench.pitch import cents, note_number
from benchrecord.bench.tracking import LinearTracking, Tracking, exponential_tracking, linear_tracking
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import reading_uncertainty, settled_by
from benchrecord.checks.wording import SAID
from benchrecord.figures.style import Chart, error_curves
from benchrecord.model.findings import CheckFinding, DataTable, Results, Side, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.table import Column, Holds, KindSchema, Row

COLUMNS = {"as_found": "as_found_hz", "as_left": "as_left_hz"}
NO_LIMIT, FEW = "no limit is given", "fewer than two readings"
FLAT_ENOUGH_CENTS = 0.5  # per octave²; less than this is not worth a trim (common practice, no source)

SCHEMA = KindSchema(
    "tracking",
    columns=(
        Column("volts", Holds.NUMBER, unit="V"),
        Column("note", Holds.NOTE),
        Column("as_found_hz", Holds.NUMBER, unit="Hz", positive=True),
        Column("as_left_hz", Holds.NUMBER, unit="Hz", positive=True),
    ),
    keys=(
        Column("volts_per_octave", Holds.NUMBER, unit="V/octave", positive=True),
        Column("hertz_per_volt", Holds.NUMBER, unit="Hz/V", positive=True),
        Column("reference_volts", Holds.NUMBER, unit="V"),
        Column("tracks_with"),
        Column("trim"),
        Column("steps", Holds.ANY),
    ),
    one_of=(("volts", "note"), ("as_found_hz", "as_left_hz")),
    needs_file=False,
)


@dataclass(frozen=True, slots=True)
class Points:
    """Readings of one side, in the order of the control voltage."""

    volts: tuple[float, ...]
    hz: tuple[float, ...]
    hz_u: tuple[float | None, ...]  # expanded


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Fit the scale and find each reading's error, as found and as left."""
    found, left = (_side(check, bench, points_of(check, bench, stage)) for stage in COLUMNS)
    return CheckFinding(
        check,
        limit=check.limit.text if check.limit else "",
        found=found,
        left=left,
        table=_table(check, bench, found, left),
        plain=_plain(check, found, left),
        method=_method(check, bench, left or found),
        advice=_advice(check, left or found),
    )


def nominal(check: Check) -> tuple[float, bool]:
    """Return the nominal scale and whether it is linear: hertz per volt, else volts per octave (1 unless given)."""
    linear = check.keys.get("hertz_per_volt")
    return (float(linear), True) if linear else (float(check.keys.get("volts_per_octave") or 1.0), False)


def points_of(check: Check, bench: Bench, stage: str) -> Points:
    """Return the readings of one side, from the lowest control voltage up."""
    rows = check.table.rows if check.table else ()
    read = [(_volts(check, row), row.number(COLUMNS[stage])) for row in rows]
    pairs = sorted((v, hz) for v, hz in read if v is not None and hz is not None)
    return Points(
        tuple(v for v, _ in pairs),
        tuple(hz for _, hz in pairs),
        tuple(reading_uncertainty(check, bench, hz, "Hz") for _, hz in pairs),
    )


def _volts(check: Check, row: Row) -> float | None:
    if row.number("volts") is not None:
        return row.number("volts")
    scale, linear = nominal(check)
    note = row.text("note")
    return None if linear or not note else note_number(note) / 12 * scale


def _side(check: Check, bench: Bench, points: Points) -> Side | None:
    if not points.volts:
        return None
    scale, linear = nominal(check)
    if linear:
        return _linear_side(check, bench, points, linear_tracking(points.volts, points.hz, nominal_hertz_per_volt=scale))
    known = [u for u in points.hz_u if u is not None]
    fit = exponential_tracking(
        points.volts,
        points.hz,
        nominal_volts_per_octave=scale,
        reference_volts=check.keys.get("reference_volts"),
        hz_uncertainty=tuple(u / 2 for u in known) if len(known) == len(points.hz) else None,
    )
    return (
        _octave_side(check, bench, points, fit) if isinstance(fit, Tracking) else Side(Verdict.NOT_MEASURED, reason=fit.reason)
    )


def _octave_side(check: Check, bench: Bench, points: Points, fit: Tracking) -> Side:
    u = tuple(2 * e for e in fit.errors_u_cents) if fit.errors_u_cents else (None,) * len(fit.errors_cents)
    concluded = _judge(check, bench, fit.errors_cents, u)
    at = max(range(len(u)), key=lambda n: abs(fit.errors_cents[n]))
    results: dict[str, Value] = {
        "volts_per_octave": Value(fit.volts_per_octave, "V/octave", _twice(fit.volts_per_octave_u), 4),
        "scale_error_percent": Value(fit.scale_error_percent, "%", None, 2),
        "worst_cents": Value(fit.worst_cents, "cents", u[at], 1),
        "rms_cents": Value(fit.rms_cents, "cents", u[at], 1),
        "errors_cents": Value(tuple(fit.errors_cents), "cents"),
        "curvature_cents_per_octave2": _value_or_reason(
            fit.curvature_cents_per_octave2, "cents/octave²", "fewer than three readings"
        ),
        "expanded_uncertainty": Value(
            u[at], "cents", reason="" if u[at] is not None else "no range of a meter is given for these readings"
        ),
        **_against(check, bench, points),
    }
    error = Value(fit.errors_cents[at], "cents", u[at], 1)
    worst = f"{shown(error, sign=True)} at {points.volts[at]:g} V: {SAID[concluded]}"
    return Side(concluded, results, (), worst)


def _linear_side(check: Check, bench: Bench, points: Points, fit: object) -> Side:
    if not isinstance(fit, LinearTracking):
        return Side(Verdict.NOT_MEASURED, reason=getattr(fit, "reason", FEW))
    u = tuple(None if e is None else 100 * e / hz for e, hz in zip(points.hz_u, points.hz, strict=True))
    concluded = _judge(check, bench, fit.errors_percent, u)
    at = max(range(len(u)), key=lambda n: abs(fit.errors_percent[n]))
    results = {
        "hertz_per_volt": Value(fit.hertz_per_volt, "Hz/V", None, 2),
        "worst_percent": Value(fit.worst_percent, "%", u[at], 2),
        "errors_percent": Value(tuple(fit.errors_percent), "%"),
    }
    worst = f"{shown(Value(fit.errors_percent[at], '%', u[at], 2), sign=True)} at {points.volts[at]:g} V: {SAID[concluded]}"
    return Side(concluded, results, (), worst)


def _judge(check: Check, bench: Bench, errors: Sequence[float], u: Sequence[float | None]) -> Verdict:
    """Hold every reading's error against the limit; the severest verdict counts."""
    if check.limit is None:
        return Verdict.INFORMATION
    limit = check.limit.in_base()
    return worst_of(Verdict(verdict(e, ue, -limit, limit, rule=bench.rule.value)) for e, ue in zip(errors, u, strict=True))


def _against(check: Check, bench: Bench, points: Points) -> Results:
    """How this oscillator runs against the one that it should track with, at the voltages that both were read at."""
    name = check.keys.get("tracks_with")
    other = bench.checks.get(str(name)) if name else None
    if other is None:
        return {}
    stage = "as_left" if points.hz == points_of(check, bench, "as_left").hz else "as_found"
    second = points_of(other, bench, stage)
    second_hz = dict(zip(second.volts, second.hz, strict=True))
    apart = [cents(hz, second_hz[v]) for v, hz in zip(points.volts, points.hz, strict=True) if v in second_hz]
    if not apart:
        return {"spread_cents": Value(None, "cents", reason=f"no voltage at which {other.id} was read too")}
    return {"spread_cents": Value(max(apart) - min(apart), "cents", None, 1)}


def _value_or_reason(number: float | None, unit: str, reason: str) -> Value:
    return Value(number, unit, None, 2) if number is not None else Value(None, unit, reason=reason)


def _twice(u: float | None) -> float | None:
    return None if u is None else 2 * u


def _plain(check: Check, found: Side | None, left: Side | None) -> str:
    linear = nominal(check)[1]
    name = "worst_percent" if linear else "worst_cents"
    said = [
        f"{shown(side.results[name])} {when}"
        for side, when in ((left, "as left"), (found, "as found"))
        if side and name in side.results
    ]
    if not said:
        return "Not measured yet."
    what = "The worst departure from the ideal scale" if linear else "The note that is farthest out of tune with the scale"
    first = f"{what} is {said[0]} off" if not linear else f"{what} is {said[0]}"
    return f"{first}; it was {said[1]}." if len(said) > 1 else f"{first}."


def _method(check: Check, bench: Bench, side: Side | None) -> str:
    if side is None:
        return settled_by(check, bench)
    scale = side.results.get("volts_per_octave")
    fit = f" Least-squares scale {shown(scale)}." if scale else ""
    if "spread_cents" in side.results:
        fit += f" Against {bench.checks[str(check.keys['tracks_with'])].title}: {shown(side.results['spread_cents'])} from best to worst."
    return settled_by(check, bench) + fit


def _advice(check: Check, side: Side | None) -> str:
    """Say which error is which, and which trim to turn which way."""
    if side is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE) or "scale_error_percent" not in side.results:
        return ""
    error = float(side.results["scale_error_percent"].value or 0.0)  # type: ignore[arg-type]  # a number where it is given
    trim = check.keys.get("trim")
    turn = f"with {trim} " if trim else ""
    scale = (
        f"Scale first: it needs {abs(error):.2f} % too {'much' if error > 0 else 'little'} voltage for an octave, so the top notes are"
        f" {'flat' if error > 0 else 'sharp'}; {'widen' if error > 0 else 'narrow'} the scale {turn}before the offset."
    )
    bend = side.results["curvature_cents_per_octave2"].value
    if isinstance(bend, float) and abs(bend) > FLAT_ENOUGH_CENTS:
        scale += f" The top end runs {'flat' if bend < 0 else 'sharp'}: that needs the high-frequency trim, if there is one."
    return scale


def _table(check: Check, bench: Bench, found: Side | None, left: Side | None) -> DataTable:
    linear = nominal(check)[1]
    unit, name = ("%", "errors_percent") if linear else ("cents", "errors_cents")
    columns = ("Control voltage", "As found", "Error", "As left", "Error")
    per_volt: dict[float, list[Value]] = {}
    for n, (stage, side) in enumerate((("as_found", found), ("as_left", left))):
        points = points_of(check, bench, stage)
        errors = side.results[name].value if side and name in side.results else (None,) * len(points.volts)
        for v, hz, u, e in zip(points.volts, points.hz, points.hz_u, errors, strict=True):  # type: ignore[arg-type]
            row = per_volt.setdefault(v, [Value(None) for _ in range(4)])
            row[2 * n : 2 * n + 2] = [Value(hz, "Hz", u, 3), Value(e, unit, None, 1)]
    return DataTable(columns, tuple((Value(v, "V", decimals=3), *per_volt[v]) for v in sorted(per_volt)))


def chart(finding: CheckFinding) -> Chart | None:
    """Errors over the control voltage, as found and as left, with the limit as a band."""
    linear = nominal(finding.check)[1]
    name, unit = ("errors_percent", "%") if linear else ("errors_cents", "cents")
    series = [_series(finding, side, column, name) for side, column in ((finding.found, 1), (finding.left, 3))]
    if not any(series):
        return None
    paint = error_curves(*series, limit=finding.check.limit.in_base() if finding.check.limit else None, unit=unit)
    side = finding.left or finding.found
    caption = f"{finding.plain} Worst {'as left' if finding.left else 'as found'}: {side.worst if side else ''}."
    alt = f"{finding.check.title}: error in {unit} against control voltage. {caption}"
    return Chart(finding.check.title, caption, alt, paint)


def _series(finding: CheckFinding, side: Side | None, column: int, name: str) -> list[tuple[float, float]]:
    if side is None or name not in side.results:
        return []
    rows = [row for row in finding.table.rows if isinstance(row[column], Value) and row[column].value is not None]  # type: ignore[union-attr]
    volts = [float(row[0].value) for row in rows]  # type: ignore[union-attr,arg-type]  # the first column is the voltage
    return list(zip(volts, side.results[name].value, strict=True))  # type: ignore[arg-type]  # a tuple of numbers


KIND = Kind(SCHEMA, "Tracking", examine, chart)
