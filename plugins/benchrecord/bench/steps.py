"""A stepped recording: where the pitch stands still, step by step, what frequency it has there, and how still it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.periods import Periods, count_periods
from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.pitch_track import FRAME_S, HOP_S, PitchTrack
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone

CLEAR, QUIET = 0.5, 10 ** (-40 / 20)  # what counts as a tone: its clearness, and its level against the loudest frame
STILL_CENTS = 25.0  # from one frame to the next but one
APART_CENTS = 35.0  # of two steps
GLITCH = 0.25  # of the usual length: what is shorter stands between two steps
SETTLES = 0.2  # of a step, at its beginning

SHORTEST_S = 0.05  # of a stretch
NOT_ASKED = NotHad("not asked for")
SLOW_HZ = 20.0  # what is slower is timed by its periods, where its wander is asked for
REGULAR = 0.1  # of a period: what may be the spread of those of a wave
PIECE_S, PIECE_PERIODS, PIECES = (
    1.0,
    30.0,
    3,
)  # of a tone, each of which has a frequency of its own; the fewest that tell a wander


@dataclass(frozen=True, slots=True)
class Step:
    """One step, in s from the start of the recording: its steady part, and the pitch it roughly has."""

    start_s: float
    stop_s: float
    hz: float


def find_steps(track: PitchTrack, wanted: int | None = None) -> tuple[Step, ...] | NotHad:
    """Find the steps of a pitch, by its changes.

    A step is a stretch of half a second or more in which frames 0.2 s apart differ by less than 25 cents; stretches whose pitches differ
    by less than 35 cents are one. Where there are more than are wanted, those shorter than a quarter of the usual length do not count.
    The first fifth of a step, in which it settles, and what a frame of another step may reach into are left out of its steady part.
    """
    cents = CENTS_PER_OCTAVE * np.log2(np.maximum(track.hz, 1e-3))
    runs = _joined(_runs(_still(track, cents)), cents)
    if wanted is not None and len(runs) > wanted:
        usual = float(np.median([last - first + 1 for first, last in runs]))
        runs = _joined([run for run in runs if run[1] - run[0] + 1 >= GLITCH * usual], cents)
    if not runs:
        return NotHad("no steady pitch is heard for half a second")
    if wanted is not None and len(runs) != wanted:
        return NotHad(f"{len(runs)} step{'s are' if len(runs) > 1 else ' is'} heard, and {wanted} are listed")
    return tuple(_step(first, last, track) for first, last in runs)


def _still(track: PitchTrack, cents: Floats) -> NDArray[np.bool_]:
    """Say which frames lie between two others of nearly the same pitch, (n,)."""
    tone = (track.hz > 0) & (track.clear > CLEAR) & (track.level > QUIET * track.level.max(initial=0.0))
    still = np.zeros(len(cents), bool)
    if len(cents) > 2:  # noqa: PLR2004  # one between two
        same = np.abs(cents[2:] - cents[:-2]) < STILL_CENTS
        still[1:-1] = same & tone[2:] & tone[1:-1] & tone[:-2] & (np.abs(cents[1:-1] - cents[:-2]) < STILL_CENTS)
    return still


def _runs(still: NDArray[np.bool_]) -> list[tuple[int, int]]:
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
    """Return the steady part of a step whose still frames are these."""
    start, stop = first * HOP_S, last * HOP_S + FRAME_S
    return Step(start + SETTLES * (stop - start), stop, float(np.median(track.hz[first : last + 1])))


@dataclass(frozen=True, slots=True)
class Heard:
    """The frequency of a steady stretch, in Hz, and the standard deviation of it from second to second, or from period to period, in cents.

    ``seconds`` is how long the stretch is, ``counted`` says that its periods were counted rather than its harmonics read.
    """

    hz: Estimate
    wander_cents: Estimate | NotHad
    seconds: float
    counted: bool


def frequency_of(samples: Floats, rate: float, *, wander: bool = False) -> Heard | NotHad:
    """Return the frequency of a steady stretch, (n,): from all its harmonics, or from its periods where they are too few or too slow.

    ``wander`` asks for that too, which takes as long again.
    """
    seconds = len(samples) / rate
    if seconds < SHORTEST_S:
        return NotHad(f"{seconds:.2g} s are too short to tell a frequency")
    slow = count_periods(samples, rate) if wander else NOT_ASKED
    if isinstance(slow, Periods) and _regular(slow) and slow.hz.value < SLOW_HZ:
        return Heard(slow.hz, slow.wander_cents, seconds, counted=True)
    tone = find_tone(samples, rate)
    if isinstance(tone, Tone):
        return Heard(tone.hz, _wander(samples, rate, tone.hz.value) if wander else NOT_ASKED, seconds, counted=False)
    slow = count_periods(samples, rate)
    return Heard(slow.hz, slow.wander_cents, seconds, counted=True) if isinstance(slow, Periods) and _regular(slow) else tone


def _regular(slow: Periods) -> bool:
    """Tell a wave from noise: its periods are alike."""
    return float(np.std(slow.periods)) < REGULAR * float(slow.periods.mean())


def _wander(samples: Floats, rate: float, hz: float) -> Estimate | NotHad:
    """Return the standard deviation of the frequency from piece to piece, in cents."""
    size = round(max(PIECE_S, PIECE_PERIODS / hz) * rate)
    pieces = [find_tone(samples[n : n + size], rate) for n in range(0, len(samples) - size + 1, size)]
    known = [piece.hz.value for piece in pieces if isinstance(piece, Tone)]
    if len(known) < PIECES:
        return NotHad(f"fewer than {PIECES} pieces of {size / rate:.2g} s, from which it could be told how it wanders")
    sd = float(np.std(CENTS_PER_OCTAVE * np.log2(np.array(known) / hz), ddof=1))
    return Estimate(sd, sd / math.sqrt(2 * (len(known) - 1)))
