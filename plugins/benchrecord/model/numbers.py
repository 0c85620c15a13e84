"""How a number is shown: no more digits than its uncertainty, or the reading itself, supports."""

from __future__ import annotations

import math

from benchrecord.model.findings import Value
from benchrecord.model.quantity import convert, dimension, shown_unit

MINUS = "\N{MINUS SIGN}"
PREFERRED = {"ohm": ("ohm", "kohm", "Mohm"), "F": ("pF", "nF", "uF")}
DIGITS_WITHOUT_UNCERTAINTY = 4


def decimals_for(uncertainty: float) -> int:
    """Return how many decimals to show: the uncertainty keeps two significant digits (JCGM 100:2008, 7.2.6)."""
    if math.isinf(uncertainty):
        return 0
    return 1 - math.floor(math.log10(uncertainty)) if uncertainty > 0 else 6


def rounded(value: float, decimals: int) -> str:
    """Write a number with so many decimals (negative: rounded to tens, hundreds) and a true minus sign."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    bare = text.lstrip("-")
    return bare if text == bare or not bare.strip("0.") else MINUS + bare


def roughly(value: float) -> str:
    """Write a number with two significant digits, and without an exponent: ``0.56``, ``4.2``, ``220``."""
    return f"{float(f'{value:.2g}'):.6g}"


def shown_decimals(value: Value) -> int:
    """Return the decimals a value is shown with: those of its uncertainty, but never more than were read."""
    number = float(value.value) if isinstance(value.value, int | float) else 0.0
    if value.uncertainty:
        supported = decimals_for(value.uncertainty)
        return supported if value.decimals is None else min(supported, value.decimals)
    if value.decimals is not None:
        return value.decimals
    size = math.floor(math.log10(abs(number))) + 1 if number else 1
    return max(DIGITS_WITHOUT_UNCERTAINTY - max(size, 1), 0)


def shown(value: Value, *, unit: bool = True, sign: bool = False) -> str:
    """Write a result for a page, ``15.02 V``; an em dash where there is none."""
    if value.value is None or isinstance(value.value, tuple):
        return "—"
    if isinstance(value.value, str | bool):
        return str(value.value)
    if isinstance(value.value, int):
        text = str(value.value)
    else:
        value = scaled(value)
        text = rounded(float(value.value), shown_decimals(value))  # type: ignore[arg-type]  # a number here
    plus = "+" if sign and not text.startswith(MINUS) and text.strip("0.") else ""
    return f"{plus}{text} {shown_unit(value.unit)}".strip() if unit else plus + text


def scaled(value: Value) -> Value:
    """Bring ohms and farads to the prefix that the trade would use; other values stay."""
    number, base = value.value, dimension(value.unit)
    if not isinstance(number, float) or base not in PREFERRED or value.unit != base or not number:
        return value
    units = PREFERRED[base]
    best = next((u for u in reversed(units) if abs(convert(number, base, u)) >= 1), units[0])
    factor = convert(1.0, base, best)
    uncertainty = value.uncertainty * factor if value.uncertainty else None
    decimals = None if value.decimals is None else value.decimals - round(math.log10(factor))
    return Value(number * factor, best, uncertainty, decimals, value.reason)
