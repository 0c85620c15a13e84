"""Tracking: pitch against control voltage, and which trim to turn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchrecord.bench.conformity import verdict
from benchrecord.bench.estimate import Estimate
from benchrecord.bench.misreading import beyond_a_step, factor_words
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import LinearTracking, Tracking, exponential_tracking, linear_tracking
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE
from benchrecord.checks.recordings import warnings_if
from benchrecord.checks.tracking_advice import MEASURE_AGAIN, what_to_turn, what_to_turn_of_linear
from benchrecord.checks.tracking_pair import Pair, beats_with, pair_results
from benchrecord.checks.tracking_points import COLUMNS, Point, Points, limit_of, misread_points, nominal, points_of
from benchrecord.checks.tracking_range import range_advice, range_chart, range_plain, range_side, range_table
from benchrecord.checks.tracking_words import basis, method, not_worked_out, plain, scale_offset
from benchrecord.checks.wording import SAID, sides_said
from benchrecord.figures.style import Chart, beside, error_curves
from benchrecord.model.findings import (
    ALL_RESULTS,
    CheckFinding,
    DataTable,
    Results,
    ResultWarning,
    Side,
    Value,
    Verdict,
    downgrade,
    worst_of,
)
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.table import Column, Holds, KindSchema

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
        Column("steps", Holds.STEPS, unit="V"),
        Column("not_tracking", Holds.FLAG),
        Column("range_hz", Holds.PAIR, unit="Hz", positive=True),
    ),
    one_of=(("volts", "note"), ("as_found_hz", "as_left_hz")),
    recordings=True,
    limit_unit=("cents", "%"),
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Fit the scale and find each reading's error, as found and as left; of one that need not track, its range and how still it stands."""
    points = {stage: points_of(check, bench, stage) for stage in COLUMNS}
    if check.keys.get("not_tracking"):
        return _range(check, bench, points)
    pairs = _pairs(check, bench, points)
    found, left = (_side(check, bench, points[stage], pairs[stage][1]) for stage in COLUMNS)
    side, stage = (left, "as_left") if left else (found, "as_found")
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(check, bench, points, {"as_found": found, "as_left": left}),
        plain=plain(check, found, left, points),
        method=method(check, bench, points, found=found, left=left),
        advice=_advice(check, points[stage], side),
        basis=basis(check, bench, points[stage], side),
    )


def _range(check: Check, bench: Bench, points: Mapping[str, Points]) -> CheckFinding:
    found, left = (range_side(check, bench, points[stage]) for stage in COLUMNS)
    side, stage = (left, "as_left") if left else (found, "as_found")
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=range_table(points),
        plain=range_plain(found, left) or not_worked_out(found, left),
        method=method(check, bench, points, found=found, left=left),
        advice=range_advice(check, side),
        basis=basis(check, bench, points[stage], side),
    )


def _pairs(check: Check, bench: Bench, points: Mapping[str, Points]) -> dict[str, tuple[Pair | None, Results]]:
    """Hold each side against the same side of the other oscillator, where there is one."""
    other = bench.checks.get(str(check.keys.get("tracks_with")))
    found: dict[str, tuple[Pair | None, Results]] = {}
    for stage in COLUMNS:
        second = points_of(other, bench, stage) if other and points[stage].points else Points()
        pair = beats_with(points[stage], second, other.id) if other else None
        found[stage] = pair, pair_results(pair, points[stage], second)
    return found


def _side(check: Check, bench: Bench, own: Points, against: Results) -> Side | None:
    scale, linear = nominal(check)
    if not own.points:
        return Side(Verdict.NOT_MEASURED, reason=own.reason) if own.reason else None
    kept = _without_misread(check, own)
    if linear:
        straight = linear_tracking(kept.volts, kept.hz, nominal_hertz_per_volt=scale)
        return _nothing(straight, own) if isinstance(straight, NotHad) else _linear_side(check, bench, own, kept, fit=straight)
    known = [p.hz_u for p in kept.points if p.hz_u is not None]
    fit = exponential_tracking(
        kept.volts,
        kept.hz,
        nominal_volts_per_octave=scale,
        reference_volts=check.keys.get("reference_volts"),
        hz_uncertainty=tuple(u / 2 for u in known) if len(known) == len(kept.points) else None,
    )
    return _nothing(fit, own) if isinstance(fit, NotHad) else _octave_side(check, bench, own, kept, fit=fit, against=against)


