"""A stepped recording: where the pitch stands still, step by step, what frequency it has there, and how still it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.periods import Periods, count_periods
from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.pitch_track import HOP_S, PitchTrack
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone
from benchrecord.bench.wander import (
    CENTS,
    Drift,
    Wander,
    drift_of_periods,
    drift_of_tone,
    mean_of_periods,
    wander_of_periods,
    wander_of_tone,
)

CLEAR, QUIET = 0.5, 10 ** (-40 / 20)  # what counts as a tone: its clearness, and its level against the loudest frame
STILL_CENTS = 25.0  # from one frame to the next but one
APART_CENTS, REACH_CENTS = 35.0, 50.0  # of two steps; within which the frames of a step lie
SMOOTHED = 5  # frames
GLITCH = 0.25  # of the usual length: what is shorter stands between two steps
SETTLES = 0.2  # of a step, at its beginning

SHORTEST_S = 0.05  # of a stretch
NOT_ASKED = NotHad("not asked for")
SLOW_HZ = 20.0  # what is slower is timed by its periods, where its wander is asked for
REGULAR = 0.1  # of a period: what may be the spread of those of a wave
# Parts of a step, up to its end, in one of which it may be settled: they have less than so much of the slope of the whole.
PARTS, SETTLING, LEAST_PART_S, LEAST_PERIODS = (0.6, 0.35, 0.2), 0.5, 0.15, 24.0
TREND_U = (
    0.75  # of how far the mean may be from where it settles (own choice: steps that glide are within U in 95 of 100 cases)
)
STILL_GLIDING = 6.0  # cents that it may be from there at most
GLIDING = "still gliding"
GLIDES = 0.25  # of the time that a tone sounds
NO_STEPS = "no steady pitch is heard for half a second"


Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Step:
    """One step, in s from the start of the recording: its steady part, and the pitch it roughly has."""

    start_s: float
    stop_s: float
    hz: float


def find_steps(track: PitchTrack, wanted: int | None = None) -> tuple[Step, ...] | NotHad:
    """Find the steps of a pitch, by its changes.

    A step is a stretch of half a second or more in which frames 0.2 s apart differ by less than 25 cents; stretches whose pitches differ
    by less than 35 cents are one. Where there are more than are wanted, those shorter than a quarter of the usual length do not count;
    where the number still differs, a vibrato may part them, and means over half a second are taken. A step reaches as far as its tone
    stays within 50 cents. Its first fifth, in which it settles, and what a frame of another step may reach into are left out.
    """
    cents = CENTS_PER_OCTAVE * np.log2(np.maximum(track.hz, 1e-3))
    tone = (track.hz > 0) & (track.clear > CLEAR) & (track.level > QUIET * track.level.max(initial=0.0))
    runs = _steady_runs(cents, tone, wanted)
    if not len(cents):
        return NotHad(NO_STEPS)
    if wanted is not None and len(runs) != wanted:
        smooth = _steady_runs(_smoothed(cents, tone), tone, wanted)
        runs = smooth if len(smooth) == wanted else runs
    if not runs:
        return NotHad(NO_STEPS)
    if wanted is not None and len(runs) != wanted:
        count = f"{len(runs)} step{'s are' if len(runs) > 1 else ' is'} heard, and {wanted} are listed"
        return NotHad(f"{count}{_gliding(runs, tone) if len(runs) < wanted else ''}")
    return tuple(_step(first, last, track) for first, last in _extended(runs, cents, tone))


def _gliding(runs: list[tuple[int, int]], tone: Flags) -> str:
    """Say for how long a tone glides outside of its steady stretches, where that is long."""
    steady = np.zeros(len(tone), bool)
    for first, last in runs:
        steady[first : last + 1] = True
    moves = np.count_nonzero(tone & ~steady) / max(1, int(np.count_nonzero(tone)))
    return (
        f": for {100 * moves:.0f} % of the time the pitch glides and is not steady for half a second" if moves > GLIDES else ""
    )


def _steady_runs(cents: Floats, tone: Flags, wanted: int | None) -> list[tuple[int, int]]:
    """Return the first and the last frame of each stretch of a steady pitch."""
    runs = _joined(_runs(_still(cents, tone)), cents)
    if wanted is not None and len(runs) > wanted:
        usual = float(np.median([last - first + 1 for first, last in runs]))
        runs = _joined([run for run in runs if run[1] - run[0] + 1 >= GLITCH * usual], cents)
    return runs


def _still(cents: Floats, tone: Flags) -> Flags:
    """Say which frames lie between two others of nearly the same pitch, (n,)."""
    still = np.zeros(len(cents), bool)
    if len(cents) > 2:  # noqa: PLR2004  # one between two
        same = np.abs(cents[2:] - cents[:-2]) < STILL_CENTS
        still[1:-1] = same & tone[2:] & tone[1:-1] & tone[:-2] & (np.abs(cents[1:-1] - cents[:-2]) < STILL_CENTS)
    return still


def _smoothed(cents: Floats, tone: Flags) -> Floats:
    """Return the mean of the frames around each that belong to the same step."""
    padded, counts = np.pad(cents, SMOOTHED // 2, mode="edge"), np.pad(tone, SMOOTHED // 2)
    around = np.lib.stride_tricks.sliding_window_view(padded, SMOOTHED)
    own = np.lib.stride_tricks.sliding_window_view(counts, SMOOTHED) & (np.abs(around - cents[:, None]) < 2 * REACH_CENTS)
    return np.where(own.any(axis=1), (around * own).sum(axis=1) / np.maximum(own.sum(axis=1), 1), cents)


def _extended(runs: list[tuple[int, int]], cents: Floats, tone: Flags) -> list[tuple[int, int]]:
    """Let each stretch reach as far as its tone stays near its pitch, short of the next stretch."""
    extended: list[tuple[int, int]] = []
    ends = [-1, *(last for _, last in runs)]
    starts = [*(first for first, _ in runs), len(cents)]
    for (first, last), before, after in zip(runs, ends, starts[1:], strict=False):
        near = tone & (np.abs(cents - np.median(cents[first : last + 1])) < REACH_CENTS)
        while first - 1 > before and near[first - 1]:
            first -= 1  # noqa: PLW2901  # it grows
        while last + 1 < after and near[last + 1]:
            last += 1  # noqa: PLW2901  # it grows
        extended.append((first, last))
    return extended


def _runs(still: Flags) -> list[tuple[int, int]]:
    """Return the first and the last frame of each stretch of two or more."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2) if b - a > 1]


