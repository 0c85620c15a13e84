"""A number with its standard uncertainty, and what becomes of it as an amplitude or a level."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchrecord.bench.reasons import NotHad

TINY = 1e-300
STANDS_OUT = 4.0  # standard uncertainties that a power must be above nothing to have a level


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its standard uncertainty, in the same unit."""

    value: float
    u: float

    @property
    def expanded(self) -> float:
        """The expanded uncertainty, k = 2 (JCGM 100:2008, 6.2)."""
        return 2 * self.u

    def times(self, factor: float) -> Estimate:
        """Return it in another unit."""
        return Estimate(self.value * factor, self.u * abs(factor))


@dataclass(frozen=True, slots=True)
class Hidden(NotHad):
    """Stands in the place of a level that noise hides; it is no higher than ``most_db``."""

    most_db: float


@dataclass(frozen=True, slots=True)
class Below(NotHad):
    """Stands in the place of a quantity that noise hides; it is no larger than ``most``, in its own unit."""

    most: float

    @property
    def estimate(self) -> Estimate:
        """The middle between nothing and the bound: its expanded uncertainty reaches to both."""
        return Estimate(self.most / 2, self.most / 4)


def root(power: Estimate) -> Estimate:
    """Return the amplitude of a power; its uncertainty is what two of the power's make of it, to the farther side.

    A power below zero, as noise can leave one, counts as nothing.
    """
    known = max(power.value, 0.0)
    value, up, down = (math.sqrt(max(known + step, 0.0)) for step in (0.0, 2 * power.u, -2 * power.u))
    return Estimate(value, max(up - value, value - down) / 2)


def decibels(power: Estimate) -> Estimate | Hidden:
    """Return the level of a relative power; its uncertainty is what two of the power's make of it, to the farther side."""
    if power.value <= STANDS_OUT * power.u or power.value <= 0:
        most = 10 * math.log10(max(max(power.value, 0.0) + 2 * power.u, TINY))
        return Hidden(f"the noise hides it: it is below {most:.1f} dB".replace("-", "−"), most)
    return Estimate(10 * math.log10(power.value), -5 * math.log10(1 - 2 * power.u / power.value))
