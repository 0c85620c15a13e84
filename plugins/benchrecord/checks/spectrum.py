"""Spectrum: what a steady sound is made of. Harmonics of a wave and its shape, the colour of noise, what a product lets through."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from benchrecord.bench.reasons import NotHad
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.recordings import settings_of, takes_of
from benchrecord.checks.spectrum_chart import chart
from benchrecord.checks.spectrum_limits import Held, held, unused_limit
from benchrecord.checks.spectrum_takes import AT_MOST, EXPECTED, LISTED, NOISE, PRODUCT, Line, Told, expected, told_by
from benchrecord.checks.spectrum_words import advice, main_result, plain
from benchrecord.checks.wording import SAID, listed
from benchrecord.model.findings import CheckFinding, DataTable, Item, Results, Side, Value, Verdict, downgrade, worst_of
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.table import Column, Holds, KindSchema

STAGES = ("as_found", "as_left")
NAMES = {
    "thd_percent": "Distortion",
    "duty_percent": "High",
    "rise_percent": "Rising",
    "slope_db_per_octave": "Slope",
    "fundamental_hz": "Frequency",
}
HIDDEN = "noise hides it: all that is known is how much it can be at most"
REJECTED = {"carrier_rejection_db": "Carrier", "signal_rejection_db": "Signal"}

SCHEMA = KindSchema(
    "spectrum",
    keys=(
        Column("expect", Holds.WORD, choice=EXPECTED),
        *(Column(name, Holds.NUMBER, unit="Hz", positive=True) for name in ("carrier_hz", "signal_hz", "nominal_hz")),
        Column("target", Holds.NUMBER),
        Column("full_scale_v", Holds.NUMBER, unit="V", positive=True),
    ),
    recordings=True,
    limit_unit=("%", "dB", "cents", "Hz"),
)

Takes = Mapping[str, Sequence[tuple[str, Told | NotHad]]]  # of each side, with the position of the control


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Work out what is heard, as found and as left, at each position of the control where there is one."""
    takes = {stage: [(take.at, told_by(check, bench, take)) for take in takes_of(check, stage)] for stage in STAGES}
    found, left = (_side(check, bench, takes[stage]) for stage in STAGES)
    side, stage = (left, "as_left") if left else (found, "as_found")
    table, whole = listed(_table(check, takes, found, left), LISTED)
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=table,
        plain=plain(check, found, left),
        method=" ".join(_method(check, bench, takes)),
        advice=advice(check, side),
        basis=next((told.basis for _, told in takes[stage] if isinstance(told, Told)), ""),
        curve=whole,
    )


def _side(check: Check, bench: Bench, takes: Sequence[tuple[str, Told | NotHad]]) -> Side | None:
    if not takes:
        return None
    known = [(at, told, _held(check, told)) for at, told in takes]
    if not settings_of(check):
        _, told, against = known[0]
        concluded = _concluded(check, bench, told, against)
        reason = _why(check, told) if concluded is Verdict.NOT_MEASURED else ""
        warnings = told.warnings if isinstance(told, Told) else ()
        return Side(concluded, _results(check, told, against), (), _worst(against, concluded), reason, warnings)
    items = tuple(_item(check, bench, at, told, against=against) for at, told, against in known)
    concluded = worst_of(item.verdict for item in items)
    against, item = max(
        ((a, item) for (_, _, a), item in zip(known, items, strict=True) if item.verdict is concluded),
        key=lambda one: _room(one[0]),
    )
    worst = _worst(against, concluded)
    reasons = dict.fromkeys(why for _, told in takes if (why := _why(check, told)))
    reason = "; ".join(reasons) if concluded is Verdict.NOT_MEASURED else ""
    return Side(concluded, {}, items, f"at {item.item} {worst}" if worst else "", reason)


def _item(check: Check, bench: Bench, at: str, told: Told | NotHad, *, against: Held | str) -> Item:
    warnings = told.warnings if isinstance(told, Told) else ()
    return Item(at, _concluded(check, bench, told, against), _results(check, told, against), warnings=warnings)


def _held(check: Check, told: Told | NotHad) -> Held | str:
    return "" if isinstance(told, NotHad) else held(check, told)


def _concluded(check: Check, bench: Bench, told: Told | NotHad, against: Held | str) -> Verdict:
    if isinstance(told, NotHad):
        return Verdict.NOT_MEASURED
    if isinstance(against, Held):
        return downgrade(against.concluded(bench), told.warnings, against.result)
    return Verdict.NOT_MEASURED if _why(check, told) else Verdict.INFORMATION


def _why(check: Check, told: Told | NotHad) -> str:
    """Say why the result that a check is about could not be had; that noise hides it, and how much it can be, is a result."""
    if isinstance(told, NotHad):
        return told.reason
    name = main_result(check)
    hidden = expected(check) == PRODUCT or (name == "thd_percent" and AT_MOST in told.results)
    return "" if hidden else told.results[name].reason


