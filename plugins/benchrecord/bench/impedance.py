"""Impedance of an input or output, from two levels: without a known resistor, and with it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import combine, expanded


@dataclass(frozen=True, slots=True)
class Reading:
    """A number and its standard uncertainty, in one unit; the uncertainty is None where nobody knows it."""

    value: float
    u: float | None = None


@dataclass(frozen=True, slots=True)
class Impedance:
    """An impedance and its standard uncertainty, in Ω."""

    ohm: float
    u_ohm: float | None


def input_impedance(without: Reading, with_resistor: Reading, resistor_ohm: Reading) -> Impedance | NotHad:
    """Return an input's impedance from its levels fed directly and fed through a series resistor R.

    The two divide the level: Z = R·b/(a − b), with a without and b with the resistor (both in one unit, of amplitude).
    """
    a, b, r = without.value, with_resistor.value, resistor_ohm.value
    wrong = _not_told(without, with_resistor, "larger")
    if wrong is not None:
        return wrong
    ohm = r * b / (a - b)
    return _finite(ohm, (-ohm / (a - b), ohm / (a - b) * (a / b), b / (a - b)), (without, with_resistor, resistor_ohm))


def output_impedance(without: Reading, with_resistor: Reading, resistor_ohm: Reading) -> Impedance | NotHad:
    """Return an output's impedance from its levels unloaded and loaded with a resistor R: Z = R·(a − b)/b."""
    a, b, r = without.value, with_resistor.value, resistor_ohm.value
    wrong = _not_told(without, with_resistor, "smaller")
    if wrong is not None:
        return wrong
    return _finite(r * (a - b) / b, (r / b, -r / b * (a / b), (a - b) / b), (without, with_resistor, resistor_ohm))


def _not_told(without: Reading, with_resistor: Reading, take: str) -> NotHad | None:
    """Say why two levels tell no impedance: the resistor must leave some of the level, and take more away than is uncertain."""
    a, b = without.value, with_resistor.value
    if a <= 0 or b <= 0:
        return NotHad("a level of nothing tells no impedance")
    if b >= a:
        return NotHad(f"the resistor does not lower the level; measure with a {take} one")
    if a - b <= expanded(combine(without.u or 0.0, with_resistor.u or 0.0)):
        return NotHad(f"the resistor lowers the level by no more than is uncertain; measure with a {take} one")
    return None


def _finite(ohm: float, slopes: tuple[float, ...], inputs: tuple[Reading, ...]) -> Impedance | NotHad:
    u = _propagated(slopes, inputs)
    if not math.isfinite(ohm) or not math.isfinite(u or 0.0):
        return NotHad("the levels are too far apart in size to be worked with")
    return Impedance(ohm, u)


def _propagated(slopes: tuple[float, ...], inputs: tuple[Reading, ...]) -> float | None:
    """Return the combined standard uncertainty of independent inputs (JCGM 100:2008, 5.1.2, eq. (10)).

    A resistor of unknown uncertainty counts as exact; levels of unknown uncertainty leave the result without one.
    """
    if any(level.u is None for level in inputs[:2]):
        return None
    return combine(*(slope * (reading.u or 0.0) for slope, reading in zip(slopes, inputs, strict=True)))
