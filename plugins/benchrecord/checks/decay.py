"""Decay: how long a spring tank rings after a strike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchrecord.bench.conformity import verdict
from benchrecord.bench.decay import RANGES, Decay, DecayTime
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.struck import Together
from benchrecord.checks.decay_results import (
    NO_STRIKE,
    Rung,
    band_item,
    bare,
    hz_said,
    limits_of,
    results_of,
    rung_of,
    time_of,
    value_of,
)
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.recordings import takes_of
from benchrecord.checks.wording import NOT_YET, SAID, counted, not_left, sides_said
from benchrecord.figures.style import Chart, Mark, curves, marked
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
from benchrecord.model.numbers import MINUS, shown
from benchrecord.model.table import Column, Holds, KindSchema

STAGES = ("as_found", "as_left")
BENT_PERCENT = 10.0  # of curvature: from here on one straight line does not describe a decay (ISO 3382-2, annex B, from memory)
BY_ITS_START = " (by its first 10 dB; the noise allows no more)"
CURVE_POINTS = 280  # of each side
HOW = (
    "Backward integration (Schroeder) with the noise floor taken off and the end of the decay put back; EDT, T20 and T30 from"
    " least-squares lines over 0 to −10, −5 to −25 and −5 to −35 dB, drawn out to 60 dB (ISO 3382-1)."
)
TOO_SHORT = (
    "It dies away too soon. Look whether a spring touches its case, a damper or the other spring, whether its ends sit free in their"
    " hooks, and whether the tank stands as it is meant to (common practice, no source)."
)
TOO_LONG = "It rings longer than wanted: look whether a damper has come off or gone hard (common practice, no source)."

SCHEMA = KindSchema(
    "decay",
    keys=(
        Column("wanted_s", Holds.NUMBER, unit="s", positive=True),
        Column("struck_s", Holds.NUMBER, unit="s"),
        Column("bands", Holds.FLAG),
    ),
    recordings=True,
    limit_unit=("%", "s"),
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Find strikes, integrate what follows them backwards, and hold the decay time against the one that is wanted."""
    rung = {stage: [rung_of(check, bench, take) for take in takes_of(check, stage)] for stage in STAGES}
    found, left = (_side(check, bench, stage, rung[stage]) for stage in STAGES)
    side, stage = (left, "as_left") if left else (found, "as_found")
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=_table(check, rung),
        plain=_plain(check, found, left),
        method=_method(check, bench, rung),
        advice=_advice(check, side),
        basis=_basis(rung[stage], side),
        curve=_curve(rung),
    )


def _side(check: Check, bench: Bench, stage: str, rung: Sequence[Rung | NotHad]) -> Side | None:
    takes = takes_of(check, stage)
    if not takes:
        return None
    if not takes[0].at:
        return _of_one(check, bench, rung[0])
    items = tuple(_item(check, bench, take.at, own) for take, own in zip(takes, rung, strict=True))
    concluded = worst_of(item.verdict for item in items)
    judged = [item for item in items if item.verdict is concluded]
    worst = max(judged, key=lambda item: _away(check, item.results))
    return Side(concluded, {}, items, f"{_said(worst.results)} at {worst.item}{_concluded(concluded)}")


def _of_one(check: Check, bench: Bench, rung: Rung | NotHad) -> Side:
    item = _item(check, bench, "", rung)
    if isinstance(rung, NotHad):
        return Side(Verdict.NOT_MEASURED, item.results, reason=rung.reason)
    bands = tuple(band_item(band, decay) for band, decay in rung.octaves)
    reason = item.results["t20_s"].reason if item.verdict is Verdict.NOT_MEASURED else ""
    worst = f"{_said(item.results)}{_concluded(item.verdict)}"
    return Side(item.verdict, item.results, bands, worst, reason, item.warnings)


