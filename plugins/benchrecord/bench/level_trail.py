"""How the level of a recording goes, or its voltage: running means over any window, from one pass through the samples."""

from __future__ import annotations

import math
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchrecord.bench.fits import Floats

FINEST_S = 1e-4
MOST_STEPS = 1_200_000  # of a recording
IN_STEP = 0.01  # of a period: a wave compared with itself so nearly a period before cancels
# Window of the running mean that is taken off: periods of a tone, or s. A single period would take off noise where the power of a sine
# shows it, and so make it look less than it is.
MEAN_PERIODS, TONELESS_MEAN_S, PASSES = 4, 0.02, 3
Spans = tuple[tuple[int, int], ...]  # from which sample to which
SHARP_GAIN = 25 / 18  # of the variance of white noise, where the running mean is made sharp: (7/6)² + (1/6)²


@dataclass(frozen=True, slots=True)
class Trail:
    """What a recording holds in each of (n,) steps that are ``step_s`` long; its samples were taken at ``rate`` Hz.

    Attributes
    ----------
    means : mean power, or mean of the samples themselves where a voltage was recorded
    noise : mean power of what does not come again after a period of the tone; None where that was not asked for
    stir : rms of how far the power of a sample is from that of the one before; 0 for a voltage
    bridges : steps from which to which it is a straight line, in place of a click

    """

    means: Floats
    noise: Floats | None
    step_s: float
    rate: float
    stir: float = 0.0
    bridges: tuple[tuple[float, float], ...] = ()

    def at_s(self, step: float) -> float:
        """Return the time of the middle of a step, in s from the first sample."""
        return (step + 0.5) * self.step_s - 0.5 / self.rate


def voltage_trail(blocks: Iterable[Floats], rate: int, frames: int) -> Trail:
    """Return the trail of a voltage that was recorded as such, from a recording of so many frames that comes in blocks."""
    held = Gathered(_step_s(rate, frames) * rate)
    for block in blocks:
        held.add(block)
    return Trail(held.means, None, held.width / rate, rate)


def level_trail(
    blocks: Iterable[Floats],
    rate: int,
    frames: int,
    *,
    periods_s: tuple[float, float] = (0.0, 0.0),
    attacks: Spans = (),
) -> Trail:
    """Return the trail of the power of a tone, from a recording of so many frames that comes in blocks.

    Direct voltage, hum and rumble below the tone are taken off first, as the running mean over four periods of it. Half the mean square of the difference to what was there a period before is the power of the noise: the tone cancels.
    ``periods_s`` are that of the tone and that of its power, which whole steps fill; 0 where it has none. ``attacks`` are those that are
    over within a few periods: the running mean keeps to either side of them.
    """
    width = _step_s(rate, frames, periods_s[1]) * rate
    power, noise = Gathered(width), Gathered(width)
    lag = _lag(periods_s[0] * rate)
    before, stirred = np.zeros(lag), 0.0
    for block in without_mean(blocks, round((MEAN_PERIODS * periods_s[0] or TONELESS_MEAN_S) * rate), attacks):
        own = block * block
        power.add(own)
        stir = np.diff(own)
        stirred += float(stir @ stir)
        if lag:
            flat = np.concatenate([before, block])
            apart = block - flat[: len(block)]
            noise.add(0.5 * apart * apart)
            before = flat[len(flat) - lag :]
    return Trail(power.means, noise.means if lag else None, width / rate, rate, math.sqrt(stirred / max(1, frames)))


