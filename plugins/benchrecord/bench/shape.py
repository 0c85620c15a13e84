"""The shape of a wave in its period, from its harmonics: where it crosses levels, how long a triangle or ramp rises."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.smear import lost_shares
from benchrecord.bench.spectra import Complexes
from benchrecord.bench.tones import Tone

PULSE_LEVELS, SLOPE_LEVELS = (0.5,), (0.2, 0.8)  # of the height, from the lowest to the highest value
FEWEST_POINTS, POINTS_A_WAVE = 4096, 4  # of a period, and of its shortest wave
STANDS_OUT = 4.0  # standard uncertainties above nothing
LEAST_HARMONICS, FEW_HARMONICS, ENOUGH_HARMONICS = 2, 8, 12
MANY_HARMONICS, EDGE_HARMONICS = 40, 4  # with so many an ideal wave reads nearly as it is, unless its edges are close together
STEPS = 3
POLISH = 3  # Newton steps
NARROWEST = 1e-9
HALF, QUARTER = 0.5, 0.25
# Of the period: the slower flank takes half of it or more, and is straight for a tenth on both sides of 20 and 80 % of its height.
SMOOTHED = 0.2


@dataclass(frozen=True, slots=True)
class Wave:
    """One period: Σ 2·Re(harmonics[n − 1]·exp(2πi·n·phase))."""

    harmonics: Complexes

    def at(self, phase: Floats, derivative: int = 0) -> Floats:
        """Return the wave, or its derivative by the phase in periods, at some phases (m,)."""
        turn = 2j * np.pi * np.arange(1, len(self.harmonics) + 1)
        return np.asarray(2 * (np.exp(np.outer(phase, turn)) @ (self.harmonics * turn**derivative)).real)

    def smoothed(self, span: float) -> Wave:
        """Return the wave of the means over a span about each phase: c_n·sinc(n·span)."""
        return Wave(self.harmonics * np.sinc(np.arange(1, len(self.harmonics) + 1) * span))

    def drawn(self) -> Floats:
        """Return the wave at even phases."""
        points = max(FEWEST_POINTS, POINTS_A_WAVE * 2 ** math.ceil(math.log2(len(self.harmonics))))
        return np.asarray(scipy.fft.irfft(np.concatenate(([0.0], self.harmonics)), points, norm="forward"))


@dataclass(frozen=True, slots=True)
class Share:
    """A share of the period, and how it follows the wave: δvalue = Σ weights·δwave(phases), each the mean over a span about its phase.

    ``order`` tells which derivative of the wave it follows, ``taper`` by what each of its harmonics is multiplied before.
    """

    value: float
    phases: Floats
    weights: Floats
    spans: Floats
    order: int = 0
    taper: Floats | float = 1.0

    def follows(self, count: int) -> Complexes:
        """Return how it follows each of so many harmonics: taper·(2πi·n)^order·Σ weight·sinc(n·span)·exp(2πi·n·phase)."""
        number = np.arange(1, count + 1)
        waves = np.sinc(np.outer(self.spans, number)) * np.exp(2j * np.pi * np.outer(self.phases, number))
        return np.asarray((self.weights @ waves) * self.taper * (2j * np.pi * number) ** self.order)


def high_share(wave: Wave) -> Share | NotHad:
    """Return the part of the period for which a wave lies above the middle between its lowest and highest value."""
    marks = _marks(wave, PULSE_LEVELS)
    if isinstance(marks, NotHad):
        return marks
    (up,), (down,), ends = marks
    return _share(wave, [(down, 1.0, HALF, 0.0), (up, -1.0, HALF, 0.0)], ends, float((down - up) % 1))


def rising_share(wave: Wave) -> Share | NotHad:
    """Return the part of the period for which a wave rises, as told by the times that it takes from 20 to 80 % of its height and back.

    A slow flank crosses a level several times, by noise and by the ripple that a series leaves where it is cut off: which crossing is the
    steepest would change by chance. On the slower flank the means over a span are followed in place of the wave. They cross once, and at
    the same phase where the flank is straight.
    """
    marks = _marks(wave, SLOPE_LEVELS)
    if isinstance(marks, NotHad):
        return marks
    spans = (SMOOTHED, 0.0) if _times(marks)[0] > _times(marks)[1] else (0.0, SMOOTHED)
    marks = _marks(wave, SLOPE_LEVELS, spans)
    if isinstance(marks, NotHad):
        return marks
    (up_low, up_high), (down_low, down_high), ends = marks
    rise, fall = _times(marks)
    by_rise, by_fall = fall / (rise + fall) ** 2, -rise / (rise + fall) ** 2
    low, high = SLOPE_LEVELS
    upwards = [(up_high, by_rise, high, spans[0]), (up_low, -by_rise, low, spans[0])]
    downwards = [(down_low, by_fall, low, spans[1]), (down_high, -by_fall, high, spans[1])]
    return _share(wave, upwards + downwards, ends, rise / (rise + fall))


Crossing = tuple[float, float, float, float]


def _share(wave: Wave, crossings: list[Crossing], ends: tuple[float, float], value: float) -> Share:
    """Tell how a share follows the wave.

    A crossing at phase t of a level that stands at ``part`` of the height moves by (δlevel − δwave(t)) / wave'(t), where the level
    follows the wave's lowest and highest values. Each comes with the weight of its phase in the share, that part, and its span.
    """
    slopes = np.array([wave.smoothed(span).at(np.array([phase]), 1)[0] for phase, _, _, span in crossings])
    by = np.array([weight for _, weight, _, _ in crossings]) / slopes
    part = np.array([part for _, _, part, _ in crossings])
    phases = np.array([*(phase for phase, _, _, _ in crossings), *ends])
    spans = np.array([*(span for _, _, _, span in crossings), 0.0, 0.0])
    return Share(value, phases, np.concatenate((-by, [by @ (1 - part), by @ part])), spans)


Marks = tuple[list[float], list[float], tuple[float, float]]


def _times(marks: Marks) -> tuple[float, float]:
    """Return how long a wave takes from the lower to the higher of two levels, and back, in periods."""
    (up_low, up_high), (down_low, down_high), _ = marks
    return (up_high - up_low) % 1, (down_low - down_high) % 1


def _marks(wave: Wave, levels: tuple[float, ...], spans: tuple[float, float] = (0.0, 0.0)) -> Marks | NotHad:
    """Return where a wave crosses some levels upwards and downwards, smoothed over spans of their own, and where it is lowest and highest."""
    drawn = wave.drawn()
    ends = np.array([np.argmin(drawn), np.argmax(drawn)]) / len(drawn)
    ends = polished(wave, ends, 0.0, 1 / len(drawn), derivative=1)
    low, high = wave.at(ends)
    found = []
    for span, sign in zip(spans, (1.0, -1.0), strict=True):
        flank = wave.smoothed(span)
        course = flank.drawn() if span else drawn
        found += [_crossing(flank, course, low + part * (high - low), sign) for part in levels]
    known = [phase for phase in found if phase is not None]
    if len(known) < len(found):
        return NotHad("the wave does not cross the middle of its height")
    return known[: len(levels)], known[len(levels) :], (float(ends[0]), float(ends[1]))


def _crossing(wave: Wave, drawn: Floats, level: float, sign: float) -> float | None:
    """Return the phase at which the wave crosses a level upwards (1) or downwards (-1), at the steepest place."""
    above = sign * (drawn - level)
    after = np.roll(above, -1)
    at = np.nonzero((above < 0) & (after >= 0))[0]
    if not len(at):
        return None
    first = int(at[np.argmax(after[at] - above[at])])
    phase = np.array([(first + above[first] / (above[first] - after[first])) / len(drawn)])
    return float(polished(wave, phase, level, 1 / len(drawn))[0])


def polished(wave: Wave, phase: Floats, level: float, reach: float, *, derivative: int = 0) -> Floats:
    """Return where the wave, or its derivative, has a value, close to some phases: by Newton's method."""
    for _ in range(POLISH):
        slope = wave.at(phase, derivative + 1)
        step = (wave.at(phase, derivative) - level) / np.where(slope == 0, 1.0, slope)
        phase = phase - np.clip(step, -reach, reach)
    return phase


