"""Decays of known course for tests."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from benchrecord.bench.decay import RANGES
from benchrecord.bench.fits import Floats

Parts = Sequence[tuple[float, float]]  # power at the start and time for 60 dB of each part


def rates(parts: Parts) -> list[tuple[float, float]]:
    """Return power and decay constant (6 ln 10/T) of each part."""
    return [(power, 6 * math.log(10) / t60) for power, t60 in parts]


def course(parts: Parts, length_s: float, step_s: float = 0.0005) -> Floats:
    """Return the exact mean power of each step, without any noise."""
    start_s = np.arange(round(length_s / step_s)) * step_s
    return np.sum([a / (k * step_s) * np.exp(-k * start_s) * -math.expm1(-k * step_s) for a, k in rates(parts)], axis=0)


def exact(parts: Parts) -> dict[str, float]:
    """Return EDT, T20 and T30 of the energy still to come, fitted on a million points."""
    time_s = np.linspace(0, 1.2 * max(t for _, t in parts), 1_000_001)
    return fitted(time_s, np.sum([a / k * np.exp(-k * time_s) for a, k in rates(parts)], axis=0))


def fitted(time_s: Floats, energy: Floats) -> dict[str, float]:
    """Return EDT, T20 and T30 by straight lines through the level of the energy still to come, (n,), which is not zero."""
    level = 10 * np.log10(energy / energy[0])
    spans = {name: (level <= high) & (level >= low) for name, (high, low) in RANGES.items()}
    return {name: -60 / float(np.polyfit(time_s[span], level[span], 1)[0]) for name, span in spans.items()}


def ringing(parts: Parts, rate: int, length_s: float, *, floor_db: float, seed: int, lead_s: float = 0.0) -> Floats:
    """Return noise that dies away over noise that stays, ``floor_db`` against the start; silence but for that before ``lead_s``."""
    random, time_s = np.random.default_rng(seed), np.arange(round(length_s * rate)) / rate
    envelope = np.sqrt(np.sum([a * np.exp(-k * time_s) for a, k in rates(parts)], axis=0))
    dying = np.concatenate([np.zeros(round(lead_s * rate)), envelope * random.normal(size=len(time_s))])
    return np.asarray(0.2 * (dying + 10 ** (floor_db / 20) * random.normal(size=len(dying))))


def echoes(t60: float, rate: int, *, floor_db: float, seed: int, hum: bool = False) -> tuple[Floats, dict[str, float]]:
    """Return pulses of noise that come again and again, ever longer and fainter, and what EDT, T20 and T30 they have on the mean.

    They begin after 0.3 s and last 1.5 t60, over noise or hum.
    """
    random, count = np.random.default_rng(seed), round(1.5 * t60 * rate)
    trip_s, made, power = random.uniform(0.025, 0.06), np.zeros(2 * count), np.zeros(2 * count)
    for n in range(int(len(made) / rate / trip_s)):
        width = int(rate * 0.012 * (1 + 0.6 * n))
        at = max(0, int(trip_s * (n + 0.5) * rate) - width // 2)
        pulse = np.hanning(min(width, len(made) - at)) * 10 ** (-3 * trip_s * n / t60) / math.sqrt(1 + 0.6 * n)
        made[at : at + len(pulse)] += pulse * random.normal(size=len(pulse))
        power[at : at + len(pulse)] += pulse**2
    truth = fitted(np.arange(count) / rate, np.cumsum(power[::-1])[::-1][:count])
    loudest = math.sqrt(float(np.convolve(made**2, np.full(480, 1 / 480), "same").max()))
    dying = np.concatenate([np.zeros(round(0.3 * rate)), made[:count] / loudest])
    floor, time_s = random.normal(size=len(dying)), np.arange(len(dying)) / rate
    if hum:
        floor = 0.2 * floor + 1.1 * sum(np.sin(2 * math.pi * 50 * n * time_s + n) / n for n in (1, 2, 3, 4, 6))
    return np.asarray(0.3 * (dying + 10 ** (floor_db / 20) * floor)), truth
