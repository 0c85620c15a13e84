"""Smear: what harmonics lose where a pitch moves within the frames that they are read from, as under vibrato."""

from __future__ import annotations

import numpy as np

from benchrecord.bench.fits import Floats
from benchrecord.bench.harmonics import Course
from benchrecord.bench.spectra import Frames, kaiser

SMOOTHED = (
    1.5  # times as much is lost as the places show: they are means over frames themselves (seen in simulation: 0.7 to 2 times)
)
OF_NOISE = 6.0  # variance of a second difference of independent places, by that of each: 1² + 2² + 1²


def smear_of(course: Course, frames: Frames) -> float:
    """Return the share of its amplitude that the fundamental loses; harmonic n loses n² times as much, while that is little.

    Within a frame a pitch that moves by c periods a sample, each sample, turns harmonic n by π·n·c·t² at the time t from the middle. What
    is read is the mean of that under the window: its modulus is less by (π·n·c)²/2 times the variance of t² (class derived). The mean of
    c² is that of the second differences of the places, less what noise brings to them.
    """
    if len(course.local) == 1 or frames.count < 3:  # noqa: PLR2004  # a second difference takes three
        return 0.0
    moved = float(np.mean(np.diff(course.measured, 2) ** 2)) - OF_NOISE * course.noise**2
    squares = (np.arange(frames.size) - (frames.size - 1) / 2) ** 2 / frames.hop**2
    return SMOOTHED * (np.pi**2 / 2) * max(moved, 0.0) * _variance(squares, kaiser(frames.size))


def lost_shares(smear: float, numbers: Floats) -> Floats:
    """Return the share of its amplitude that each of these harmonics loses, 1 at most; 1 is the fundamental."""
    return np.minimum(smear * numbers**2, 1.0)


def _variance(values: Floats, window: Floats) -> float:
    """Return the variance of values under a window."""
    weights = window / window.sum()
    return float(weights @ values**2 - (weights @ values) ** 2)
