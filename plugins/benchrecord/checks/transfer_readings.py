"""The readings of a transfer: in one unit, by channel, in the order of the input, as its law counts them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from benchrecord.bench.levels import db_uncertainty, ratio_db
from benchrecord.model.job import Check
from benchrecord.model.quantity import convert, dimension, shown_unit
from benchrecord.model.table import Row

LEVELS = ("dB", "dBu", "dBV", "dBFS")
IN_DECIBELS = ("decibel", "pan")
AXES = ("x", "y")

OfMeter = Callable[[float, str], float | None]  # the expanded uncertainty of a reading in a unit


@dataclass(frozen=True, slots=True)
class Terms:
    """What a transfer is held to: its law, its units, the range that the law is asked for, and the input at which it is shut.

    ``unit`` is what the law counts in: dB where it is one of levels, else the unit of the output.
    """

    law: str
    input_unit: str
    output_unit: str
    unit: str
    span: tuple[float, float] | None = None
    off_at: float | None = None

    def input(self, value: float) -> str:
        """Write an input with its unit."""
        return f"{value:g} {shown_unit(self.input_unit)}".strip().replace("-", "−")


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: the input, what came out, and that as the law counts it, with its expanded uncertainty.

    ``y`` is None where nothing came out of what counts in decibels. ``read`` are the decimals of the output, ``decimals`` those of ``y``.
    """

    x: float
    output: float
    output_u: float | None
    y: float | None
    u: float | None
    decimals: int | None
    read: int | None = None


def terms_of(check: Check) -> Terms:
    """Return what a check is held to; a law that is not written is decibel for levels and linear for all else."""
    keys, rows = check.keys, check.table.rows if check.table else ()
    written = next((u for row in rows for c in ("as_left", "as_found") if (u := row.unit(c))), "")
    level = keys.get("law") in IN_DECIBELS and not written
    output_unit = str(keys.get("output_unit") or written or ("dB" if level else ""))
    input_unit = str(keys.get("input_unit") or next((u for row in rows if (u := row.unit("input"))), ""))
    law = str(keys.get("law") or ("decibel" if output_unit in LEVELS else "linear"))
    unit = "dB" if law in IN_DECIBELS or output_unit in LEVELS else output_unit
    return Terms(law, input_unit, output_unit, unit, keys.get("range"), keys.get("off_at"))


def _in(value: float, own: str | None, unit: str) -> float:
    """Bring a number to a unit where it has another one of the same quantity."""
    return convert(value, own, unit) if own and unit and dimension(own) == dimension(unit) else value


def channels_of(check: Check) -> tuple[str, ...]:
    """Return the channels or axes of a table in their order; one without a name where it has none."""
    return tuple(dict.fromkeys(row.text("channel") for row in (check.table.rows if check.table else ()))) or ("",)


def points_of(check: Check, terms: Terms, stage: str, channel: str, *, of_meter: OfMeter | None = None) -> list[Point]:
    """Return the readings of one side and channel, from the lowest input up."""
    rows = [row for row in (check.table.rows if check.table else ()) if row.text("channel") == channel]
    known = [row for row in rows if row.number("input") is not None and row.number(stage) is not None]
    return sorted((_point(row, terms, stage, of_meter) for row in known), key=lambda p: p.x)


def _point(row: Row, terms: Terms, stage: str, of_meter: OfMeter | None) -> Point:
    x = _in(row.number("input") or 0.0, row.unit("input"), terms.input_unit)
    output = _in(row.number(stage) or 0.0, row.unit(stage), terms.output_unit)
    u, read = of_meter(output, terms.output_unit) if of_meter else None, row.decimals(stage)
    if terms.unit != "dB" or terms.output_unit in LEVELS:
        return Point(x, output, u, output, u, read, read)
    level = ratio_db(convert(output, terms.output_unit, "V") if dimension(terms.output_unit) == "V" else output, 1.0)
    if not isinstance(level, float):
        return Point(x, output, u, None, None, 2, read)
    return Point(x, output, u, level, None if u is None else db_uncertainty(u, output), 2, read)


def in_span(points: Sequence[Point], terms: Terms) -> list[Point]:
    """Return the readings that the law is asked for: those of the range, else all but what is shut."""
    known = [p for p in points if p.y is not None]
    if terms.span:
        return [p for p in known if terms.span[0] <= p.x <= terms.span[1]]
    return [p for p in known if terms.law != "decibel" or p.x != terms.off_at]
