"""How steadily something oscillates: its tone, how its pitch departs from the mean in the course of a recording, and its distortion."""

from __future__ import annotations

from dataclasses import dataclass

from benchrecord.bench.estimate import Below, Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone, thd
from benchrecord.bench.wander import Wander, wander_of_tone

SINE_SHARE = 0.05  # of distortion: a wave with less is called a sine (common practice, no source)
MOST_POINTS = 400  # of a course


@dataclass(frozen=True, slots=True)
class SelfOscillation:
    """A self-oscillation: its tone, how its pitch wanders, and its distortion as a share."""

    tone: Tone
    wander: Wander | NotHad
    distortion: Estimate | NotHad

    @property
    def stability_cents(self) -> Estimate | NotHad:
        """The largest departure of its pitch from the mean at any moment, in cents, a drift among it."""
        if isinstance(self.wander, NotHad):
            return self.wander
        largest = self.wander.departure_cents
        return largest.estimate if isinstance(largest, Below) else largest

    @property
    def course(self) -> tuple[tuple[float, float], ...]:
        """The second and the departure from the mean in cents, the largest of some neighbours where there are many."""
        if isinstance(self.wander, NotHad):
            return ()
        points = list(zip(self.wander.seconds.tolist(), self.wander.cents.tolist(), strict=True))
        size = 1 + (len(points) - 1) // MOST_POINTS
        return tuple(max(points[n : n + size], key=lambda point: abs(point[1])) for n in range(0, len(points), size))

    @property
    def is_sine(self) -> bool | NotHad:
        """Whether it is a sine."""
        return self.distortion if isinstance(self.distortion, NotHad) else self.distortion.value < SINE_SHARE


def self_oscillation(samples: Floats, rate: float) -> SelfOscillation | NotHad:
    """Find the tone of a self-oscillation, and how its pitch wanders.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz

    """
    tone = find_tone(samples, rate)
    return tone if isinstance(tone, NotHad) else SelfOscillation(tone, wander_of_tone(samples, tone), thd(tone))
