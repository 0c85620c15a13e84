"""Readings that are a multiple or a fraction of the true frequency, and steps that were listed in another order than they were played."""

from __future__ import annotations

import math
import operator
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

import numpy as np

from benchrecord.bench.fits import Floats, polynomial_fit
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, cents
from benchrecord.bench.reasons import NotHad

MOST_TIMES, WITHIN_CENTS = 12, 60.0  # multiples and fractions that are looked for, and how close a reading comes to one
SCALES, STRAIGHT_CENTS = (0.8, 1.25), 60.0  # of the nominal scale, and departures from a line: readings that fit it
STEP_SHARE = 0.5  # of the least step: what is farther from the scale may belong to another one


def factor_of(hz: float, against_hz: float) -> Fraction | None:
    """Return which multiple or fraction of a frequency another one is; None where it is none."""
    for number in range(2, MOST_TIMES + 1):
        for factor in (Fraction(number), Fraction(1, number)):
            if abs(cents(hz, float(factor) * against_hz)) < WITHIN_CENTS:
                return factor
    return None


def times_of(hz: float, against_hz: float) -> str:
    """Say which multiple or fraction of a frequency another one is: ``2 times``, ``1/3 of``; empty where it is none."""
    factor = factor_of(hz, against_hz)
    return factor_words(factor) if factor else ""


def factor_words(factor: Fraction) -> str:
    """Say which multiple or fraction something is: ``2 times``, ``1/3 of``."""
    return f"{factor} times" if factor.denominator == 1 else f"{factor} of"


def misread_ones(expected: Sequence[float], hz: Sequence[float]) -> dict[int, Fraction]:
    """Return the places of readings that are a multiple or a fraction of what most of the others let expect, and which.

    What changes from one reading to the next by such a factor more than the scale lets expect begins another row of readings; the longest
    row is right, or the first of several.

    Parameters
    ----------
    expected, hz : (n,) frequencies that the scale gives, up to a factor, and those that were read; all above zero

    """
    ratios = [f / e for f, e in zip(hz, expected, strict=True)]
    jumps = (factor_of(after, before) or Fraction(1) for before, after in pairwise(ratios))
    rows = list(accumulate(jumps, operator.mul, initial=Fraction(1)))
    usual = Counter(rows).most_common(1)[0][0]
    return {n: row / usual for n, row in enumerate(rows) if row != usual}


def fits_scale(octaves: Floats, hz: Floats) -> bool:
    """Say whether frequencies, (n,), lie about a line of about the nominal slope over so many nominal octaves."""
    line = polynomial_fit(octaves, np.log2(hz), 1)
    if isinstance(line, NotHad):
        return False
    left = CENTS_PER_OCTAVE * np.abs(np.log2(hz) - line.coefficients[0] - line.coefficients[1] * octaves)
    return bool(SCALES[0] < line.coefficients[1] < SCALES[1] and left.max() < STRAIGHT_CENTS)


def in_another_order(octaves: Sequence[float], hz: Sequence[float]) -> list[int] | None:
    """Return the places of the listed steps in the order that they were played in, where they fit sorted and not as they are listed."""
    listed, heard = np.asarray(octaves, float), np.asarray(hz, float)
    by_step, by_pitch = np.argsort(listed, kind="stable"), np.argsort(heard, kind="stable")
    if len(listed) < 3 or fits_scale(listed, heard) or not fits_scale(listed[by_step], heard[by_pitch]):  # noqa: PLR2004  # two always fit a line
        return None
    played = np.empty(len(listed), int)
    played[by_pitch] = by_step
    return played.tolist()


def without_one(octaves: Sequence[float], hz: Sequence[float]) -> int | None:
    """Return which one of the longer row fits nothing of the shorter, where the others fit: a tone too many, or a step not played.

    Parameters
    ----------
    octaves, hz : one of them longer by one than the other, which has at least three

    """
    longer, shorter = sorted((np.asarray(octaves, float), np.asarray(hz, float)), key=len, reverse=True)
    swapped = len(hz) < len(octaves)
    if len(longer) != len(shorter) + 1 or len(shorter) < 3:  # noqa: PLR2004  # two always fit a line
        return None
    rest = [np.delete(longer, n) for n in range(len(longer))]
    good = [n for n, own in enumerate(rest) if (fits_scale(own, shorter) if swapped else fits_scale(shorter, own))]
    return good[0] if len(good) == 1 else None


def beyond_a_step(octaves: Sequence[float], errors_cents: Sequence[float]) -> float | None:
    """Return the largest error where it is more than half of the least step between readings; None where it is not."""
    steps = np.diff(np.unique(np.asarray(octaves, float)))
    worst = max((abs(e) for e in errors_cents), default=0.0)
    if not len(steps) or not math.isfinite(worst):
        return None
    return worst if worst > STEP_SHARE * CENTS_PER_OCTAVE * float(steps.min()) else None
