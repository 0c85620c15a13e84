"""Resistance and temperature."""

from __future__ import annotations

# IEC 60751, platinum: coefficients of the Callendar–Van Dusen equation.
PT_A, PT_B, PT_C = 3.9083e-3, -5.775e-7, -4.183e-12
COPPER_PER_K = 0.00393  # annealed copper at 20 °C, IEC 60028
COPPER_OHM_MM2_PER_M = 1 / 58  # annealed copper at 20 °C, IEC 60028
KELVIN_AT_0_C = 273.15
COPPER_ZERO_C = 234.5  # inferred zero-resistance temperature, common practice in winding tests (from memory: IEC 60034-1)


def pt100_ohm(celsius: float) -> float:
    """Return the resistance of a Pt100, −200 to 850 °C. Source: IEC 60751."""
    cold = PT_C * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
    return 100 * (1 + PT_A * celsius + PT_B * celsius**2 + cold)


def copper_ohm(ohm_at_20: float, celsius: float) -> float:
    """Return the resistance of a copper winding from that at 20 °C."""
    return ohm_at_20 * (1 + COPPER_PER_K * (celsius - 20))


def copper_conductor_ohm(length_m: float, area_mm2: float) -> float:
    """Return the resistance of a copper conductor at 20 °C: L/(58·A). Source: IEC 60028."""
    return COPPER_OHM_MM2_PER_M * length_m / area_mm2


def converter_drift_ppm_per_k(celsius: float) -> float:
    """Return how fast an uncompensated exponential converter's scale drifts: 1/T, from kT/q, in ppm per kelvin."""
    return 1e6 / (celsius + KELVIN_AT_0_C)


def winding_rise_k(cold_ohm: float, hot_ohm: float, cold_c: float, ambient_c: float) -> float:
    """Return how much a copper winding warmed: (R2 − R1)/R1·(234.5 + t1) − (t2 − t1)."""
    return (hot_ohm - cold_ohm) / cold_ohm * (COPPER_ZERO_C + cold_c) - (ambient_c - cold_c)
