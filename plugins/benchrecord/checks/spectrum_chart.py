"""The one picture of a spectrum: harmonics as bars, the density of noise over the octaves, the lines of a product, or results over a control."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchrecord.checks.spectrum_limits import REJECTIONS, target_of
from benchrecord.checks.spectrum_takes import MAIN, NOISE, PRODUCT, SINE, expected
from benchrecord.checks.spectrum_words import main_result, positions
from benchrecord.checks.wording import sides_said
from benchrecord.figures.style import Chart, Limits, Mark, bars, curves, marked
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value
from benchrecord.model.job import Check
from benchrecord.model.quantity import dimension

Painter = Callable[[Any], None]  # draws on given axes
DRAWN = 12  # harmonics
STEP_DB, LOWEST_DB, DEEPEST_DB = 10.0, -40.0, -120.0  # the foot of the bars
LABELS = {
    "thd_percent": "distortion in %",
    "duty_percent": "high part of the period in %",
    "rise_percent": "rising part of the period in %",
    "slope_db_per_octave": "slope in dB an octave",
    "fundamental_hz": "frequency in Hz",
    "carrier_rejection_db": "worse rejection in dB",
}


def chart(finding: CheckFinding) -> Chart | None:
    """Draw what was heard, as found and as left."""
    if not finding.table.rows or not sides_said(finding) or not _anything(finding.table):
        return None
    check = finding.check
    across = any(side and side.items for side in (finding.found, finding.left))
    paint, said = (_over_control if across else _of_noise if expected(check) == NOISE else _of_lines)(finding)
    caption = f"{finding.plain} {said}"
    alt = f"{check.title}: {said[0].lower()}{said[1:].rstrip('.')}, {sides_said(finding)}. {finding.plain}"
    return Chart(check.title, caption, alt, paint, left_margin=0.16)


def _anything(table: DataTable) -> bool:
    return any(isinstance(cell, Value) and isinstance(cell.value, float) for row in table.rows for cell in row[1:])


def _numbers(table: DataTable, column: int) -> list[float | None]:
    cells = (row[column] for row in table.rows)
    return [c.value if isinstance(c, Value) and isinstance(c.value, float) else None for c in cells]


def _of_lines(finding: CheckFinding) -> tuple[Painter, str]:
    """Bars of the harmonics, or of the four lines of a product with its limit."""
    product = expected(finding.check) == PRODUCT
    kept = len(finding.table.rows) if product else DRAWN
    labels = [str(row[0]) for row in finding.table.rows][:kept]
    found, left = (_numbers(finding.table, column)[:kept] for column in (2, 3))
    lowest = min((v for v in (*found, *left) if v is not None), default=0.0)
    foot = max(DEEPEST_DB, min(LOWEST_DB, STEP_DB * (lowest // STEP_DB)))
    against = "the stronger of sum and difference" if product else "the fundamental"
    what = "what is heard at each frequency" if product else f"the first {len(labels)} harmonics"
    limit = finding.check.limit if product else None
    held = limit is not None and dimension(limit.unit) in ("dB", None)
    axes_labels = ("", "level in dB") if product else ("harmonic", "level in dB")
    painted = bars(
        labels, found, left, axes_labels=axes_labels, floor=foot, limits=(None, limit.value) if limit and held else None
    )
    return painted, f"The bars are {what}, in dB against {against}."


def _of_noise(finding: CheckFinding) -> tuple[Painter, str]:
    """Levels of the octaves with the line through them."""
    hz = [float(str(row[0])) for row in finding.table.rows]
    found, left, found_line, left_line = (_joined(hz, _numbers(finding.table, column)) for column in (1, 3, 2, 4))
    painted = curves(found, left, labels=("Hz", "density in dB of full scale"), log_x=True, markers=True)
    lines = [[Mark(line[0], line[-1])] if line else [] for line in (found_line, left_line)]
    said = "The points are the mean density in each octave, the dotted lines those of least squares whose slope is told."
    return marked(painted, found=lines[0], left=lines[1]), said


def _joined(x: Sequence[float], y: Sequence[float | None]) -> list[tuple[float, float]]:
    return [(a, b) for a, b in zip(x, y, strict=True) if b is not None]


def _over_control(finding: CheckFinding) -> tuple[Painter, str]:
    """Draw the result over the position of the control, or as bars where its positions have names."""
    check, name = finding.check, main_result(finding.check)
    control = str(check.keys.get("control") or "the control")
    sides = [side.items if side else () for side in (finding.found, finding.left)]
    placed = [positions(items) for items in sides]
    said = f"{LABELS[name][:1].upper()}{LABELS[name][1:]} at each position of {control}."
    if any(p is None for p in placed):
        labels = [str(row[0]) for row in finding.table.rows]
        found, left = ([_value(check, items, label) for label in labels] for items in sides)
        lowest = min((v for v in (*found, *left) if v is not None), default=0.0)
        return bars(
            labels, found, left, axes_labels=(control, LABELS[name]), floor=min(0.0, STEP_DB * (lowest // STEP_DB))
        ), said
    found_points, left_points = (_points(check, p or []) for p in placed)
    labels_of_axes = (control, LABELS[name])
    return curves(found_points, left_points, labels=labels_of_axes, markers=True, limits=_limits(check, finding.now)), said


def _points(check: Check, placed: Sequence[tuple[float, Item]]) -> list[tuple[float, float]]:
    return [(at, value) for at, item in placed if (value := _drawn(check, item)) is not None]


def _value(check: Check, items: Sequence[Item], label: str) -> float | None:
    return next((_drawn(check, item) for item in items if item.item == label), None)


def _drawn(check: Check, item: Item) -> float | None:
    """Return what is drawn of a position: the result, of a product the worse of both."""
    names = REJECTIONS.values() if expected(check) == PRODUCT else (main_result(check),)
    known = [v for n in names if isinstance(v := item.results.get(n, Value(None)).value, float)]
    return max(known) if known else None


def _limits(check: Check, side: Side | None) -> Limits | None:
    """Return what is allowed of the result, where it is the same at every position."""
    if check.limit is None or side is None:
        return None
    limit, unit, expect = check.limit.in_base(), dimension(check.limit.unit), expected(check)
    if unit in ("cents", "Hz"):
        return None
    if expect in (SINE, PRODUCT):
        return (None, limit)
    targets = {target_of(check, item.results) for item in side.items if MAIN[expect] in item.results}
    return (min(targets) - limit, max(targets) + limit) if len(targets) == 1 else None
