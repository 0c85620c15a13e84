"""Clicks in a recording of a contour: bursts of a few milliseconds that stand out of what is before and after them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.level_trail import Trail

BLOCK_S = 0.001  # power is looked at in blocks of this length, or of a period of the tone
LONGEST_BLOCKS = 3  # of a click
AROUND = 3  # blocks before and after a click whose middle one is the level there
STANDS_OUT, OF_PEAK = (
    1.5,
    0.08,
)  # times the level on both sides, and more than that by this share of the highest level that lasts
ABRUPT = 3.0  # times as far as what follows falls in as many blocks: what dies away falls on
LEAST_LASTING = 0.1  # of the highest level: else the burst is the contour itself
LASTS = 11  # blocks, over which a level lasts whose middle one is as high
LAGS = 8  # periods
LONGER = 3  # times as many blocks as the click has: so long is what lasts

Spans = tuple[tuple[int, int], ...]


def clicks_in(samples: Floats, rate: float, *, period_s: float = 0.0, noisy: bool = False) -> Spans:
    """Return where clicks begin and end, in samples.

    A click rises above both sides within a few blocks and falls as abruptly, to where the level then stays; a contour that is as short
    goes on falling, and nothing else lasts in its recording.

    Parameters
    ----------
    samples : (n,)
    rate : Hz
    period_s : of the tone, whose power is not even within it; 0 for none
    noisy : whether it is a sound without a tone, whose highest samples are chance

    """
    size = max(1, math.ceil(max(BLOCK_S, period_s) * rate))
    count = len(samples) // size
    if count < LASTS:
        return ()
    blocks = samples[: count * size].reshape(count, size)
    rested = blocks - np.median(samples[:: max(1, size // 4)])
    level = np.sqrt(np.mean(rested**2, axis=1)) if noisy else np.abs(rested).max(axis=1)
    lasting = scipy.ndimage.median_filter(level, LASTS, mode="nearest")
    top = float(lasting.max())
    if top < LEAST_LASTING * float(level.max()):
        return ()
    runs = _runs(level, OF_PEAK * top)
    loud = int(np.count_nonzero(lasting > top / 2))
    return tuple(((a - 1) * size if a else 0, min(len(samples), (b + 1) * size)) for a, b in runs if LONGER * (b - a) <= loud)


def _runs(level: Floats, least: float) -> list[tuple[int, int]]:
    """Return the runs of blocks that stand out abruptly of what is around them."""
    found: list[tuple[int, int]] = []
    high = np.flatnonzero(level > least)
    at = 0
    for start in high.tolist():
        if start < at:
            continue
        for stop in range(start + 1, min(start + LONGEST_BLOCKS, len(level)) + 1):
            if _stands_out(level, start, stop, least):
                found.append((start, stop))
                at = stop
                break
    return found


def _stands_out(level: Floats, start: int, stop: int, least: float) -> bool:
    before, after = level[max(0, start - AROUND) : start], level[stop : stop + AROUND]
    if not len(before) or not len(after):
        return False
    around, lowest = max(float(np.median(before)), float(np.median(after))), float(level[start:stop].min())
    falls = float(level[stop - 1]) - float(after[0])
    further = max(0.0, float(after[0]) - float(after[-1]))
    return lowest > STANDS_OUT * around and lowest > around + least and falls > ABRUPT * further


def blanked(samples: Floats, spans: Spans) -> Floats:
    """Return samples, (n,), with a straight line in place of each click."""
    if not spans:
        return samples
    clean = samples.copy()
    for start, stop in spans:
        before, after = (float(part.mean()) if len(part) else 0.0 for part in _sides(samples, start, stop))
        clean[start:stop] = np.linspace(before, after, stop - start)
    return clean


def bridged(course: Trail, spans: Spans, *, period_s: float = 0.0) -> Trail:
    """Return a trail with a straight line in place of each click; the noise compares with up to eight periods of the tone before."""
    if not spans:
        return course
    steps = tuple((a / course.rate / course.step_s - 1, b / course.rate / course.step_s + 1) for a, b in spans)
    late = tuple((a, b + (LAGS * period_s) / course.step_s) for a, b in steps)
    noise = course.noise if course.noise is None else _bridged(course.noise, late)
    return replace(course, means=_bridged(course.means, steps), noise=noise, bridges=steps)


def _bridged(values: Floats, spans: Sequence[tuple[float, float]]) -> Floats:
    """Return values of steps, (n,), with a straight line over each span, from the level before to that after it."""
    found = values.copy()
    for start, stop in spans:
        first, last = max(0, math.floor(start)), min(len(values), math.ceil(stop))
        if first < last:
            before, after = (float(part.mean()) if len(part) else 0.0 for part in _sides(values, first, last))
            found[first:last] = np.linspace(before, after, last - first)
    return found


def _sides(values: Floats, start: int, stop: int) -> tuple[Floats, Floats]:
    size = max(1, stop - start)
    return values[max(0, start - size) : start], values[stop : stop + size]
