"""Contours for tests, made from what their stages last, with what a reading of them must find."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats
from sounds import RATE, seconds

LN9 = math.log(9)
FINE = 2**18  # points of a period that is drawn


@dataclass(frozen=True)
class Made:
    """A contour: 10–90 % times of attack and decay, and a plateau between, all in s.

    ``aim`` is what an exponential attack aims at, as a multiple of the peak that it is stopped at (infinite: straight);
    ``falls_straight`` makes the decay straight in place of an exponential one towards zero.
    """

    attack: float = 0.05
    plateau: float = 0.1
    decay: float = 0.2
    aim: float = math.inf
    falls_straight: bool = False
    period: float = math.inf
    start: float = 0.2

    @property
    def tau(self) -> float:
        """The time constant of an exponential attack."""
        return self.attack / math.log((self.aim - 0.1) / (self.aim - 0.9))

    def rising(self, level: float) -> float:
        """Return when the attack comes to a level, s from its start."""
        straight = math.isinf(self.aim)
        return level * self.attack / 0.8 if straight else self.tau * math.log(self.aim / (self.aim - level))

    def falling(self, level: float) -> float:
        """Return when the decay comes down to a level, s from the start of the attack."""
        top = self.rising(1.0) + self.plateau
        return top + ((1 - level) * self.decay / 0.8 if self.falls_straight else self.decay / LN9 * math.log(1 / level))

    @property
    def truth(self) -> dict[str, float]:
        """What its stages last."""
        found = {"attack": self.attack, "hold": self.falling(0.9) - self.rising(0.9), "decay": self.decay}
        if math.isinf(self.period):
            return found
        return found | {"gap": self.period - self.falling(0.1) + self.rising(0.1), "period": self.period}

    def level(self, length_s: float, rate: int = RATE) -> Floats:
        """Return the level of each sample, where the peak is 1."""
        x = seconds(length_s, rate) - self.start
        x = np.where(x < 0, -1.0, x if math.isinf(self.period) else np.mod(x, self.period))
        rise, top = self.rising(1.0), self.rising(1.0) + self.plateau
        up = x / rise if math.isinf(self.aim) else self.aim * -np.expm1(-x / self.tau)
        down = 1 - (x - top) * 0.8 / self.decay if self.falls_straight else np.exp(-np.maximum(x - top, 0) * LN9 / self.decay)
        return np.where(x < 0, 0.0, np.where(x < rise, up, np.where(x < top, 1.0, np.maximum(down, 0.0))))


def two_tones(
    hz: float, apart_hz: float, length_s: float, *, ratio: float = 1.0, kind: str = "sine", rate: int = RATE
) -> Floats:
    """Return two tones so far apart, the second so many times the first, that together reach an rms level of 0.5 where they add up."""
    first, second = (tone(f, length_s, kind=kind, phase=p, rate=rate) for f, p in ((hz, 0.1), (hz + apart_hz, 0.4)))
    return (first + ratio * second) / (1 + ratio)


def tone(hz: float, length_s: float, *, kind: str = "sine", phase: float = 0.0, rate: int = RATE) -> Floats:
    """Return a tone of an rms level of 0.5 without overtones beyond what the rate has room for; its phase counts in periods."""
    turns = hz * seconds(length_s, rate) + phase
    shares = {
        "sine": lambda n: float(n == 1),
        "ramp": lambda n: 1 / n,
        "square": lambda n: n % 2 / n,
        "pulse": lambda n: math.sin(0.1 * math.pi * n) / n,
    }
    count = max(2, int(0.45 * rate / hz))
    harmonics = np.array([0.0, *(shares[kind](n) for n in range(1, count))])
    if kind == "sine":
        wave = np.sin(2 * math.pi * turns)
    else:
        wave = np.interp(turns, np.arange(FINE) / FINE, np.fft.irfft(-0.5j * harmonics, FINE, norm="forward"), period=1)
    return wave * (0.5 / float(np.std(wave)))