def _nothing(why: NotHad, own: Points) -> Side:
    return Side(Verdict.NOT_MEASURED, reason=f"{why.reason}: {own.reason}" if own.reason else why.reason)


def _without_misread(check: Check, own: Points) -> Points:
    """Return the readings without those that are a multiple of what the others let expect, as long as two voltages are left."""
    misread = misread_points(check, own.points)
    kept = tuple(p for n, p in enumerate(own.points) if n not in misread)
    return replace(own, points=kept) if len({p.volts for p in kept}) > 1 else own


def _octave_side(check: Check, bench: Bench, own: Points, kept: Points, *, fit: Tracking, against: Results) -> Side:
    u = tuple(2 * e for e in fit.errors_u_cents) if fit.errors_u_cents else (None,) * len(fit.errors_cents)
    at, scale_u = _farthest(fit.errors_cents), _twice(fit.volts_per_octave_u)
    offset = scale_offset(kept, kept.volts.index(fit.reference_volts))
    scale = nominal(check)[0]
    known = {p.key: e for p, e in zip(kept.points, fit.errors_cents, strict=True)}
    every = [known[p.key] if p.key in known else _error(p, fit, scale) for p in own.points]
    results: dict[str, Value] = {
        "volts_per_octave": Value(fit.volts_per_octave, "V/octave", scale_u, 4),
        "scale_error_percent": Value(fit.scale_error_percent, "%", None if scale_u is None else 100 * scale_u / scale, 2),
        "worst_cents": Value(fit.worst_cents, "cents", u[at], 1),
        "rms_cents": Value(fit.rms_cents, "cents", None, 1),
        "errors_cents": Value(tuple(every), "cents"),
        "curvature_cents_per_octave2": _curvature(fit),
        **({"offset_cents": offset} if offset else {}),
        "expanded_uncertainty": Value(u[at], "cents", reason="" if u[at] is not None else NO_RANGE),
        **against,
    }
    errors = [Value(e, "cents", ue, 1) for e, ue in zip(fit.errors_cents, u, strict=True)]
    far = beyond_a_step(fit.octaves, fit.errors_cents)
    beyond = (
        f"Errors of up to {far:.0f} cents are more than half a step: look whether the voltages are those that were set."
        if far
        else ""
    )
    own = replace(own, warnings=(*own.warnings, *warnings_if("beyond-a-step", beyond, "worst_cents")))
    return _concluded(check, bench, own, kept, results=results, errors=errors)


def _error(point: Point, fit: Tracking, scale: float) -> float:
    """Return the error of a reading that the fit leaves out, in cents."""
    return cents(point.hz, fit.reference_hz) - CENTS_PER_OCTAVE * (point.volts - fit.reference_volts) / scale


def _linear_side(check: Check, bench: Bench, own: Points, kept: Points, *, fit: LinearTracking) -> Side:
    u = tuple(None if p.hz_u is None else 100 * p.hz_u / p.hz for p in kept.points)
    known, scale = {p.key: e for p, e in zip(kept.points, fit.errors_percent, strict=True)}, nominal(check)[0]
    every = [known[p.key] if p.key in known else 100 * (p.hz / (scale * p.volts) - 1) for p in own.points]
    at = _farthest(fit.errors_percent)
    results = {
        "hertz_per_volt": Value(fit.hertz_per_volt, "Hz/V", None, 2),
        "worst_percent": Value(fit.worst_percent, "%", u[at], 2),
        "errors_percent": Value(tuple(every), "%"),
        "expanded_uncertainty": Value(u[at], "%", reason="" if u[at] is not None else NO_RANGE),
    }
    errors = [Value(e, "%", ue, 2) for e, ue in zip(fit.errors_percent, u, strict=True)]
    return _concluded(check, bench, own, kept, results=results, errors=errors)


def _farthest(errors: Sequence[float]) -> int:
    return max(range(len(errors)), key=lambda n: abs(errors[n]))