def _item(check: Check, bench: Bench, name: str, rung: Rung | NotHad) -> Item:
    if isinstance(rung, NotHad):
        nothing = Value(None, "s", reason=rung.reason)
        return Item(name, Verdict.NOT_MEASURED, dict.fromkeys(("predelay_s", "edt_s", "t20_s", "t30_s"), nothing))
    results = results_of(check, rung)
    t20 = results["t20_s"]
    if not isinstance(t20.value, float):
        return Item(name, Verdict.NOT_MEASURED if check.limit else Verdict.INFORMATION, results, warnings=rung.warnings)
    low, high = limits_of(check)
    clear = Verdict(verdict(t20.value, t20.uncertainty, low, high, rule=bench.rule.value))
    return Item(name, downgrade(clear, rung.warnings, "t20_s"), results, warnings=rung.warnings)


def _away(check: Check, results: Results) -> float:
    t20, wanted = results["t20_s"].value, check.keys.get("wanted_s")
    return abs(t20 - wanted) if isinstance(t20, float) and wanted else t20 if isinstance(t20, float) else 0.0


def _said(results: Results) -> str:
    return f"T20 {shown(results['t20_s'])}" if results["t20_s"].value is not None else f"no T20: {results['t20_s'].reason}"


def _concluded(concluded: Verdict) -> str:
    return f", {SAID[concluded]}" if concluded in SAID else ""


def _plain(check: Check, found: Side | None, left: Side | None) -> str:
    """Say for a client how long it rings: ``A strike now dies away by 60 dB in 2.45 s; it was 1.15 s.``."""
    if not found and not left:
        return NOT_YET
    if any(side and side.items and takes_of(check, stage)[0].at for side, stage in ((found, STAGES[0]), (left, STAGES[1]))):
        return _plain_of_settings(found, left)
    before, now = (_longest_known(side) if side else "" for side in (found, left))
    wanted = f" Wanted are {check.keys['wanted_s']:g} s." if check.keys.get("wanted_s") else ""
    if now:
        return f"A strike now dies away by 60 dB in {now}{f'; it was {before}' if before else ''}.{wanted}"
    if before:
        return f"As found a strike died away by 60 dB in {before}; {not_left(left)}.{wanted}"
    return f"Not worked out: {next((s.reason for s in (left, found) if s and s.reason), NO_STRIKE)}."


def _longest_known(side: Side) -> str:
    known = {name: side.results[name] for name in ("t20_s", "t30_s", "edt_s") if name in side.results}
    name = next((name for name, value in known.items() if value.value is not None), "")
    return f"{shown(known[name])}{BY_ITS_START if name == 'edt_s' else ''}" if name else ""


def _plain_of_settings(found: Side | None, left: Side | None) -> str:
    side, when = (left, "left") if left else (found, "found")
    known = [(i.item, shown(i.results["t20_s"])) for i in side.items if i.results["t20_s"].value is not None] if side else []
    if not known:
        return f"Not worked out: {NO_STRIKE}."
    return f"As {when}, a strike dies away by 60 dB in {', '.join(f'{time} at {at}' for at, time in known)}."


def _method(check: Check, bench: Bench, rung: dict[str, list[Rung | NotHad]]) -> str:
    known = [own for stage in reversed(STAGES) for own in rung[stage] if isinstance(own, Rung)]
    said = [HOW]
    if known:
        said.append(f"Heard: {known[0].words}.")
        strikes = len(known[0].strikes)
        said.append("One strike." if strikes == 1 else f"The mean of {strikes} strikes; bands and curve are the loudest one's.")
    if check.limit and check.keys.get("wanted_s"):
        said.append(_rule(bench))
    return " ".join(said)


def _rule(bench: Bench) -> str:
    if bench.rule is DecisionRule.SIMPLE:
        return "T20 is held against the limit as it stands (simple acceptance)."
    return "T20 is held against the limit, guarded by its expanded uncertainty (k = 2)."


