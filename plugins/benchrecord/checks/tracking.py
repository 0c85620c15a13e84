"""Tracking: pitch against control voltage, and which trim to turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.conformity import verdict
from benchrecord.bench.fits import polynomial_fit
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, note_number
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import LinearTracking, Tracking, exponential_tracking, linear_tracking, oscillator_beats
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import reading_uncertainty, settled_by
from benchrecord.checks.wording import NOT_YET, SAID, sides_said
from benchrecord.figures.style import Chart, error_curves
from benchrecord.model.findings import CheckFinding, DataTable, Results, Side, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import MINUS, shown
from benchrecord.model.quantity import dimension
from benchrecord.model.table import Column, Holds, KindSchema, Row

COLUMNS = {"as_found": "as_found_hz", "as_left": "as_left_hz"}
NO_RANGE = "no range of a meter is given for these readings"
WORTH_A_TRIM = 0.5  # of the limit: what a scale or a bend must bring at the far end (common practice, no source)
LEFT_OVER = 0.5  # of the largest error: beyond it neither scale nor bend explains the errors (common practice, no source)
NO_TRIM = (
    "The errors follow neither the scale nor a bend at the top: no trim takes them away. Measure the readings that stand out again,"
    " and the steps of the control voltage."
)

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
    recordings=True,
)


@dataclass(frozen=True, slots=True)
class Points:
    """Readings of one side, in the order of the control voltage."""

    volts: tuple[float, ...]
    hz: tuple[float, ...]
    hz_u: tuple[float | None, ...]  # expanded
    names: tuple[str, ...]  # the control voltage or the note, as a reader is told of it


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Fit the scale and find each reading's error, as found and as left."""
    found, left = (_side(check, bench, stage) for stage in COLUMNS)
    return CheckFinding(
        check,
        limit=check.limit.text if check.limit else "",
        found=found,
        left=left,
        table=_table(check, bench, found, left),
        plain=_plain(check, found, left),
        method=_method(check, bench, found, left),
        advice=_advice(check, bench, "as_left" if left else "as_found", left or found),
    )


def nominal(check: Check) -> tuple[float, bool]:
    """Return the nominal scale and whether it is linear: hertz per volt, else volts per octave (1 unless given)."""
    linear = check.keys.get("hertz_per_volt")
    return (float(linear), True) if linear else (float(check.keys.get("volts_per_octave") or 1.0), False)


def points_of(check: Check, bench: Bench, stage: str) -> Points:
    """Return the readings of one side, from the lowest control voltage up."""
    known = _read(check, stage)
    hz = tuple(row.number(COLUMNS[stage]) or 0.0 for _, _, row in known)
    return Points(
        tuple(v for v, _, _ in known),
        hz,
        tuple(reading_uncertainty(check, bench, f, "Hz") for f in hz),
        tuple(_name(row) for _, _, row in known),
    )


def _read(check: Check, stage: str) -> list[tuple[float, int, Row]]:
    """Return the rows of one side with their control voltage and number, from the lowest voltage up."""
    rows = list(enumerate(check.table.rows if check.table else ()))
    known = [(v, n, row) for n, row in rows if (v := _volts(check, row)) is not None and row.number(COLUMNS[stage]) is not None]
    return sorted(known, key=lambda one: one[:2])


def _volts(check: Check, row: Row) -> float | None:
    if row.number("volts") is not None:
        return row.number("volts")
    scale, linear = nominal(check)
    note = row.text("note")
    return None if linear or not note else note_number(note) / 12 * scale


def _name(row: Row) -> str:
    volts = row.number("volts")
    return row.text("note") if volts is None else f"{volts:g} V".replace("-", MINUS)


def limit_of(check: Check) -> float | None:
    """Return the limit in what the errors count in, cents or percent; None where there is none, or it is of another kind."""
    if check.limit is None:
        return None
    limit, unit, wanted = check.limit.in_base(), dimension(check.limit.unit), "%" if nominal(check)[1] else "cents"
    if unit in (None, wanted):
        return limit
    if unit == "cents":
        return 100 * (2 ** (limit / CENTS_PER_OCTAVE) - 1)
    return CENTS_PER_OCTAVE * math.log2(1 + limit / 100) if unit == "%" else None


