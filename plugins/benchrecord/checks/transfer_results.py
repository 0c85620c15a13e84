"""What the readings of a transfer come to: departures from its law, slope, isolation, dead zone, and what a pair of channels tells."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from benchrecord.bench.conformity import verdict
from benchrecord.bench.levels import db_uncertainty
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.transfer import (
    TOO_FAR,
    DeadZone,
    Law,
    Pan,
    dead_zone,
    departures_from_slope,
    isolation_db,
    pan,
    straight_law,
)
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import NO_RANGE
from benchrecord.checks.transfer_readings import AXES, LEVELS, Point, Terms, in_span
from benchrecord.checks.wording import SAID
from benchrecord.model.findings import Item, Results, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import convert, dimension

NO_OFF = "nothing says at which input it is shut"
NO_SLOPE, NO_DEAD_ZONE = "a pan control has no single slope", "a pan control has no dead zone of its own"
NEEDS_TWO = "a pan control needs the channels left and right"
RESULTS = ("slope", "worst_departure", "isolation_db", "dead_zone", "expanded_uncertainty")


@dataclass(frozen=True, slots=True)
class Held:
    """One channel, or both sides of a pan control, held to a law: the readings in the range and what they depart from it.

    ``departures_u`` are the expanded uncertainties, None where one is not known; ``full_scale`` is what a limit in percent is of: the largest output in the range, of a meter the largest true value.
    """

    points: Sequence[Point]
    departures: Sequence[float]
    departures_u: Sequence[float | None] | None
    law: Law | None = None
    full_scale: float = 0.0
    pan: Pan | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """A channel with its verdict and results, and its worst departure in words."""

    item: Item
    worst: str = ""


def limit_of(check: Check, terms: Terms, full_scale: float) -> float | None:
    """Return the largest departure that is allowed, in what the law counts in; None where there is none, or it is of another kind."""
    if check.limit is None:
        return None
    unit = dimension(check.limit.unit)
    if unit == "%" and terms.unit not in ("dB", "%"):
        return abs(check.limit.in_base()) / 100 * full_scale
    if unit is None:
        return abs(check.limit.value)
    return abs(convert(check.limit.value, check.limit.unit or "", terms.unit)) if unit == dimension(terms.unit) else None


def held(check: Check, terms: Terms, points: Sequence[Point]) -> Held | NotHad:
    """Hold the readings of one channel to its law: the true value for a meter, a line of the nominal slope, or that of least squares."""
    kept = in_span(points, terms)
    x, y = [p.x for p in kept], [p.y or 0.0 for p in kept]
    known = [p.u for p in kept if p.u is not None]
    each_u = known if len(known) == len(kept) else None
    law, nominal = straight_law(x, y, each_u), check.keys.get("nominal_slope")
    if isinstance(law, NotHad):
        return law
    if terms.law != "meter" and nominal is not None:
        departures, departures_u = departures_from_slope(x, y, nominal, each_u)
        own = Held(kept, departures, departures_u, law, max(map(abs, y)))
        return own if all(map(math.isfinite, departures)) else NotHad(TOO_FAR)
    if terms.law != "meter" or (nominal is None and terms.input_unit != terms.output_unit):
        return Held(kept, law.departures, law.departures_u, law, max(map(abs, y)))
    true = [v * (1.0 if nominal is None else nominal) for v in x]
    departures = tuple(a - b for a, b in zip(y, true, strict=True))
    if not all(map(math.isfinite, departures)):
        return NotHad(TOO_FAR)
    return Held(kept, departures, [p.u for p in kept], law, max(map(abs, true)))


def held_pan(terms: Terms, channels: Mapping[str, Sequence[Point]]) -> Held | NotHad:
    """Hold both sides of a pan control together to the mean of its ends, at the positions where both were read."""
    if len(channels) != 2:  # noqa: PLR2004  # left and right
        return NotHad(NEEDS_TWO)
    first, second = (in_span(points, terms) for points in channels.values())
    both = {p.x: p for p in second}
    pairs = [(p, both[p.x]) for p in first if p.x in both]
    found = pan([a.x for a, _ in pairs], [a.y or 0.0 for a, _ in pairs], [b.y or 0.0 for _, b in pairs])
    if isinstance(found, NotHad):
        return found
    u = [_sum_u(a, b) for a, b in pairs]
    ends_u = None if u[0] is None or u[-1] is None else math.hypot(u[0], u[-1]) / 2
    sums_u = [None if own is None or ends_u is None else math.hypot(own, ends_u) for own in u]
    return Held([Point(a.x, a.output, None, a.y, None, _coarser(a, b)) for a, b in pairs], found.sums, sums_u, pan=found)


def _coarser(one: Point, other: Point) -> int | None:
    return None if one.decimals is None or other.decimals is None else min(one.decimals, other.decimals)


def _sum_u(one: Point, other: Point) -> float | None:
    """Return the uncertainty of the level of two powers together: each side counts by its share of the power (JCGM 100:2008, 5.1.2)."""
    if one.u is None or other.u is None or one.y is None or other.y is None:
        return None
    share = 1 / (1 + 10 ** ((other.y - one.y) / 10))
    return math.hypot(share * one.u, (1 - share) * other.u)


def judge(check: Check, bench: Bench, terms: Terms, channel: tuple[str, Sequence[Point]]) -> Judged:
    """Hold one channel to its law, and work out what else it tells."""
    name, points = channel
    own = held(check, terms, points)
    if isinstance(own, NotHad):
        return _not_had(name, own)
    item, worst = _judged(check, bench, terms, own)
    results = {
        "slope": _slope(terms, own),
        **item.results,
        "isolation_db": _isolation(terms, points),
        "dead_zone": _dead_zone(terms, points),
        **(_axis(terms, points) if name in AXES else {}),
        **_slope_error(check, own),
    }
    return Judged(Item(name, item.verdict, results), f"{name}: {worst}" if name and worst else worst)


def judge_pan(check: Check, bench: Bench, terms: Terms, channels: Mapping[str, Sequence[Point]]) -> Judged:
    """Hold both sides of a pan control together, and work out its middle, its match and what each side leaves at its far end."""
    own = held_pan(terms, channels)
    if isinstance(own, NotHad) or own.pan is None:
        return _not_had("", own if isinstance(own, NotHad) else NotHad(NEEDS_TWO))
    item, worst = _judged(check, bench, terms, own)
    middle = zip(channels, own.pan.sides_in_middle, strict=True)
    results = {
        "slope": Value(None, reason=NO_SLOPE),
        **item.results,
        "isolation_db": Value(own.pan.isolation, "dB", None, 1),
        "dead_zone": Value(None, terms.input_unit, reason=NO_DEAD_ZONE),
        "middle_db": Value(own.pan.middle, "dB", None, 2),
        **{f"{name}_in_middle_db": Value(level, "dB", None, 2) for name, level in middle},
        "channel_match": Value(own.pan.match, "dB", None, 2),
    }
    return Judged(Item("", item.verdict, results), worst)


def _not_had(name: str, why: NotHad) -> Judged:
    return Judged(Item(name, Verdict.NOT_MEASURED, dict.fromkeys(RESULTS, Value(None, reason=why.reason))))


def _judged(check: Check, bench: Bench, terms: Terms, own: Held) -> tuple[Item, str]:
    """Hold every departure against the limit; the severest verdict counts, and the largest departure that has it is named."""
    limit = limit_of(check, terms, own.full_scale)
    low, u = None if limit is None else -limit, own.departures_u or [None] * len(own.points)
    told = list(zip(own.points, own.departures, u, strict=True))
    verdicts = [Verdict(verdict(departure, du, low, limit, rule=bench.rule.value)) for _, departure, du in told]
    concluded = worst_of(verdicts)
    point, departure, du = max(
        (one for one, v in zip(told, verdicts, strict=True) if v is concluded), key=lambda one: abs(one[1])
    )
    results = {
        "worst_departure": Value(abs(departure), terms.unit, du, point.decimals),
        "worst_at": Value(point.x, terms.input_unit),
        "expanded_uncertainty": Value(du, terms.unit, reason="" if du is not None else NO_RANGE),
    }
    if own.full_scale and terms.unit != "dB":
        results["worst_percent"] = _percent(100 * (abs(departure) / own.full_scale))
    signed = shown(Value(departure, terms.unit, du, point.decimals), sign=True)
    return Item("", concluded, results), f"{signed} at {terms.input(point.x)}, {SAID[concluded]}" if concluded in SAID else ""


def _slope(terms: Terms, own: Held) -> Value:
    """Return the slope with what scatter, and of a plain unit the meter's own error of scale, leave it uncertain by."""
    unit = f"{terms.unit}/{terms.input_unit}" if terms.input_unit else f"{terms.unit} a step".strip()
    if own.law is None:
        return Value(None, unit, reason=NO_SLOPE)
    top = max(own.points, key=lambda p: abs(p.y or 0.0))
    scale_u = abs(own.law.slope * top.u / top.y) if terms.unit != "dB" and top.u is not None and top.y else 0.0
    u = None if own.law.slope_u is None else math.hypot(own.law.slope_u, scale_u)
    return Value(own.law.slope, unit, u if u and math.isfinite(u) else None, _digits(own.law.slope))


