"""The uncertainty that a meter gives a reading."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.bench.uncertainty import expanded, meter_uncertainty
from benchrecord.checks.kind import Bench
from benchrecord.model.findings import Side, Verdict
from benchrecord.model.job import Check, DecisionRule, Meter, MeterRange
from benchrecord.model.quantity import convert, dimension

NO_RANGE = "no range of a meter is given for this reading"


def reading_uncertainty(check: Check, bench: Bench, reading: float, unit: str) -> float | None:
    """Return the expanded uncertainty (k = 2) of a reading, in its own unit; None where no range fits.

    The range is the smallest of the check's meter that reaches the reading, as a technician would choose it.
    """
    meter = bench.meters.get(check.meter)
    fit = _range(meter, reading, unit) if meter else None
    if fit is None:
        return None
    u = meter_uncertainty(
        convert(reading, unit, fit.unit), reading_percent=fit.reading_percent, counts=fit.counts, resolution=fit.resolution
    )
    return convert(expanded(u), fit.unit, unit)


def _range(meter: Meter, reading: float, unit: str) -> MeterRange | None:
    reach = [
        (abs(convert(r.up_to, r.unit, unit)), r)
        for r in meter.ranges
        if unit and (r.unit == unit or (dimension(unit) is not None and dimension(r.unit) == dimension(unit)))
    ]
    fits = [(up_to, r) for up_to, r in reach if up_to >= abs(reading)]
    return min(fits, key=lambda fit: (fit[0], fit[1].resolution))[1] if fits else None


def settled_by(check: Check, bench: Bench, *sides: Side | None) -> str:
    """Say in words what a verdict rests on: the meter and the decision rule."""
    meter = bench.meters.get(check.meter)
    results = [r for side in sides if side for r in (side.results, *(i.results for i in side.items))]
    known = [r["expanded_uncertainty"].value is not None for r in results if "expanded_uncertainty" in r]
    calibrated = f", calibrated {meter.calibrated.day} {meter.calibrated:%B %Y}" if meter and meter.calibrated else ""
    with_meter = f"Meter: {meter.title or meter.id}{calibrated}" if meter else "No meter is named, so no uncertainty is known"
    if all(side.verdict in (Verdict.INFORMATION, Verdict.NOT_MEASURED) for side in sides if side):
        return f"{with_meter}."
    return f"{with_meter}; {_rule(bench, meter, known)}."


def _rule(bench: Bench, meter: Meter | None, known: Sequence[bool]) -> str:
    """Say how the limits were taken; a reading that no range of the meter reaches has no uncertainty to guard them with."""
    if meter and not any(known):
        return "it has no range for these readings, so that no uncertainty is known; the limits are taken as they stand"
    if bench.rule is DecisionRule.SIMPLE or not meter:
        return "the limits are taken as they stand" + (" (simple acceptance)" if meter else "")
    some = "" if all(known) else ", where the meter has a range for the reading"
    return f"the limits are guarded by the expanded uncertainty (k = 2){some}"