def _side(check: Check, bench: Bench, stage: str) -> Side | None:
    points, (scale, linear) = points_of(check, bench, stage), nominal(check)
    if not points.volts:
        return None
    if linear:
        straight = linear_tracking(points.volts, points.hz, nominal_hertz_per_volt=scale)
        return _nothing(straight) if isinstance(straight, NotHad) else _linear_side(check, bench, points, straight)
    known = [u for u in points.hz_u if u is not None]
    fit = exponential_tracking(
        points.volts,
        points.hz,
        nominal_volts_per_octave=scale,
        reference_volts=check.keys.get("reference_volts"),
        hz_uncertainty=tuple(u / 2 for u in known) if len(known) == len(points.hz) else None,
    )
    return _nothing(fit) if isinstance(fit, NotHad) else _octave_side(check, bench, stage, fit)


def _nothing(why: NotHad) -> Side:
    return Side(Verdict.NOT_MEASURED, reason=why.reason)


def _octave_side(check: Check, bench: Bench, stage: str, fit: Tracking) -> Side:
    u = tuple(2 * e for e in fit.errors_u_cents) if fit.errors_u_cents else (None,) * len(fit.errors_cents)
    at = _farthest(fit.errors_cents)
    results: dict[str, Value] = {
        "volts_per_octave": Value(fit.volts_per_octave, "V/octave", _twice(fit.volts_per_octave_u), 4),
        "scale_error_percent": Value(fit.scale_error_percent, "%", None, 2),
        "worst_cents": Value(fit.worst_cents, "cents", u[at], 1),
        "rms_cents": Value(fit.rms_cents, "cents", None, 1),
        "errors_cents": Value(tuple(fit.errors_cents), "cents"),
        "curvature_cents_per_octave2": _value_or_reason(
            fit.curvature_cents_per_octave2, "cents/octave²", "fewer than three readings"
        ),
        "expanded_uncertainty": Value(u[at], "cents", reason="" if u[at] is not None else NO_RANGE),
        **_against(check, bench, stage),
    }
    return _concluded(
        check,
        bench,
        points_of(check, bench, stage),
        results=results,
        errors=[Value(e, "cents", ue, 1) for e, ue in zip(fit.errors_cents, u, strict=True)],
    )


def _linear_side(check: Check, bench: Bench, points: Points, fit: LinearTracking) -> Side:
    u = tuple(None if e is None else 100 * e / hz for e, hz in zip(points.hz_u, points.hz, strict=True))
    at = _farthest(fit.errors_percent)
    results = {
        "hertz_per_volt": Value(fit.hertz_per_volt, "Hz/V", None, 2),
        "worst_percent": Value(fit.worst_percent, "%", u[at], 2),
        "errors_percent": Value(tuple(fit.errors_percent), "%"),
        "expanded_uncertainty": Value(u[at], "%", reason="" if u[at] is not None else NO_RANGE),
    }
    return _concluded(
        check,
        bench,
        points,
        results=results,
        errors=[Value(e, "%", ue, 2) for e, ue in zip(fit.errors_percent, u, strict=True)],
    )


def _farthest(errors: Sequence[float]) -> int:
    return max(range(len(errors)), key=lambda n: abs(errors[n]))


def _concluded(check: Check, bench: Bench, points: Points, *, results: Results, errors: Sequence[Value]) -> Side:
    """Hold every reading's error against the limit; the severest verdict counts, and the largest error that has it is named."""
    numbers = [float(e.value or 0.0) for e in errors]  # type: ignore[arg-type]  # numbers
    limit, rule = limit_of(check), bench.rule.value
    low = None if limit is None else -limit
    verdicts = [Verdict(verdict(n, e.uncertainty, low, limit, rule=rule)) for n, e in zip(numbers, errors, strict=True)]
    concluded = worst_of(verdicts)
    at = max((n for n, v in enumerate(verdicts) if v is concluded), key=lambda n: abs(numbers[n]))
    worst = f"{shown(errors[at], sign=True)} at {points.names[at]}"
    return Side(concluded, results, (), f"{worst}, {SAID[concluded]}" if concluded in SAID else worst)


def _against(check: Check, bench: Bench, stage: str) -> Results:
    """How this oscillator runs against the one that it should track with, at the voltages that both were read at."""
    other = bench.checks.get(str(check.keys.get("tracks_with")))
    if other is None:
        return {}
    own, second = points_of(check, bench, stage), points_of(other, bench, stage)
    beats = oscillator_beats(own.volts, own.hz, second.volts, second.hz)
    if isinstance(beats, NotHad):
        return {"spread_cents": Value(None, "cents", reason=f"no voltage at which {other.id} was read too")}
    apart = [b.cents for b in beats]
    return {"spread_cents": Value(max(apart) - min(apart), "cents", None, 1)}


def _value_or_reason(number: float | None, unit: str, reason: str) -> Value:
    return Value(number, unit, None, 2) if number is not None else Value(None, unit, reason=reason)


def _twice(u: float | None) -> float | None:
    return None if u is None else 2 * u


