"""The cycles of a contour: where each rises and falls, how high it comes, and when it passes 10 to 90 % of that."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.contour_shapes import LEVELS
from benchrecord.bench.contour_sight import FALLEN, HALF, HIGH, LOW, RISEN, Look, Sight, between_samples, noise_of, turns_of
from benchrecord.bench.fits import Floats
from benchrecord.bench.uncertainty import combine

USUAL = 10  # per cent of the low part before an attack: where a contour is at rest, however short that is
ALIKE = 0.03  # periods that differ by no more, relatively, are those of a contour that repeats itself
PEAK_PARTS = tuple(5.0 * 2**n for n in range(7))  # of the time H above 90 %: windows W for the peak
# What a corner loses to a mean over a ripple P, and to steps s, beside what it loses to the window W: 0.4·(P² + 3·s²)/W² of that (class
# derived, and seen in simulation of flanks from even to one far steeper).
MORE = 0.4
# Noise lifts what is extrapolated from maxima: that of a corner by 0.3 of the standard deviation of the mean, that of a plateau by 2.5,
# and scatters either by 1 to 1.5 (seen in simulation).
LIFTED, LIFTED_U = 1.4, 2.3
TOO_MUCH = (
    0.45  # of what is added (standard uncertainty): a plateau of half a window makes 0.7 of it too much, of a whole one all
)
# Of the slopes at both sides of a corner, over the window: what the highest mean there is off by from cycle to cycle, by the squares of the
# period of the ripple (seen in simulation) and of a step, on whose grid the highest is taken (class derived: 1.5 · 0.037).
RIPPLED, STEPPED = 0.02, 0.056
UNSEEN = 0.01  # of the range: where a voltage rests that is never seen at rest
FEWEST_AT_REST, TINY, LOWEST_PERCENT = 12, 1e-12, 10
STEADY, LEAD = 0.03, 0.08  # of the range: what stands still moves no more; of an attack: at least so long
AFTER = 0.4  # of a 90–10 % time, after 30 %: there a decay has come below 10 %
# A voltage is at rest where two means of it differ by no more standard uncertainties; one that falls by more than this share of what it
# fell by a third before goes on to nowhere. How far what is extrapolated may be from an exponential.
STILL, SLOWEST, NOT_EXPONENTIAL = 4.0, 0.85, 0.03
BEGUN = 0.2  # of its 10–90 % time, before 10 %: there an attack has not begun
REACH, ACROSS = 8.0, 4.0  # of a stage, and of the hold: passings so close are the same one, taken several times by noise

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
class Rest:
    """Where a voltage, or the power of a noise, is at rest: its level with its standard uncertainty.

    ``rises`` is what it rises by meanwhile, ``further`` how far beyond what was seen the level is.
    """

    level: float
    u: float
    rises: float
    further: float = 0.0


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
    turns, falls_first = turns_of(rough)
    start = turns.pop(0) if falls_first else 0  # it begins in the middle of a cycle
    edges = [start, *turns, len(rough.level)]
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
    """Take for zero the noise of a sound, or the voltage at rest, before each attack and where the last decay ends.

    What is not at rest by then is followed to where it would be: three means of an exponential, one after the other, show that
    (Aitken's δ², class derived).
    """
    source = sight.course.noise if sight.course.noise is not None else sight.course.means
    known = [rest for rest in map(_at_rest, _pauses(source, sight, cycles, lengths, rough=rough)) if rest]
    if not known:
        return _never_at_rest(sight, source, cycles, lengths, rough=rough)
    weights = np.array([1 / max(rest.u, TINY) ** 2 for rest in known])
    zero = float(weights @ [rest.level for rest in known] / weights.sum())
    off = math.sqrt(float(weights @ [(rest.level - zero) ** 2 for rest in known]) / weights.sum())
    zero_u = combine(1 / math.sqrt(float(weights.sum())), off)
    if sight.power:
        return replace(sight, zero=max(zero, 0.0), zero_u=zero_u)
    return _shifted(replace(sight, zero=zero, zero_u=zero_u, shift=_shift(known, sight.up)), cycles, lengths, rough)


def _shift(rests: Sequence[Rest], up: float) -> float:
    """Return by how much a voltage rests elsewhere at another time, or rises while it should rest: beyond what chance does.

    The rest of a contour stays where it is; that of one whose direct voltage is blocked goes where the mean wants it.
    """
    first, last = (pick(rests, key=lambda rest: rest.level) for pick in (min, max))
    apart = last.level - first.level - first.further - last.further - STILL * combine(first.u, last.u)
    return max(0.0, apart, *(up * rest.rises - STILL * rest.u for rest in rests))


def _shifted(sight: Sight, cycles: Sequence[Cycle], lengths: Lengths, rough: Look) -> Sight:
    """Compare the zero with where the recording begins, if it stands still there and at no peak."""
    lead = sight.level(sight.window_s)[: cycles[0].risen]
    start = float(np.median(lead[:FEWEST_AT_REST])) if len(lead) else 0.0
    moved = np.flatnonzero(np.abs(lead - start) > STEADY * rough.span)
    still = int(moved[0]) if len(moved) else len(lead)
    if still < max(FEWEST_AT_REST, LEAD * lengths[0]) or not STEADY < abs(start) / rough.span < RISEN:
        return sight
    return replace(sight, shift=max(sight.shift, abs(start) - STEADY * rough.span))


def _pauses(source: Floats, sight: Sight, cycles: Sequence[Cycle], lengths: Lengths, *, rough: Look) -> Iterator[Floats]:
    """Yield what there is before the first attack, after the last decay, and on the mean over the pauses between."""
    _, _, decay = lengths
    spans = [_pause(c.before, c.risen, lengths, sight, rough=rough) for c in cycles]
    between = [(a, b) for (a, b), c in zip(spans, cycles, strict=True) if c.before and b - a >= FEWEST_AT_REST]
    yield from (source[a:b] for (a, b), c in zip(spans, cycles, strict=True) if not c.before and b - a >= FEWEST_AT_REST)
    if between:
        count = min(b - a for a, b in between)
        yield np.mean([source[a : a + count] for a, _ in between], axis=0)
    last = cycles[-1].fallen + round(AFTER * decay)
    if cycles[-1].after == len(source) and len(source) - last > max(decay, FEWEST_AT_REST):
        yield source[last:]


def _never_at_rest(sight: Sight, source: Floats, cycles: Sequence[Cycle], lengths: Lengths, *, rough: Look) -> Sight:
    """Take the lowest there is for zero, and let it be off by as much as noise may have made it."""
    if not sight.power:
        span = rough.span
        unseen = replace(sight, zero_u=combine(2 * noise_of(sight, span)[0], UNSEEN) * span)
        return _shifted(unseen, cycles, lengths, rough)
    lowest = float(np.percentile(source, LOWEST_PERCENT))
    return replace(sight, zero=lowest, zero_u=lowest)


def _at_rest(means: Floats) -> Rest | None:
    """Return where a voltage rests that decays, (n,), or has done so; None where it goes on falling.

    The latter half of it alone says the same if it is an exponential; by how much it does not makes it uncertain.
    """
    whole, late = _followed(means), _followed(means[len(means) // 2 :])
    if whole is None or late is None or len(means) < 2 * FEWEST_AT_REST:
        return whole
    return replace(whole, u=combine(whole.u, max(0.0, abs(whole.level - late.level) - 2 * late.u)))


def _followed(means: Floats) -> Rest | None:
    """Follow an exponential to its end: with means a, b, c of its thirds and r = (b − c)/(a − 2b + c), that is c − r·(b − c)."""
    third = len(means) // 3
    parts = means[len(means) - 3 * third :].reshape(3, third)
    first, middle, last = parts.mean(axis=1).tolist()
    u = (np.diff(parts, axis=1).std(axis=1) / math.sqrt(2 * third)).tolist()
    falls, left = first - middle, middle - last
    if abs(falls) <= STILL * math.hypot(u[0], u[1]):
        return Rest((first + middle) / 2, combine(u[1], left), 0.0)  # an attack may begin to show in the last third
    share = left / falls
    if share > SLOWEST:
        return None
    if share < 0:
        return Rest(last, combine(u[2], left), last - first)
    ratio = share / (1 - share)
    of_means = combine(ratio**2 * u[0], 2 * (ratio + ratio**2) * u[1], (1 + ratio) ** 2 * u[2])
    return Rest(last - ratio * left, combine(of_means, NOT_EXPONENTIAL * ratio * left), last - first, abs(ratio * left))


def _pause(before: int, risen: int, lengths: Lengths, sight: Sight, *, rough: Look) -> tuple[int, int]:
    """Return where a contour is low before an attack.

    An attack begins an eighth of its 10–90 % time before 10 % at most.
    """
    attack, _, decay = lengths
    start = before + (round(AFTER * decay) if before else 0)
    part = rough.level[start:risen]
    fallen = part[part <= rough.at(FALLEN)]
    if not len(fallen):
        return start, start
    below = np.flatnonzero(part < np.percentile(fallen, USUAL) + LOW * rough.span)
    end = start + int(below[-1]) - round(BEGUN * attack + sight.window_s / sight.course.step_s) - 1
    return start, max(start, end)


def peaks_of(sight: Sight, cycles: Sequence[Cycle], lengths: Lengths) -> Peaks:
    """Return the peak of each cycle.

    Windows are halved from a fifth of the time above 90 % for as long as that makes the peak surer.
    """
    attack_s, hold_s, decay_s = (steps * sight.course.step_s for steps in lengths)
    windows = dict.fromkeys(sight.whole(hold_s / part) for part in PEAK_PARTS)
    about = float(sight.level(next(iter(windows))).max())
    noise = noise_of(sight, about)[1] * math.sqrt(sight.window_s) / (2 if sight.power else 1)
    slopes = 0.8 / attack_s + 2.2 / decay_s
    rippled = slopes * (RIPPLED * sight.swing * sight.ripple_s**2 + STEPPED * sight.course.step_s**2)
    found = (
        _peaks_through(sight, cycles, window_s, noise / math.sqrt(window_s), rippled=rippled / window_s) for window_s in windows
    )
    best = next(found)
    for closer in found:
        if closer.u >= best.u:
            break
        best = closer
    return best


def _peaks_through(sight: Sight, cycles: Sequence[Cycle], window_s: float, noise: float, *, rippled: float) -> Peaks:
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
    return Peaks(peaks.tolist(), too_much, combine(LIFTED_U * of_noise, rippled, between_samples(sight, window_s)))


def marks_of(rise: Floats, fall: Floats, cycles: Sequence[Cycle], *, peaks: Sequence[float], lengths: Lengths) -> list[Marks]:
    """Return where each cycle passes its thresholds; ``rise`` and ``fall`` are the level, (n,), as seen for attacks and for decays."""
    reach_up, reach_down = (max(1.0, min(steps / REACH, lengths[1] / ACROSS)) for steps in (lengths[0], lengths[2]))
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