def _digits(number: float) -> int:
    """Return the decimals of four digits: readings of three tell no more of a slope, however little they scatter."""
    return 3 - math.floor(math.log10(abs(number))) if number else 3


def _slope_error(check: Check, own: Held) -> Results:
    nominal = check.keys.get("nominal_slope")
    return {"slope_error_percent": _percent(100 * (own.law.slope / nominal - 1))} if nominal and own.law else {}


def _percent(number: float) -> Value:
    return Value(number, "%", None, 2) if math.isfinite(number) else Value(None, "%", reason=TOO_FAR)


def _isolation(terms: Terms, points: Sequence[Point]) -> Value:
    """Return how far the output falls from its largest to where it is shut."""
    shut = next((p for p in points if terms.off_at is not None and math.isclose(p.x, terms.off_at, abs_tol=1e-9)), None)
    if shut is None:
        return Value(None, "dB", reason=NO_OFF if terms.off_at is None else f"no reading at {terms.input(terms.off_at)}")
    if terms.output_unit in LEVELS:
        full = max(points, key=lambda p: p.output)
        u = None if shut.u is None or full.u is None else math.hypot(shut.u, full.u)
        return Value(full.output - shut.output, "dB", u, 1)
    full = max(points, key=lambda p: abs(p.output))
    found = isolation_db(full.output, shut.output, shut.output_u)
    if isinstance(found, NotHad):
        return Value(None, "dB", reason=found.reason)
    parts = [db_uncertainty(p.output_u, p.output) for p in (full, shut) if p.output_u is not None]
    return Value(found, "dB", math.hypot(*parts) if len(parts) > 1 else None, 1)