def _plain(check: Check, found: Side | None, left: Side | None) -> str:
    """Say for a client how far out of tune it is: ``As left, no note is more than 1.8 cents out of tune; as found it was 134.9``."""
    linear = nominal(check)[1]
    name, what = (
        ("worst_percent", "no reading is more than {} off")
        if linear
        else ("worst_cents", "no note is more than {} out of tune")
    )
    before, now = (shown(s.results[name]) if s and name in s.results else "" for s in (found, left))
    if now:
        return f"As left, {what.format(now)}" + (f"; as found it was {before}." if before else ".")
    if before:
        return f"As found, {what.format(before)}; it is not measured as left yet."
    reason = next((s.reason for s in (left, found) if s and s.reason), "")
    return f"Not worked out: {reason}." if reason else NOT_YET


def _method(check: Check, bench: Bench, found: Side | None, left: Side | None) -> str:
    side = left or found
    said = [settled_by(check, bench, found, left)]
    if check.limit and limit_of(check) is None:
        said.append(
            f"The limit {check.limit.text} is none for errors in {'percent' if nominal(check)[1] else 'cents'}, so nothing is held against it."
        )
    if side and "volts_per_octave" in side.results:
        said.append(f"Least-squares scale {shown(side.results['volts_per_octave'])}.")
    spread = side.results.get("spread_cents") if side else None
    if spread and spread.value is not None:
        said.append(f"Its interval to {bench.checks[str(check.keys['tracks_with'])].title} wanders by {shown(spread)}.")
    return " ".join(said)


def _advice(check: Check, bench: Bench, stage: str, side: Side | None) -> str:
    """Say which error is which, and which trim to turn which way."""
    limit, (scale, linear) = limit_of(check), nominal(check)
    errors = _errors(check, stage, side)
    if side is None or limit is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE):
        return ""
    known = [e for e in errors if e is not None]
    volts, trim = points_of(check, bench, stage).volts, str(check.keys.get("trim", ""))
    if linear:
        return what_to_turn_of_linear(volts, known, limit=limit, trim=trim)
    return what_to_turn([(v - volts[0]) / scale for v in volts], known, limit=limit, trim=trim)


def what_to_turn(octaves: Sequence[float], errors: Sequence[float], *, limit: float, trim: str = "") -> str:
    """Advise on errors in cents at so many octaves above the lowest reading, which are in their order."""
    course = _course(octaves, errors)
    if course is None:
        return NO_TRIM
    slope, bend = course
    said = []
    if abs(slope) * octaves[-1] > WORTH_A_TRIM * limit:
        said.append(_scale_words(slope, trim))
    if abs(bend) * octaves[-1] ** 2 > WORTH_A_TRIM * limit:
        said.append(_bend_words(bend * octaves[-1] ** 2, alone=not said))
    return " ".join(said) or NO_TRIM


def _course(octaves: Sequence[float], errors: Sequence[float]) -> tuple[float, float] | None:
    """Return what the errors grow by at the low end (cents per octave) and how they bend (cents per octave²)."""
    fit = polynomial_fit(octaves, errors, 2 if len(set(octaves)) > 2 else 1)  # noqa: PLR2004  # a parabola has three unknowns
    if isinstance(fit, NotHad):
        return None
    offset, slope, bend = (*fit.coefficients, 0.0)[:3]
    over = max(abs(e - offset - slope * x - bend * x * x) for x, e in zip(octaves, errors, strict=True))
    return (slope, bend) if over <= LEFT_OVER * max(map(abs, errors)) else None


def what_to_turn_of_linear(volts: Sequence[float], errors: Sequence[float], *, limit: float, trim: str = "") -> str:
    """Advise on errors in percent of a linear oscillator: one of its scale is the same everywhere, an offset grows to the low end."""
    line = polynomial_fit(volts, [v * (1 + e / 100) for v, e in zip(volts, errors, strict=True)], 1)
    if isinstance(line, NotHad):
        return NO_TRIM
    offset, slope = line.coefficients
    lowest = min(volts, key=abs)
    everywhere, at_low_end = 100 * (slope - 1), 100 * offset / lowest
    over = max(abs(e - everywhere - 100 * offset / v) for v, e in zip(volts, errors, strict=True))
    if over > LEFT_OVER * max(map(abs, errors)):
        return NO_TRIM
    said = []
    if abs(everywhere) > WORTH_A_TRIM * limit:
        much = everywhere > 0
        said.append(
            f"The scale brings {_size(everywhere, '%')} too {'much' if much else 'little'} frequency for a volt:"
            f" {'lower' if much else 'raise'} it{f' with {trim}' if trim else ''} at the top."
        )
    if abs(at_low_end) > WORTH_A_TRIM * limit:
        sharp = at_low_end > 0
        said.append(
            f"An offset leaves the low end {_size(at_low_end, '%')} {'sharp' if sharp else 'flat'}:"
            f" {'lower' if sharp else 'raise'} it with the offset at the lowest reading."
        )
    return " ".join([*said, *(["Each moves the other: go round until both stay."] if len(said) > 1 else [])]) or NO_TRIM


