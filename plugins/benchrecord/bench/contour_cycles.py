"""The cycles of a contour: where each rises and falls, how high it comes, and when it passes 10 to 90 % of that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.contour_shapes import LEVELS
from benchrecord.bench.contour_sight import FALLEN, HALF, HIGH, LOW, Look, Sight, between_samples, noise_of
from benchrecord.bench.fits import Floats
from benchrecord.bench.uncertainty import combine

USUAL = 10  # per cent of the low part before an attack: where a contour is at rest, however short that is
RISEN = 0.7  # a cycle begins where the level comes above it, and is over where it has fallen
ALIKE = 0.03  # periods that differ by no more, relatively, are those of a contour that repeats itself
PEAK_PARTS = tuple(5.0 * 2**n for n in range(7))  # of the time H above 90 %: windows W for the peak
# What a corner loses to a mean over a ripple P, and to steps s, beside what it loses to the window W: 0.4·(P² + 3·s²)/W² of that (class
# derived, and seen in simulation of flanks from even to one far steeper).
MORE = 0.4
# Noise lifts what is extrapolated from maxima: that of a corner by 0.3 of the standard deviation of the mean, that of a plateau by 2.5,
# and scatters either by 1 to 1.5 (seen in simulation).
LIFTED, LIFTED_U = 1.0, 2.2
TOO_MUCH = (
    0.45  # of what is added (standard uncertainty): a plateau of half a window makes 0.7 of it too much, of a whole one all
)
UNSEEN = 0.01  # of the range: where a voltage rests that is never seen at rest
BEGUN = 0.2  # of its 10–90 % time, before 10 %: there an attack has not begun
REACH = 8.0  # of a stage: passings so close to each other are the same one, taken several times by noise

Lengths = tuple[float, float, float]  # of attack, hold and decay, in steps
Passed = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Cycle:
    """Where one cycle is: steps at which it has risen, has fallen again, and the next one rises (or the recording ends)."""

    before: int
    risen: int
    fallen: int
    after: int


@dataclass(frozen=True, slots=True)
class Marks:
    """Steps at which one cycle passes 10, 30, 50, 70 and 90 % of its peak on the way up, and 90 … 10 % on the way down."""

    up: Passed | None
    down: Passed | None
    next_up: Passed | None
    peak: float


@dataclass(frozen=True, slots=True)
class Peaks:
    """How high each cycle comes; ``common_u`` and ``own_u`` are the standard uncertainties that all share and of each, as shares of it."""

    heights: list[float]
    common_u: float
    own_u: float

    @property
    def u(self) -> float:
        """The standard uncertainty of a height, as a share of it."""
        return combine(self.common_u, self.own_u)


def cycles_in(rough: Look) -> list[Cycle]:
    """Find the cycles, whatever ripples between: from above 70 % of the range until below 30 %."""
    if rough.span <= 0:
        return []
    marks = np.subtract(rough.level > rough.at(RISEN), rough.level < rough.at(FALLEN), dtype=np.int8)
    at = np.flatnonzero(marks)
    turns = at[1:][marks[at][1:] != marks[at][:-1]]
    if len(turns) and marks[turns[0]] < 0:  # it begins in the middle of a cycle
        start, turns = int(turns[0]), turns[1:]
    else:
        start = 0
    edges = [start, *turns.tolist(), len(marks)]
    return [Cycle(*edges[n : n + 4]) for n in range(0, len(edges) - 3, 2)]


def rough_lengths(rough: Look, cycles: Sequence[Cycle]) -> Lengths:
    """Return the steps that attack, hold and decay take in the middle, at a first look."""
    times = []
    for c in cycles:
        part = rough.level[c.before : c.after]
        below, above = np.flatnonzero(part < rough.at(LOW)) + c.before, np.flatnonzero(part >= rough.at(HIGH)) + c.before
        inside = above[(above >= c.risen) & (above < c.fallen)]
        if len(inside):
            first, last = inside[0], inside[-1]
            up, down = below[below < c.risen], below[below >= c.fallen]
            times.append([first - up[-1] if len(up) else math.nan, last - first + 1, down[0] - last if len(down) else math.nan])
    return _middle(np.array(times, float).reshape(-1, 3))


def _middle(times: Floats) -> Lengths:
    known = [column[np.isfinite(column)] for column in times.T]
    attack, hold, decay = (float(np.median(column)) if len(column) else 1.0 for column in known)
    return max(1.0, attack), max(1.0, hold), max(1.0, decay)


def with_zero(sight: Sight, cycles: Sequence[Cycle], lengths: Lengths, rough: Look) -> Sight:
    """Take for zero what there is just before an attack: the noise of a sound, or the voltage at rest."""
    source = sight.course.noise if sight.course.noise is not None else sight.course.means
    rests = [(a, b, c.before) for c in cycles for a, b in [_rest(c, lengths, sight, rough)] if b > a]
    if not rests:
        return _without_rest(sight)
    held = np.concatenate([source[a:b] for a, b, _ in rests])
    rested = min((a + b) / 2 - before if before else math.inf for a, b, before in rests)
    return replace(
        sight, zero=float(held.mean()), zero_u=float(held.std()) / math.sqrt(len(held)), rested_s=rested * sight.course.step_s
    )


def _without_rest(sight: Sight) -> Sight:
    """Take the lowest there is for zero, and let it be off by as much as noise may have made it."""
    if not sight.power:
        span = float(np.ptp(sight.level(sight.window_s)))
        return replace(sight, zero_u=combine(2 * noise_of(sight, span)[0], UNSEEN) * span)
    lowest = 0.0 if sight.course.noise is None else float(np.percentile(sight.course.noise, 10))
    return replace(sight, zero=lowest, zero_u=lowest)


def _rest(cycle: Cycle, lengths: Lengths, sight: Sight, rough: Look) -> tuple[int, int]:
    """Return the last tenth of the time between a fall and an attack, or the last half of that before the first one.

    An attack begins an eighth of its 10–90 % time before 10 % at most.
    """
    attack, _, decay = lengths
    start = cycle.before + (round(decay * 0.4) if cycle.before else 0)
    part = rough.level[start : cycle.risen]
    fallen = part[part <= rough.at(FALLEN)]
    if not len(fallen):
        return start, start
    below = np.flatnonzero(part < np.percentile(fallen, USUAL) + LOW * rough.span)
    end = start + int(below[-1]) - round(BEGUN * attack + sight.window_s / sight.course.step_s) - 1
    return max(start, end - max(round((0.1 if cycle.before else 0.5) * (end - start)), 4)), end


def peaks_of(sight: Sight, cycles: Sequence[Cycle], hold_s: float) -> Peaks:
    """Return the peak of each cycle.

    Windows are halved from a fifth of the time above 90 % for as long as that makes the peak surer.
    """
    noise = noise_of(sight, float(sight.level(sight.window_s).max()))[1] * math.sqrt(sight.window_s) / (2 if sight.power else 1)
    windows = dict.fromkeys(sight.whole(hold_s / part) for part in PEAK_PARTS)
    found = (_peaks_through(sight, cycles, window_s, noise / math.sqrt(window_s)) for window_s in windows)
    best = next(found)
    for closer in found:
        if closer.u >= best.u:
            break
        best = closer
    return best


def _peaks_through(sight: Sight, cycles: Sequence[Cycle], window_s: float, noise: float) -> Peaks:
    """Return the peaks that the highest running means M tend to as their window shrinks, M(W) + f·(M(W) − M(2W)).

    A corner of straight flanks is lowered in proportion to the window (f = 1, more where steps and ripple are averaged too), a plateau
    not at all, and one that is shorter than the window less than a corner: then up to all that is added is too much.
    """
    more = MORE * (sight.ripple_s**2 + 3 * sight.course.step_s**2) / window_s**2
    beyond = (1 + more) / (1 - more / 2)
    of_noise = noise * (1 + beyond) / 2
    near, far = (
        np.array([level[c.risen : c.fallen].max() for c in cycles])
        for level in (sight.level(window_s), sight.level(2 * window_s))
    )
    added = beyond * (near - far)
    peaks = (1 - LIFTED * of_noise) * (near + added)
    too_much = TOO_MUCH * abs(float(np.median(added / peaks)))
    return Peaks(peaks.tolist(), too_much, combine(LIFTED_U * of_noise, between_samples(sight, window_s)))


def marks_of(rise: Floats, fall: Floats, cycles: Sequence[Cycle], *, peaks: Sequence[float], lengths: Lengths) -> list[Marks]:
    """Return where each cycle passes its thresholds; ``rise`` and ``fall`` are the level, (n,), as seen for attacks and for decays."""
    reach_up, reach_down = (max(1.0, steps / REACH) for steps in (lengths[0], lengths[2]))
    last, found = len(fall) - 1, []
    for c, peak in zip(cycles, peaks, strict=True):
        up = _passed(rise[c.before : c.fallen] / peak, c.before, c.risen, reach_up)
        down = _passed(fall[c.risen : c.after][::-1] / peak, last + 1 - c.after, last - c.fallen, reach_down)
        found.append(Marks(up, tuple(last - at for at in reversed(down)) if down else None, None, peak))
    following = [m.up for m in found[1:]]
    if cycles[-1].after <= last:  # it rises once more, and the recording ends before that cycle does
        c = cycles[-1]
        following.append(_passed(rise[c.fallen :] / peaks[-1], c.fallen, c.after, reach_up))
    return [replace(m, next_up=n) for m, n in zip(found, [*following, None], strict=False)]


def _passed(level: Floats, start: int, anchor: int, reach: float) -> Passed | None:
    """Return where a level rises through 10 … 90 %; None where it does not come from below or does not arrive.

    The way through 50 % that is nearest to the anchor counts, and of the others those nearest to that. Where noise takes a level several
    times, the middle between the first and the last of them within ``reach`` counts.
    """
    middle = _crossings(level, HALF)
    if not len(middle):
        return None
    half = middle[np.argmin(np.abs(middle + start - anchor))]
    found = []
    for wanted in LEVELS:
        places = middle if wanted == HALF else _crossings(level, wanted)
        near = places[places <= half][-1:] if wanted <= HALF else places[places >= half][:1]
        if not len(near):
            return None
        of_noise = places[np.abs(places - near) <= reach]
        found.append(start + float(of_noise[0] + of_noise[-1]) / 2)
    return tuple(found)


def _crossings(level: Floats, wanted: float) -> Floats:
    above = level >= wanted
    at = np.flatnonzero(above[1:] & ~above[:-1])
    return at + (wanted - level[at]) / (level[at + 1] - level[at])


def repeats(marks: Sequence[Marks], steps: int) -> bool:
    """Tell a contour that repeats itself: its periods are alike, and none is missing at the end of the recording."""
    starts = [m.up[2] for m in marks if m.up] + [m.next_up[2] for m in marks[-1:] if m.next_up]
    periods = np.diff(starts)
    if not len(periods):
        return False
    alike = float(np.std(periods)) <= ALIKE * float(np.mean(periods))
    return alike and steps - starts[-1] <= (1 + 2 * ALIKE) * float(np.mean(periods))