def _basis(rung: Sequence[Rung | NotHad], side: Side | None) -> str:
    own = next((r for r in rung if isinstance(r, Rung) and not isinstance(r.loudest.decay, NotHad)), None)
    if own is None or side is None or isinstance(own.loudest.decay, NotHad):
        return ""
    return " ".join(_based(own, own.loudest.decay))


def _based(rung: Rung, decay: Decay) -> Iterator[str]:
    """Yield how the times and their uncertainty came about, with the figures of this recording."""
    at = rung.start_s + rung.loudest.start_s
    floor = f"{-decay.floor_db:.0f} dB"
    yield (
        f"The decay starts at {at:.2f} s; the noise lies {floor} below it and was taken off."
        if decay.floor_reached
        else f"The decay starts at {at:.2f} s, and the recording ends {floor} further down, before it reaches the noise."
    )
    t20 = rung.time("t20")
    if isinstance(decay.t20, DecayTime) and isinstance(t20, Together):
        spread = f", and {t20.count} strikes scatter by {t20.scatter:.2g} s" if t20.count > 1 else ""
        yield (
            f"T20 comes from {decay.t20.to_s - decay.t20.from_s:.2f} s of it. How the power fluctuates there leaves"
            f" {shown(Value(2 * t20.seconds_u, 's', 2 * t20.seconds_u))} of expanded uncertainty (k = 2){spread}."
        )
    bands = [
        (band, time)
        for band, own in rung.octaves
        if isinstance(own, Decay) and isinstance(time := own.t20, DecayTime) and value_of(time).value is not None
    ]
    if len(bands) > 1:
        shortest, longest = (pick(bands, key=lambda one: one[1].seconds) for pick in (min, max))
        yield (
            f"In {counted(len(bands), 'octave')} it lies between {shown(value_of(shortest[1]))} ({hz_said(shortest[0].nominal_hz)})"
            f" and {shown(value_of(longest[1]))} ({hz_said(longest[0].nominal_hz)})."
        )
    bent = decay.curvature_percent
    if isinstance(bent, float) and abs(bent) - 2 * decay.curvature_u > BENT_PERCENT:
        yield (
            f"T30 is {shown(Value(abs(bent), '%', 2 * decay.curvature_u))} {'longer' if bent > 0 else 'shorter'} than T20:"
            " two decays lie over each other, and no single time describes them."
        )


def _advice(check: Check, side: Side | None) -> str:
    if side is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE) or is_in_doubt(side, "t20_s"):
        return ""
    items = [i.results for i in side.items if i.verdict is side.verdict] or [side.results]
    times = [t for results in items if isinstance(t := results["t20_s"].value, float)]
    return TOO_SHORT if times and min(times) < float(check.keys["wanted_s"]) else TOO_LONG


def _table(check: Check, rung: dict[str, list[Rung | NotHad]]) -> DataTable:
    """Return the times of all positions, or of all sound and of each octave, as found beside as left."""
    columns = [f"{name} as {when} in s" for when in ("found", "left") for name in ("EDT", "T20", "T30")]
    sides = [_lines(check, stage, rung[stage]) for stage in STAGES]
    names = list(dict.fromkeys(name for side in sides for name in side))
    nothing = (Value(None), Value(None), Value(None))
    rows: list[tuple[Value | str, ...]] = [(n, *(cell for side in sides for cell in side.get(n, nothing))) for n in names]
    head = "Position" if any(take.at for take in check.takes) else "Sound"
    return DataTable((head, *columns), tuple(rows))


def _lines(check: Check, stage: str, rung: Sequence[Rung | NotHad]) -> dict[str, tuple[Value, Value, Value]]:
    lines: dict[str, tuple[Value, Value, Value]] = {}
    for take, own in zip(takes_of(check, stage), rung, strict=True):
        if isinstance(own, NotHad):
            continue
        edt, t20, t30 = (bare(value_of(own.time(name))) for name in RANGES)
        lines[take.at or "all of it"] = (edt, t20, t30)
        for band, decay in () if take.at else own.octaves:
            edt, t20, t30 = (bare(value_of(decay if isinstance(decay, NotHad) else time_of(decay, name))) for name in RANGES)
            lines[f"{hz_said(band.nominal_hz)} octave"] = (edt, t20, t30)
    return lines


