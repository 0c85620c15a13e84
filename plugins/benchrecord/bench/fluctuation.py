"""How the power of a decay fluctuates about its course: slowly by chance, and as fast as its tones and echoes come again."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.polynomial import legendre

from benchrecord.bench.fits import Floats

PIECES, COURSE = 256, 6
EVEN, ROUNDS, TRIALS, SETTLED = 8, 40, 6, 1e-6  # of the pieces, the first guess of a course is a mean over; steps of its fit
LEAST = 0.01  # of the loudest nearby: no course goes so low
MOST, FARTHEST = 700.0, 1e3  # an exponent that has a power; of a course, how far a step of its fit may see power above it
NOTHING = 1e-300  # a power that has a logarithm
SLOWEST = 4  # lines of its spectrum in which the course, taken off, leaves nothing
ENOUGH = 14  # below this line, what does not come again is slow
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

    The density of what is slow is the mean of the lowest lines of the spectrum but those that the course leaves nothing in, and those
    that stand out: echoes, which come again. The power of noise in a band fluctuates the less the faster: evenly down to nothing at the
    bandwidth (J. S. Bendat and A. G. Piersol, Random Data, 8.3, from memory). What such noise, whose density is one over the bandwidth,
    would lack in those lines is added: of a short decay in a narrow band they see little or nothing of it.

    Parameters
    ----------
    power : (m,) mean power of each step
    step_s : length of a step
    count : n, of the steps that are summed up; n ≥ m
    bandwidth_hz : of the band that was filtered out, where one was

    """
    size = max(1, len(power) // PIECES)
    pieces = np.maximum(power[: len(power) // size * size].reshape(-1, size).mean(axis=1), NOTHING)
    falls = _course(pieces)
    window = np.hanning(len(pieces) + 2)[1:-1]
    lines = np.abs(np.fft.rfft(window * (pieces / np.exp(falls) - 1)))[SLOWEST:ENOUGH] ** 2
    density = _by_chance(lines) * size * step_s / float(window @ window) + _unseen(len(power) * step_s, bandwidth_hz)
    course = np.exp(np.interp((np.arange(len(power)) + 0.5) / size - 0.5, np.arange(len(pieces)), falls))
    return Fluctuation(density, course, _ripple(power / course - 1, density / step_s, count))


def _by_chance(lines: Floats) -> float:
    """Return the mean of lines of a spectrum without those that echoes bring; half of what chance brings is below ln 2 of its mean."""
    chance = lines[lines <= STANDS_OUT * float(np.median(lines)) / math.log(2)]
    return float(chance.mean()) if len(chance) else 0.0


def _course(pieces: Floats) -> Floats:
    """Return the logarithm of what power, (n,), is on the mean, by the likelihood of gamma deviates.

    Fisher's scoring with a logarithmic link (P. McCullagh and J. A. Nelder, Generalized Linear Models, 2.5 and 8.3, from memory). A fit
    of logarithms would follow the gaps between echoes, from which nearly nothing comes, and leave the echoes far above it. Where a gap
    lies at an end, nothing holds the polynomial but the echoes nearby.
    """
    basis = legendre.legvander(np.linspace(-1, 1, len(pieces)), COURSE)
    near = max(1, len(pieces) // EVEN)
    smooth = scipy.ndimage.uniform_filter1d(pieces, near, mode="nearest")
    inverse = np.linalg.pinv(basis)
    found = inverse @ np.log(np.maximum(smooth, NOTHING))
    misfit = _misfit(basis @ found, pieces)
    for _ in range(ROUNDS):
        step = inverse @ np.clip(pieces * np.exp(np.minimum(-basis @ found, MOST)) - 1, -1, FARTHEST)
        shares = 0.5 ** np.arange(TRIALS)
        tried = [_misfit(basis @ (found + share * step), pieces) for share in shares]
        best = int(np.argmin(tried))
        if not tried[best] < misfit * (1 - SETTLED):
            break
        found, misfit = found + shares[best] * step, tried[best]
    loudest = np.log(scipy.ndimage.maximum_filter1d(pieces, 2 * near, mode="nearest"))
    return np.asarray(np.clip(basis @ found, loudest + math.log(LEAST), loudest))


def _misfit(log_mean: Floats, pieces: Floats) -> float:
    """Return the deviance of gamma deviates but for what does not depend on the fit: Σ (p/m + ln m)."""
    with np.errstate(over="ignore"):
        total = float(np.sum(pieces * np.exp(-log_mean) + log_mean - np.log(pieces)))
    return total if math.isfinite(total) else math.inf


def _unseen(seconds: float, bandwidth_hz: float) -> float:
    """Return what the density of noise in a band lacks, on the mean, in the lines that tell it."""
    hz = np.arange(SLOWEST, ENOUGH) / seconds
    return float(np.minimum(hz / bandwidth_hz, 1).mean()) / bandwidth_hz


def _ripple(off: Floats, variance: float, count: int) -> Floats:
    """Return the part of the variance in each line that stands out of what is slow, which gives each step a variance."""
    window, size = np.hanning(len(off) + 2)[1:-1], _lasting(count)
    power, square = np.abs(np.fft.rfft(window * off, size)) ** 2, float(window @ window)
    power[: math.ceil(SLOWEST * size / len(off))] = 0.0
    power[power < STANDS_OUT * variance * square] = 0.0
    return power * 2 / (size * square)


def _lasting(count: int) -> int:
    """Return a length of at least so many steps that is transformed fast: a prime one takes five times as long."""
    return int(scipy.fft.next_fast_len(count, real=True))
