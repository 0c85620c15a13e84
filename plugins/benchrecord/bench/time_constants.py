"""One resistor and one capacitor: how a voltage charges, discharges and settles. All formulas follow from v = V·e^(−t/RC)."""

from __future__ import annotations

import math


def time_constant_s(ohm: float, farad: float) -> float:
    """Return the time constant τ = R·C, in s."""
    return ohm * farad


def corner_hz(tau_s: float) -> float:
    """Return the frequency at which one pole is 3 dB down: 1/(2π·τ)."""
    return 1 / (2 * math.pi * tau_s)


def charged(time_s: float, tau_s: float) -> float:
    """Return the share of its step that a voltage has come after a time: 1 − e^(−t/τ)."""
    return -math.expm1(-time_s / tau_s)


def left_over(time_s: float, tau_s: float) -> float:
    """Return the share of a voltage that is left after a time: e^(−t/τ)."""
    return math.exp(-time_s / tau_s)


def settling_s(share: float, tau_s: float) -> float:
    """Return the time until no more than a share of the step is missing: −τ·ln(share); half of it takes the half-life."""
    return -tau_s * math.log(share)


def settling_of_bits_s(bits: int, tau_s: float) -> float:
    """Return the time to settle within half a step of a converter of so many bits: (N + 1)·ln 2·τ."""
    return settling_s(2.0 ** -(bits + 1), tau_s)


def decay_s(decibels: float, tau_s: float) -> float:
    """Return the time in which an amplitude falls by so many decibels: dB/20·ln 10·τ."""
    return settling_s(10 ** (-decibels / 20), tau_s)


def rise_s(tau_s: float, low: float = 0.1, high: float = 0.9, aim: float = 1.0) -> float:
    """Return the time from one share of the peak to a higher one: τ·ln((k − low)/(k − high)).

    ``aim`` is k: a voltage that charges towards k times the peak, and is stopped there; 1 for one that just arrives.
    """
    return tau_s * math.log((aim - low) / (aim - high))


def ramp_s(span: float, per_s: float, low: float = 0.1, high: float = 0.9) -> float:
    """Return the time that a straight ramp takes from one share of its span to a higher one, in s."""
    return (high - low) * span / per_s


def tau_of_two_s(first: float, second: float, apart_s: float) -> float:
    """Return the time constant of a voltage that falls towards zero, from two readings: Δt/ln(V1/V2)."""
    return apart_s / math.log(first / second)
