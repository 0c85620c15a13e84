"""How the level of a recording goes, or its voltage: running means over any window, from one pass through the samples."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats

FINEST_S = 5e-5
MOST_STEPS = 2_000_000  # of a recording: an hour in steps of somewhat less than two milliseconds
SHARP_GAIN = 25 / 18  # of the variance of white noise, where the running mean is made sharp: (7/6)² + (1/6)²


@dataclass(frozen=True, slots=True)
class Trail:
    """What a recording holds in each of (n,) steps, each of ``samples`` samples taken 1/``rate`` s apart.

    Attributes
    ----------
    means : mean power, or mean of the samples themselves where a voltage was recorded
    noise : mean power of what does not come again after a period of the tone; None where that was not asked for

    """

    means: Floats
    noise: Floats | None
    samples: int
    rate: float

    @property
    def step_s(self) -> float:
        """How long a step is."""
        return self.samples / self.rate

    def at_s(self, step: float) -> float:
        """Return the time of the middle of a step, in s from the start."""
        return (step * self.samples + (self.samples - 1) / 2) / self.rate


def voltage_trail(blocks: Iterable[Floats], rate: int, frames: int) -> Trail:
    """Return the trail of a voltage that was recorded as such, from a recording of so many frames that comes in blocks."""
    step = _step(rate, frames)
    means = [grid.mean(axis=1) for grid in _grids(blocks, step)]
    return Trail(np.concatenate([np.empty(0), *means]), None, step, rate)


def level_trail(blocks: Iterable[Floats], rate: int, frames: int, *, period_s: float = 0.0) -> Trail:
    """Return the trail of the power of a tone, from a recording of so many frames that comes in blocks.

    Half the mean square of the difference to what was there a period before is the power of the noise: the tone cancels.
    ``period_s`` is that of the tone, 0 where it has none.
    """
    step, lag = _step(rate, frames), _lag(period_s * rate)
    power, noise, before = [], [], np.zeros(lag)
    for grid in _grids(blocks, step):
        power.append(np.einsum("ij,ij->i", grid, grid) / step)
        if lag:
            flat = np.concatenate([before, grid.ravel()])
            apart = (flat[lag:] - flat[:-lag]).reshape(-1, step)
            noise.append(np.einsum("ij,ij->i", apart, apart) / (2 * step))
            before = flat[-lag:]
    nothing = np.empty(0)
    return Trail(np.concatenate([nothing, *power]), np.concatenate([nothing, *noise]) if lag else None, step, rate)


def _step(rate: int, frames: int) -> int:
    return max(1, round(rate * FINEST_S), -(-frames // MOST_STEPS))


def _lag(period: float) -> int:
    """Return the whole number of samples that is closest to a multiple of the period; the period counts in samples."""
    if not period:
        return 0
    return min((round(times * period) for times in range(1, 9)), key=lambda lag: abs(lag / period - round(lag / period)))


def _grids(blocks: Iterable[Floats], step: int) -> Iterable[Floats]:
    """Yield a recording as rows of ``step`` samples; what is left of a block goes to the next."""
    rest = np.empty(0)
    for block in blocks:
        whole = np.concatenate([rest, block]) if len(rest) else block
        end = len(whole) - len(whole) % step
        rest = whole[end:]
        yield whole[:end].reshape(-1, step)


def smoothed(course: Trail, window_s: float, *, ripple_s: float = 0.0, sharp: bool = False) -> Floats:
    """Return the running mean over a window about the middle of each step, (n,); the ends are continued as they are.

    A tone whose power is not even over its period leaves a ripple in the mean over one period while its level changes; averaged over
    a period once more (``ripple_s``) it leaves none to first order.

    Means over widths W and P add (W² + P²)/24 of the second derivative. ``sharp`` takes that off, with the second difference of the mean
    W/2 apart, so that straight lines and parabolas come out unchanged; only corners nearer than W + P/2 are rounded (class derived).
    """
    count, half, ripple = len(course.means), max(window_s / course.step_s, 1.0) / 2, ripple_s / course.step_s / 2
    reach = int(np.ceil(2 * half)) + 1
    means = np.pad(course.means, reach + int(np.ceil(ripple)) + 1, mode="edge")
    even = _mean(_total(means), int(np.ceil(ripple)) + 1, count + 2 * reach, ripple) if ripple > 0 else means[1:-1]
    total = _total(even)
    middle = _mean(total, reach, count, half)
    if not sharp:
        return middle
    before, after = (_mean(total, reach + shift, count, half) for shift in (-half, half))
    return middle - (before - 2 * middle + after) * (1 + (ripple / half) ** 2) / 6


def _total(means: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(means)])


def _mean(total: Floats, first: float, count: int, half: float) -> Floats:
    """Return the mean from ``half`` steps before to ``half`` after the middle of each step, counted from ``first``."""
    return (_at(total, first + 0.5 + half, count) - _at(total, first + 0.5 - half, count)) / (2 * half)


def _at(total: Floats, place: float, count: int) -> Floats:
    """Return a running total at ``count`` places, one step apart; between two steps it runs straight."""
    whole = int(np.floor(place))
    low = total[whole : whole + count]
    return low + (place - whole) * (total[whole + 1 : whole + 1 + count] - low)
