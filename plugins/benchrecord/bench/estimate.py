"""A number with its standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

TINY = 1e-300
FLOORLESS = 3.0  # a power that may be so many times smaller may as well be nothing: then the upper side alone counts


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


def root(power: Estimate) -> Estimate:
    """Return the amplitude of a power; its uncertainty is what two of the power's make of it, to the farther side.

    A power below zero, as noise can leave one, counts as nothing.
    """
    known = max(power.value, 0.0)
    value, up, down = (math.sqrt(max(known + step, 0.0)) for step in (0.0, 2 * power.u, -2 * power.u))
    return Estimate(value, max(up - value, value - down) / 2)


def decibels(power: Estimate) -> Estimate:
    """Return the level of a relative power; one that does not stand out of its uncertainty counts as large as that.

    Its uncertainty is what two of the power's make of it: 10·log10(1 + 2·u/p)/2 to the farther side.
    """
    least = max(power.value, power.u, TINY)
    below = 1 - 2 * power.u / least
    farther = max(1 + 2 * power.u / least, 1 / below if below > 1 / FLOORLESS else 0.0)
    return Estimate(10 * math.log10(least), 5 * math.log10(farther))
