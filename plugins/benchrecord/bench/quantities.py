"""Preferred numbers, tolerance letters and colour codes of parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

E24_DIGITS = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
E192_EXCEPTION = 185  # IEC 60063 lists 9.20 where 10^(185/192) rounds to 9.19
# IEC 60063, the tolerance associated with each series; E3's is common practice, no source.
SERIES_TOLERANCE_PERCENT = {"E3": 40.0, "E6": 20.0, "E12": 10.0, "E24": 5.0, "E48": 2.0, "E96": 1.0, "E192": 0.5}
# IEC 60062, symmetric tolerance letters in percent (E from memory).
TOLERANCE_LETTERS = {
    "E": 0.005, "L": 0.01, "P": 0.02, "W": 0.05, "B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0, "J": 5.0,
    "K": 10.0, "M": 20.0, "N": 30.0,
}  # fmt: skip
# IEC 60062 colours: power of ten and tolerance in percent.
COLOUR_POWERS = {
    "black": 0, "brown": 1, "red": 2, "orange": 3, "yellow": 4, "green": 5, "blue": 6, "violet": 7, "grey": 8, "white": 9,
    "gold": -1, "silver": -2, "pink": -3,
}  # fmt: skip
COLOUR_TOLERANCES = {
    "brown": 1.0, "red": 2.0, "orange": 0.05, "yellow": 0.02, "green": 0.5, "blue": 0.25, "violet": 0.1, "grey": 0.01,
    "gold": 5.0,
    "silver": 10.0, "none": 20.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ColourCode:
    """What a resistor's bands say."""

    ohm: float
    tolerance_percent: float


def series_values(series: str) -> tuple[float, ...]:
    """Return one decade (1 to below 10) of an E series. Source: IEC 60063.

    Raises
    ------
    ValueError
        For a series that is not E3, E6, E12, E24, E48, E96 or E192.

    """
    if series not in SERIES_TOLERANCE_PERCENT:
        raise ValueError(f"{series} is no series of IEC 60063")
    count = int(series[1:])
    if count <= len(E24_DIGITS):
        return tuple(d / 10 for d in E24_DIGITS[:: len(E24_DIGITS) // count])
    return tuple(_fine_value(i, count) for i in range(count))


def _fine_value(index: int, count: int) -> float:
    if index * 192 // count == E192_EXCEPTION and index * 192 % count == 0:
        return 9.20
    return round(10 ** (index / count), 2)


def usual_tolerance_percent(series: str) -> float:
    """Return the tolerance that goes with a series, in percent. Source: IEC 60063; E3 common practice.

    Raises
    ------
    ValueError
        For a series that is not of IEC 60063.

    """
    if series not in SERIES_TOLERANCE_PERCENT:
        raise ValueError(f"{series} is no series of IEC 60063")
    return SERIES_TOLERANCE_PERCENT[series]


def preferred_value(value: float, series: str = "E24") -> float:
    """Return the preferred number nearest to a value by plain distance, in the value's unit.

    Raises
    ------
    ValueError
        Where the value is not greater than zero, or the series is unknown.

    """
    if not 0 < value < math.inf:
        raise ValueError("a preferred number is greater than zero")
    decade = math.floor(math.log10(value))
    near = [float(f"{v}e{d}") for d in (decade - 1, decade, decade + 1) for v in series_values(series)]
    return min(near, key=lambda v: abs(v - value))


def tolerance_percent(letter: str) -> float | None:
    """Return the tolerance of a letter in percent, None for one that is not symmetric. Source: IEC 60062."""
    return TOLERANCE_LETTERS.get(letter)


def colour_code(bands: Sequence[str]) -> ColourCode:
    """Read the bands of a resistor: three or four (two digits), five or six (three digits). Source: IEC 60062.

    Raises
    ------
    ValueError
        For another number of bands, or a colour that cannot stand where it does.

    """
    digits = 3 if len(bands) > 4 else 2  # noqa: PLR2004  # five bands and more have three digits
    if not digits + 1 <= len(bands) <= digits + 3:
        raise ValueError("a resistor has three to six bands")
    values = [COLOUR_POWERS.get(b, -9) for b in bands[: digits + 1]]
    tolerance = COLOUR_TOLERANCES.get(bands[digits + 1] if len(bands) > digits + 1 else "none")
    if min(values[:digits]) < 0 or values[digits] < -3 or tolerance is None:  # noqa: PLR2004  # pink is 10^-3
        raise ValueError("a colour stands where it cannot")
    number = int("".join(str(v) for v in values[:digits]))
    return ColourCode(float(f"{number}e{values[digits]}"), tolerance)
