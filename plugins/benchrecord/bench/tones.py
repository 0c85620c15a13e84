"""A steady tone in a recording: its frequency, harmonics, level and offset, each with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.estimate import Estimate, Hidden, decibels, root
from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import rough_hz
from benchrecord.bench.harmonics import STANDS_OUT, Course, Readings, read_harmonics, steady
from benchrecord.bench.last_digit import last_digit, rounding_variance
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.smear import lost_shares, smear_of
from benchrecord.bench.spectra import (
    LEAST_SIZE,
    OVERLAP,
    REACH_BINS,
    Complexes,
    Frames,
    frame_size,
    frames_in,
    kaiser,
    noise_bandwidth_bins,
)

TOP_HZ = 20_000.0  # harmonics from here on are not counted as distortion
JUST_BELOW = 1 - 1e-4  # a harmonic at the very top is not below it
PERIODS, FEWEST_PERIODS, FEWEST_FRAMES = 12.0, 8.0, 8
TOO_HIGH = 1.02  # a wave that wanders may run so much faster at times
LEAST_SHARE = 0.1  # of the power that must be periodic
CLOSE_BINS = 0.25  # that the topmost harmonic may lie beside the place where it is read
ROUNDS = 3
JUMP = 0.1  # of a period, by which a wave may speed up from one frame to the next before whole periods are missed
PLAUSIBLE = 1.2  # times the power of the sound: more is in the harmonics only of a wave that was lost
MOSTLY = 0.5  # of the power that is periodic: no noise
ADDED = 0.6  # of what noise adds to a level: twice that covers the level with it and without


@dataclass(frozen=True, slots=True)
class Tone:
    """A steady tone.

    The wave is dc + Σ 2·Re(harmonics[n − 1]·exp(2πi·n·phase)), where full scale is 1 and the phase counts in periods.

    Attributes
    ----------
    hz : mean frequency over the whole recording
    rms : of the samples without their mean
    dc : their mean
    harmonics : (n,) complex, of all harmonics that the rate has room for, the fundamental first
    noise : (n,) what noise brings to the power |c|² of each
    variance : (n,) of each, real and imaginary part together; on the safe side
    rounding : what the rounding of samples may bring to the power of each in every period alike
    periodic : the share of the power that lies in the harmonics
    rate : Hz
    frames : what was transformed
    course : how the wave proceeds through them
    apart_hz : by how much its fundamental runs faster than its harmonics have it, where that is more than chance: what has such
        partials has no single frequency, and the difference is in the uncertainty of ``hz``
    partial, partial_offset_hz : the strongest partial that is no whole multiple of the fundamental, if any, and by how much faster it runs
    swing : rms by which its amplitude departs from its rms, as a share of that, where that is more than noise; else 0
    smear : the share of its amplitude that the fundamental loses where the pitch moves within frames; harmonic n loses n² times as much

    """

    hz: Estimate
    rms: Estimate
    dc: Estimate
    harmonics: Complexes
    noise: Floats
    variance: Floats
    rounding: float
    periodic: float
    rate: float
    frames: Frames
    course: Course
    apart_hz: float = 0.0
    swing: float = 0.0
    smear: float = 0.0
    partial: int = 0
    partial_offset_hz: float = 0.0

    @property
    def amplitude(self) -> float:
        """The peak amplitude of the fundamental."""
        return 2 * abs(complex(self.harmonics[0]))

    @property
    def noise_rms(self) -> float:
        """The rms of white noise that would make the harmonics scatter as they do."""
        return _noise_rms(self.noise, self.frames)

    def below(self, top_hz: float = TOP_HZ) -> int:
        """Return how many harmonics lie below a frequency."""
        return min(len(self.harmonics), math.ceil(top_hz * JUST_BELOW / self.hz.value) - 1)


def find_tone(samples: Floats, rate: float, nominal_hz: float | None = None) -> Tone | NotHad:
    """Find the tone of a recording.

    The strongest line of a spectrum gives its frequency roughly, its harmonics ever more closely. Then frames of some twelve periods
    each are transformed, and all harmonics are read. Where the wave stands in its period is fitted to each frame by all harmonics that
    stand out (weighted least squares of their phases): how far that goes from end to end is the mean frequency, and the harmonics are
    averaged in step with it, so that an oscillator may wander. How they scatter from frame to frame is their uncertainty.

    A wave that a program samples without a filter, at a whole fraction of the rate, has what folds back on its harmonics, in every period
    alike. The samples are then those of another wave without fault, whose harmonics these are: no uncertainty can count it.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz
    nominal_hz : its nominal frequency, which settles whether a weak line an octave below leaks in or is the fundamental

    """
    hz = rough_hz(samples, rate, nominal_hz)
    frames = _frames(len(samples), rate, hz) if isinstance(hz, float) else hz
    if isinstance(hz, NotHad) or isinstance(frames, NotHad):
        return hz if isinstance(hz, NotHad) else frames  # type: ignore[return-value]
    if hz / rate * TOO_HIGH > 0.5 - REACH_BINS / frames.size:
        return NotHad(f"a tone of {hz:.4g} Hz is too high for a rate of {rate:g} Hz")
    read, frames = _read(samples, frames, hz / rate)
    hz = read.course.pitch * rate
    level = _level(samples, rate / hz)
    ratio = _power(read) / level.value**2
    if ratio > PLAUSIBLE:
        return NotHad(f"no steady tone: what lies at {hz:.4g} Hz moves too fast to be followed")
    share = min(1.0, ratio)
    if share < LEAST_SHARE:
        return NotHad(f"no steady tone: only {100 * share:.2g} % of its power is in the harmonics of {hz:.4g} Hz")
    noise = _noise_rms(read.noise, frames)
    rounding = rounding_variance(last_digit(samples), noise) * hz / rate
    return Tone(
        Estimate(hz, math.hypot(read.course.pitch_u, read.apart) * rate),
        Estimate(level.value, math.hypot(level.u, _of_noise(level.value, noise, len(samples)))),
        Estimate(read.dc, math.sqrt(read.dc_variance + rounding)),
        read.mean,
        read.noise,
        read.variance + rounding,
        rounding,
        share,
        rate,
        frames,
        read.course,
        read.apart * rate,
        read.swing,
        smear_of(read.course, frames),
        read.partial,
        read.partial_offset * rate,
    )


def _read(samples: Floats, frames: Frames, pitch: float) -> tuple[Readings, Frames]:
    """Read all harmonics in frames, or in shorter ones where the wave moves too far from one to the next."""
    read, shorter = _follow(samples, frames, pitch), frames_in(len(samples), frame_size(PERIODS / pitch))
    if shorter.size < frames.size and np.abs(np.diff(read.course.measured, 2)).max() > JUMP:
        again = _follow(samples, shorter, pitch)
        if MOSTLY < _power(again) / float(np.var(samples)) < PLAUSIBLE:
            return again, shorter
    return read, frames


def _follow(samples: Floats, frames: Frames, pitch: float) -> Readings:
    """Read all harmonics, again where the wave is not where it was looked for."""
    course = steady(frames, pitch)
    for _ in range(ROUNDS):
        read = read_harmonics(samples, frames, course)
        moved, course = float(np.max(np.abs(read.course.local - course.local))), read.course
        if moved * frames.size * len(read.mean) < CLOSE_BINS:
            break
    return read


def _power(read: Readings) -> float:
    """Return the power in the harmonics, without what noise brings to it."""
    return 2 * float(np.sum(np.maximum(np.abs(read.mean) ** 2 - read.noise, 0.0)))


def _level(samples: Floats, period: float) -> Estimate:
    """Return the rms without the mean over whole periods, with what half a sample more or less would change."""
    whole = samples[: round(int(len(samples) / period) * period)]
    mean = float(whole.mean())
    rms = math.sqrt(max(0.0, float(np.einsum("i,i->", whole, whole)) / len(whole) - mean**2))
    return Estimate(rms, rms / (2 * len(whole)))


def _of_noise(rms: float, noise: float, count: int) -> float:
    """Return the standard uncertainty that noise brings to an rms: by chance, and by what it adds (more than half of which may be meant)."""
    by_chance = noise / rms * math.sqrt((rms**2 + noise**2 / 2) / count)
    return math.hypot(by_chance, ADDED * noise**2 / (2 * rms))


def _noise_rms(noise: Floats, frames: Frames) -> float:
    """Return the rms of white noise that would bring so much to the power of each harmonic."""
    one_frame = float(np.median(noise)) * frames.count / frames.shared
    return math.sqrt(one_frame * frames.size / noise_bandwidth_bins(kaiser(frames.size)))


def _frames(length: int, rate: float, hz: float) -> Frames | NotHad:
    """Choose frames of some twelve periods, shorter ones where the recording is short."""
    period = rate / hz
    room = length / (1 + (FEWEST_FRAMES - 1) / OVERLAP)
    if room < FEWEST_PERIODS * period:
        held, needed = length / period, FEWEST_PERIODS * (1 + (FEWEST_FRAMES - 1) / OVERLAP)
        return NotHad(f"too short: it holds {held:.1f} periods of {hz:.4g} Hz, and {needed:.0f} are needed")
    wanted = max(PERIODS * period, LEAST_SIZE)
    return frames_in(length, frame_size(wanted) if frame_size(wanted) <= room else int(room))


def power_of(tone: Tone, numbers: Sequence[int]) -> Estimate:
    """Return the power of some harmonics relative to the fundamental, what the noise brings left out.

    |c|² less what noise brings, each with the variance 2·|c|²·v + v² (a complex number with normal noise of variance v), and the power
    that rounding may bring; it may come out below zero where there is nothing but noise. What a pitch that moves takes from the harmonics
    is uncertain by as much (standard uncertainty): it is not put back, and all of it goes one way.

    Parameters
    ----------
    numbers : of the harmonics; 1 is the fundamental

    """
    at = np.asarray(numbers, int) - 1
    power, variance = np.abs(tone.harmonics) ** 2 - tone.noise, tone.variance
    mine = power[at]
    spread = float(np.sum(2 * np.maximum(mine, 0.0) * variance[at] + variance[at] ** 2))
    first = float(power[0])
    share = float(mine.sum()) / first
    spread += (len(at) * tone.rounding) ** 2 + (2 * float(lost_shares(tone.smear, at + 1.0) @ np.maximum(mine, 0.0))) ** 2
    return Estimate(share, math.hypot(math.sqrt(spread) / first, share * math.sqrt(2 * float(variance[0]) / first)))


def thd(tone: Tone, top_hz: float = TOP_HZ) -> Estimate | NotHad:
    """Return the total harmonic distortion: rms of the harmonics from the second up to a frequency, over the fundamental."""
    numbers = range(2, tone.below(top_hz) + 1)
    if not numbers:
        return NotHad(f"no harmonic of {tone.hz.value:.4g} Hz lies below {min(top_hz, tone.rate / 2):g} Hz")
    return root(power_of(tone, numbers))


def distortion_lost(tone: Tone, top_hz: float = TOP_HZ) -> float:
    """Return the share of the distortion that is lost where the pitch moves within frames, of the harmonics that stand out."""
    numbers = np.arange(2, tone.below(top_hz) + 1)
    power = np.abs(tone.harmonics[numbers - 1]) ** 2
    known = np.where(power > STANDS_OUT**2 * tone.variance[numbers - 1], power, 0.0)
    total = float(known.sum())
    return float(lost_shares(tone.smear, numbers.astype(float)) @ known) / total if total else 0.0


def even_harmonics_db(tone: Tone, top_hz: float = TOP_HZ) -> Estimate | Hidden | NotHad:
    """Return the power of the even harmonics relative to the fundamental, in dB."""
    numbers = range(2, tone.below(top_hz) + 1, 2)
    if not numbers:
        return NotHad(f"no even harmonic of {tone.hz.value:.4g} Hz lies below {min(top_hz, tone.rate / 2):g} Hz")
    return decibels(power_of(tone, numbers))
