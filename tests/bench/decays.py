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
    energy = np.sum([a / k * np.exp(-k * time_s) for a, k in rates(parts)], axis=0)
    level = 10 * np.log10(energy / energy[0])
    spans = {name: (level <= high) & (level >= low) for name, (high, low) in RANGES.items()}
    return {name: -60 / float(np.polyfit(time_s[span], level[span], 1)[0]) for name, span in spans.items()}


def ringing(parts: Parts, rate: int, length_s: float, *, floor_db: float, seed: int, lead_s: float = 0.0) -> Floats:
    """Return noise that dies away over noise that stays, ``floor_db`` against the start; silence but for that before ``lead_s``."""
    random, time_s = np.random.default_rng(seed), np.arange(round(length_s * rate)) / rate
    envelope = np.sqrt(np.sum([a * np.exp(-k * time_s) for a, k in rates(parts)], axis=0))
    dying = np.concatenate([np.zeros(round(lead_s * rate)), envelope * random.normal(size=len(time_s))])
    return np.asarray(0.2 * (dying + 10 ** (floor_db / 20) * random.normal(size=len(dying))))
