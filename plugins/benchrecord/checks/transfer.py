"""Transfer: what comes out for what goes in, of a gain, a pan control, a controller of one or two axes, or a meter."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

from benchrecord.bench.reasons import NotHad
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import reading_uncertainty, settled_by
from benchrecord.checks.transfer_readings import AXES, Point, Terms, channels_of, points_of, terms_of
from benchrecord.checks.transfer_results import Judged, held, held_pan, judge, judge_pan, limit_of, match
from benchrecord.checks.wording import NOT_YET, counted, listed, sides_said
from benchrecord.figures.style import Chart, channel_curves
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import shown_unit
from benchrecord.model.table import Column, Holds, KindSchema

STAGES = ("as_found", "as_left")
EACH = "each channel has its own"
LISTED = 40
KEPT = {
    "linear": "the output keeps to a straight line within",
    "decibel": "the gain keeps to even steps in decibels within",
    "pan": "both sides together stay as loud as at the ends within",
    "meter": "the meter shows what is true within",
}
LAWS = {
    "linear": "the line of least squares",
    "decibel": "the line of least squares through the levels in decibels",
    "pan": "the mean of the two ends, the powers of both sides added",
    "meter": "the true value",
}

SLOPED = ("linear", "decibel")  # laws that a nominal slope belongs to

SCHEMA = KindSchema(
    "transfer",
    columns=(
        Column("input", Holds.NUMBER, required=True),
        Column("channel", Holds.WORD, choice=("left", "right", *AXES)),
        *(Column(stage, Holds.NUMBER) for stage in STAGES),
    ),
    keys=(
        *(Column(name, Holds.UNIT) for name in ("input_unit", "output_unit")),
        Column("law", Holds.WORD, choice=tuple(LAWS)),
        Column("range", Holds.PAIR),
        *(Column(name, Holds.NUMBER) for name in ("nominal_slope", "off_at")),
    ),
    one_of=(STAGES,),
)


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Hold what comes out to its law, as found and as left."""
    terms = terms_of(check)
    found, left = (_side(check, bench, terms, stage) for stage in STAGES)
    stage = "as_left" if left else "as_found"
    table, whole = listed(_lines(check, terms), LISTED)
    return CheckFinding(
        check,
        limit=check.limit_text,
        found=found,
        left=left,
        table=table,
        plain=_plain(terms, found, left),
        method=_method(check, bench, terms, found, left),
        basis=_basis(check, terms, _channels(check, bench, terms, stage), left or found),
        curve=whole,
    )


def _law_words(check: Check, terms: Terms) -> str:
    """Name what the readings are held to."""
    nominal = check.keys.get("nominal_slope")
    return (
        LAWS[terms.law]
        if nominal is None or terms.law not in SLOPED
        else f"the line of the nominal slope, {nominal:g}, through their mean"
    )


def _channels(check: Check, bench: Bench, terms: Terms, stage: str) -> dict[str, list[Point]]:
    """Return the readings of one side by channel, with what the meter leaves uncertain."""
    of_meter = partial(reading_uncertainty, check, bench)
    return {c: points_of(check, terms, stage, c, of_meter=of_meter) for c in channels_of(check)}


def _side(check: Check, bench: Bench, terms: Terms, stage: str) -> Side | None:
    channels = _channels(check, bench, terms, stage)
    if not any(channels.values()):
        return None
    if terms.law == "pan":
        return _of_one(judge_pan(check, bench, terms, channels))
    judged = [judge(check, bench, terms, channel) for channel in channels.items()]
    return _of_one(judged[0]) if len(judged) == 1 else _of_channels(terms, judged, channels)


def _of_one(judged: Judged) -> Side:
    item = judged.item
    reason = item.results["worst_departure"].reason if item.verdict is Verdict.NOT_MEASURED else ""
    return Side(item.verdict, item.results, (), judged.worst, reason)


def _of_channels(terms: Terms, judged: Sequence[Judged], channels: Mapping[str, Sequence[Point]]) -> Side:
    """Make a side of its channels: the worst departure, the least isolation and the widest dead zone are its own."""
    concluded = worst_of(j.item.verdict for j in judged)
    worst = max((j for j in judged if j.item.verdict is concluded), key=lambda j: _number(j.item, "worst_departure") or 0.0)
    results = {
        **worst.item.results,
        "slope": Value(None, reason=EACH),
        "isolation_db": _extreme([j.item for j in judged], "isolation_db", least=True),
        "dead_zone": _extreme([j.item for j in judged], "dead_zone", least=False),
        **match(terms, channels),
    }
    kept = {n: v for n, v in results.items() if n not in ("slope_error_percent", "lowest", "highest", "centre_offset")}
    reason = results["worst_departure"].reason if concluded is Verdict.NOT_MEASURED else ""
    return Side(concluded, kept, tuple(j.item for j in judged), worst.worst, reason)