def _joined(runs: list[tuple[int, int]], cents: Floats) -> list[tuple[int, int]]:
    """Take neighbours of the same pitch for one."""
    joined: list[tuple[int, int]] = []
    for first, last in runs:
        pitch = float(np.median(cents[first : last + 1]))
        if joined and abs(pitch - float(np.median(cents[joined[-1][0] : joined[-1][1] + 1]))) < APART_CENTS:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _step(first: int, last: int, track: PitchTrack) -> Step:
    """Return the steady part of a step whose frames are these.

    A frame can have the pitch of a step to which but a tenth of it belongs: the first may do so at its end, the last at its start.
    """
    start, stop = (first + 1) * HOP_S, last * HOP_S
    return Step(start + SETTLES * (stop - start), stop, float(np.median(track.hz[first : last + 1])))


@dataclass(frozen=True, slots=True)
class PitchReading:
    """The pitch of a steady stretch.

    Attributes
    ----------
    hz : its mean frequency
    drift : from its start to its end
    wander : where it is asked for
    seconds : how long the stretch is
    counted : its periods were counted; else its harmonics were read
    tone : what was read
    glides : it settles: a later part has far less of the slope of the whole

    """

    hz: Estimate
    drift: Drift
    wander: Wander | NotHad
    seconds: float
    counted: bool
    tone: Tone | None = None
    glides: bool = False

    @property
    def slope(self) -> float:
        """How fast it drifts, in cents a second, up or down."""
        return abs(self.drift.cents.value) / self.seconds


def drift_over(reading: PitchReading, seconds: float) -> PitchReading:
    """Extrapolate the drift of a reading, which goes on as fast, to so many seconds of a recording that holds more than was read."""
    times = seconds / reading.seconds
    drift = replace(reading.drift, cents=reading.drift.cents.times(times))
    course = reading.wander
    if isinstance(course, Wander):
        course = replace(course, drift_cents=course.drift_cents.times(times))
    return replace(reading, drift=drift, wander=course)


