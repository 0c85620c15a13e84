"""The words of an envelope: what the contour does, how it was timed, how sure that is, and what to look at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from benchrecord.bench.conformity import margin
from benchrecord.bench.envelope import Contour, Stage
from benchrecord.bench.reasons import NotHad
from benchrecord.checks.envelope_times import Listened, Timed, wanted_of
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import how_uncertain, settled_by
from benchrecord.checks.recordings import settings_of
from benchrecord.checks.wording import JUDGED, NOT_YET, counted, found_and_left, judged, not_left
from benchrecord.model.findings import Side, Value
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.numbers import shown

MILLI = 0.1  # s: what is shorter is told in milliseconds
BEYOND = 100.0  # of a ratio's logarithm: what is farther off is a slip of the pen
ALIKE = 0.15  # ratios to what is wanted that differ by no more, relatively, have one cause (common practice, no source)


def spoken(value: Value) -> str:
    """Write a time for a client, in three figures at most: ``50.0 ms``."""
    if not isinstance(value.value, float) or value.value <= 0:
        return told(value)
    figures = max(0, 2 - math.floor(math.log10(value.value)))
    return told(Value(value.value, "s", value.uncertainty, figures if value.decimals is None else min(figures, value.decimals)))


def told(value: Value) -> str:
    """Write a time as the bench says it: ``1.84 ms``, ``0.118 s``."""
    if not isinstance(value.value, float) or value.value >= MILLI:
        return shown(value)
    u, decimals = value.uncertainty, value.decimals
    return shown(
        Value(1000 * value.value, "ms", None if u is None else 1000 * u, None if decimals is None else max(0, decimals - 3))
    )


def plain(check: Check, found: Side | None, left: Side | None, times: Mapping[str, Sequence[Timed]]) -> str:
    """Say for a client what the contour does."""
    if not found and not left:
        return NOT_YET
    if check.table and (judged(found) or judged(left)) and not wanted_of(check):
        return found_and_left(found, left, "times")
    now, before = _course(times["as_left"]), _course(times["as_found"])
    if now:
        return f"As left, the contour {now}{f'; as found it {before}' if before else ''}."
    if before:
        return f"As found, the contour {before}; {not_left(left)}."
    reason = next((s.reason for s in (left, found) if s and s.reason), "no stage of it is whole")
    return f"Not worked out: {reason}."


VERBS = {
    "attack": "rises in {}",
    "hold": "stays up for {}",
    "decay": "falls in {}",
    "gap": "rests for {}",
    "period": "comes again after {}",
}


def _course(times: Sequence[Timed]) -> str:
    """Word the stages in their order: ``rises in 50 ms, stays up for 0.22 s and falls in 0.30 s``."""
    said = []
    for stage in dict.fromkeys(t.stage for t in times):
        known = sorted((t for t in times if t.stage == stage and t.seconds is not None), key=lambda t: t.seconds or 0.0)
        ends = list(dict.fromkeys(spoken(t.value) for t in (known[:1] + known[-1:])))
        if ends:
            said.append(VERBS.get(stage, f"has a {stage} of {{}}").format(" to ".join(ends)))
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else "".join(said)


def method(
    check: Check, bench: Bench, heard: Mapping[str, Sequence[Listened]], *, found: Side | None, left: Side | None
) -> str:
    """Tell how the stages were timed, what was heard, and how limits were taken."""
    said = ["Attack and decay from 10 to 90 % of the peak, hold above 90 %, gap below 10 %."]
    known = next((one for side in ("as_left", "as_found") for one in heard[side] if isinstance(one.contour, Contour)), None)
    if known:
        said += _heard(known)
    elif not any(heard.values()):
        said.append(settled_by(check, bench, found, left))
    if wanted_of(check):
        several = len(settings_of(check)) > 1 or (check.table is not None and len(check.table.rows) > 1)
        said.append(
            "The shortest of each control must come down to the range that is wanted, and the longest up to it."
            if several
            else "Each must lie in the range that is wanted of it."
        )
    if check.limit:
        said.append(f"Every limit may be missed by {check.limit.text}.")
    if any(heard.values()) and any(s.verdict in JUDGED for s in (found, left) if s):
        said.append(
            "Limits as they stand (simple acceptance)."
            if bench.rule is DecisionRule.SIMPLE
            else "Limits are guarded by the expanded uncertainty (k = 2)."
        )
    return " ".join(said)


def _heard(one: Listened) -> Iterator[str]:
    if isinstance(one.contour, NotHad):
        return
    window = f"{1000 * one.contour.window_s:.3g} ms"
    if one.tone_s:
        what = f"level of a tone of {1 / one.tone_s:.4g} Hz, its power averaged twice over {window}"
    else:
        what = (
            f"its voltage, averaged over {window}"
            if one.contour.floor == 0
            else f"level of a sound without a tone, averaged over {window}"
        )
    mode = "a contour that repeats itself" if one.contour.repeating else "a contour that runs once"
    cycles = counted(one.contour.cycles, "cycle")
    yield f"Heard: {one.words}; {what}, and over a twenty-fifth of each stage; {mode}, {cycles}."


def basis(check: Check, bench: Bench, times: Sequence[Timed], heard: Sequence[Listened]) -> str:
    """Tell how sure the times are, with the figures of the first contour, or of one reading of the table."""
    if not heard:
        known = next((t for t in times if t.seconds is not None), None)
        return how_uncertain(check, bench, known.name, known.value) if known else ""
    one = next((one for one in heard if isinstance(one.contour, Contour)), None)
    return " ".join(_based(one)) if one else ""


def _based(one: Listened) -> Iterator[str]:
    if isinstance(one.contour, NotHad):
        return
    known = {name: stage for name, stage in one.contour.stages.items() if isinstance(stage, Stage)}
    for name, stage in list(known.items())[:1]:
        u = told(Value(stage.expanded_uncertainty, "s", stage.expanded_uncertainty))
        spread = (
            f"their spread is {told(Value(stage.spread_s, 's', stage.spread_s or None))}"
            if stage.spread_s is not None
            else "so its uncertainty comes from the noise about the thresholds and from the height of the peak"
        )
        yield f"The {name} was timed on {counted(stage.cycles, 'cycle')}; {spread}. Its expanded uncertainty (k = 2) is {u}."
    yield (
        f"The level is known every {told(Value(one.contour.step_s, 's', one.contour.step_s))}, averaged over"
        f" {1000 * one.contour.window_s:.3g} ms; what that rounds off is taken off again, and what it leaves open is in the uncertainty of"
        " stages that are not much longer."
    )
    if one.contour.floor > 0:
        yield f"The noise between the cycles lies {-20 * math.log10(one.contour.floor):.0f} dB below the peak and was taken off as power."


def advice(times: Sequence[Timed]) -> str:
    """Tell a fault of the timing part, which moves all times alike, from one of the control (common practice, no source)."""
    said = []
    for stage in dict.fromkeys(t.stage for t in times):
        ratios = [_ratio(t) for t in times if t.stage == stage]
        known = [r for r in ratios if r]
        rooms = [margin(t.seconds, t.low, t.high) for t in times if t.stage == stage and t.seconds]
        if len(known) > 1 and any(left is not None and left < 0 for left in rooms):
            said.append(_cause(stage, known))
    return " ".join(s for s in said if s)


def _ratio(timed: Timed) -> float | None:
    """Return a time as a share of the middle of its limits, or of its only one."""
    ends = [math.log(end) for end in (timed.low, timed.high) if end is not None and end > 0]
    ratio = math.log(timed.seconds) - sum(ends) / len(ends) if timed.seconds and ends else None
    return None if ratio is None or abs(ratio) > BEYOND else math.exp(ratio)


def _cause(stage: str, ratios: Sequence[float]) -> str:
    mean = math.exp(sum(map(math.log, ratios)) / len(ratios))
    if max(ratios) / min(ratios) <= 1 + 2 * ALIKE:
        return (
            f"Every {stage} is about {mean:.2g} of what is wanted: look at the timing capacitor, and at what sets its current, before the control."
            if abs(math.log(mean)) > ALIKE
            else ""
        )
    return f"The {stage} is off at some positions and not at others: look at the control itself, its end resistors and its law."
