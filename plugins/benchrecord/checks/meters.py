"""The uncertainty that a meter gives a reading."""

from __future__ import annotations

import math
from collections.abc import Sequence

from benchrecord.bench.uncertainty import expanded, meter_uncertainty
from benchrecord.checks.kind import Bench
from benchrecord.model.findings import Side, Value, Verdict
from benchrecord.model.job import Check, DecisionRule, Meter, MeterRange
from benchrecord.model.numbers import shown
from benchrecord.model.prose import lower_first
from benchrecord.model.quantity import convert, dimension, shown_unit

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


def how_uncertain(check: Check, bench: Bench, what: str, reading: Value) -> str:
    """Tell how the uncertainty of one reading came about, with its own figures; why there is none where the meter gives none."""
    meter, number = bench.meters.get(check.meter), reading.value
    fit = _range(meter, number, reading.unit) if meter and isinstance(number, float) else None
    if meter is None or fit is None or not isinstance(number, float):
        return (
            "No meter is named, so nobody can say how uncertain a reading is."
            if meter is None
            else f"Of {meter.title}, {NO_RANGE}."
        )
    own = convert(number, reading.unit, fit.unit)
    limit = abs(own) * fit.reading_percent / 100 + fit.counts * fit.resolution
    doubled = reading_uncertainty(check, bench, number, reading.unit) or 0.0
    parts = [f"{fit.reading_percent:g} % of the reading"] if fit.reading_percent else []
    parts += (
        [
            f"{fit.counts:g} last digit{'' if fit.counts == 1 else 's'} of {shown(Value(fit.resolution, fit.unit, decimals=_digits(fit.resolution)))}"
        ]
        if fit.counts
        else []
    )
    return (
        f"For example {what}, {shown(reading)}: on its range up to {fit.up_to:g} {shown_unit(fit.unit)} the"
        f" {lower_first(meter.title or meter.id)} may be wrong by {' and '.join(parts) or 'nothing'}, which is"
        f" {_two_digits(limit, fit.unit)}. Evenly likely within that (÷ √3), and doubled (k = 2), this makes {_two_digits(convert(doubled, reading.unit, fit.unit), fit.unit)}."
    )


def _two_digits(number: float, unit: str) -> str:
    return shown(Value(number, unit, number)) if number else shown(Value(0.0, unit, decimals=0))


def _digits(number: float) -> int:
    return max(0, -math.floor(math.log10(number))) if number > 0 else 0


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
