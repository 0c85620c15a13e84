"""The mean pitch of a wave that may wander, from where it stands in each frame of a recording."""

from __future__ import annotations

import math

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.polynomial import legendre

from benchrecord.bench.fits import Floats
from benchrecord.bench.spectra import Frames, overlaps, window_variance

CUBIC = 3  # order of the course that is taken for the wave's own wherever nothing else is seen
SLOWEST = 8  # of the slowest departures from it, taken together
# A departure that is not noise: its power, by that of noise, is above 2·ln n + this for one of n, or above the other for the slowest.
ONE, TOGETHER = 6.0, 2.0  # (own choice: steady waves pass in 97 of 100 cases)


def mean_pitch(place: Floats, noise: float, frames: Frames, length: int) -> tuple[float, float]:
    """Return how many periods a recording holds on average in a sample, and the standard uncertainty of that.

    The mean is that over the whole recording: where the wave stands at its end less where it stood at its beginning, over its length.
    Both lie half a frame beyond the middles. A cubic in time tells them, with the noise of all frames, where what departs from it is
    not more than noise; else the frames next to the ends do, with what extrapolating so far errs by everywhere else.

    Parameters
    ----------
    place : (frames,) where the wave stands in the middle of each frame, in periods; at least six
    noise : standard uncertainty of each, periods
    length : of the recording, samples

    """
    from_ends = _from_ends(place, noise, frames, length)
    scale = 2 / length
    basis = legendre.legvander(frames.middles * scale - 1, CUBIC)
    q, r = np.linalg.qr(basis)
    departures = place - q @ (q.T @ place)
    if _departs(departures, noise * math.sqrt(frames.shared)):
        return from_ends
    weights = q @ np.linalg.solve(r.T, _from_end_to_end(frames.size * scale)) / length
    scatter = float(np.linalg.norm(departures)) / math.sqrt(max(1.0, len(place) - (CUBIC + 1) * frames.shared))
    cubic = float(weights @ place), max(noise, scatter) * _spread(weights)
    return min(cubic, from_ends, key=lambda found: found[1])


def _from_end_to_end(size: float) -> Floats:
    """Return what each Legendre polynomial gains from −1 to 1, where it is read as its mean over a window of that size.

    Less half the variance of the window, times what its second derivative gains.
    """
    unit, bent = np.eye(CUBIC + 1), legendre.legder(np.eye(CUBIC + 1), 2)
    gained, bends = (legendre.legval(1.0, of) - legendre.legval(-1.0, of) for of in (unit, bent))
    return np.asarray(gained - size**2 * window_variance() / 2 * bends)


def _from_ends(place: Floats, noise: float, frames: Frames, length: int) -> tuple[float, float]:
    """Return the mean from both ends alone, each reached along the course of the last half frame.

    What extrapolating so far errs by everywhere else tells how far that is off, though no less than noise makes it: few frames can agree
    by chance.
    """
    half = max(1, round(frames.size / 2 / frames.hop))
    before, after = (gap / (half * frames.hop) for gap in (frames.middles[0], length - frames.middles[-1]))
    weights = np.zeros(len(place))
    for at, weight in ((-1, 1 + after), (-1 - half, -after), (0, -1 - before), (half, before)):
        weights[at] += weight
    off = place[2 * half :] - 2 * place[half:-half] + place[: -2 * half]
    u = float(np.sqrt(np.mean(off**2))) * math.hypot(before, after)
    return float(weights @ place) / length, max(u, noise * _spread(weights)) / length


def _departs(departures: Floats, noise: float) -> bool:
    """Tell departures from a course from noise by their slow part: there the overlap of frames leaves white noise even."""
    slow = scipy.fft.dct(departures, norm="ortho")[1 : max(CUBIC + 2, len(departures) // 8)]
    power = (slow / noise) ** 2
    return bool(power.max() > 2 * math.log(len(power)) + ONE or power[:SLOWEST].mean() > TOGETHER)


def _spread(weights: Floats) -> float:
    """Return the standard deviation of a weighted sum over frames, by that of one frame: overlapping frames share noise."""
    total = float(weights @ weights)
    total += 2 * sum(rho * float(weights[k:] @ weights[:-k]) for k, rho in enumerate(overlaps(), 1) if k < len(weights))
    return math.sqrt(total)
