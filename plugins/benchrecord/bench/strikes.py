"""Where in a recording something is struck, and how long it takes until it sounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad

STEP_S = 0.0005  # power is averaged in steps of about this length
HEARD_S = 0.01  # strikes are found in the level of pieces of this length
RISE_DB = 10.0  # above all that was heard before: a strike
BEFORE_S = 0.3  # so far back; an echo of the same strike comes within it and is no louder
ABOVE_FLOOR_DB = 15.0
WITHIN_DB = 20.0  # of the loudest: fainter ones are no strikes to judge by
START_DB = 10.0  # below the loudest piece: a decay starts where it first comes so near
CLICK_S, CLICK_DB = 0.005, 10.0  # a click has fallen so far after so long
TRIP_S = 0.25  # the longest that a spring takes to answer
ANSWER_DB = 6.0  # what the answer rises by out of the gap after a click
EVERY = 17  # samples: enough of them to find the level that the recording rests at
PREDELAY_U = (
    1.0  # steps: each start is told to a whole one, and noise may come near to the loudest soon or late (seen in simulation)
)
NO_CLICK = "no click is heard apart from what follows it, so that nothing tells when it was struck"


@dataclass(frozen=True, slots=True)
class Strike:
    """One strike, in steps of the power of a recording: where its decay starts, and where the next strike or the end comes.

    ``predelay_s`` is the time from the start of the click of the strike to that of what it sets ringing, where both are heard apart.
    """

    start: int
    stop: int
    predelay_s: Estimate | NotHad
    loudest: float


def step_size(rate: float) -> int:
    """Return how many samples a step takes."""
    return max(1, round(STEP_S * rate))


def power_of(samples: Floats, rate: float) -> tuple[Floats, float]:
    """Return the mean power of each step about the level that the recording rests at, (m,), and the length of a step in seconds."""
    size = step_size(rate)
    steps = samples[: len(samples) // size * size].reshape(-1, size)
    rest = _rest(samples)
    return np.einsum("ij,ij->i", steps, steps) / size - 2 * rest * steps.mean(axis=1) + rest**2, size / rate


def evened_power_of(samples: Floats, rate: float) -> tuple[Floats, float]:
    """Return the mean power about the rest where one step ends and the next begins, (m,), and the length of a step in seconds.

    Each mean takes in both steps, from nothing at their far ends to the whole where they meet; the first has none before it, so that all
    of them together hold the energy from the start. What a tone has in one step and not in the next comes round ever so slowly where
    half of its period nearly fits in a step; it cancels in such means.
    """
    size = step_size(rate)
    own = (samples[: len(samples) // size * size].reshape(-1, size) - _rest(samples)) ** 2
    mean, rising = (own @ np.column_stack([np.ones(size), (np.arange(size) + 0.5) / size]) / size).T
    return mean - rising + np.concatenate([[0.0], rising])[:-1], size / rate


def _rest(samples: Floats) -> float:
    """Return the level that a recording rests at; a mean would be that of the loud part."""
    return float(np.median(samples[::EVERY])) if len(samples) else 0.0


def strikes(power: Floats, step_s: float) -> tuple[Strike, ...]:
    """Return the strikes of a recording in their order; none where nothing rises above its floor.

    Parameters
    ----------
    power : (m,) mean power of each step
    step_s : length of a step

    """
    level = _smooth(power, HEARD_S, step_s)
    if not len(level) or level.max() <= 0:
        return ()
    heard = _onsets(level, step_s)
    stops = [*heard[1:], len(power)][: len(heard)]
    found = [_strike(power, step_s, onset, stop) for onset, stop in zip(heard, stops, strict=True)]
    loudest = max((one.loudest for one in found), default=0.0)
    return tuple(one for one in found if one.loudest >= loudest * 10 ** (-WITHIN_DB / 10))


def _onsets(level: Floats, step_s: float) -> list[int]:
    """Return the steps at which the level rises above all of the last 0.3 s; the first step too, where it starts loud."""
    floor = max(float(np.percentile(level, 5)), float(level.max()) * 1e-12)
    back, gap = round(BEFORE_S / step_s), round(HEARD_S / step_s)
    padded = np.concatenate([np.full(back + gap, floor), level])
    before = scipy.ndimage.maximum_filter1d(padded, back, origin=(back - 1) // 2)[back : back + len(level)]
    rises = (level > before * 10 ** (RISE_DB / 10)) & (level > floor * 10 ** (ABOVE_FLOOR_DB / 10))
    at = np.flatnonzero(rises)
    if not len(at):
        return [0] if level[: gap + 1].max() > floor * 10 ** (ABOVE_FLOOR_DB / 10) else []
    return [int(at[0]), *(int(n) for n in at[1:][np.diff(at) > back])]


def _strike(power: Floats, step_s: float, onset: int, stop: int) -> Strike:
    lead = max(0, onset - round(HEARD_S / step_s))  # the smoothed level rises later than the power
    own = power[lead:stop]
    click = _click(own, step_s)
    after = 0 if click is None else click[1]
    start = after + _start(own[after:])
    predelay = NotHad(NO_CLICK) if click is None else Estimate((start - click[0]) * step_s, PREDELAY_U * step_s)
    return Strike(lead + start, stop, predelay, float(_smooth(own, HEARD_S, step_s).max()))


def _start(power: Floats) -> int:
    """Return the first step that comes near to the loudest pieces."""
    pairs = np.convolve(power, [0.5, 0.5], "same") if len(power) > 1 else power
    return int(np.argmax(power >= pairs.max() * 10 ** (-START_DB / 10)))


def _click(power: Floats, step_s: float) -> tuple[int, int] | None:
    """Return the first step of a click that is over before what it sets ringing is heard, and the step in the gap between both."""
    soon, trip = round(CLICK_S / step_s), round(TRIP_S / step_s)
    first = _first_peak(power, soon)
    start = _start(power[: first + 1])
    gap = power[first + soon : first + trip]
    if len(gap) < soon or gap[:soon].mean() > power[first] * 10 ** (-CLICK_DB / 10):
        return None
    level = _smooth(gap, CLICK_S, step_s)
    quietest = int(np.argmin(level[: max(1, int(np.argmax(level)))]))
    rise = level[quietest:].max() / max(float(level[quietest]), 1e-300)
    return (start, first + soon + quietest) if rise >= 10 ** (ANSWER_DB / 10) else None


def _first_peak(power: Floats, soon: int) -> int:
    """Return the loudest step of the first sound."""
    first = int(np.argmax(power >= power.max() * 10 ** (-2 * START_DB / 10)))
    return first + int(np.argmax(power[first : first + soon]))


def _smooth(power: Floats, seconds: float, step_s: float) -> Floats:
    return np.asarray(scipy.ndimage.uniform_filter1d(power, max(1, math.ceil(seconds / step_s)), mode="nearest"), float)