def _number(item: Item, name: str) -> float | None:
    value = item.results[name].value
    return value if isinstance(value, float) else None


def _extreme(items: Sequence[Item], name: str, *, least: bool) -> Value:
    known = [(number, i.results[name]) for i in items if (number := _number(i, name)) is not None]
    return (min if least else max)(known, key=lambda one: one[0])[1] if known else items[0].results[name]


def _plain(terms: Terms, found: Side | None, left: Side | None) -> str:
    """Say for a client how well it keeps to its law: ``As left, the output keeps to a straight line within 0.03 V; as found it was 0.9 V``."""
    side = left or found
    if side is None:
        return NOT_YET
    if side.reason:
        return f"Not worked out: {side.reason}."
    before, now = (shown(s.results["worst_departure"]) if s and not s.reason else "" for s in (found, left))
    said = f"As {'left' if left else 'found'}, {KEPT[terms.law]} {now or before}"
    then = f"; as found it was {before}" if now and before else "" if left else "; it is not measured as left yet"
    return f"{said}{then}.{_still(found, left)}{_shut(terms, found, left)}"


def _still(found: Side | None, left: Side | None) -> str:
    """Tell of a dead zone that is there, or that is gone."""
    widths = (s.results["dead_zone"] if s else Value(None) for s in (found, left))
    before, now = (shown(v) if v.value and v.value != 0 else "" for v in widths)
    if now:
        return f" Over {now} of its travel nothing changes{f'; as found it was {before}' if before else ''}."
    if before:
        return f" As found nothing changed over {before} of its travel{'; as left there is no such zone' if left else ''}."
    return ""


def _shut(terms: Terms, found: Side | None, left: Side | None) -> str:
    """Tell how far it falls when it is shut, or a side of a pan control that is turned away from."""
    before, now = (shown(s.results["isolation_db"]) if s and _had(s, "isolation_db") else "" for s in (found, left))
    head = "Turned away from, a side" if terms.law == "pan" else "Shut, it"
    if now:
        return f" {head} falls by {now}{f'; as found by {before}' if before else ''}."
    return f" {head} fell by {before} as found." if before else ""


def _had(side: Side, name: str) -> bool:
    return side.results[name].value is not None


def _method(check: Check, bench: Bench, terms: Terms, *sides: Side | None) -> str:
    span = f" from {terms.input(terms.span[0])} to {terms.input(terms.span[1])}" if terms.span else ""
    said = [settled_by(check, bench, *sides), f"Departures are from {_law_words(check, terms)}{span}."]
    if terms.off_at is not None:
        said.append(f"It counts as shut at {terms.input(terms.off_at)}.")
    side = next((s for s in reversed(sides) if s), None)
    return " ".join([*said, *(_told(side) if side else ())])


def _told(side: Side) -> Iterator[str]:
    """Yield what else a side tells, a sentence each."""
    middle = [
        f"{name.removesuffix('_in_middle_db')} at {shown(v)}"
        for name, v in side.results.items()
        if name.endswith("_in_middle_db")
    ]
    if "middle_db" in side.results:
        together = shown(side.results["middle_db"], sign=True)
        yield f"In the middle both sides together stand at {together}; against its own full level {' and '.join(middle)}."
    if "channel_match" in side.results:
        yield f"The channels are apart by at most {shown(side.results['channel_match'])}."
    if "slope_error_percent" in side.results:
        yield f"The slope differs from the nominal one by {shown(side.results['slope_error_percent'], sign=True)}."


def _basis(check: Check, terms: Terms, channels: Mapping[str, Sequence[Point]], side: Side | None) -> str:
    """Tell how slope, departure and isolation came about, of the first channel where there are several."""
    if side is None or side.reason:
        return ""
    name, points = next((name, points) for name, points in channels.items() if points)
    results = next((i.results for i in side.items if i.item == name), side.results)
    ends = f"between {terms.input(points[0].x)} and {terms.input(points[-1].x)}"
    of = f" of {name}" if side.items and name else ""
    law = _law_words(check, terms)
    said = [f"{law[:1].upper()}{law[1:]} is what {counted(len(points), 'reading')}{of} {ends} were held to."]
    slope, departure, isolation = (results[name] for name in ("slope", "worst_departure", "isolation_db"))
    scale = departure.uncertainty is not None and terms.unit != "dB"
    if slope.uncertainty:
        said.append(
            f"The slope, {shown(slope)}, is uncertain by {shown(Value(slope.uncertainty, slope.unit, slope.uncertainty))}: the scatter of the"
            f" readings about the line, with Student's factor for so few{', and the error of scale of the meter' if scale else ''}."
        )
    if departure.uncertainty:
        u = Value(departure.uncertainty, departure.unit, departure.uncertainty)
        said.append(
            f"A departure is uncertain by the meter's range for its reading and for those it is held to: {shown(u)} where it is largest (k = 2)."
        )
    elif departure.value is not None:
        said.append("No range of a meter is given for these readings, so that no uncertainty of a departure is known.")
    if isolation.value is not None:
        said.append(f"The isolation, {shown(isolation)}, is the largest output against what is left when it is shut.")
    return " ".join(said)


