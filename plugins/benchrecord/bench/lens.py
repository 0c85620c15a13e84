"""How a lens bends a picture: a radial term about its middle."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, sqrt

Point = tuple[float, float]
NEWTON_STEPS = 20  # the term is a cubic: five are enough for any lens that is sold
BEYOND = (inf, inf)  # where nothing can be seen


@dataclass(frozen=True, slots=True)
class Lens:
    """A radial term: r′ = r·(1 + k1·r²), where r = 1 in the corners of a picture of ``width`` × ``height`` pixels.

    k1 < 0 draws straight lines as a barrel, k1 > 0 as a cushion. The model is the first term of the usual series (Brown, Decentering
    distortion of lenses, 1966; from memory).
    """

    width: int
    height: int
    k1: float

    @property
    def middle(self) -> Point:
        """The pixel that stays where it is."""
        return self.width / 2, self.height / 2

    @property
    def corner(self) -> float:
        """How far the corners lie from the middle, in pixels."""
        return hypot(self.width, self.height) / 2

    def bent(self, px: float, py: float) -> Point:
        """Return where a lens puts what a straight one puts at a pixel; beyond where a barrel folds back, nowhere."""
        (mx, my), unit = self.middle, self.corner
        x, y = (px - mx) / unit, (py - my) / unit
        square = x * x + y * y
        if not 1 + 3 * self.k1 * square > 0:
            return BEYOND
        scale = unit * (1 + self.k1 * square)
        return mx + x * scale, my + y * scale

    def straight(self, px: float, py: float) -> Point:
        """Return where a straight lens puts what this one puts at a pixel: r from r′ by Newton's method."""
        (mx, my), unit = self.middle, self.corner
        bent = hypot(px - mx, py - my) / unit
        r = bent if self.k1 >= 0 else min(bent, 1 / sqrt(-3 * self.k1))
        for _ in range(NEWTON_STEPS):
            slope = 1 + 3 * self.k1 * r * r
            if not slope > 0:
                break
            r -= (r * (1 + self.k1 * r * r) - bent) / slope
        scale = r / bent if bent else 1.0
        return mx + (px - mx) * scale, my + (py - my) * scale
