"""Response: what a filter or an amplifier passes, and how a filter sings by itself."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.bench.conformity import verdict
from benchrecord.bench.reasons import NotHad
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.recordings import settings_of, takes_of
from benchrecord.checks.response_chart import chart
from benchrecord.checks.response_results import Told, held_name, limits_of, told_by, told_by_table, unused_limit
from benchrecord.checks.response_words import HOW, based, hz_said, plain, said
from benchrecord.checks.wording import SAID
from benchrecord.model.findings import (
    CheckFinding,
    DataTable,
    Item,
    Results,
    Side,
    Value,
    Verdict,
    downgrade,
    is_in_doubt,
    worst_of,
)
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.numbers import shown
from benchrecord.model.table import Column, Holds, KindSchema

STAGES = ("as_found", "as_left")
LISTED, POINTS = 40, 600
NAMES = ("minus_3_db_hz", "minus_3_db_low_hz", "minus_3_db_high_hz", "slope_db_per_octave", "peak_db", "peak_hz")
OF_OSCILLATION = ("frequency_hz", "stability_cents", "thd_percent")
TITLES = {
    "minus_3_db_hz": "Cut-off", "minus_3_db_low_hz": "Lower cut-off", "minus_3_db_high_hz": "Upper cut-off",
    "slope_db_per_octave": "Slope", "peak_db": "Peak", "peak_hz": "Frequency of the peak", "frequency_hz": "Frequency",
    "stability_cents": "Stability", "thd_percent": "Distortion",
}  # fmt: skip
TOO_LOW = "The cut-off lies {} too low: raise it with its trim, or look for a capacitor that has grown or a resistor that has drifted up."
TOO_HIGH = "The cut-off lies {} too high: lower it with its trim, or look for a capacitor that has lost its value."
PEAKS = "The peak is higher than allowed: turn the trim of the resonance down, and look at its feedback."

SCHEMA = KindSchema(
    "response",
    columns=(
        Column("hz", Holds.NUMBER, unit="Hz", required=True, positive=True),
        Column("as_found_db", Holds.NUMBER, unit="dB"),
        Column("as_left_db", Holds.NUMBER, unit="dB"),
    ),
    keys=(
        Column("low_pass", Holds.NUMBER_OR_YES, unit="Hz", positive=True),
        Column("high_pass", Holds.NUMBER_OR_YES, unit="Hz", positive=True),
        Column("band_pass", Holds.FLAG),
        Column("sweep_hz", Holds.PAIR, unit="Hz", positive=True),
        Column("sweep_s", Holds.NUMBER, unit="s", positive=True),
        Column("reference", Holds.RECORDING),
        Column("noise", Holds.FLAG),
        Column("oscillation", Holds.FLAG),
        Column("nominal_hz", Holds.NUMBER, unit="Hz", positive=True),
    ),
    one_of=(("as_found_db", "as_left_db"),),
    recordings=True,
    limit_unit=("%", "cents", "dB", "Hz"),
)

Sides = dict[str, dict[str, Told | NotHad]]  # by stage, then by the position of the control


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Find pass band, cut-offs, slope and peak, as found and as left, and hold them against what is wanted."""
    told: Sides = {stage: _told(check, bench, stage) for stage in STAGES}
    found, left = (_side(check, bench, told[stage]) for stage in STAGES)
    stage = "as_left" if left else "as_found"
    lines, sings = _points(check, told), bool(check.keys.get("oscillation"))
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(check, told, lines),
        plain=plain(check, found, left),
        method=_method(check, bench, told),
        advice=_advice(check, left or found),
        basis=" ".join(based(next((t for t in told[stage].values() if isinstance(t, Told)), None))),
        curve=lines if lines and (sings or len(lines.rows) > LISTED) else None,
    )


def _told(check: Check, bench: Bench, stage: str) -> dict[str, Told | NotHad]:
    table = told_by_table(check, bench, stage)
    if table is not None:
        return {"": table}
    return {take.at: told_by(check, bench, take) for take in takes_of(check, stage)}