def pulse_wave(share: float, count: int) -> Wave:
    """Return the first harmonics of an ideal pulse of a width, as a share of its period: c_n ∝ sinc(n·share)."""
    return Wave(np.sinc(np.arange(1, count + 1) * share) + 0j)


def triangle_wave(share: float, count: int) -> Wave:
    """Return the first harmonics of an ideal triangle that rises for a share of its period: c_n ∝ sinc(n·share)/(i·n)."""
    number = np.arange(1, count + 1)
    return Wave(np.sinc(number * share) / (1j * number))


def rise(tone: Tone) -> Estimate | NotHad:
    """Return the part of the period for which a triangle or ramp rises, between 0 and 1.

    As for a pulse, from the times between 20 and 80 % of the height. How far the harmonics are from those of an ideal triangle counts as
    uncertainty: nobody can tell then where its corners are.
    """
    return share_estimate(tone, rising_share, triangle_wave, held=True)


Reads = Callable[[Wave], Share | NotHad]
Ideal = Callable[[float, int], Wave]


def heard_harmonics(tone: Tone) -> int:
    """Return how many harmonics a shape is told from.

    Those below 20 kHz, where there are enough of them: a recorder may weaken what lies above. Of these all up to the last that stands
    out of the noise, but no fewer than some.
    """
    below = tone.below()
    known = below if below >= ENOUGH_HARMONICS else len(tone.harmonics)
    out = np.nonzero(np.abs(tone.harmonics[:known]) ** 2 > STANDS_OUT**2 * tone.variance[:known])[0]
    return max(int(out[-1]) + 1 if len(out) else 0, min(FEW_HARMONICS, known))


