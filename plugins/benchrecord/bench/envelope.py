"""The stages of a contour in a recording: attack, hold, decay, gap and period, over all cycles that are whole."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.contour_cycles import (
    Cycle,
    Lengths,
    Marks,
    Peaks,
    cycles_in,
    marks_of,
    peaks_of,
    repeats,
    rough_lengths,
    with_zero,
)
from benchrecord.bench.contour_shapes import Shape, shape_of, slopes
from benchrecord.bench.contour_sight import (
    HALF,
    HIGH,
    LOW,
    OF_SAMPLE,
    Noise,
    Sight,
    at_a_look,
    at_threshold,
    between_samples,
    noise_of,
    sight_of,
)
from benchrecord.bench.fits import Floats, polynomial_fit
from benchrecord.bench.last_digit import rounding_variance
from benchrecord.bench.level_trail import Trail
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tremolo import tremolo_hz
from benchrecord.bench.uncertainty import combine, coverage_factor

PART = 25.0  # of a stage: a sharp mean reaches a window to either side, and an exponential passes 90 % a 21st of it after its corner
# Of windows W slid over straight and exponential stages T, W up to T/2 (class derived): an attack looks longer by 0.25·W²/T, and every
# stage is within 0.06·W of that, less where W is below T/5: by the power 0.75 of how far it is above T/25. The power of a tone is uneven over its period P, and its ripple moves a passing
# by 0.5·P²/T where it swings by its whole mean as a sine's does, and else in proportion (standard deviation; seen in simulation with
# ramps, sines and pulses).
ROUNDED, BETWEEN, BELOW, LESS, RIPPLE = 0.25, 0.06, 0.2, 0.75, 0.5
OF_STEP = math.sqrt(1 / 120)  # of the bend of a level over a step: so far off, by its slope, is a straight line (class derived)
LEAST_U = 5e-6  # of every time (standard uncertainty): what these models leave out of a recording without noise
BEGINS = 0.3  # of its 10–90 % time, before 10 %: what lies there still reaches into an attack
SHORTEST = 2.0  # windows of a stage
TREMOLO_S = 0.01  # window in which a tremolo is looked for
UNSURE = 0.1  # of a peak (standard uncertainty): nothing is told by thresholds that are shares of it
SHAPELESS = 0.2  # of a stage: through a longer window its shape is not to be told
# Below its rest by so much of its peak a voltage tells no times. It is looked for through a fifth of a decay.
BLOCKED, BROAD, CLEAR_OF_NOISE = 0.02, 5.0, 5.0
BENT_STAGES = ("attack", "hold", "decay", "gap")
BEHIND = "the recorder's input blocks direct voltage; record through an input that passes it"
K_OF_NOISE = 2.5  # coverage factor of a noise that is itself told from a few dozen differences
LOCKED = (
    3.0  # a spread so many times below the ripple: the contour keeps step with the tone, and all cycles see the same ripple
)
FEW = 4  # cycles whose spread tells more than the noise of each
COVERED = 0.9545  # what k = 2 covers of a normal distribution
FEWEST = 20  # steps of a recording
SHOWN = 280  # points of the cycle that is drawn


@dataclass(frozen=True, slots=True)
class Stage:
    """How long a stage lasts on average over ``cycles``, with its expanded uncertainty and the spread over them (None of one)."""

    seconds: float
    expanded_uncertainty: float
    cycles: int
    spread_s: float | None = None
    shape: Shape | None = None


@dataclass(frozen=True, slots=True)
class Contour:
    """A contour: what its stages last, or why that is not known; ``stages`` is keyed by attack, hold, decay, gap and period.

    Attributes
    ----------
    window_s, step_s : the finest smoothing, and the steps in which the level was taken
    floor : noise between the cycles, as a share of the peak
    undershoot : how far a voltage goes below where it rests, as a share of the peak: so does one whose recorder blocks direct voltage
    cycle : (m, 2) one of the cycles: s from where it rises above 10 %, and its level, the peak being 1
    clicked : the stages in which a click was left out
    tremolo_hz : how often a second the level goes up and down within a cycle; 0 where it rises and falls once

    """

    stages: dict[str, Stage | NotHad]
    cycles: int
    repeating: bool
    window_s: float
    step_s: float
    floor: float
    undershoot: float
    cycle: Floats
    clicked: tuple[str, ...] = ()
    tremolo_hz: float = 0.0


@dataclass(frozen=True, slots=True)
class Edge:
    """How well an attack or a decay is seen, in s: at each threshold by noise, and by the height of the peak and of zero.

    ``low``, ``half`` and ``high`` are the times that noise moves the passing of 10, 50 and 90 % by (standard deviation); ``per_peak`` are
    those that each moves by where the peak is higher by its own height, ``of_zero`` what 10 and 90 % move by where silence is.
    ``rounded`` is what the window leaves, ``ripple`` what a tone does at both ends and ``half_ripple`` in the middle, ``steps`` what goes on
    between steps and between samples.
    """

    low: float
    half: float
    high: float
    per_peak: tuple[float, float, float]
    of_zero: tuple[float, float]
    rounded: float
    ripple: float
    half_ripple: float
    steps: float


def read_contour(
    course: Trail, *, power: bool, period_s: float = 0.0, repeating: bool | None = None, beat: float = 0.0, digit: float = 0.0
) -> Contour | NotHad:
    """Read the stages of a contour off the trail of a recording.

    All times are taken between 10, 50 and 90 % of each cycle's own peak, above silence (or the lowest voltage). Windows are a twenty-fifth
    of the stage, and at least a period of the tone; what that lengthens short stages by is taken off.

    Uncertainty (expanded, k = 2; JCGM 100:2008): of the noise about each threshold over the slope there, of the height of the peak and
    of the noise between the cycles; of several cycles their spread, s·t/√n, where that is more; of what a straight line between steps and between
    samples leaves out; of the window where it is longer than a twenty-fifth, up to 0.06·W rectangular; of a voltage's rounding and of how
    far it goes below its rest, as it does behind a recorder that blocks direct voltage; of a beat too faint to spoil the level. The peak
    may be a corner or a plateau: it is extrapolated to a window of no length, and 0.9 of what that adds may be too much.

    Parameters
    ----------
    course : level trail, or voltage trail
    power : whether it is the level of a sound (else a voltage)
    period_s : of the tone that is heard; 0 for none
    repeating : whether the contour repeats itself; None to find out
    beat : amplitude of what the level swings by besides, as a share of it
    digit : step to which a voltage was rounded; 0 for none

    """
    if len(course.means) < FEWEST:
        return NotHad("the recording is too short for a contour")
    sight = sight_of(course, power=power, period_s=period_s)
    rough = at_a_look(sight)
    cycles = cycles_in(rough)
    if not cycles:
        return NotHad("no contour in it: the level does not rise and fall again")
    lengths = rough_lengths(rough, cycles)
    sight = replace(with_zero(sight, cycles, lengths, rough), beat=beat)
    return _measured(sight, cycles, lengths, repeating=repeating, digit=digit)


def _measured(
    sight: Sight, cycles: Sequence[Cycle], lengths: Lengths, *, repeating: bool | None, digit: float
) -> Contour | NotHad:
    step = sight.course.step_s
    windows = [sight.whole(steps * step / PART) for steps in (lengths[0], lengths[2])]
    rise, fall = (sight.level(w, sharp=True) for w in windows)
    peaks = peaks_of(sight, cycles, lengths)
    if min(peaks.heights) <= 0:
        return NotHad("noise hides what contour there may be")
    peak = float(np.median(peaks.heights))
    below = 0.0 if sight.power else _undershoot(sight, peak, lengths)
    rounded = _rounding(sight, digit, peak)
    sight = replace(sight, zero_u=combine(sight.zero_u, peak * below, peak * rounded))
    peaks = replace(peaks, common_u=combine(peaks.common_u, below / 2, rounded), own_u=combine(peaks.own_u, sight.beat, below))
    marks = marks_of(rise, fall, cycles, peaks=peaks.heights, lengths=lengths)
    whole = [m for m in marks if m.up or m.down]
    if not whole:
        return NotHad("no contour in it that rises from below 10 % to above 90 % of its peak, or falls back")
    again = repeats(marks, len(rise)) if repeating is None else repeating
    clicked = _clicked(sight.course, marks)
    stages = _told(_widened(_stages(sight, marks, windows, peaks), clicked), 1000 * sight.window_s, peaks.u)
    if below > BLOCKED:
        stages |= dict.fromkeys(BENT_STAGES, NotHad(f"it goes {100 * below:.2g} % of its peak below its rest: {BEHIND}"))
    if not again:
        stages |= dict.fromkeys(("gap", "period"), NotHad("the contour does not repeat itself"))
    return Contour(
        stages,
        len(whole),
        again,
        sight.window_s,
        step,
        math.sqrt(max(sight.zero, 0.0)) / peak if sight.power else 0.0,
        below,
        _one_cycle(sight, marks, cycles),
        tuple(clicked),
        _tremolo(sight, whole, peak, repeating=again),
    )


def _tremolo(sight: Sight, marks: Sequence[Marks], peak: float, *, repeating: bool) -> float:
    """Return how often a second the level goes up and down within each cycle, or within all of it where it does not repeat itself."""
    window_s = sight.whole(TREMOLO_S)
    noise = max(noise_of(sight, peak)) * math.sqrt(sight.window_s / window_s)
    cycles = [(m.up[0], m.down[4]) for m in marks if m.up and m.down] if repeating else [(0.0, math.inf)]
    return tremolo_hz(sight.level(window_s), cycles, sight.course.step_s, peak=peak, noise=noise)


def _clicked(course: Trail, marks: Sequence[Marks]) -> dict[str, float]:
    """Return how much of each stage, in s, is a straight line in place of a click: from a little before 10 % on, where it begins."""
    found: dict[str, float] = {}
    for start, stop in course.bridges:
        for m in marks:
            up, down = m.up, m.down
            rise = (up[0] - BEGINS * (up[4] - up[0]), up[4]) if up else None
            spans = {
                "attack": rise,
                "hold": (up[4], down[0]) if up and down else None,
                "decay": (down[0], down[4]) if down else None,
            }
            for name, span in spans.items():
                if span and start < span[1] and stop > span[0]:
                    found[name] = found.get(name, 0.0) + (min(stop, span[1]) - max(start, span[0])) * course.step_s
    return found


def _widened(stages: dict[str, Stage | NotHad], clicked: dict[str, float]) -> dict[str, Stage | NotHad]:
    """Let each stage be off by as much of it as a click has hidden, on the mean over its cycles."""
    known = {name: stage for name, stage in stages.items() if isinstance(stage, Stage) and name in clicked}
    return stages | {
        name: replace(stage, expanded_uncertainty=combine(stage.expanded_uncertainty, clicked[name] / stage.cycles))
        for name, stage in known.items()
    }


def _undershoot(sight: Sight, peak: float, lengths: Lengths) -> float:
    """Return how far a voltage goes below its rest, or its rest from where it was, as a share of its peak, beyond what noise does."""
    window_s = sight.whole(lengths[2] * sight.course.step_s / BROAD)
    noise = noise_of(sight, peak)[0] * math.sqrt(sight.window_s / window_s)
    lowest = float(sight.level(window_s).min()) / peak
    return max(0.0, -lowest - CLEAR_OF_NOISE * noise, sight.shift / peak)


def _rounding(sight: Sight, digit: float, peak: float) -> float:
    """Return how far a voltage that stands still may be off by its rounding, as a share of the peak (standard uncertainty)."""
    noise_rms = noise_of(sight, peak)[0] * peak * math.sqrt(sight.window_s * sight.course.rate)
    return 0.0 if sight.power else math.sqrt(rounding_variance(digit, noise_rms)) / peak


def _told(stages: dict[str, Stage | NotHad], window_ms: float, peak_u: float) -> dict[str, Stage | NotHad]:
    """Leave out what rests on a peak that is not told, and a hold that may be but the window, between edges too short to be told."""
    through = f"through the {window_ms:.3g} ms over which its level is taken"
    if peak_u > UNSURE:
        unsure = NotHad(f"too sharp a peak to be told {through}")
        return stages | {name: unsure for name in ("attack", "hold", "decay", "gap") if isinstance(stages[name], Stage)}
    hold, unseen = stages["hold"], any(isinstance(stages[name], NotHad) for name in ("attack", "decay"))
    if isinstance(hold, Stage) and unseen and 1000 * hold.seconds < 2 * SHORTEST * window_ms:
        return stages | {"hold": NotHad(f"too short to be told {through}")}
    return stages


def _edge(sight: Sight, passed: Sequence[float], window_s: float, noise: Noise, *, falls: bool, peak: float) -> Edge:
    """Return how well an edge is seen that passes 10 … 90 % of its way at these times, in s."""
    seconds = passed[4] - passed[0]
    first, last = slopes(seconds, (passed[2] - passed[0]) / seconds)
    at_low, at_high = (last, first) if falls else (first, last)
    at_half = (at_low + at_high) / 2  # of a straight stage and of an exponential alike
    low, half, high = at_threshold(noise, sight, window_s)
    sign = -1.0 if falls else 1.0
    of_zero = (_lifted(sight, peak, LOW) / at_low, _lifted(sight, peak, HIGH) / at_high)
    share = math.hypot(window_s, sight.ripple_s) / seconds
    rounded = BETWEEN * window_s * float(np.clip((PART * share - 1) / (PART * BELOW - 1), 0, 1)) ** LESS / math.sqrt(3)
    of_tone, beside = RIPPLE * sight.swing * sight.ripple_s**2 / seconds, between_samples(sight, window_s)
    swings = combine(beside, sight.beat / math.sqrt(2))
    ripple = combine(of_tone, swings * combine(LOW / at_low, HIGH / at_high))
    bent = OF_STEP * sight.course.step_s**2 * math.log(first / last) / seconds
    steps = combine(bent, OF_SAMPLE / (window_s * sight.course.rate**2))
    per_peak = (sign * LOW / at_low, sign * HALF / at_half, sign * HIGH / at_high)
    return Edge(
        low / at_low,
        half / at_half,
        high / at_high,
        per_peak,
        of_zero,
        rounded,
        ripple,
        combine(of_tone, swings * HALF / at_half),
        steps,
    )


def _lifted(sight: Sight, peak: float, share: float) -> float:
    """Return by how much of the peak a threshold at a share of it is off, where zero is by its standard uncertainty."""
    if sight.power:
        return sight.zero_u * (1 - share**2) / (2 * share * peak**2)
    return sight.zero_u * (1 - share) / peak


def _stages(sight: Sight, marks: Sequence[Marks], windows: Sequence[float], peaks: Peaks) -> dict[str, Stage | NotHad]:
    """Average each stage over the cycles that show all of it."""
    step = sight.course.step_s
    peak = float(np.median([m.peak for m in marks]))
    noise = noise_of(sight, peak)
    ups, downs = (
        [np.array(side) * step for side in sides if side] for sides in ([m.up for m in marks], [m.down for m in marks])
    )
    gaps = [(m.next_up[0] - m.down[4]) * step for m in marks if m.next_up and m.down]
    up = _edge(sight, np.mean(ups, axis=0), windows[0], noise, falls=False, peak=peak) if ups else None
    down = _edge(sight, np.mean(downs, axis=0), windows[1], noise, falls=True, peak=peak) if downs else None
    return {
        "attack": _of_edge(ups, up, windows[0], peaks.u, falls=False),
        "hold": _between([(m.down[0] - m.up[4]) * step for m in marks if m.up and m.down], up, down, peaks.u),
        "decay": _of_edge(downs, down, windows[1], peaks.u, falls=True),
        "gap": _gap(gaps, up, down, peaks.u),
        "period": _period(marks, step, up, peaks.own_u),
    }


def _of_edge(edges: Sequence[Floats], edge: Edge | None, window_s: float, peak_u: float, *, falls: bool) -> Stage | NotHad:
    if edge is None:
        what = "decay that falls from above 90 % to below 10 %" if falls else "attack that rises from below 10 % to above 90 %"
        return NotHad(f"no {what} of its peak")
    times = np.array([e[4] - e[0] for e in edges])
    if not falls:
        beyond = np.maximum(window_s**2 - (times / PART) ** 2, 0.0)
        times = (times + np.sqrt(np.maximum(times**2 - 4 * ROUNDED * beyond, 0.0))) / 2
    if times.min() < SHORTEST * window_s:
        return NotHad(f"too short to be told from the {1000 * window_s:.3g} ms over which its level is taken")
    of_peak = peak_u * (edge.per_peak[2] - edge.per_peak[0])
    common = combine(of_peak, edge.of_zero[0] - edge.of_zero[1], edge.rounded, edge.steps)
    stage = _mean(times.tolist(), combine(edge.low, edge.high), common, edge.ripple)
    if window_s > SHAPELESS * stage.seconds:
        return stage
    passed = np.mean([e - e[0] for e in edges], axis=0)
    u = combine(max(edge.low, edge.high), edge.ripple) / math.sqrt(len(edges))
    return replace(stage, shape=shape_of(passed.tolist(), u, seconds_u=stage.expanded_uncertainty))


def _between(times: Sequence[float], up: Edge | None, down: Edge | None, peak_u: float) -> Stage | NotHad:
    if up is None or down is None or not times:
        return NotHad("no cycle with both an attack and a decay")
    of_peak = peak_u * (down.per_peak[2] - up.per_peak[2])
    rounded = combine(up.rounded, down.rounded) / math.sqrt(2)  # it has but one end of each edge
    common = combine(of_peak, up.of_zero[1] + down.of_zero[1], rounded, up.steps, down.steps)
    return _mean(times, combine(up.high, down.high), common, combine(up.ripple, down.ripple))


def _gap(times: Sequence[float], up: Edge | None, down: Edge | None, peak_u: float) -> Stage | NotHad:
    if up is None or down is None or not times:
        return NotHad("no cycle that falls below 10 % of its peak before the next attack")
    of_peak = peak_u * (up.per_peak[0] - down.per_peak[0])
    common = combine(of_peak, up.of_zero[0] + down.of_zero[0], up.rounded, down.rounded, up.steps, down.steps)
    return _mean(times, combine(up.low, down.low), common, combine(up.ripple, down.ripple))


def _mean(times: Sequence[float], noise: float, common: float, ripple: float) -> Stage:
    """Average one stage over cycles, from the standard uncertainties of each by noise and by ripple, and of what all have in common."""
    count = len(times)
    spread = float(np.std(times, ddof=1)) if count > 1 else None
    alone = combine(K_OF_NOISE * noise, 2 * ripple)
    if spread is None:
        random = alone
    elif count < FEW:
        random = max(alone, 2 * spread)
    else:
        random = max(coverage_factor(COVERED, count - 1) * spread, 2 * ripple, 2 * noise)
    if spread is not None and spread < ripple / LOCKED:
        common = combine(common, ripple)
    seconds = float(np.mean(times))
    return Stage(seconds, combine(random / math.sqrt(count), 2 * common, 2 * LEAST_U * seconds), count, spread)


def _period(marks: Sequence[Marks], step: float, up: Edge | None, own_u: float) -> Stage | NotHad:
    """Return the period as the slope of the times of the attacks over their number."""
    at = [(n, m.up[2] * step) for n, m in enumerate(marks) if m.up]
    at += [(len(marks), m.next_up[2] * step) for m in marks[-1:] if m.next_up]
    if len(at) < 2 or up is None:  # noqa: PLR2004  # a period lies between two attacks
        return NotHad("fewer than two attacks")
    numbers, times = (np.array(column) for column in zip(*at, strict=True))
    line = polynomial_fit(numbers, times, 1)
    if isinstance(line, NotHad):
        return line
    periods = np.diff(times) / np.diff(numbers)
    spread = float(np.std(periods, ddof=1)) if len(periods) > 1 else None
    of_peak = own_u * up.per_peak[1]  # each attack is timed by half of its own peak
    random = K_OF_NOISE * combine(up.half, up.half_ripple, up.steps, of_peak) / float(np.linalg.norm(numbers - numbers.mean()))
    if line.degrees_of_freedom >= FEW:
        random = max(random, coverage_factor(COVERED, line.degrees_of_freedom) * line.standard_errors[1])
    return Stage(line.coefficients[1], random, len(periods), spread)


def _one_cycle(sight: Sight, marks: Sequence[Marks], cycles: Sequence[Cycle]) -> Floats:
    """Return a cycle to be drawn, from a little before its attack until the next one: (m, 2)."""
    whole = [n for n, m in enumerate(marks) if m.up and m.down] or [n for n, m in enumerate(marks) if m.up or m.down]
    mark, cycle = marks[whole[0]], cycles[whole[0]]
    step = sight.course.step_s
    start = mark.up[0] if mark.up else float(cycle.before)
    end = mark.next_up[0] if mark.next_up else mark.down[4] + (mark.down[4] - mark.down[0]) if mark.down else float(cycle.after)
    before = 0.05 * (end - start)
    at = np.linspace(max(0.0, start - before), min(end, len(sight.course.means) - 1), SHOWN)
    level = sight.level(max(sight.window_s, (at[1] - at[0]) * step))
    return np.stack([(at - start) * step, np.interp(at, np.arange(len(level)), level) / mark.peak], axis=1)