def _side(check: Check, bench: Bench, told: dict[str, Told | NotHad]) -> Side | None:
    if not told:
        return None
    items = tuple(_item(check, bench, at, own) for at, own in told.items())
    concluded = worst_of(item.verdict for item in items)
    reason = next((t.reason for t in told.values() if isinstance(t, NotHad)), "") if concluded is Verdict.NOT_MEASURED else ""
    if list(told) == [""]:
        reason = reason or (items[0].results[held_name(check)].reason if concluded is Verdict.NOT_MEASURED else "")
        return Side(concluded, items[0].results, (), _worst(check, items[0]), reason, items[0].warnings)
    worst = max((i for i in items if i.verdict is concluded), key=lambda item: _off(check, item))
    return Side(concluded, {}, items, _worst(check, worst), reason)


def _item(check: Check, bench: Bench, at: str, told: Told | NotHad) -> Item:
    if isinstance(told, NotHad):
        names = OF_OSCILLATION if check.keys.get("oscillation") else NAMES
        return Item(at, Verdict.NOT_MEASURED, dict.fromkeys(names, Value(None, reason=told.reason)))
    held, (low, high) = told.results.get(held_name(check), Value(None)), limits_of(check)
    if held_name(check) not in told.results or (low is None and high is None):
        return Item(at, Verdict.INFORMATION, told.results, warnings=told.warnings)
    if not isinstance(held.value, float):
        return Item(at, Verdict.NOT_MEASURED, told.results, warnings=told.warnings)
    clear = Verdict(verdict(held.value, held.uncertainty, low, high, rule=bench.rule.value))
    concluded = worst_of([downgrade(clear, told.warnings, held_name(check)), *_of_drift(check, bench, told.results)])
    return Item(at, concluded, told.results, warnings=told.warnings)


def _of_drift(check: Check, bench: Bench, results: Results) -> tuple[Verdict, ...]:
    """Hold the drift of an oscillation against the limit of its stability too."""
    drift, high = results.get("drift_cents", Value(None)), limits_of(check)[1]
    if held_name(check) != "stability_cents" or high is None or not isinstance(drift.value, float):
        return ()
    return (Verdict(verdict(drift.value, drift.uncertainty, -high, high, rule=bench.rule.value)),)


def _off(check: Check, item: Item) -> float:
    """Return how far the held result of an item is from what is wanted."""
    value, (low, high) = item.results.get(held_name(check), Value(None)).value, limits_of(check)
    if not isinstance(value, float):
        return 0.0
    return max(abs(value - low) if low is not None and high is None else 0.0, value - (high or 0.0), (low or 0.0) - value)


def _worst(check: Check, item: Item) -> str:
    where = f" at {item.item}" if item.item else ""
    if item.verdict not in SAID:
        return f"{said(item.results)}{where}"
    held, drift, high = item.results[held_name(check)], item.results.get("drift_cents"), limits_of(check)[1]
    if held_name(check) == "stability_cents" and drift and isinstance(drift.value, float) and high and abs(drift.value) > high:
        return f"drifts by {shown(drift, sign=True)}{where}, {SAID[item.verdict]}"
    about = {"peak_db": "peak ", "frequency_hz": "", "stability_cents": "strays by "}.get(held_name(check), "cut-off off by ")
    if check.keys.get("oscillation") and about.startswith("cut-off"):
        about = "off by "
    return f"{about}{shown(held, sign=about.endswith('off by '))}{where}, {SAID[item.verdict]}"


def _method(check: Check, bench: Bench, told: Sides) -> str:
    known = [t for stage in reversed(STAGES) for t in told[stage].values() if isinstance(t, Told)]
    lines = [*(t.how for t in known[:1]), *([HOW] if any(t.response for t in known) else [])]
    if known and known[0].response:
        lines.append(f"Taken as a {known[0].response.shape}." if known[0].response.shape != "flat" else "Taken as flat.")
    if known and known[0].words:
        lines.append(f"Heard: {known[0].words}.")
    lines.append(_rule(check, bench, known))
    return " ".join(line for line in lines if line)


