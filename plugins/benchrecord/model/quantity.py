"""A number with its unit, as the trade writes it, and the units that belong to one quantity."""

from __future__ import annotations

import math
from dataclasses import dataclass

# Unit as written -> (base unit, factor to it). Base units name the quantity.
UNITS: dict[str, tuple[str, float]] = {
    "V": ("V", 1.0), "mV": ("V", 1e-3), "uV": ("V", 1e-6), "kV": ("V", 1e3),
    "A": ("A", 1.0), "mA": ("A", 1e-3), "uA": ("A", 1e-6), "nA": ("A", 1e-9),
    "ohm": ("ohm", 1.0), "mohm": ("ohm", 1e-3), "kohm": ("ohm", 1e3), "Mohm": ("ohm", 1e6), "Gohm": ("ohm", 1e9),
    "F": ("F", 1.0), "mF": ("F", 1e-3), "uF": ("F", 1e-6), "nF": ("F", 1e-9), "pF": ("F", 1e-12),
    "H": ("H", 1.0), "mH": ("H", 1e-3), "uH": ("H", 1e-6),
    "W": ("W", 1.0), "mW": ("W", 1e-3), "VA": ("VA", 1.0),
    "Hz": ("Hz", 1.0), "mHz": ("Hz", 1e-3), "kHz": ("Hz", 1e3), "MHz": ("Hz", 1e6),
    "s": ("s", 1.0), "ms": ("s", 1e-3), "us": ("s", 1e-6), "min": ("s", 60.0), "h": ("s", 3600.0),
    "%": ("%", 1.0), "ppm": ("%", 1e-4),
    "dB": ("dB", 1.0), "dBu": ("dBu", 1.0), "dBV": ("dBV", 1.0), "dBFS": ("dBFS", 1.0),
    "cents": ("cents", 1.0), "semitones": ("cents", 100.0), "octaves": ("cents", 1200.0),
    "V/octave": ("V/octave", 1.0), "mV/octave": ("V/octave", 1e-3), "Hz/V": ("Hz/V", 1.0),
    "degC": ("degC", 1.0), "mm": ("mm", 1.0), "cm": ("mm", 10.0), "cm/s": ("cm/s", 1.0), "turns": ("turns", 1.0),
    "deg": ("deg", 1.0), "rpm": ("rpm", 1.0), "g": ("g", 1.0), "kg": ("g", 1000.0), "N": ("N", 1.0), "mT": ("mT", 1.0),
}  # fmt: skip
SPELLINGS: dict[str, str] = {
    "Ω": "ohm", "\u2126": "ohm", "R": "ohm", "Ohm": "ohm", "ohms": "ohm", "mΩ": "mohm", "kΩ": "kohm", "KΩ": "kohm",
    "k": "kohm", "K": "kohm", "kOhm": "kohm", "MΩ": "Mohm", "M": "Mohm", "MOhm": "Mohm", "GΩ": "Gohm",
    "µV": "uV", "μV": "uV", "µA": "uA", "μA": "uA", "µF": "uF", "μF": "uF", "u": "uF", "µ": "uF", "μ": "uF",
    "n": "nF", "p": "pF", "µs": "us", "μs": "us", "µH": "uH", "μH": "uH",
    "cent": "cents", "ct": "cents", "semitone": "semitones", "octave": "octaves",
    "V/oct": "V/octave", "mV/oct": "mV/octave", "°C": "degC", "C": "degC", "°": "deg", "hz": "Hz", "khz": "kHz",
    "sec": "s", "turn": "turns", "volt": "V", "volts": "V", "Volt": "V", "Volts": "V", "Ohms": "ohm",
}  # fmt: skip
SHOWN: dict[str, str] = {
    "ohm": "Ω", "mohm": "mΩ", "kohm": "kΩ", "Mohm": "MΩ", "Gohm": "GΩ", "uV": "µV", "uA": "µA", "uF": "µF",
    "us": "µs", "uH": "µH", "degC": "°C", "deg": "°",
}  # fmt: skip


NEAR_DECADES = 0.15  # a drifted part is within 40 % of its marking (common practice, no source)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number as it was written: ``value`` counts in ``unit``; ``decimals`` are those of the text."""

    value: float
    unit: str | None
    text: str
    decimals: int | None = None
    either_sign: bool = False  # written with ±

    def in_base(self) -> float:
        """Return the value in the base unit of its quantity (V for mV, ohm for kohm ...)."""
        return self.value * UNITS[self.unit][1] if self.unit else self.value


def canonical_unit(text: str) -> str | None:
    """Return a unit's plain spelling (``Ω`` -> ``ohm``), or None where it is no unit known here."""
    text = SPELLINGS.get(text, text)
    return text if text in UNITS else None


def dimension(unit: str | None) -> str | None:
    """Return the base unit, which names the quantity that a unit measures."""
    return UNITS[unit][0] if unit in UNITS else None


def convert(value: float, unit: str, to_unit: str) -> float:
    """Convert between two units of one quantity.

    Raises
    ------
    ValueError
        Where the units measure different quantities.
    """
    if unit == to_unit:
        return value
    if dimension(unit) is None or dimension(unit) != dimension(to_unit):
        msg = f"{unit} and {to_unit} measure different quantities"
        raise ValueError(msg)
    return value * (UNITS[unit][1] / UNITS[to_unit][1])


def in_unit(quantity: Quantity, unit: str | None) -> float | None:
    """Return a quantity's value in a unit, where a plain number counts in it already; None where it measures something else.

    An empty unit takes plain numbers alone, None whatever there is.
    """
    if unit is None or quantity.unit in (None, unit):
        return quantity.value
    return convert(quantity.value, quantity.unit or "", unit) if dimension(quantity.unit) == dimension(unit) else None


def powers_of_thousand(value: float, reference: float) -> int:
    """Return the n for which a value is 1000ⁿ times a reference, to some 40 %: n other than 0 is most likely a slip of its unit."""
    if not value or not reference or value * reference < 0:
        return 0
    decades = math.log10(abs(value)) - math.log10(abs(reference))
    nearest = round(decades / 3)
    return nearest if abs(decades - 3 * nearest) < NEAR_DECADES else 0


def factor(power: int) -> str:
    """Word a power of a thousand without its sign: ``1000``, ``1,000,000``."""
    return f"{1000 ** abs(power):,}" if abs(power) > 1 else "1000"


def shown_unit(unit: str | None) -> str:
    """Return a unit as it is printed (``kohm`` -> ``kΩ``)."""
    return SHOWN.get(unit or "", unit or "")


def format_quantity(value: float, unit: str | None) -> str:
    """Write a number and its unit so that reading it gives both back."""
    return f"{value!r} {shown_unit(unit)}".strip()
