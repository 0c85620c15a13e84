"""What the user allows of a safety test. There are no limits here: one that is not written, or reads in two ways, judges nothing."""

from __future__ import annotations

import re
from dataclasses import dataclass

from benchrecord.model.findings import Value
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import Quantity, convert, dimension, shown_unit
from benchrecord.model.table import Row

NO_LIMIT = "no limit is written"
TWICE = "limit and low or high are both written: keep one of them"
WHICH = "it is not written whether the limit is the most or the least that may be read: write <= or >= before it"
NO_UNIT = "the unit of the reading is not written"
NOTHING_FAILS = "a limit that no reading can fail is none"
AGAINST_NATURE = {
    "most": "this test has a most that may be read, not a least",
    "least": "this test has a least that may be read, not a most",
}
INSULATION = re.compile(r"insulat|isolat", re.IGNORECASE)
CONDUCTOR = re.compile(r"conductor|bond|earth|ground|continuity|\bPE\b", re.IGNORECASE)
# No conductor that protects has as much, no insulation as little; where a test's name leaves it open, this tells which it is.
INSULATION_FROM_OHM, CONDUCTOR_TO_OHM = 10e3, 10.0


@dataclass(frozen=True, slots=True)
class Allowed:
    """What a test may read, in the unit of its row; without either limit ``none`` says why."""

    low: float | None = None
    high: float | None = None
    unit: str = ""
    decimals: int | None = None
    none: str = ""

    @property
    def words(self) -> str:
        """The limit in words: ``at most 0.3 Ω``."""
        low, high = (None if x is None else self._written(x) for x in (self.low, self.high))
        if low and high:
            return f"{low} to {high}"
        return f"at most {high}" if high else f"at least {low}" if low else "no limit"

    def _written(self, limit: float) -> str:
        if self.decimals is None:
            return f"{limit:.6g} {shown_unit(self.unit)}".strip()
        return shown(Value(limit, self.unit, decimals=self.decimals))


def unit_of(row: Row) -> str:
    """Return the unit of a row: the one it names, else the one that a reading is written in."""
    named = row.cells["unit"].value if "unit" in row.cells else None
    if isinstance(named, str):
        return named
    return next((u for name in ("as_left", "as_found", "low", "high") if (u := row.unit(name))), "")


def allowed(row: Row, check: Check) -> Allowed:
    """Return what a row's readings may be.

    ``low`` and ``high`` say it themselves. A ``limit`` says it with ``<=`` or ``>=``; a bare one is the most of a current and of a
    protective conductor's resistance, and the least of an insulation resistance. The check's own limit counts for rows without one,
    where it is written with their quantity.
    """
    low, high, unit = row.number("low"), row.number("high"), unit_of(row)
    limit, bound = _limit(row, check, unit)
    bounded = low is not None or high is not None
    if limit and bounded and row.number("limit") is not None:
        return Allowed(none=TWICE)
    if bounded:
        decimals = max((d for d in (row.decimals("low"), row.decimals("high")) if d is not None), default=None)
        return _sound(row.text("test"), Allowed(low, high, unit, decimals))
    return _of_limit(row.text("test"), limit, bound, unit) if limit else Allowed(none=NO_LIMIT)


def _limit(row: Row, check: Check, unit: str) -> tuple[Quantity | None, str]:
    value = row.number("limit")
    if value is not None:
        cell = row.cells["limit"]
        return Quantity(value, cell.unit, cell.text, cell.decimals, cell.either_sign), cell.bound
    whole = check.limit
    return (whole if whole and whole.unit and dimension(whole.unit) == dimension(unit) else None), ""


def _of_limit(test: str, limit: Quantity, bound: str, unit: str) -> Allowed:
    """Bring a limit to the unit of its readings, and find out which side of it is allowed."""
    if limit.unit and not unit:
        return Allowed(none=NO_UNIT)
    if limit.unit and dimension(limit.unit) != dimension(unit):
        return Allowed(none=f"a limit in {limit.unit} is none for a reading in {unit}")
    value = convert(limit.value, limit.unit, unit) if limit.unit else limit.value
    either = "most" if limit.either_sign and dimension(unit) in ("A", "V") else ""
    side = bound or either or usual_side(test, value, unit)
    if not side:
        return Allowed(none=WHICH)
    decimals = limit.decimals if limit.unit in (None, unit) else None
    low, high = (None, value) if side == "most" else (value, None)
    return _sound(test, Allowed(low, high, unit, decimals))


def usual_side(test: str, limit: float, unit: str) -> str:
    """Return which side of a bare limit bounds a test: ``most``, ``least``, or nothing where its name and size do not tell.

    Currents that leak have a most. Of resistances the name tells; a name that speaks of both, as *insulation, mains to earth*, is settled
    by the size of its limit, and one that its limit's size contradicts tells nothing (common practice, no source).
    """
    if dimension(unit) != "ohm":
        return "most" if dimension(unit) == "A" else ""
    ohm = convert(limit, unit, "ohm")
    sized = "least" if ohm >= INSULATION_FROM_OHM else "most" if ohm <= CONDUCTOR_TO_OHM else ""
    named = [side for words, side in ((INSULATION, "least"), (CONDUCTOR, "most")) if words.search(test)]
    if len(named) == 1:
        return named[0] if sized in ("", named[0]) else ""
    return sized if named else ""


def _sound(test: str, found: Allowed) -> Allowed:
    """Refuse limits that nothing could fail, and those on the side that bounds no such test."""
    if found.low is None and found.high is not None and found.high < 0:
        return Allowed(none="a most below zero is no limit")
    if found.high is None and (found.low or 0.0) <= 0:
        return Allowed(none=NOTHING_FAILS)
    if found.low is not None and found.high is not None:
        return found if found.low <= found.high else Allowed(none="its low limit lies above its high one")
    written = "most" if found.low is None else "least"
    usual = usual_side(test, found.high if found.low is None else found.low, found.unit)  # type: ignore[arg-type]  # one of them is
    return found if usual in ("", written) else Allowed(none=AGAINST_NATURE[usual])
