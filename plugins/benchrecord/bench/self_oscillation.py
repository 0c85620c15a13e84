"""How steadily something oscillates: what its pitch strays by in the course of a recording."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone, thd

PARTS, FEWEST_PARTS = 10, 4
CENTS = 1200 / math.log(2)
SINE_SHARE = 0.05  # of distortion: a wave with less is called a sine (common practice, no source)


@dataclass(frozen=True, slots=True)
class SelfOscillation:
    """A self-oscillation: its tone, how far any tenth of the recording strays from it in cents, and its distortion as a share.

    ``course`` are the tenths themselves: the second in their middle, and their departure in cents.
    """

    tone: Tone
    course: tuple[tuple[float, float], ...]
    stability_cents: Estimate | NotHad
    distortion: Estimate | NotHad

    @property
    def is_sine(self) -> bool | NotHad:
        """Whether it is a sine."""
        return self.distortion if isinstance(self.distortion, NotHad) else self.distortion.value < SINE_SHARE


def self_oscillation(samples: Floats, rate: float) -> SelfOscillation | NotHad:
    """Find the tone of a self-oscillation, and each tenth's.

    The stability is the largest departure of a tenth from the whole; its uncertainty is that of the tenth's frequency, 1200/ln 2 · u/f.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz

    """
    tone = find_tone(samples, rate)
    if isinstance(tone, NotHad):
        return tone
    size = len(samples) // PARTS
    parts = [find_tone(samples[n * size : (n + 1) * size], rate) for n in range(PARTS)]
    known = [((n + 0.5) * size / rate, part) for n, part in enumerate(parts) if isinstance(part, Tone)]
    course = tuple((second, cents(part.hz.value, tone.hz.value)) for second, part in known)
    return SelfOscillation(tone, course, _stability([part for _, part in known], tone), thd(tone))


def _stability(parts: Sequence[Tone], tone: Tone) -> Estimate | NotHad:
    if len(parts) < FEWEST_PARTS:
        return NotHad("the recording is too short to tell how steady it is")
    far = max(parts, key=lambda part: abs(cents(part.hz.value, tone.hz.value)))
    u = CENTS * math.hypot(far.hz.u / far.hz.value, tone.hz.u / tone.hz.value)
    return Estimate(abs(cents(far.hz.value, tone.hz.value)), u)
