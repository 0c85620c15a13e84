"""How the power of a decay fluctuates about its course: slowly by chance, and as fast as its tones and echoes come again."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.polynomial import legendre

from benchrecord.bench.fits import Floats

PIECES, COURSE = 256, 6
LEAST = 0.01  # of the mean of its logarithm: no course goes so low
SLOWEST = 4  # lines of its spectrum in which the course, taken off, leaves nothing
ENOUGH = 14  # from this line on it is fast
MOST_NOISE = 0.9  # of the power of a decay
STANDS_OUT = 6.0  # times what chance brings to a line: a fast one that comes again


@dataclass(frozen=True, slots=True)
class Fluctuation:
    """How a decay fluctuates about its course, and with the noise that lies under it.

    ``density_s`` is the relative variance of what is slow, times the time that it is averaged over, in s. ``course`` is its power
    without fluctuation, (m,), and ``ripple`` the part of its relative variance in each line of a spectrum of at least n steps that comes
    again faster, (at least n // 2 + 1,).
    """

    density_s: float
    course: Floats
    ripple: Floats

    def less(self, noise: float, noise_s: float) -> float:
        """Return the density of the decay alone, without that of a noise of this power and density, by itself and mixed with the decay.

        With q the share of the noise, (1 − q)² of the decay's density is seen, and 2·q·(1 − q) + q² of that of the noise, if it is white
        (class derived).
        """
        share = np.clip(noise / self.course, 0, MOST_NOISE)
        weight = np.hanning(len(share) + 2)[1:-1] ** 2
        seen = float(weight @ (share * (2 - share))) / float(weight.sum())
        return max(0.0, self.density_s - noise_s * seen) / (1 - seen)

    def of_sum(self, weights: Floats) -> float:
        """Return the variance that the ripple brings to Σ weights · power of (n,) steps, whatever its phases are.

        Behind its course a decay goes on as it went on the whole, so that nothing ends with an edge.
        """
        count, behind = len(self.course), np.arange(1, len(weights) - len(self.course) + 1)
        falls = math.log(self.course[-1] / self.course[0]) / (count - 1)
        whole = np.concatenate([self.course, self.course[-1] * np.exp(falls * behind)])
        return float(self.ripple @ np.abs(np.fft.rfft(weights * whole, _lasting(len(weights)))) ** 2)


def fluctuation_of(power: Floats, step_s: float, count: int, *, bandwidth_hz: float = math.inf) -> Fluctuation:
    """Return how a decay fluctuates about its course, which is a polynomial of its logarithm.

    The density of what is slow is the mean of the lowest lines of the spectrum but those that the course leaves nothing in. The power of
    noise in a band fluctuates the less the faster: evenly down to nothing at the bandwidth (J. S. Bendat and A. G. Piersol, Random Data,
    8.3, from memory). What such noise, whose density is one over the bandwidth, would lack in those lines is added: of a short decay in a
    narrow band they see little or nothing of it.

    Parameters
    ----------
    power : (m,) mean power of each step
    step_s : length of a step
    count : n, of the steps that are summed up; n ≥ m
    bandwidth_hz : of the band that was filtered out, where one was

    """
    size = max(1, len(power) // PIECES)
    pieces = np.maximum(power[: len(power) // size * size].reshape(-1, size).mean(axis=1), 1e-300)
    place = np.linspace(-1, 1, len(pieces))
    falls = legendre.legfit(place, np.log(pieces), COURSE)
    around = pieces / np.exp(legendre.legval(place, falls))
    mean = legendre.legfit(place, around, COURSE)  # that of a logarithm is not that of what swings
    window = np.hanning(len(pieces) + 2)[1:-1]
    lines = np.abs(np.fft.rfft(window * (around / legendre.legval(place, mean) - 1)))[SLOWEST:ENOUGH] ** 2
    density = float(lines.mean()) * size * step_s / float(window @ window) + _unseen(len(power) * step_s, bandwidth_hz)
    at = np.minimum(((np.arange(len(power)) + 0.5) / size - 0.5) * 2 / (len(pieces) - 1) - 1, 1.0)
    course = np.maximum(legendre.legval(at, mean), LEAST) * np.exp(legendre.legval(at, falls))
    return Fluctuation(density, course, _ripple(power / course - 1, density / step_s, count))


def _unseen(seconds: float, bandwidth_hz: float) -> float:
    """Return what the density of noise in a band lacks, on the mean, in the lines that tell it."""
    hz = np.arange(SLOWEST, ENOUGH) / seconds
    return float(np.minimum(hz / bandwidth_hz, 1).mean()) / bandwidth_hz


def _ripple(off: Floats, variance: float, count: int) -> Floats:
    """Return the part of the variance in each line that stands out of what is slow, which gives each step a variance."""
    window, size = np.hanning(len(off) + 2)[1:-1], _lasting(count)
    power, square = np.abs(np.fft.rfft(window * off, size)) ** 2, float(window @ window)
    power[: math.ceil(ENOUGH * size / len(off))] = 0.0
    power[power < STANDS_OUT * variance * square] = 0.0
    return power * 2 / (size * square)


def _lasting(count: int) -> int:
    """Return a length of at least so many steps that is transformed fast: a prime one takes five times as long."""
    return int(scipy.fft.next_fast_len(count, real=True))