def _concluded(check: Check, bench: Bench, own: Points, kept: Points, *, results: Results, errors: Sequence[Value]) -> Side:
    """Hold every reading's error against the limit; the severest verdict counts, and the largest error that has it is named.

    Neither what was misread nor what still glides can be out of a limit: both are doubtful.
    """
    main = "worst_percent" if nominal(check)[1] else "worst_cents"
    warnings = (*own.warnings, *_misread(check, own))
    held = [(e, f"at {point.name}", limit_of(check), main) for e, point in zip(errors, kept.points, strict=True)]
    verdicts = [downgrade(_verdict(bench, value, limit), warnings, name) for value, _, limit, name in held]
    for point in _drifting(kept):
        drift, limit = _drift_of(point), limit_of(check, percent=False)
        concluded = downgrade(_verdict(bench, drift, limit), warnings, "drift_cents")
        if point.reading and point.reading.glides and concluded is Verdict.OUT:
            concluded, glides = Verdict.TOO_CLOSE, f"{point.name}: It still glides at its end: hold each step for longer."
            warnings = (*warnings, *warnings_if("gliding", glides, "drift_cents"))
        held.append((drift, f"of drift at {point.name}", limit, "drift_cents"))
        verdicts.append(concluded)
        results = {**results, "drift_cents": max((drift, results.get("drift_cents", drift)), key=lambda d: abs(_number(d)))}
    concluded = worst_of(verdicts)
    candidates = [one for one, v in zip(held, verdicts, strict=True) if v is concluded]
    value, where, *_ = max(candidates, key=lambda one: (one[3] == main, abs(_number(one[0]))))
    worst = f"{shown(value, sign=True)} {where}"
    return Side(concluded, results, (), f"{worst}, {SAID[concluded]}" if concluded in SAID else worst, warnings=warnings)


def _number(value: Value) -> float:
    return value.value if isinstance(value.value, float) else 0.0


def _verdict(bench: Bench, value: Value, limit: float | None) -> Verdict:
    low = None if limit is None else -limit
    return Verdict(verdict(_number(value), value.uncertainty, low, limit, rule=bench.rule.value))


def _drifting(own: Points) -> list[Point]:
    """Return the reading that drifts most from its start to its end, of those that glide and of the others; none of a table."""
    groups = [[p for p in own.points if p.reading and p.reading.glides is glides] for glides in (False, True)]
    return [max(some, key=lambda p: abs(_number(_drift_of(p)))) for some in groups if some]


def _drift_of(point: Point) -> Value:
    drift = point.reading.drift.cents if point.reading else Estimate(0.0, 0.0)
    return Value(drift.value, "cents", drift.expanded, 1)


def _misread(check: Check, own: Points) -> tuple[ResultWarning, ...]:
    """Warn of readings that are a multiple or a fraction of what the other readings let expect."""
    misread = misread_points(check, own.points)
    named = "; ".join(
        f"{own.points[n].name} is {factor_words(f)} what the other readings let expect" for n, f in misread.items()
    )
    message = f"{named}: a harmonic read for the fundamental, or another octave." if misread else ""
    return warnings_if("harmonic-misread", message, ALL_RESULTS)


def _curvature(fit: Tracking) -> Value:
    bend, unit = fit.curvature_cents_per_octave2, "cents/octave²"
    return (
        Value(None, unit, reason="fewer than three readings") if bend is None else Value(bend, unit, _twice(fit.curvature_u), 2)
    )


def _twice(u: float | None) -> float | None:
    return None if u is None else 2 * u


def _advice(check: Check, own: Points, side: Side | None) -> str:
    """Say which error is which, and which trim to turn which way."""
    limit, (scale, linear) = limit_of(check), nominal(check)
    if side is None or limit is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE):
        return ""
    kept, trim = _without_misread(check, own), str(check.keys.get("trim", ""))
    errors = [e for e, p in zip(_errors(side), own.points, strict=True) if p in kept.points]
    if max(map(abs, errors), default=0.0) < limit and (len(kept.points) < len(own.points) or own.left_out):
        return MEASURE_AGAIN
    if linear:
        return what_to_turn_of_linear(kept.volts, errors, limit=limit, trim=trim)
    return what_to_turn([(v - kept.volts[0]) / scale for v in kept.volts], errors, limit=limit, trim=trim)


def _errors(side: Side | None) -> tuple[float, ...]:
    """Return the errors of one side, as many as it has readings; none where it has no results."""
    found = side.results.get("errors_percent", side.results.get("errors_cents")) if side else None
    return found.value if found and isinstance(found.value, tuple) else ()