def settled_pitch(samples: Floats, rate: float, nominal_hz: float | None = None) -> PitchReading | NotHad:
    """Return the pitch of a step, (n,): that of the part, up to its end, in which it is settled best.

    Its uncertainty holds what is left of the trend, and how the pitch wanders in that part.
    """
    whole = frequency_of(samples, rate, nominal_hz=nominal_hz)
    if isinstance(whole, NotHad):
        return whole
    readings = [whole, *(_later_parts(samples, rate, whole, nominal_hz) if _drifts(whole) else [])]
    left = [abs(whole.drift.cents.value) / 2, *(_left(*pair) for pair in pairwise(readings))]
    settled = [
        (_with_trend(one, own), own) for one, own in zip(readings, left, strict=True) if one is whole or _settles(one, whole)
    ]
    best, away = min(settled, key=lambda one: one[0].hz.u / one[0].hz.value)
    if _drifts(best) and away > STILL_GLIDING:
        return NotHad(f"{GLIDING}: by {best.drift.cents.value:+.0f} cents in its last {best.seconds:.2g} s".replace("-", "−"))
    return replace(best, glides=any(_settles(one, whole) for one in readings[1:]))


def _drifts(reading: PitchReading) -> bool:
    return abs(reading.drift.cents.value) > reading.drift.cents.expanded


def _settles(part: PitchReading, whole: PitchReading) -> bool:
    return part.slope < SETTLING * whole.slope


def _later_parts(samples: Floats, rate: float, whole: PitchReading, nominal_hz: float | None) -> list[PitchReading]:
    """Return the pitch of parts of a step up to its end, the longest first."""
    least = max(LEAST_PART_S, LEAST_PERIODS / whole.hz.value) * rate
    sizes = [round(part * len(samples)) for part in PARTS if part * len(samples) >= least]
    later = (frequency_of(samples[-size:], rate, nominal_hz=nominal_hz) for size in sizes)
    return [one for one in later if isinstance(one, PitchReading)]


def _left(longer: PitchReading, part: PitchReading) -> float:
    """Return how far the mean of a part is from where the pitch settles, in cents: half of its drift, or as far as it still goes.

    A pitch that settles like a charging capacitor is as far from its end as its slope times the time constant, in which the slope
    falls to 1/e.
    """
    half = abs(part.drift.cents.value) / 2
    if not _drifts(part) or part.slope >= longer.slope:
        return half
    return max(half, part.slope * (longer.seconds - part.seconds) / 2 / math.log(longer.slope / part.slope))


def _with_trend(reading: PitchReading, left_cents: float) -> PitchReading:
    """Add to the uncertainty of a frequency what its trend and its wander bring."""
    own = math.hypot(TREND_U * left_cents, reading.drift.mean_u_cents) / CENTS * reading.hz.value
    return replace(reading, hz=Estimate(reading.hz.value, math.hypot(reading.hz.u, own)))


def frequency_of(
    samples: Floats, rate: float, *, wander: bool = False, nominal_hz: float | None = None
) -> PitchReading | NotHad:
    """Return the pitch of a steady stretch, (n,): from all its harmonics, or from its periods where they are too few or too slow.

    ``wander`` asks for that too, which takes as long again; where several lines could be the fundamental, ``nominal_hz`` settles which.
    """
    seconds = len(samples) / rate
    if seconds < SHORTEST_S:
        return NotHad(f"{seconds:.2g} s are too short to tell a frequency")
    slow = count_periods(samples, rate) if wander else NOT_ASKED
    if isinstance(slow, Periods) and _regular(slow) and slow.hz.value < SLOW_HZ:
        return _by_periods(slow, seconds)
    tone = find_tone(samples, rate, nominal_hz)
    if isinstance(tone, Tone):
        course = wander_of_tone(samples, tone) if wander else NOT_ASKED
        return PitchReading(tone.hz, drift_of_tone(tone, len(samples)), course, seconds, counted=False, tone=tone)
    slow = count_periods(samples, rate)
    return _by_periods(slow, seconds) if isinstance(slow, Periods) and _regular(slow) else tone


def _by_periods(slow: Periods, seconds: float) -> PitchReading:
    drift = drift_of_periods(slow)
    return PitchReading(mean_of_periods(slow, drift), drift, wander_of_periods(slow), seconds, counted=True)


def _regular(slow: Periods) -> bool:
    """Tell a wave from noise: its periods are alike."""
    return float(np.std(slow.periods)) < REGULAR * float(slow.periods.mean())
