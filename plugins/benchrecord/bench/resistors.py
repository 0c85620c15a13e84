"""What a part drifts, dissipates and may bear."""

from __future__ import annotations

import math

from benchrecord.bench.reasons import NotHad

# End points as two data sheets that cite IEC 60115-1 give them; the line between is common practice.
FULL_POWER_TO_C, NO_POWER_FROM_C = 70.0, 155.0


def drift_percent(marked: float, measured: float) -> float:
    """Return (measured − marked)/marked in percent."""
    return 100 * (measured - marked) / marked


def dissipation_w(volts: float, ohm: float) -> float:
    """Return the power in a resistor: V²/R, in watts."""
    return volts**2 / ohm


def derating_fraction(ambient_c: float) -> float:
    """Return the share of the rated power that is allowed: 1 up to 70 °C, falling on a line to 0 at 155 °C."""
    return min(1.0, max(0.0, (NO_POWER_FROM_C - ambient_c) / (NO_POWER_FROM_C - FULL_POWER_TO_C)))


def load_percent(dissipated_w: float, rating_w: float, ambient_c: float = 40.0) -> float | NotHad:
    """Return the dissipation as a share of the derated rating, in percent."""
    allowed = allowed_w(rating_w, ambient_c)
    return 100 * dissipated_w / allowed if allowed > 0 else NotHad("no power is allowed at this ambient temperature")


def highest_volts(ohm: float, rating_w: float, working_limit_v: float) -> float:
    """Return the highest voltage across a resistor: the lower of √(P·R) and its working limit."""
    return min(working_limit_v, math.sqrt(rating_w * ohm))


def capacitor_life_h(rated_h: float, rated_c: float, actual_c: float) -> float:
    """Return the life of an electrolytic capacitor: doubled for each 10 K below its rating (common practice)."""
    return float(rated_h * 2 ** ((rated_c - actual_c) / 10))


def allowed_w(rating_w: float, ambient_c: float) -> float:
    """Return the power that a resistor may take at an ambient temperature, in watts."""
    return rating_w * derating_fraction(ambient_c)


def change_by_temperature_ohm(ohm: float, ppm_per_k: float, rise_k: float) -> float:
    """Return the change of a resistor with temperature: R·TCR·ΔT."""
    return ohm * ppm_per_k * 1e-6 * rise_k
