"""Sudden attacks of a tone: where its level rises within a few periods, so that no average may reach across."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.level_trail import Gathered, Spans

HALF_PERIODS = 8  # within which the level rises from LOW to HIGH of its top: an attack of eight periods at most
TOP_WITHIN = 3  # times as many half periods, over which the top that follows is looked for
LOW, HIGH = 0.3, 0.8  # of the top
BEGUN, ARRIVED = 0.05, 0.95  # of the top: where an attack has not begun, and where it is over
LEAST_TOP = 0.1  # of the highest level of the recording


def sudden_attacks(blocks: Iterable[Floats], rate: float, period_s: float) -> Spans:
    """Return the samples from which to which the level of a tone rises suddenly, in their order.

    The level is the rms of each period about its own mean, taken twice a period; direct voltage and what is slow do not count.

    Parameters
    ----------
    blocks : of samples
    rate : Hz
    period_s : of the tone; 0 for none, which has no sudden attacks

    """
    width = period_s * rate / 2
    if width < 1:
        return ()
    squares, means = Gathered(width), Gathered(width)
    for block in blocks:
        squares.add(block * block)
        means.add(block)
    power = _of_pairs(squares.means) - _of_pairs(means.means) ** 2
    level = np.sqrt(np.maximum(power, 0.0))
    if len(level) <= HALF_PERIODS:
        return ()
    return tuple((round(first * width), round((last + 2) * width)) for first, last in _rises(level))


def _of_pairs(values: Floats) -> Floats:
    return (values[1:] + values[:-1]) / 2


def _rises(level: Floats) -> list[tuple[int, int]]:
    """Return from which to which level, (n,), each sudden rise goes: where it has not begun, and where it is over."""
    ahead = TOP_WITHIN * HALF_PERIODS
    top = scipy.ndimage.maximum_filter1d(level, ahead, origin=-(ahead // 2), mode="nearest")
    later = level[HALF_PERIODS:]
    now, tops = level[:-HALF_PERIODS], top[:-HALF_PERIODS]
    sudden = (now < LOW * tops) & (later > HIGH * tops) & (tops > LEAST_TOP * float(level.max()))
    found: list[tuple[int, int]] = []
    for low in np.flatnonzero(sudden & ~np.append(sudden[1:], False)).tolist():
        begun = level[max(0, low - HALF_PERIODS) : low + 1] < BEGUN * top[low]
        arrived = level[low : low + ahead] >= ARRIVED * top[low]
        first = low - int(np.argmax(begun[::-1])) if begun.any() else low
        if not found or first > found[-1][1]:
            found.append((first, low + int(np.argmax(arrived))))
    return found
