"""Level and mean of a sound that is steady but has no period."""

from __future__ import annotations

import math

import numpy as np

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats

PARTS = 16  # that a recording is split into, to see how they scatter
STUDENT = 2.18 / 2  # fifteen degrees of freedom ask for 2.18 in place of 2 (JCGM 100:2008, table G.2, 95.45 %)


def level_and_mean(samples: Floats) -> tuple[Estimate, Estimate]:
    """Return the rms without the mean, and the mean; how both scatter over sixteen parts is their uncertainty.

    The mean of n values has the standard uncertainty s/√n (JCGM 100:2008, 4.2.3), enlarged so that k = 2 holds for so few; that of an rms is u(power)/(2·rms).

    Parameters
    ----------
    samples : (n,) where full scale is 1, at least one for each part

    """
    parts = samples[: len(samples) // PARTS * PARTS].reshape(PARTS, -1)
    means = parts.mean(axis=1)
    mean = float(samples.mean())
    powers = np.einsum("ij,ij->i", parts, parts) / parts.shape[1] - 2 * mean * means + mean**2
    rms = math.sqrt(max(float(powers.mean()), 0.0))
    mean_u, power_u = (STUDENT * float(np.std(values, ddof=1)) / math.sqrt(PARTS) for values in (means, powers))
    return Estimate(rms, power_u / (2 * rms) if rms else 0.0), Estimate(mean, mean_u)
