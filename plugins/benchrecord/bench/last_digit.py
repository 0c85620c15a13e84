"""The last digit of a recording: the step that its samples were rounded to, and what the rounding brings."""

from __future__ import annotations

import math

import numpy as np

from benchrecord.bench.fits import Floats

BITS = (16, 24)
LOOKED_AT = 4096  # samples


def last_digit(samples: Floats) -> float:
    """Return the step of a recording of 16 or 24 bits, where full scale is 1; zero of any other."""
    some = samples[:: max(1, len(samples) // LOOKED_AT)]
    for bits in BITS:
        steps = some * 2.0 ** (bits - 1)
        if np.array_equal(steps, np.rint(steps)):
            return float(2.0 ** (1 - bits))
    return 0.0


def rounding_variance(step: float, noise_rms: float) -> float:
    """Return the variance of the part of rounding that comes again in each period, and so looks like the sound itself.

    Without noise that is q²/12; the mean error of rounding a value with normal noise of rms σ shrinks by exp(−2π²σ²/q²), so that noise
    of half a digit turns rounding into noise (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc. 40, 1992, from memory). Of the
    noise heard, q²/12 are the rounding itself.
    """
    if not step:
        return 0.0
    own = max(noise_rms**2 - step**2 / 12, 0.0)
    return step**2 / 12 * math.exp(-4 * math.pi**2 * own / step**2)