def _curve(rung: dict[str, list[Rung | NotHad]]) -> DataTable | None:
    """Return the level of the energy still to come after the loudest strike of each side, a line for each point of either."""
    lines: list[tuple[float, int, float]] = []
    for column, stage in enumerate(STAGES):
        own = next((r for r in rung[stage] if isinstance(r, Rung)), None)
        decay = own.loudest.decay if own else None
        if isinstance(decay, Decay):
            step = 1 + len(decay.level_db) // CURVE_POINTS
            lines += [(k * decay.step_s, column, float(decay.level_db[k])) for k in range(0, len(decay.level_db), step)]
    rows = tuple((Value(s, decimals=4), *_in_column(column, level)) for s, column, level in sorted(lines))
    return DataTable(("Time in s", "Level as found in dB", "Level as left in dB"), rows) if rows else None


def _in_column(number: int, level: float) -> tuple[Value, Value]:
    value = Value(level, decimals=2)
    return (value, Value(None)) if number == 0 else (Value(None), value)


def chart(finding: CheckFinding) -> Chart | None:
    """Draw what is left of the sound over time, with the line that T20 comes from, drawn out to 60 dB, and the floor."""
    if finding.curve is None:
        return None
    found, left = (_points(finding.curve, n) for n in (1, 2))
    sides = [(finding.found, found), (finding.left, left)]
    marks = [[*_fitted(side, points), *_floor(side, points)] for side, points in sides]
    labels = ("time in s", "energy still to come in dB")
    paint = marked(curves(found, left, labels=labels), found=marks[0], left=marks[1])
    caption = (
        f"{finding.plain} The curves are the sound that is still to come after the loudest strike; the dotted lines are what T20 comes"
        f" from, the fall from {MINUS}5 to {MINUS}25 dB drawn out to {MINUS}60 dB, and the noise."
    )
    alt = f"{finding.check.title}: level in dB against time after the strike, {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, paint)


def _points(curve: DataTable, column: int) -> list[tuple[float, float]]:
    cells = [(row[0], row[column]) for row in curve.rows]
    numbers = [(x.value, y.value) for x, y in cells if isinstance(x, Value) and isinstance(y, Value)]
    return [(x, y) for x, y in numbers if isinstance(x, float) and isinstance(y, float)]


def _first(side: Side | None) -> Results:
    if side is None:
        return {}
    return side.results or (side.items[0].results if side.items else {})


def _fitted(side: Side | None, points: Sequence[tuple[float, float]]) -> list[Mark]:
    """Return the line with the slope of T20 through the middle of its range."""
    t20 = _first(side).get("t20_s", Value(None)).value
    middle = next((x for x, y in points if y <= -15), None)  # noqa: PLR2004  # between −5 and −25 dB
    if not isinstance(t20, float) or middle is None:
        return []
    start, end = (middle + (level + 15) * -t20 / 60 for level in (0.0, -60.0))
    return [Mark((max(start, 0.0), -60 / t20 * (max(start, 0.0) - middle) - 15), (end, -60.0), "T20")]


def _floor(side: Side | None, points: Sequence[tuple[float, float]]) -> list[Mark]:
    floor = _first(side).get("floor_db", Value(None)).value
    if not isinstance(floor, float) or not points:
        return []
    last = points[-1][0]
    return [Mark((last, floor), (0.6 * last, floor), "noise")]


def _unused_limit(check: Check) -> str:
    return "wanted_s, the decay time that is wanted" if check.limit and not check.keys.get("wanted_s") else ""


KIND = Kind(SCHEMA, "Decay", examine, chart, _unused_limit)