def _dead_zone(terms: Terms, points: Sequence[Point]) -> Value:
    known = [p for p in points if p.y is not None]
    flat = max((p.u for p in known if p.u is not None), default=0.0) if terms.unit != "dB" else 0.0
    found = dead_zone([p.x for p in known], [p.y or 0.0 for p in known], flat=flat)
    if isinstance(found, NotHad):
        return Value(None, terms.input_unit, reason=found.reason)
    steps = [b.x - a.x for a, b in pairwise(known) if b.x > a.x]
    return Value(found.width if isinstance(found, DeadZone) else 0.0, terms.input_unit, None, _finest(min(steps, default=1.0)))


def _finest(step: float) -> int:
    """Return the decimals that readings so far apart support of where something begins between them: a tenth of a step, or so."""
    return max(0, 1 - math.floor(math.log10(step)))


def _axis(terms: Terms, points: Sequence[Point]) -> Results:
    """Return what else a controller tells: how far its output reaches, and what it gives at rest, at an input of zero."""
    low, high = (pick(points, key=lambda p: p.output) for pick in (min, max))
    rest = next((p for p in points if p.x == 0), None)
    told = {"lowest": low, "highest": high, "centre_offset": rest}
    nothing = Value(None, terms.output_unit, reason="no reading at an input of zero")
    return {n: Value(p.output, terms.output_unit, p.output_u, p.decimals) if p else nothing for n, p in told.items()}


def match(terms: Terms, channels: Mapping[str, Sequence[Point]]) -> Results:
    """Return how far two channels of a gain are apart where they are farthest, in what the law counts in; axes have no match."""
    if len(channels) != 2 or set(channels) & set(AXES):  # noqa: PLR2004  # a pair
        return {}
    first, second = ({p.x: p.y for p in in_span(points, terms)} for points in channels.values())
    apart = [abs((y or 0.0) - (second[x] or 0.0)) for x, y in first.items() if x in second]
    return {"channel_match": Value(max(apart), terms.unit, None, 2)} if apart else {}