def _results(check: Check, told: Told | NotHad, against: Held | str) -> Results:
    if isinstance(told, NotHad):
        names = REJECTED if expected(check) == PRODUCT else (main_result(check),)
        return {name: Value(None, reason=told.reason) for name in names}
    if isinstance(against, str):
        main = told.results[main_result(check)]
        return {
            **told.results,
            "expanded_uncertainty": Value(main.uncertainty, main.unit, reason="" if main.uncertainty else main.reason),
        }
    value = against.value
    reason = HIDDEN if against.hidden else value.reason
    number = None if against.hidden else against.number
    return {
        **told.results,
        "deviation": Value(number, value.unit, value.uncertainty, value.decimals, reason),
        "expanded_uncertainty": Value(value.uncertainty, value.unit, reason="" if value.uncertainty is not None else reason),
    }


def _worst(against: Held | str, concluded: Verdict) -> str:
    return f"{against.words}, {SAID[concluded]}" if isinstance(against, Held) and concluded in SAID else ""


def _room(against: Held | str) -> float:
    """Return how far something is out of its limit, or near to it: the more, the worse."""
    if isinstance(against, str) or against.number is None or against.high is None:
        return -math.inf
    return (against.number if against.low is None else abs(against.number)) - against.high


def _method(check: Check, bench: Bench, takes: Takes) -> Iterator[str]:
    """Yield how it was worked out, what was heard, why nothing was, and how it was held against the limit."""
    known = [(stage, at, told) for stage in reversed(STAGES) for at, told in takes[stage]]
    told_all = [told for _, _, told in known if isinstance(told, Told)]
    if told_all:
        yield told_all[0].how
        yield _heard(known)
    for stage, at, told in known:
        where = f"{stage.replace('_', ' ').capitalize()}{f' at {at}' if at else ''}"
        if isinstance(told, NotHad):
            yield f"{where} it is not worked out: {told.reason}."
    against = [held(check, told) for told in told_all]
    if any(isinstance(a, Held) for a in against):
        yield _rule(bench)
    elif against and against[0]:
        yield str(against[0])


def _heard(known: Sequence[tuple[str, str, Told | NotHad]]) -> str:
    """Say what was analysed: once where it was the same of both sides."""
    words = {stage.replace("_", " "): told.words for stage, _, told in reversed(known) if isinstance(told, Told)}
    if len(set(words.values())) == 1:
        return f"Heard: {next(iter(words.values()))}."
    return f"Heard {'; '.join(f'{stage}: {said}' for stage, said in words.items())}."


def _rule(bench: Bench) -> str:
    if bench.rule is DecisionRule.SIMPLE:
        return "The limit is taken as it stands (simple acceptance)."
    return "The limit is guarded by the expanded uncertainty (k = 2)."


def _table(check: Check, takes: Takes, found: Side | None, left: Side | None) -> DataTable:
    if settings_of(check):
        return _of_settings(check, found, left)
    sides = [next((told for _, told in takes[stage] if isinstance(told, Told)), None) for stage in STAGES]
    lines = [{line.name: line for line in told.lines} if told else {} for told in sides]
    names = max(lines, key=len)
    if expected(check) == NOISE:
        columns = ("Octave in Hz", "As found in dB", "Line as found", "As left in dB", "Line as left")
        return DataTable(columns, tuple((name, *_pair(lines[0].get(name)), *_pair(lines[1].get(name))) for name in names))
    head = "Line" if expected(check) == PRODUCT else "Harmonic"
    rows: list[tuple[Value | str, ...]] = [
        (name, Value(names[name].hz, decimals=1), *(_bare(own[name].level) if name in own else Value(None) for own in lines))
        for name in names
    ]
    return DataTable((head, "Frequency in Hz", "As found in dB", "As left in dB"), tuple(rows))


def _pair(line: Line | None) -> tuple[Value, Value]:
    return (_bare(line.level), _bare(line.fitted)) if line else (Value(None), Value(None))


def _bare(value: Value) -> Value:
    return Value(value.value, "", value.uncertainty, value.decimals, value.reason)


def _of_settings(check: Check, found: Side | None, left: Side | None) -> DataTable:
    """Return the results at each position of the control."""
    names = list(REJECTED) if expected(check) == PRODUCT else [main_result(check)]
    sides = [{item.item: item for item in side.items} if side else {} for side in (found, left)]
    unit = _unit(check)
    heads = [f"{REJECTED.get(n) or NAMES[n]} as {when} in {unit}" for n in names for when in ("found", "left")]
    rows: list[tuple[Value | str, ...]] = [
        (at, *(_bare(own[at].results.get(n, Value(None))) if at in own else Value(None) for n in names for own in sides))
        for at in settings_of(check)
    ]
    return DataTable((str(check.keys.get("control") or "Position"), *heads), tuple(rows))


def _unit(check: Check) -> str:
    return {"fundamental_hz": "Hz", "slope_db_per_octave": "dB an octave", "carrier_rejection_db": "dB"}.get(
        main_result(check), "%"
    )


KIND = Kind(SCHEMA, "Spectrum", examine, chart, unused_limit)
