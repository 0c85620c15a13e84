"""Uncertainty of measurement after JCGM 100:2008 (the GUM)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Summary

K = 2.0
TWO_SIGMA = math.erf(math.sqrt(2))  # the share that lies within two standard deviations of a normal distribution
# Standard deviation of a distribution of half-width a is a over this (JCGM 100:2008, 4.3.7 and 4.3.9).
DIVISORS = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "u-shaped": math.sqrt(2), "normal k=2": 2.0}


def meter_uncertainty(reading: float, *, reading_percent: float, counts: float = 0.0, resolution: float = 0.0) -> float:
    """Return the standard uncertainty of a meter's reading, in its unit.

    The meter's limit of error is percent of reading plus counts of the resolution, taken as rectangular: limit/√3.
    """
    return (abs(reading) * reading_percent / 100 + counts * resolution) / DIVISORS["rectangular"]


def resolution_uncertainty(step: float) -> float:
    """Return the standard uncertainty of a digital step: step/(2√3)."""
    return step / (2 * DIVISORS["rectangular"])


def trapezoid_divisor(beta: float) -> float:
    """Return the divisor of a symmetric trapezoid whose top is ``beta`` of its base: √(6/(1 + β²)) (JCGM 100:2008, 4.3.9)."""
    return math.sqrt(6 / (1 + beta**2))


def expanded(standard: float, k: float = K) -> float:
    """Return the expanded uncertainty U = k·u."""
    return k * standard


def combine(*standard: float) -> float:
    """Return the root of the sum of squares (JCGM 100:2008, 5.1.2, independent contributions)."""
    return math.hypot(*standard)


def uncertainty_of_mean(spread: Summary, of_meter: float) -> float:
    """Return the expanded uncertainty of the mean of readings, in their unit.

    The spread gives s/√n with n − 1 degrees of freedom (JCGM 100:2008, 4.2), the meter its standard uncertainty, known exactly and
    the same for all readings; the coverage factor for 95.45 % is Student's at the effective degrees of freedom (G.4), at least 2.

    Parameters
    ----------
    spread : of two or more readings
    of_meter : standard uncertainty of a single reading, in their unit; zero where it is not known

    """
    standard = [spread.standard_uncertainty, of_meter]
    freedom = effective_degrees_of_freedom(standard, [spread.n - 1, math.inf])
    return max(K, coverage_factor(TWO_SIGMA, freedom)) * combine(*standard)


def combine_correlated(contributions: Sequence[float], correlation: Sequence[Sequence[float]]) -> float:
    """Return the combined standard uncertainty of correlated inputs (JCGM 100:2008, 5.2.2, eq. (16)).

    Parameters
    ----------
    contributions : (n,) sensitivity times standard uncertainty of each input, with its sign, in one unit
    correlation : (n, n) correlation coefficients of the inputs

    """
    c = np.asarray(contributions, float)
    return math.sqrt(max(0.0, float(c @ np.asarray(correlation, float) @ c)))


def effective_degrees_of_freedom(standard: Sequence[float], freedom: Sequence[float]) -> float:
    """Return Welch's and Satterthwaite's effective degrees of freedom (JCGM 100:2008, G.4).

    Parameters
    ----------
    standard : contributions to the combined standard uncertainty, in one unit
    freedom : degrees of freedom of each; ``math.inf`` where it is known exactly

    """
    below = sum(u**4 / v for u, v in zip(standard, freedom, strict=True))
    return combine(*standard) ** 4 / below if below else math.inf


def coverage_factor(probability: float, freedom: float = math.inf) -> float:
    """Return the two-sided coverage factor k of Student's distribution (JCGM 100:2008, table G.2)."""
    tail = (1 + probability) / 2
    return float(scipy.special.ndtri(tail) if math.isinf(freedom) else scipy.special.stdtrit(freedom, tail))
