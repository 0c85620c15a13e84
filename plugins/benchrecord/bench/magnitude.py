"""The magnitude of what a circuit lets through, over frequency, with its uncertainty; and what each way of finding it needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats

DB = 20 / math.log(10)
ROOM, HALVING, PADDED = 2.2, ("kaiser", 9.0), 64  # times the highest frequency wanted: a rate that is twice as high is halved
FAINT = 1e-12


@dataclass(frozen=True, slots=True)
class Magnitude:
    """Levels over frequency: Hz and dB, (n,), with the standard uncertainty of each level, dB, and the part of it that neighbours share.

    ``how`` names the way. ``third`` is the third harmonic that a swept sine has, as a share of what comes through: 0 where none is heard.
    """

    hz: Floats
    level_db: Floats
    level_u_db: Floats
    shared_u_db: Floats
    how: str
    third: float = 0.0


def points(low_hz: float, high_hz: float, per_octave: int) -> Floats:
    """Return frequencies from one to another, Hz, so many of them in each octave; at least two."""
    count = max(2, math.floor(math.log2(high_hz / low_hz) * per_octave) + 1)
    return np.asarray(low_hz * 2 ** (np.arange(count) / per_octave))


def no_faster(sounds: list[Floats], rate: float, top_hz: float) -> tuple[list[Floats], float]:
    """Return sounds at half the rate as long as that leaves room for what is wanted; what the halving does to both is alike."""
    while rate / 2 >= ROOM * top_hz:
        # what the filter lays before and behind belongs to a sound as well
        sounds, rate = [scipy.signal.resample_poly(np.pad(x, PADDED), 1, 2, window=HALVING) for x in sounds], rate / 2
    return sounds, rate
