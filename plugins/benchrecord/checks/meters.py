"""The uncertainty that a meter gives a reading."""

from __future__ import annotations

from benchrecord.bench.uncertainty import expanded, meter_uncertainty
from benchrecord.checks.kind import Bench
from benchrecord.model.job import Check, Meter, MeterRange
from benchrecord.model.quantity import convert, dimension

NO_METER = "no meter range is given for this reading"


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
    fits = sorted((up_to, r.resolution, r) for up_to, r in reach if up_to >= abs(reading))
    return fits[0][2] if fits else None


def settled_by(check: Check, bench: Bench) -> str:
    """Say in words what a verdict rests on: the meter and the decision rule."""
    meter = bench.meters.get(check.meter)
    with_meter = (
        f"Read with the {meter.title[0].lower()}{meter.title[1:]}" if meter else "No meter is named, so no uncertainty is known"
    )
    calibrated = f", calibrated {meter.calibrated.isoformat()}" if meter and meter.calibrated else ""
    if meter is None:
        return f"{with_meter}; the limits are taken as they stand."
    rule = (
        "the limits are guarded by the expanded uncertainty (k = 2)"
        if bench.rule == "guarded"
        else "the limits are taken as they stand (simple acceptance)"
    )
    return f"{with_meter}{calibrated}; {rule}."
