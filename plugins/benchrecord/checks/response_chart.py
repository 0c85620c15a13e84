"""The chart of a response: levels over frequency with the cut-offs, or results over the positions of a control."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchrecord.checks.response_words import hz_said
from benchrecord.checks.wording import sides_said
from benchrecord.figures.style import Chart, Mark, bars, curves, marked
from benchrecord.model.findings import CheckFinding, DataTable, Side, Value

DEEPEST_DB = 80.0  # below the highest level: what lies farther down is what was measured with
SPARE = 0.04  # of the height, below the lowest reading, so that its mark is whole
BOTTOM = 0.06  # of the height: there the names of cut-offs stand
Points = list[tuple[float, float]]


def chart(finding: CheckFinding) -> Chart | None:
    """Draw levels over frequency, each cut-off marked; of a control's positions what the limit is held against, or the peak."""
    sides = [side for side in (finding.found, finding.left) if side]
    if any(side.items for side in sides):
        return _over_positions(finding)
    lines = finding.curve or finding.table
    unit = "cents" if finding.check.keys.get("oscillation") else "dB"
    found, left = (_column(lines, f"As {when} in {unit}") for when in ("found", "left"))
    if not found and not left:
        return None
    return _over_time(finding, found, left) if unit == "cents" else _over_frequency(finding, found, left)


def _over_frequency(finding: CheckFinding, found: Points, left: Points) -> Chart:
    low, high = _reach([*found, *left])
    low = max(low, high - DEEPEST_DB)
    floor = low - SPARE * (high - low)
    names_at = floor + BOTTOM * (high - floor)
    marks = [_cutoffs(side, points, names_at) for side, points in ((finding.found, found), (finding.left, left))]
    labels = ("frequency in Hz", "level in dB")
    paint = _down_to(floor, curves(found, left, labels=labels, log_x=True, markers=finding.curve is None))
    told = "dotted lines stand where the level has fallen by 3 dB from the pass band"
    caption = f"{finding.plain} The curves are levels over frequency; {told}."
    alt = f"{finding.check.title}: level in dB from {low:.0f} to {high:.0f} dB over frequency, {sides_said(finding)}. {caption}"
    return Chart(finding.check.title, caption, alt, marked(paint, found=marks[0], left=marks[1]))


def _down_to(level: float, paint: Callable[[Any], None]) -> Callable[[Any], None]:
    """Return a painter that shows nothing below a level."""

    def over(axes: Any) -> None:
        paint(axes)
        axes.set_ylim(bottom=level)

    return over


def _over_time(finding: CheckFinding, found: Points, left: Points) -> Chart:
    caption = f"{finding.plain} Drawn is how far the pitch is from its mean."
    alt = f"{finding.check.title}: departure from the mean pitch in cents over time, {sides_said(finding)}. {caption}"
    paint = curves(found, left, labels=("time in s", "departure in cents"), markers=True)
    return Chart(finding.check.title, caption, alt, paint)


def _column(lines: DataTable, name: str) -> Points:
    if name not in lines.columns:
        return []
    at = lines.columns.index(name)
    cells = [(row[0], row[at]) for row in lines.rows]
    numbers = [(x.value, y.value) for x, y in cells if isinstance(x, Value) and isinstance(y, Value)]
    return [(x, y) for x, y in numbers if isinstance(x, float) and isinstance(y, float)]


def _reach(points: Points) -> tuple[float, float]:
    levels = [y for _, y in points]
    return min(levels), max(levels)


def _cutoffs(side: Side | None, points: Points, bottom: float) -> Sequence[Mark]:
    """Return a line from the curve down at each cut-off."""
    if side is None or not points:
        return []
    cutoffs = [side.results.get(name, Value(None)).value for name in ("minus_3_db_low_hz", "minus_3_db_high_hz")]
    known = [hz for hz in cutoffs if isinstance(hz, float)]
    outside = [len(known) > 1, False]  # the names of a band's ends stand outside it, so that they do not meet
    return [_cutoff(hz, points, bottom, before=before) for hz, before in zip(known, outside, strict=False)]


def _cutoff(hz: float, points: Points, bottom: float, *, before: bool) -> Mark:
    level = min(points, key=lambda point: abs(point[0] - hz))[1]
    return Mark((hz, level), (hz, bottom), hz_said(hz), before)


def _over_positions(finding: CheckFinding) -> Chart | None:
    """Draw one result over the positions of the control: the peak where there is one anywhere, else the cut-off or the frequency."""
    names = {"peak_db": "peak in dB", "minus_3_db_hz": "cut-off in Hz", "frequency_hz": "frequency in Hz"}
    sides = [_of_items(side) for side in (finding.found, finding.left)]
    peaks = any(
        isinstance(i.results.get("peak_hz", Value(None)).value, float)
        for s in (finding.found, finding.left)
        if s
        for i in s.items
    )
    order = ["peak_db", "minus_3_db_hz", "frequency_hz"] if peaks else ["minus_3_db_hz", "frequency_hz", "peak_db"]
    name = next((n for n in order if any(n in own and own[n] for own in sides)), None)
    if name is None:
        return None
    found, left = (own.get(name, {}) for own in sides)
    positions = list(dict.fromkeys([*found, *left]))
    control = str(finding.check.keys.get("control") or "position")
    caption = f"{finding.plain} Drawn is the {names[name]} over {control}."
    alt = f"{finding.check.title}: {names[name]} over {control}, {sides_said(finding)}. {caption}"
    if all(_is_number(at) for at in positions):
        pairs = [sorted((float(at), y) for at, y in own.items()) for own in (found, left)]
        return Chart(finding.check.title, caption, alt, curves(*pairs, labels=(control, names[name]), markers=True))
    values = [[own.get(at) for at in positions] for own in (found, left)]
    return Chart(finding.check.title, caption, alt, bars(positions, *values, axes_labels=(control, names[name])))


def _of_items(side: Side | None) -> dict[str, dict[str, float]]:
    """Return each number of a side's items by its name, then by the position."""
    found: dict[str, dict[str, float]] = {}
    for item in side.items if side else ():
        for name, value in item.results.items():
            if isinstance(value.value, float):
                found.setdefault(name, {})[item.item] = value.value
    return found


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
