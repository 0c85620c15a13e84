"""Numbers and quantities as the trade writes them: ``4k7``, ``2R2``, ``100n``, ``±15 V``, ``-12.03``, ``0.5 %``."""

from __future__ import annotations

import math
import re
from dataclasses import replace

from benchrecord.model.quantity import Quantity, canonical_unit, dimension, powers_of_thousand

# Letter codes of IEC 60062, clause 4: the letter stands for the decimal sign. Farads where the letter is a small prefix.
CODE_LETTERS = {
    "L": ("ohm", -3), "R": ("ohm", 0), "k": ("ohm", 3), "K": ("ohm", 3), "M": ("ohm", 6), "G": ("ohm", 9), "T": ("ohm", 12),
    "p": ("F", -12), "n": ("F", -9), "u": ("F", -6), "µ": ("F", -6), "μ": ("F", -6), "m": ("F", -3), "F": ("F", 0),
}  # fmt: skip
TOLERANCE_LETTERS = "ELPWBCDFGJKMN"
_CODE = re.compile(rf"(?P<sign>[-+]?)(?P<whole>\d*)(?P<letter>[LRkKMGTpnuµμmF])(?P<part>\d*)[{TOLERANCE_LETTERS}]?")
_PLAIN = re.compile(r"(?P<sign>±|\+/-|[-+])?\s*(?P<number>\d+(?:\.\d*)?|\.\d+)(?P<exponent>[eE][-+]?\d+)?\s*(?P<unit>.*)")
_DASHES = str.maketrans({"−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "})
_CAPACITOR = re.compile(rf"(?P<digits>[1-9]\d)(?P<power>[0-689])[{TOLERANCE_LETTERS}]?")
_LETTER_ALONE = re.compile(r"(?P<number>[-+]?\d+(?:[.,]\d*)?)\s*(?P<letter>[pnuµμmkKMG])")
LETTER_ALONE = "; a letter alone counts in ohm or farad"
MOST_DIGITS = 40
SMALLEST, LARGEST = 1e-18, 1e15  # of the unit that a number counts in: sums of such numbers are finite
IN_RANGE = f"zero, or a number from {SMALLEST:g} to {LARGEST:g}, with either sign"
_BOUND = re.compile(r"(?:(?P<most><=|=<|[<≤]|at most\b|max\b\.?)|(?P<least>>=|=>|[>≥]|at least\b|min\b\.?))\s*(?P<rest>.+)")


def parse_quantity(text: str, *, decimal_comma: bool = False) -> Quantity | None:
    """Read a number with or without a unit; None where it is neither.

    A letter code counts in ohm or farad. ``decimals`` are those written, in the unit that the value counts in.
    """
    plain = text.strip().translate(_DASHES)
    if decimal_comma:
        plain = "" if "." in plain else plain.replace(",", ".")
    if not plain or len(plain) > MOST_DIGITS:
        return None
    found = _code(plain) or _number(plain)
    return replace(found, text=text.strip()) if found else None


def _code(text: str) -> Quantity | None:
    match = _CODE.fullmatch(text)
    if not match or not (match["whole"] or match["part"]):
        return None
    unit, exponent = CODE_LETTERS[match["letter"]]
    value = float(f"{match['sign']}{match['whole'] or 0}.{match['part'] or 0}e{exponent}")
    return Quantity(value, unit, text, len(match["part"]) - exponent)


def _number(text: str) -> Quantity | None:
    match = _PLAIN.fullmatch(text)
    if not match:
        return None
    unit = canonical_unit(match["unit"].strip()) if match["unit"].strip() else None
    if match["unit"].strip() and unit is None:
        return None
    either = match["sign"] in ("±", "+/-")
    sign = "-" if match["sign"] == "-" else ""
    value = float(f"{sign}{match['number']}{match['exponent'] or ''}")
    if not in_range(value) or (not value and match["number"].strip("0.")):
        return None
    decimals = len(match["number"].partition(".")[2]) - int((match["exponent"] or "e0")[1:])
    return Quantity(value, unit, text, decimals, either)


