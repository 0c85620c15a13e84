"""How a contour is seen in the trail of a recording: what counts as zero, through which window, and how noisy that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats
from benchrecord.bench.level_trail import SHARP_GAIN, Running, Trail, evened, smooth, smoothed
from benchrecord.bench.pitch_track import FRAME_S, period_of

LOW, FALLEN, HALF, RISEN, HIGH = 0.1, 0.3, 0.5, 0.7, 0.9  # a cycle begins where it has risen, and is over where it has fallen
FINE_S, TONELESS_S = 2e-4, 5e-3  # smoothing of a voltage, and of a sound without a tone
AT_NOTHING, ENDS = 0.2, 100  # of the range of a voltage, and parts of a recording
LITTLE, AT_MOST = 0.01, 1 / 8  # noise, as a share of the range, and window, of the time above half, where cycles are looked for
LOUD, LOUD_S = 0.5, 0.02  # of the highest level, told every so often: where the tone is listened to
CLEAR = 0.5  # of a tone, below which it is taken for noise
OF_FOURTH = math.sqrt(70)  # deviation of a fourth difference, by that of what it is taken of: 1² + 4² + 6² + 4² + 1²
# Of what the power of a sample changes by, where a sharp mean over a tone begins and ends between two: √2 · √(1/120 − 1/144) · 7/6 of it
# (class derived, from a straight line between two samples, which is off by φ·(1 − φ)/2 of the bend; seen in simulation).
OF_SAMPLE = 0.06
OF_MEDIAN = 0.6745  # median of the absolute value of a normal deviate
STEPS_OF_RIPPLE = 3  # at least, to tell its amplitude
MEANS = (1, 2, 4, 8, 16)  # finest windows, over which the noise is looked at
# Of what n differences tell of a standard deviation: two of its own (class derived, from 1.17/√n for a median of independent values, of
# which those that overlap are worth half).
UNSURE_OF_MEDIAN = 3.3

Noise = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Sight:
    """How a trail is seen: what counts as zero, which way is up, and the shortest window that shows no ripple.

    ``swing`` is the amplitude of the first harmonic of the power over a ripple, as a share of its mean: 1 for a sine, at most 2.
    ``uneven`` is how far the power of a sample is from that of the one before, as a share of its mean (rms). ``beat`` is the amplitude of
    what the level swings by besides, as a share of it, ``shift`` how far a voltage rests elsewhere from one pause to another.
    """

    course: Trail
    running: Running
    window_s: float
    power: bool
    ripple_s: float = 0.0
    swing: float = 1.0
    uneven: float = 0.0
    zero: float = 0.0
    zero_u: float = 0.0
    up: float = 1.0
    beat: float = 0.0
    shift: float = 0.0

    def level(self, window_s: float, *, sharp: bool = False) -> Floats:
        """Return the level of each step, (n,), through a window."""
        seen = smooth(self.running, window_s / self.course.step_s, ripple=self.ripple_s / self.course.step_s, sharp=sharp)
        seen -= self.zero
        return np.sqrt(np.maximum(seen, 0.0, out=seen), out=seen) if self.power else self.up * seen

    def whole(self, wanted_s: float) -> float:
        """Return the window of so many finest ones that comes nearest below what is wanted."""
        return self.window_s * max(1, math.floor(wanted_s / self.window_s))


def tone_periods_s(samples: Floats, rate: int) -> tuple[float, float]:
    """Return the period of the tone under a contour and that of its power, in s, from samples (n,); 0 where there is none.

    They are taken where it is loudest. The power of a wave whose halves mirror each other comes round twice in a period. It does so a
    whole number of times in any: that is surer than what is read of a power whose peaks are narrower than a few samples.
    """
    size = max(1, round(rate * LOUD_S))
    pieces = samples[: len(samples) // size * size].reshape(-1, size)
    level = np.sqrt(np.maximum(np.einsum("ij,ij->i", pieces, pieces) / size - pieces.mean(axis=1) ** 2, 0.0))
    if not len(level) or level.max() == 0:
        return 0.0, 0.0
    peak, quiet = int(level.argmax()), np.flatnonzero(level < LOUD * level.max())
    first, last = max(quiet[quiet < peak], default=-1) + 1, min(quiet[quiet > peak], default=len(level))
    spare = max(0, last - first - round(FRAME_S / LOUD_S)) // 2
    loud = samples[(first + spare) * size : (last - spare) * size]
    loud = loud - loud.mean()
    (period, clear), (of_power, power_clear) = period_of(loud, rate), period_of(loud**2, rate)
    if clear < CLEAR:
        return 0.0, 0.0
    return period, period / max(1, round(period / of_power)) if power_clear > CLEAR and of_power else period


def sight_of(course: Trail, *, power: bool, period_s: float = 0.0) -> Sight:
    """Return how a trail is seen at first: that of a sound above silence, a voltage from its lowest, whichever way it goes."""
    if power:
        wanted = max(FINE_S, 2 * course.step_s)
        finest = period_s * math.ceil(wanted / period_s) if period_s else max(TONELESS_S, wanted)
        running = evened(course, period_s)
        mean = math.sqrt(float(np.mean(running.mean(finest / course.step_s / 2) ** 2)))
        uneven = course.stir / mean if mean else 0.0
        return Sight(course, running, finest, power=True, ripple_s=period_s, swing=_swing(course, period_s), uneven=uneven)
    finest = max(FINE_S, 2 * course.step_s)
    seen = smoothed(course, finest)
    up = _way_up(seen)
    return Sight(course, evened(course, 0.0), finest, power=False, zero=float((up * seen).min()) * up, up=up)


def _way_up(voltage: Floats) -> float:
    """Return 1 for a voltage, (n,), that rises from its rest, −1 for one that falls.

    It rests at nothing where that is near to one end of its range, else where it begins and ends.
    """
    lowest, highest = float(voltage.min()), float(voltage.max())
    if min(abs(lowest), abs(highest)) > AT_NOTHING * (highest - lowest):
        some = max(1, len(voltage) // ENDS)
        rest = float(np.mean([np.median(voltage[:some]), np.median(voltage[-some:])]))
        return 1.0 if highest - rest >= rest - lowest else -1.0
    return 1.0 if abs(highest) >= abs(lowest) else -1.0


def _swing(course: Trail, ripple_s: float) -> float:
    """Return the amplitude of the first harmonic of the power over a ripple, as a share of its mean; as a sine's where steps are too long.

    From each ripple by itself, the more power there is the more it counts. A mean over a step of 1/n of a ripple leaves sinc(1/n) of it.
    """
    steps = round(ripple_s / course.step_s)
    if steps < STEPS_OF_RIPPLE or len(course.means) < steps:
        return 1.0
    each = course.means[: len(course.means) // steps * steps].reshape(-1, steps)
    mean, first = each.sum(axis=1), np.abs(each @ np.exp(-2j * np.pi * np.arange(steps) / steps))
    power = float(mean @ mean)
    return 2 * float(first @ mean) / power / float(np.sinc(1 / steps)) if power else 1.0


@dataclass(frozen=True, slots=True)
class Look:
    """The level of each step at a first look, (n,): where it usually is when it is low, and how far it rises from there."""

    level: Floats
    low: float
    span: float

    @classmethod
    def of(cls, level: Floats) -> Look:
        """Take for low the middle of what lies in the lower part of the range."""
        lowest, highest = float(level.min()), float(level.max())
        low = float(np.median(level[level <= lowest + FALLEN * (highest - lowest)]))
        return cls(level, low, highest - low)

    def at(self, share: float) -> float:
        """Return the level at a share of the range."""
        return self.low + share * self.span


def turns_of(look: Look) -> tuple[list[int], bool]:
    """Return the steps at which a level comes above 70 % of its range, or below 30 %, in turn; and whether it falls first."""
    marks = np.subtract(look.level > look.at(RISEN), look.level < look.at(FALLEN), dtype=np.int8)
    at = np.flatnonzero(marks)
    turns = at[1:][marks[at][1:] != marks[at][:-1]]
    return turns.tolist(), bool(len(turns)) and bool(marks[turns[0]] < 0)


def at_a_look(sight: Sight) -> Look:
    """Return the level through a window in which noise is small against its range, as far as every cycle has room for it."""
    level = sight.level(sight.window_s)
    span = float(np.ptp(level))
    noise = max(noise_of(sight, span)) if span > 0 else 0.0
    look, windows = Look.of(level), 1
    while noise > LITTLE * math.sqrt(windows):
        above = float(np.count_nonzero(look.level > look.at(HALF))) * sight.course.step_s
        if 2 * windows * sight.window_s > AT_MOST * above / max(1, len(turns_of(look)[0]) // 2):
            break
        windows *= 2
        look = Look.of(sight.level(windows * sight.window_s))
    return look


def noise_of(sight: Sight, peak: float) -> Noise:
    """Return the standard deviation of the mean over the finest window, as a share of the peak's: low down and near the top.

    It is told by how means over the finest window scatter, or over two, four … of them, where that is surely less than such noise would
    leave: what means over a tone are off by, because they do not end with a sample, shrinks in proportion to the window.
    """
    total, level = Running.of(sight.course.means).total, sight.level(sight.window_s)
    stride = max(1, round(sight.window_s / sight.course.step_s))
    low, high = (
        min(_finest(apart, windows) for apart, windows in zip(side, MEANS, strict=True))
        for side in zip(*(_apart(total, level, stride * windows, peak) for windows in MEANS), strict=True)
    )
    scale = peak**2 if sight.power else peak
    return low / scale, high / scale


def _apart(total: Floats, level: Floats, stride: int, peak: float) -> tuple[Floats, Floats]:
    """Return how far means over so many steps are off, (m,) each: low down and near the top.

    From differences of the fourth order, which leave out what is smooth: they have 70 times the variance of what they are taken of. That
    is the mean over so many whole steps: a running mean that ends within steps would share them with the next.
    """
    mean = np.diff(total[::stride]) / stride
    if len(mean) < 5:  # noqa: PLR2004  # a difference of the fourth order takes five
        return np.empty(0), np.empty(0)
    middle = level[stride // 2 :: stride][: len(mean)][2:-2] / peak
    apart = np.abs(np.diff(mean, 4)) / OF_FOURTH
    low, high = apart[(middle > LOW / 2) & (middle < 2.5 * LOW)], apart[middle > 0.75]  # noqa: PLR2004
    return (low if len(low) else high), (high if len(high) else low)


def _finest(apart: Floats, windows: int) -> float:
    """Return what means over so many windows tell of the standard deviation of one: for sure, where there are several."""
    if not len(apart):
        return 0.0 if windows == 1 else math.inf
    sure = 1 + UNSURE_OF_MEDIAN / math.sqrt(len(apart)) if windows > 1 else 1.0
    return float(np.median(apart)) / OF_MEDIAN * math.sqrt(windows) * sure


def at_threshold(noise: Noise, sight: Sight, window_s: float) -> tuple[float, float, float]:
    """Return the standard deviation of the level itself at 10, 50 and 90 %, through a sharp window.

    The variance of a power goes with the square of the level, and that of the noise's own comes on top.
    """
    narrower = math.sqrt(SHARP_GAIN * sight.window_s / window_s)
    low, high = (n * narrower for n in noise)
    half = math.sqrt(low**2 + (high**2 - low**2) * (HALF**2 - LOW**2) / (HIGH**2 - LOW**2))
    return (low / (2 * LOW), half / (2 * HALF), high / (2 * HIGH)) if sight.power else (low, half, high)


def between_samples(sight: Sight, window_s: float) -> float:
    """Return by how much of itself the level of a tone may be off, because a window does not end with a sample (standard uncertainty).

    It is averaged over the steps of a ripple, each of which ends elsewhere between its samples.
    """
    steps = max(1.0, sight.ripple_s / sight.course.step_s)
    return OF_SAMPLE * sight.uneven / (window_s * sight.course.rate) / math.sqrt(steps)