def without_mean(blocks: Iterable[Floats], size: int, attacks: Spans = ()) -> Iterator[Floats]:
    """Yield a recording less its running mean about each sample, taken three times over ``size`` samples (the next odd number).

    That is a linear high pass without delay: it changes the level of a steady tone by a constant factor. A mean taken once would let the
    loud end of its window into a faint middle. Nearer to the ends than half of all windows the mean stays what it is there.

    A window that holds but part of a tone has a mean of its own: a sudden attack would spoil all levels that its windows reach to. Nearer
    to one than half of all windows, the mean stays what it is there too, on either side, and goes straight from one to the other within.
    """
    reach, first = PASSES * (size // 2), 0
    zones = _zones(attacks, reach)
    held, mean = np.empty(0), np.empty(0)
    for block, own in _with_means(blocks, size):
        held, mean = np.concatenate([held, block]), np.concatenate([mean, own])
        end = first + len(held)
        if any(zone[0] <= end <= zone[3] for zone in zones):
            continue
        yield held - _kept_to_sides(mean, first, zones)
        held, mean, first = held[:0], mean[:0], end
    if len(held):
        yield held - _kept_to_sides(mean, first, zones)


def _zones(attacks: Spans, reach: int) -> list[tuple[int, int, int, int]]:
    """Return for each attack the samples from which on windows reach to it, where it begins, is over, and is reached no more.

    Between two attacks that are close to each other each has its half.
    """
    halves = [(over + begins) // 2 for (_, over), (begins, _) in pairwise(attacks)]
    return [
        (max(begins - reach, before), begins, over, min(over + reach, after))
        for (begins, over), before, after in zip(attacks, (0, *halves), (*halves, sys.maxsize), strict=False)
    ]


def _kept_to_sides(mean: Floats, first: int, zones: Sequence[tuple[int, int, int, int]]) -> Floats:
    """Return running means, (n,) from a sample on, that do not reach across an attack."""
    stop, kept = first + len(mean), mean
    for zone in zones:
        if zone[3] < first or zone[0] >= stop:
            continue
        kept = mean.copy() if kept is mean else kept
        start, begins, over, end = (min(max(at - first, 0), len(mean) - 1) for at in zone)
        kept[start:begins], kept[over:end] = mean[start], mean[end]
        kept[begins:over] = np.linspace(mean[start], mean[end], over - begins)
    return kept


def _with_means(blocks: Iterable[Floats], size: int) -> Iterator[tuple[Floats, Floats]]:
    """Yield a recording with its running mean about each sample, taken three times."""
    half, reach, held, mean = size // 2, PASSES * (size // 2), np.empty(0), None
    for block in blocks:
        held = np.concatenate([held, block])
        if len(held) <= 2 * reach:
            continue
        means = held
        for _ in range(PASSES):
            total = running_total(means)
            means = (total[2 * half + 1 :] - total[: -2 * half - 1]) / (2 * half + 1)
        start = reach if mean is not None else 0
        mean = np.concatenate([np.full(reach - start, means[0]), means])
        yield held[start : len(held) - reach], mean
        held = held[len(held) - 2 * reach :]
    if mean is None:
        yield held, np.full(len(held), held.mean() if len(held) else 0.0)
    elif reach:
        yield held[reach:], np.full(len(held) - reach, mean[-1])


def _step_s(rate: int, frames: int, period_s: float = 0.0) -> float:
    """Return how long steps are: as short as is useful, and not too many, and so that a period is a whole number of them."""
    wanted = max(FINEST_S, 1 / rate, frames / rate / MOST_STEPS)
    if not period_s:
        return wanted
    return period_s / max(1, int(period_s / wanted)) if wanted <= period_s else period_s * math.ceil(wanted / period_s)


def _lag(period: float) -> int:
    """Return the whole number of samples that is a multiple of the period, as short a one as comes close; the period counts in samples."""
    if not period:
        return 0
    lags = [round(times * period) for times in range(1, 9)]
    off = [abs(lag / period - round(lag / period)) for lag in lags]
    return next((lag for lag, beside in zip(lags, off, strict=True) if beside <= IN_STEP), lags[off.index(min(off))])


class Gathered:
    """Means of values over steps of ``width`` values, which need not be whole; values come in blocks of any length."""

    def __init__(self, width: float) -> None:
        self.width = width
        self._sums: list[Floats] = []
        self._count = 0  # values before this block
        self._steps = 0  # whole steps so far
        self._open = 0.0  # what the step that is not whole yet holds

    def add(self, values: Floats) -> None:
        """Add the next block."""
        total = running_total(values)
        self._count += len(values)
        steps = int(self._count / self.width)
        ends = np.arange(self._steps + 1, steps + 1) * self.width - (self._count - len(values))
        whole = np.clip(ends.astype(int), 0, max(0, len(values) - 1))
        at_ends = total[whole] + (ends - whole) * values[whole] if len(ends) else np.empty(0)
        self._sums.append(np.diff(at_ends, prepend=-self._open) if len(ends) else np.empty(0))
        self._open = float(total[-1] - at_ends[-1]) if len(ends) else self._open + float(total[-1])
        self._steps = steps

    @property
    def means(self) -> Floats:
        """The mean of each whole step."""
        found: Floats = np.concatenate([np.empty(0), *self._sums]) / self.width
        return found


def running_total(values: Floats) -> Floats:
    """Return what values, (n,), add up to before each of them and after the last, (n + 1,)."""
    total = np.zeros(len(values) + 1)
    np.cumsum(values, out=total[1:])
    return total


@dataclass(frozen=True, slots=True)
class Running:
    """A running total of (n,) steps, (n + 1,), from which the mean over any window is quickly had; the ends go on as they are."""

    total: Floats
    first: float
    last: float

    @classmethod
    def of(cls, steps: Floats) -> Running:
        """Add up steps, (n,), n ≥ 1."""
        return cls(running_total(steps), float(steps[0]), float(steps[-1]))

    def mean(self, half: float, shift: float = 0.0) -> Floats:
        """Return the mean from ``half`` steps before to ``half`` after the middle of each step, or of what lies ``shift`` steps later."""
        mean = self._at(0.5 + shift + half)
        mean -= self._at(0.5 + shift - half)
        mean /= 2 * half
        return mean

    def _at(self, place: float) -> Floats:
        """Return the total at (n,) places one step apart; between two steps it runs straight."""
        count = len(self.total) - 1
        whole = int(np.floor(place))
        start, stop = min(count, max(0, -whole)), max(0, min(count, count - whole))
        found = np.empty(count)
        found[:start] = (place + np.arange(start)) * self.first
        found[stop:] = self.total[-1] + (place + np.arange(stop, count) - count) * self.last
        if start < stop:
            low = self.total[whole + start : whole + stop]
            between = np.subtract(self.total[whole + start + 1 : whole + stop + 1], low, out=found[start:stop])
            between *= place - whole
            between += low
        return found


def evened(course: Trail, ripple_s: float) -> Running:
    """Return the running total of a trail after its mean over a ripple of such a period was taken; 0 for none.

    A tone whose power is not even over its period leaves a ripple in the mean over one period while its level changes; averaged over
    a period once more it leaves none to first order.
    """
    running = Running.of(course.means)
    return Running.of(running.mean(ripple_s / course.step_s / 2)) if ripple_s > 0 else running


def smoothed(course: Trail, window_s: float, *, ripple_s: float = 0.0, sharp: bool = False) -> Floats:
    """Return the running mean over a window about the middle of each step, (n,), and over a ripple where there is one."""
    return smooth(evened(course, ripple_s), window_s / course.step_s, ripple=ripple_s / course.step_s, sharp=sharp)


def smooth(running: Running, window: float, *, ripple: float = 0.0, sharp: bool = False) -> Floats:
    """Return the running mean over a window about the middle of each step, (n,), of what was averaged over a ripple before.

    Means over widths W and P add (W² + P²)/24 of the second derivative. ``sharp`` takes that off, with the second difference of the mean
    W/2 apart, so that straight lines and parabolas come out unchanged; only corners nearer than W + P/2 are rounded (class derived).

    Parameters
    ----------
    running : of (n,) steps
    window, ripple : in steps; a window is at least one

    """
    half = max(window, 1.0) / 2
    middle = running.mean(half)
    if not sharp:
        return middle
    return middle - (running.mean(half, -half) - 2 * middle + running.mean(half, half)) * (1 + (ripple / (2 * half)) ** 2) / 6