def _scale_words(slope: float, trim: str) -> str:
    narrow = slope < 0
    return (
        f"Scale first: an octave takes too {'much' if narrow else 'little'} voltage and comes out"
        f" {_size(slope)} {'narrow' if narrow else 'wide'}, so that the pitch runs {'flat' if narrow else 'sharp'} towards the top."
        f" {'Widen' if narrow else 'Narrow'} the octaves{f' with {trim}' if trim else ''}, then set the offset."
    )


def _bend_words(at_top: float, *, alone: bool) -> str:
    flat = at_top < 0
    said = f"the top end bends {'flat' if flat else 'sharp'}, by {_size(at_top)} at the last reading"
    trim = f"{'raise' if flat else 'lower'} it with the high-frequency trim, if there is one"
    return f"The scale is right, but {said}: {trim}." if alone else f"After that, {said}: {trim}."


def _size(number: float, unit: str = "cents") -> str:
    return shown(Value(abs(number), unit, None, 1))


def _table(check: Check, bench: Bench, found: Side | None, left: Side | None) -> DataTable:
    """Return the readings with their errors, a line for each row of the table, from the lowest control voltage up."""
    said = "percent" if nominal(check)[1] else "cents"
    pairs = {"as_found": _pairs(check, bench, "as_found", found), "as_left": _pairs(check, bench, "as_left", left)}
    rows = check.table.rows if check.table else ()
    measured = [
        (v, n) for n, row in enumerate(rows) if (v := _volts(check, row)) is not None and any(n in p for p in pairs.values())
    ]
    noted = any(rows[n].number("volts") is None for _, n in measured)
    decimals = 3 if noted else max((rows[n].decimals("volts") or 0 for _, n in measured), default=0)
    lines: list[tuple[Value | str, ...]] = []
    for v, n in sorted(measured):
        cells = (cell for pair in pairs.values() for cell in pair.get(n, (Value(None), Value(None))))
        lines.append((*([rows[n].text("note")] if noted else []), Value(v, decimals=decimals), *cells))
    columns = (
        "Control voltage in V",
        "As found in Hz",
        f"Error as found in {said}",
        "As left in Hz",
        f"Error as left in {said}",
    )
    return DataTable((*(["Note"] if noted else []), *columns), tuple(lines))


def _pairs(check: Check, bench: Bench, stage: str, side: Side | None) -> dict[int, tuple[Value, Value]]:
    """Return frequency and error of one side by the number of their row."""
    known, u = _read(check, stage), points_of(check, bench, stage).hz_u
    return {
        n: (Value(row.number(COLUMNS[stage]), "", hz_u, row.decimals(COLUMNS[stage])), Value(error, "", None, 1))
        for (_, n, row), hz_u, error in zip(known, u, _errors(check, stage, side), strict=True)
    }


def _errors(check: Check, stage: str, side: Side | None) -> Sequence[float | None]:
    """Return the errors of one side, as many as it has readings."""
    found = side.results.get("errors_percent", side.results.get("errors_cents")) if side else None
    return found.value if found and isinstance(found.value, tuple) else (None,) * len(_read(check, stage))


def chart(finding: CheckFinding) -> Chart | None:
    """Errors over the control voltage, as found and as left, with the limit as a band."""
    unit = "%" if nominal(finding.check)[1] else "cents"
    found, left = (
        _series(finding.check, stage, side) for stage, side in (("as_found", finding.found), ("as_left", finding.left))
    )
    if not found and not left:
        return None
    paint = error_curves(found, left, limit=limit_of(finding.check), unit=unit)
    side = finding.left or finding.found
    caption = f"{finding.plain} Farthest off {'as left' if finding.left else 'as found'}: {side.worst if side else ''}."
    alt = f"{finding.check.title}: error in {unit} against control voltage, {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint)


def _series(check: Check, stage: str, side: Side | None) -> list[tuple[float, float]]:
    pairs = zip(_read(check, stage), _errors(check, stage, side), strict=True)
    return [(v, e) for (v, _, _), e in pairs if e is not None]


KIND = Kind(SCHEMA, "Tracking", examine, chart)