def capacitor_code(text: str) -> Quantity | None:
    """Read the three digits stamped on small capacitors, with or without a tolerance letter: ``104`` and ``104K`` are 100 nF.

    Two digits, then the power of ten that they count in, in pF; 8 and 9 stand for hundredths and tenths (IEC 60062; from memory).
    """
    match = _CAPACITOR.fullmatch(text.strip())
    if not match:
        return None
    exponent = {"8": -2, "9": -1}.get(match["power"], int(match["power"]))
    return Quantity(float(f"{match['digits']}e{exponent - 12}"), "F", text.strip(), 12 - exponent)


def in_range(value: float) -> bool:
    """Return whether a number is of a size that anything here can measure: zero, or from 1e-18 to 1e15 of its unit."""
    return value == 0 or SMALLEST <= abs(value) <= LARGEST


def is_out_of_range(text: str) -> bool:
    """Return whether a text is a number, with or without a unit, that is too large or too small to be a measurement."""
    plain = text.strip().translate(_DASHES).replace(",", ".")
    match = _PLAIN.fullmatch(plain)
    unit = match["unit"].strip() if match else ""
    return bool(match) and parse_quantity(plain) is None and (not unit or canonical_unit(unit) is not None)


def split_bound(text: str) -> tuple[str, str]:
    """Split a bound into what it is and its number: ``<= 0.3 ohm`` is the most, ``at least 1 Mohm`` the least; else nothing and the text."""
    match = _BOUND.fullmatch(text.strip())
    return ("most" if match["most"] else "least", match["rest"]) if match else ("", text)


def unit_of(text: str) -> str | None:
    """Return the unit that a text ends with, as it is written, where it begins with a number."""
    match = _PLAIN.fullmatch(text.strip().translate(_DASHES).replace(",", "."))
    return match["unit"].strip() or None if match else None


def prefix_meant(text: str, unit: str) -> str:
    """Return a number with a letter alone, such as ``450m``, in the unit that it is to count in: ``450 mV``; empty where it has none such.

    Without a unit, a letter is a code of ohm or farad (IEC 60062).
    """
    match = _LETTER_ALONE.fullmatch(text.strip().translate(_DASHES))
    prefixed = f"{match['letter'].replace('K', 'k')}{unit}" if match and unit else ""
    return f"{match['number']} {prefixed}" if match and canonical_unit(prefixed) else ""


def same_value(one: str, other: str) -> bool:
    """Say whether two texts name the same value: ``4k7`` and ``4.7 kΩ`` do, ``104`` and ``100n``; words are compared as they are."""
    if pair := _comparable(one, other):
        return math.isclose(*pair, rel_tol=1e-9)
    return not any(map(_quantity, (one, other))) and one.casefold().split() == other.casefold().split()


def thousands_between(one: str, other: str) -> int:
    """Return the n for which the first text names 1000ⁿ times the second, to some 40 %; 0 where they name no such values."""
    pair = _comparable(one, other)
    return powers_of_thousand(*pair) if pair else 0


def _comparable(one: str, other: str) -> tuple[float, float] | None:
    """Return what two texts name, in the base of their unit; None where they are not two values of one quantity.

    Three digits beside a value in farad are a capacitor's code.
    """
    first, second = _quantity(one), _quantity(other)
    if second and dimension(second.unit) == "F":
        first = capacitor_code(one) or first
    if first and dimension(first.unit) == "F":
        second = capacitor_code(other) or second
    if not first or not second or len({dimension(q.unit) for q in (first, second) if q.unit}) > 1:
        return None
    return first.in_base(), second.in_base()


def _quantity(text: str) -> Quantity | None:
    return parse_quantity(text) or parse_quantity(text, decimal_comma=True)