def _rule(check: Check, bench: Bench, known: Sequence[Told]) -> str:
    if check.limit is None or not known:
        return ""
    if unused_limit(check):
        return ""
    if bench.rule is DecisionRule.SIMPLE:
        return "The limit is taken as it stands (simple acceptance)."
    return "The limit is guarded by the expanded uncertainty (k = 2)."


def _advice(check: Check, side: Side | None) -> str:
    if side is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE) or check.keys.get("oscillation"):
        return ""
    if is_in_doubt(side, held_name(check)):
        return ""
    if held_name(check) == "peak_db":
        return PEAKS
    results = side.results or next(i.results for i in side.items if i.verdict is side.verdict)
    off = results[held_name(check)]
    words = shown(Value(abs(float(off.value or 0.0)), off.unit, off.uncertainty))  # type: ignore[arg-type]  # judged: a number
    return (TOO_LOW if float(off.value or 0.0) < 0 else TOO_HIGH).format(words)  # type: ignore[arg-type]


def _table(check: Check, told: Sides, lines: DataTable | None) -> DataTable:
    """Return the results of each position of a control, or the readings, or what a recording comes to."""
    if settings_of(check):
        return _of_settings(check, told)
    names = OF_OSCILLATION if check.keys.get("oscillation") else NAMES
    if lines and len(lines.rows) <= LISTED and names is NAMES:
        return lines
    sides = [next((t.results for t in told[stage].values() if isinstance(t, Told)), {}) for stage in STAGES]
    rows: list[tuple[Value | str, ...]] = [
        (TITLES[name], *(_single(own.get(name, Value(None))) for own in sides)) for name in names if any(map(len, sides))
    ]
    return DataTable(("Result", "As found", "As left"), tuple(rows))


def _of_settings(check: Check, told: Sides) -> DataTable:
    heads = (
        (("Frequency", "frequency_hz"), ("Stability", "stability_cents"), ("Distortion", "thd_percent"))
        if check.keys.get("oscillation")
        else (("Cut-off", "minus_3_db_hz"), ("Slope", "slope_db_per_octave"), ("Peak", "peak_db"))
    )
    columns = [f"{head} as {when}" for when in ("found", "left") for head, _ in heads]
    rows: list[tuple[Value | str, ...]] = []
    for at in settings_of(check):
        own = [told[stage].get(at) for stage in STAGES]
        cells = (t.results.get(name, Value(None)) if isinstance(t, Told) else Value(None) for t in own for _, name in heads)
        rows.append((at, *(_single(cell) for cell in cells)))
    return DataTable(("Position", *columns), tuple(rows))


def _single(value: Value) -> Value | str:
    return " to ".join(hz_said(hz) for hz in value.value) if isinstance(value.value, tuple) else value


def _points(check: Check, told: Sides) -> DataTable | None:
    """Return the levels over frequency of all that was read, or the pitch over time, a column for each side and position."""
    known = [
        (stage, at, dict(t.points)) for stage in STAGES for at, t in told[stage].items() if isinstance(t, Told) and t.points
    ]
    every = sorted({hz for _, _, points in known for hz in points})
    if not every:
        return None
    over, unit = ("Time in s", "cents") if check.keys.get("oscillation") else ("Frequency in Hz", "dB")
    columns = [f"As {stage[3:]}{f' at {at}' if at else ''} in {unit}" for stage, at, _ in known]
    step = 1 + len(every) // POINTS
    rows = tuple(_row(hz, [points for _, _, points in known]) for hz in every[::step])
    return DataTable((over, *columns), rows)


def _row(hz: float, columns: Sequence[dict[float, float]]) -> tuple[Value, ...]:
    return (Value(hz, decimals=1), *(_level(points.get(hz)) for points in columns))


def _level(level: float | None) -> Value:
    return Value(level, decimals=2)


KIND = Kind(SCHEMA, "Response", examine, chart, unused_limit)