def _lines(check: Check, terms: Terms) -> DataTable:
    """Return every reading with its departure, a line for each input and channel."""
    named = channels_of(check) != ("",)
    decimals = max((row.decimals("input") or 0 for row in (check.table.rows if check.table else ())), default=0)
    lines: list[tuple[Value | str, ...]] = []
    for channel in channels_of(check):
        sides = [{p.x: p for p in points_of(check, terms, stage, channel)} for stage in STAGES]
        apart = [_departures(check, terms, stage).get("" if terms.law == "pan" else channel, ()) for stage in STAGES]
        for x in sorted({x for side in sides for x in side}):
            cells = (cell for side, own in zip(sides, apart, strict=True) for cell in _cells(side.get(x), dict(own).get(x)))
            lines.append((*([channel] if named else []), Value(x, decimals=decimals), *cells))
    unit = f" in {shown_unit(terms.output_unit)}" if terms.output_unit else ""
    law_unit = f" in {shown_unit(terms.unit)}" if terms.unit else ""
    titles = (t for when in ("as found", "as left") for t in (f"{when.capitalize()}{unit}", f"Departure {when}{law_unit}"))
    in_unit = f" in {shown_unit(terms.input_unit)}" if terms.input_unit else ""
    return DataTable((*(["Channel"] if named else []), f"Input{in_unit}", *titles), tuple(lines))


def _cells(point: Point | None, departure: float | None) -> tuple[Value, Value]:
    if point is None:
        return Value(None), Value(None)
    return Value(point.output, decimals=point.read), Value(departure, decimals=point.decimals)


def _departures(check: Check, terms: Terms, stage: str) -> dict[str, list[tuple[float, float]]]:
    """Return input and departure of one side by channel; of a pan control those of both sides together, under no name."""
    channels = {c: points_of(check, terms, stage, c) for c in channels_of(check)}
    if terms.law == "pan":
        found = {"": held_pan(terms, channels)}
    else:
        found = {c: held(check, terms, points) for c, points in channels.items()}
    return {
        c: [(p.x, d) for p, d in zip(own.points, own.departures, strict=True)]
        for c, own in found.items()
        if not isinstance(own, NotHad)
    }


def chart(finding: CheckFinding) -> Chart | None:
    """Draw the departures over the input, as found and as left, with the limit as a band."""
    check = finding.check
    terms = terms_of(check)
    found, left = (_departures(check, terms, stage) for stage in STAGES)
    if not found and not left:
        return None
    limit = limit_of(check, terms, _full_scale(check, terms))
    unit = f" in {shown_unit(terms.unit)}" if terms.unit else ""
    in_unit = f" in {shown_unit(terms.input_unit)}" if terms.input_unit else ""
    what = "both sides together" if terms.law == "pan" else "departure from the law"
    paint = channel_curves(
        found, left, labels=(f"input{in_unit}", f"{what}{unit}"), limits=None if limit is None else (-limit, limit)
    )
    side = finding.now
    worst = f" Farthest off {'as left' if finding.left else 'as found'}: {side.worst}." if side and side.worst else ""
    caption = f"{finding.plain} The curves are what the readings depart from {_law_words(check, terms)}.{worst}"
    alt = f"{check.title}: {what}{unit} over the input{in_unit}, {sides_said(finding)}. {caption}"
    return Chart(check.title, caption, alt, paint, left_margin=0.16)


def _full_scale(check: Check, terms: Terms) -> float:
    """Return what a limit in percent is of, for the chart: that of the last side and its first channel."""
    for stage in reversed(STAGES):
        for channel in channels_of(check):
            own = held(check, terms, points_of(check, terms, stage, channel))
            if not isinstance(own, NotHad):
                return own.full_scale
    return 0.0


def _unused_limit(check: Check) -> str:
    terms = terms_of(check)
    unused = check.limit and limit_of(check, terms, 1.0) is None
    return f"a limit of departures in {shown_unit(terms.unit) or 'a plain number'}" if unused else ""


KIND = Kind(SCHEMA, "Transfer", examine, chart, _unused_limit)