def _table(check: Check, bench: Bench, points: Mapping[str, Points], sides: Mapping[str, Side | None]) -> DataTable:
    """Return the readings with their errors, from the lowest control voltage up, and how the other oscillator runs beside them."""
    said, other = "percent" if nominal(check)[1] else "cents", bench.checks.get(str(check.keys.get("tracks_with")))
    own = {stage: {(p.volts, p.key): p for p in points[stage].points} for stage in COLUMNS}
    keys = sorted({key for side in own.values() for key in side})
    any_of = {key: next(own[stage][key] for stage in COLUMNS if key in own[stage]) for key in keys}
    noted = any(p.note for p in any_of.values())
    decimals = 3 if noted else _digits(check, [volts for volts, _ in keys])
    lines: list[tuple[Value | str, ...]] = []
    for key in keys:
        cells = [cell for stage in COLUMNS for cell in _cells(own[stage], key, _errors(sides[stage]))]
        beside_it = [cell for stage in COLUMNS for cell in _interval(sides[stage], key[0])] if other else []
        name = [any_of[key].note] if noted else []
        lines.append((*name, Value(key[0], decimals=decimals), *cells, *beside_it))
    columns = [f"As {when} in Hz" if n == 0 else f"Error as {when} in {said}" for when in ("found", "left") for n in range(2)]
    intervals = (
        [
            f"{what} {other.title} as {when} in {unit}"
            for when in ("found", "left")
            for what, unit in (("Interval to", "cents"), ("Beats with", "1/s"))
        ]
        if other
        else []
    )
    return DataTable((*(["Note"] if noted else []), "Control voltage in V", *columns, *intervals), tuple(lines))


def _digits(check: Check, volts: Sequence[float]) -> int:
    """Return the decimals that the control voltages were written with."""
    written = [d for row in (check.table.rows if check.table else ()) if (d := row.decimals("volts")) is not None]
    return max(written) if written else max((len(f"{v:g}".partition(".")[2]) for v in volts), default=0)


def _cells(own: Mapping[tuple[float, int], Point], key: tuple[float, int], errors: Sequence[float]) -> tuple[Value, Value]:
    """Return frequency and error of a reading."""
    if key not in own:
        return Value(None), Value(None)
    point, error = own[key], errors[list(own).index(key)] if errors else None
    return Value(point.hz, "", point.hz_u, point.decimals), Value(error, "", None, 1)


def _interval(side: Side | None, volts: float) -> tuple[Value, Value]:
    """Return interval and beats at a control voltage."""
    results = side.results if side else {}
    at, cents, beats = (results[n].value if n in results else None for n in ("interval_volts", "interval_cents", "beats_hz"))
    if not (isinstance(at, tuple) and isinstance(cents, tuple) and isinstance(beats, tuple)) or volts not in at:
        return Value(None), Value(None)
    return Value(cents[at.index(volts)], decimals=1), Value(beats[at.index(volts)], decimals=2)


def chart(finding: CheckFinding) -> Chart | None:
    """Errors over the control voltage, as found and as left, with the limit as a band, and the interval to the other oscillator."""
    check, table = finding.check, finding.table
    if check.keys.get("not_tracking"):
        return range_chart(finding)
    unit, at = "%" if nominal(check)[1] else "cents", list(table.columns)
    found, left = (
        _series(table, next(n for n, c in enumerate(at) if c.startswith(f"Error as {w}"))) for w in ("found", "left")
    )
    if not found and not left:
        return None
    paint = error_curves(found, left, limit=limit_of(check), unit=unit)
    side, when = (finding.left, "left") if finding.left else (finding.found, "found")
    caption = f"{finding.plain} Farthest off as {when}: {side.worst if side else ''}."
    interval = next((n for n, c in enumerate(at) if c.startswith("Interval to") and f" as {when} in" in c), None)
    pairs = _series(table, interval) if interval is not None else []
    if pairs and interval is not None:
        other = at[interval].removeprefix("Interval to ").removesuffix(f" as {when} in cents")
        beats = [b for _, b in _series(table, interval + 1)]
        paint = beside(paint, [(v, c - pairs[0][1]) for v, c in pairs], beats, words=f"beats in a second with {other}")
        caption += (
            f" The thin line is the interval to {other} against that at the lowest voltage, with the beats in a second above."
        )
    alt = f"{check.title}: error in {unit} against control voltage, {sides_said(finding)}. {caption}"
    return Chart(check.title, caption, alt, paint)


def _series(table: DataTable, column: int) -> list[tuple[float, float]]:
    """Return the numbers of a column over the control voltage."""
    x = table.columns.index("Control voltage in V")
    cells = [(row[x], row[column]) for row in table.rows]
    return [
        (v.value, y.value)
        for v, y in cells
        if isinstance(v, Value) and isinstance(y, Value) and isinstance(v.value, float) and isinstance(y.value, float)
    ]


KIND = Kind(SCHEMA, "Tracking", examine, chart)
