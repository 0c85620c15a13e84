"""The words of a tracking check: how far out of tune it is, how that was found, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping

from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.steps import GLIDING
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import how_uncertain, settled_by
from benchrecord.checks.tracking_points import Point, Points, nominal, offset_cents
from benchrecord.checks.wording import JUDGED, NOT_YET, counted, not_left
from benchrecord.model.findings import Side, Value
from benchrecord.model.job import Check, DecisionRule
from benchrecord.model.numbers import shown


def plain(check: Check, found: Side | None, left: Side | None, points: Mapping[str, Points]) -> str:
    """Say for a client how far out of tune it is: ``As left, no note is more than 1.8 cents out of tune; as found it was 134.9``."""
    linear = nominal(check)[1]
    name, what = (
        ("worst_percent", "no reading is more than {} off")
        if linear
        else ("worst_cents", "no note is more than {} out of tune")
    )
    before, now = (shown(s.results[name]) if s and name in s.results else "" for s in (found, left))
    missing = {stage: _left_out(own) for stage, own in points.items()}
    if now:
        then = f"; as found it was {before}{missing['as_found']}" if before else ""
        return f"As left, {what.format(now)}{missing['as_left']}{then}."
    if before:
        return f"As found, {what.format(before)}{missing['as_found']}; {not_left(left)}."
    return not_worked_out(found, left)


def _left_out(own: Points) -> str:
    """Say how many readings could not be had, and whether they still glide."""
    if not own.left_out:
        return ""
    why = ", which still glide" if own.reason.count(GLIDING) == own.left_out else ""
    return f" ({own.left_out} of {own.left_out + len(own.points)} readings are left out{why})"


def not_worked_out(found: Side | None, left: Side | None) -> str:
    """Say why there is nothing to tell."""
    reason = next((s.reason for s in (left, found) if s and s.reason), "")
    return f"Not worked out: {reason}." if reason else NOT_YET


def method(check: Check, bench: Bench, points: Mapping[str, Points], *, found: Side | None, left: Side | None) -> str:
    """Tell what was read or heard, the fitted scale and the offset, and how the other oscillator runs beside it."""
    side, own = (left, points["as_left"]) if left else (found, points["as_found"])
    said = [_heard(bench, own, found=found, left=left) if own.words else settled_by(check, bench, found, left)]
    if side and "volts_per_octave" in side.results:
        said.append(f"Least-squares scale {shown(side.results['volts_per_octave'])}.")
    offset = side.results.get("offset_cents") if side else None
    if offset and isinstance(offset.value, float):
        said.append(f"Offset {shown(offset, sign=True)} from its note, where A4 is 440 Hz.")
    spread = side.results.get("spread_cents") if side else None
    if spread and spread.value is not None:
        said.append(f"Its interval to {bench.checks[str(check.keys['tracks_with'])].title} wanders by {shown(spread)}.")
    return " ".join(said)


def _heard(bench: Bench, own: Points, *, found: Side | None, left: Side | None) -> str:
    counted_too = any(p.reading and p.reading.counted for p in own.points)
    how = "its harmonics, or from its periods where they are slow or few" if counted_too else "all its harmonics"
    said = [f"Heard: {own.words}; the frequency of each steady part from {how}."]
    if any(s.verdict in JUDGED for s in (found, left) if s):
        guarded = bench.rule is not DecisionRule.SIMPLE
        said.append(
            "Limits are guarded by the expanded uncertainty (k = 2)."
            if guarded
            else "Limits as they stand (simple acceptance)."
        )
    return " ".join(said)


def basis(check: Check, bench: Bench, own: Points, side: Side | None) -> str:
    """Tell how sure the frequencies and the errors are, with the figures of the reading that is least sure."""
    if not own.points or side is None or not side.results:
        return ""
    if not any(p.reading for p in own.points):
        first = own.points[0]
        how = how_uncertain(check, bench, first.name, Value(first.hz, "Hz", first.hz_u, first.decimals))
        joined = " An error joins the uncertainty of its own reading with that of the reference." if first.hz_u else ""
        return how + joined
    least = max((p for p in own.points if p.reading), key=_cents_u)
    return " ".join([_least_sure(least), *([] if check.keys.get("not_tracking") else [_of_errors(least)])])


def _cents_u(point: Point) -> float:
    return CENTS_PER_OCTAVE / math.log(2) * (point.hz_u or 0.0) / point.hz


def _least_sure(point: Point) -> str:
    if point.reading is None:
        return ""
    seconds, u = point.reading.seconds, point.hz_u or 0.0
    how = (
        f"from {counted(round(seconds * point.hz), 'period')} that were counted in {seconds:.2g} s"
        if point.reading.counted
        else f"from {seconds:.2g} s of the recording, by how the phases of its harmonics proceed and scatter"
    )
    return f"Least sure is {point.name}: {shown(Value(point.hz, 'Hz', u))} ± {shown(Value(u, 'Hz', u))} (k = 2), {how}."


def _of_errors(point: Point) -> str:
    u = _cents_u(point)
    return (
        f"That is {shown(Value(u, 'cents', u or None))}; an error joins it with that of the reference. How fast the recorder's own clock runs"
        " moves all frequencies alike, and no error."
    )


def scale_offset(own: Points, at: int) -> Value | None:
    """Return the offset of the reference from its own note; None where no note was named."""
    offset = offset_cents(own, at)
    return (
        None
        if offset is None
        else Value(offset, "cents", _cents_u(own.points[at]) if own.points[at].hz_u is not None else None, 1)
    )