def share_estimate(tone: Tone, reads: Reads, ideal: Ideal, *, held: bool = False) -> Estimate | NotHad:
    """Return a share as the ideal wave would read it with as many harmonics; ``held`` counts how far the wave is from that one."""
    count = heard_harmonics(tone)
    if count < LEAST_HARMONICS:
        return NotHad(f"no harmonic of {tone.hz.value:.4g} Hz lies in the band of the recording: its shape cannot be told")
    share = reads(Wave(tone.harmonics[:count]))
    if isinstance(share, NotHad):
        return share
    many = count >= MANY_HARMONICS and EDGE_HARMONICS / count < share.value < 1 - EDGE_HARMONICS / count
    value = (stepwise if many else _true_share)(share.value, count, reads, ideal)
    variance = tone.variance[:count] + (misfit(tone.harmonics[:count], ideal(value, count).harmonics) if held else 0.0)
    u = math.hypot(share_u(share, variance), _smeared(tone, share, count))
    if many:
        return Estimate(value, u)
    near = _true_share(_towards_edge(share.value, 2 * u), count, reads, ideal)
    far = value if 0 < near < 1 else _true_share(_towards_edge(share.value, -2 * u), count, reads, ideal)
    return Estimate(value, max(abs(near - value), abs(far - value)) / 2)


def _smeared(tone: Tone, share: Share, count: int) -> float:
    """Return by how much a share may be off where a pitch that moves takes from all harmonics alike."""
    lost = lost_shares(tone.smear, np.arange(1.0, count + 1)) * np.abs(tone.harmonics[:count])
    return 2 * float(lost @ np.abs(share.follows(count)))


def stepwise(read: float, count: int, reads: Reads, ideal: Ideal) -> float:
    """Return the share of the ideal wave that reads as much, where that is nearly the same: by the secant method."""

    def off(share: float) -> float:
        got = reads(ideal(share, count))
        return got.value - read if isinstance(got, Share) else 0.0

    before, off_before = read, off(read)
    share = before - off_before
    for _ in range(STEPS):
        off_now = off(share)
        if off_now == off_before:
            break
        before, share, off_before = share, share - off_now * (share - before) / (off_now - off_before), off_now
    return share


def misfit(harmonics: Complexes, ideal: Complexes) -> Floats:
    """Return the square of how far each harmonic is from that of the ideal wave of the same size, (n,)."""
    own, wanted = np.abs(harmonics), np.abs(ideal)
    return np.asarray((own - wanted * (own @ wanted) / (wanted @ wanted)) ** 2)


def _towards_edge(share: float, step: float) -> float:
    """Step towards the narrower side of the period, where the same step means more."""
    return share - step if share <= HALF else share + step


def share_u(share: Share, variance: Floats) -> float:
    """Return the standard uncertainty of a share from the variance of the harmonics: √Σ 2·v_n·|follows_n|².

    That is JCGM 100:2008, 5.1.2, for independent harmonics whose real and imaginary parts share v_n evenly.
    """
    return math.sqrt(float(2 * variance @ np.abs(share.follows(len(variance))) ** 2))


def _true_share(read: float, count: int, reads: Reads, ideal: Ideal) -> float:
    """Return the share of the ideal wave that reads as much when it is cut off at the same harmonic.

    The other half of the period mirrors the first; what is narrower than the band can tell counts as nothing.
    """
    if read > HALF:
        return 1 - _true_share(1 - read, count, reads, ideal)

    def excess(share: float) -> float:
        got = reads(ideal(share, count))
        return (got.value if isinstance(got, Share) else HALF) - read

    if excess(NARROWEST) >= 0:
        return 0.0
    if excess(HALF) <= 0:  # about the half either flank may look like the slower one
        return HALF
    return float(scipy.optimize.brentq(excess, NARROWEST, HALF, xtol=1e-9))


def middle_share(tone: Tone) -> float | NotHad:
    """Return the part of the period that a wave spends between a quarter and three quarters of its height.

    An ideal pulse spends none there, a sine a third, a triangle or ramp half of it.
    """
    if len(tone.harmonics) < FEW_HARMONICS:
        return NotHad("too few harmonics lie in the band")
    drawn = Wave(tone.harmonics[: heard_harmonics(tone)]).drawn()
    height = (drawn - drawn.min()) / np.ptp(drawn)
    return float(np.mean((height > QUARTER) & (height < 1 - QUARTER)))
