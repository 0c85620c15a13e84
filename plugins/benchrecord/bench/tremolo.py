"""Tremolo under a contour: a level that goes up and down again and again where a contour rises and falls once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats

LEAST = 0.03  # of the peak: a quarter of a decibel
CLEAR = 8.0  # standard deviations of the noise
SLOWEST_HZ = 1.0  # what comes more seldom is another contour
AGAIN, AT_ENDS = 1, 2  # tops of a cycle; those of cycles that are cut off by the ends of a recording


def tremolo_hz(level: Floats, cycles: Sequence[tuple[float, float]], step_s: float, *, peak: float, noise: float) -> float:
    """Return how often a second a level, (n,), goes up and down within its cycles; 0 where it rises and falls once.

    Parameters
    ----------
    level : of each step
    cycles : steps at which each rises above and falls below a tenth of its peak
    step_s : s
    peak : of the level
    noise : standard deviation of the level, as a share of the peak

    """
    prominence = peak * max(LEAST, CLEAR * noise)
    whole = _tops(level, prominence)
    within = [np.count_nonzero((whole >= first) & (whole <= last)) for first, last in cycles]
    again = max(within, default=0) > AGAIN or len(whole) > len(cycles) + AT_ENDS
    often = 1 / (float(np.median(np.diff(whole))) * step_s) if again and len(whole) > 1 else 0.0
    return often if often >= SLOWEST_HZ else 0.0


def _tops(level: Floats, prominence: float) -> Floats:
    """Return the steps of the tops that stand out so much of what lies between them."""
    tops, _ = scipy.signal.find_peaks(level, prominence=prominence)
    return np.asarray(tops, float)
