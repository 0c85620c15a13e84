"""Reading the harmonics of a tone from overlapping frames, in step with the tone even where it wanders."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.estimate import TINY
from benchrecord.bench.fits import Floats
from benchrecord.bench.mean_pitch import mean_pitch
from benchrecord.bench.spectra import REACH_BINS, Complexes, Frames, any_folds, kaiser, kaiser_gain, transforms

STANDS_OUT = 4.0  # standard uncertainties above nothing: such a harmonic tells where the wave stands in its period
AT_ONCE = 256  # frames whose scatter is taken together
SHARE = 0.01  # of the strongest harmonic's power: what has more can be followed from frame to frame
NEIGHBOURS = 9  # harmonics whose noise is taken together
STEP_UP = 4  # times as many harmonics tell where the wave stands once the lower ones have told it roughly
WANDERS = 1.5  # times the noise of the places: a wave that strays so far does wander
PARTIALS, PARTIAL = (
    12,
    1e-3,
)  # that are looked at; of the strongest harmonic's power: a partial with more is told of where it is no whole multiple
OFF = 5e-5, 0.1  # that it is off by, as a share of itself, and at most of the fundamental: what is farther off is another tone
UNSTEADY = 0.2  # standard deviation of its size, as a share of that: that of two lines, not of a partial
FOLDS, AT_FOLD = 8, 1e-4  # times the rate up to which harmonics are looked for that fold back; of the pitch, how near to one
COHERENT = 0.9  # of its power that a partial keeps in step from frame to frame: its phase can be followed
SWINGS = 3.0  # times the noise of its gains: an amplitude that goes up and down by so much is modulated
LEAST_GAIN = 0.05  # a frame as faint as this tells little of where the wave stands
ALLOWANCE = 1.2  # on all uncertainties, for noise that is not quite white and a wave that is not quite steady (own choice)


@dataclass(frozen=True, slots=True)
class Course:
    """How a wave proceeds.

    Attributes
    ----------
    pitch, pitch_u : periods in a sample, on the mean over the recording, with their standard uncertainty
    place : (frames,) where it stands in the middle of each frame, in periods
    local : (frames,) periods in a sample in each frame, or (1,) of a wave that is steady
    measured, noise : (frames,) the places as they were read, and the standard uncertainty of each by noise alone

    """

    pitch: float
    pitch_u: float
    place: Floats
    local: Floats
    measured: Floats
    noise: float


def steady(frames: Frames, pitch: float) -> Course:
    """Return the course of a wave that has this pitch all the time, in periods a sample."""
    place = frames.middles * pitch
    return Course(pitch, 0.0, place, np.array([pitch]), place, 0.0)


@dataclass(frozen=True, slots=True)
class Readings:
    """What all frames together read.

    Attributes
    ----------
    course : how the wave proceeds
    mean : (n,) complex harmonics in step with it; without its mean the wave is Σ 2·Re(mean[n − 1]·exp(2πi·n·place))
    noise : (n,) what noise brings to the power |mean|² of each
    variance : (n,) of each, real and imaginary part together; on the safe side
    dc, dc_variance : the mean of the samples
    swing : rms by which the amplitude of the frames departs from its rms, as a share of that, where that is more than noise; else 0
    apart : periods in a sample by which the fundamental runs faster than its harmonics have it, where that is more than chance; else 0
    partial, partial_offset : the strongest harmonic that is none, if any, and by how many periods in a sample it runs faster; else 0

    """

    course: Course
    mean: Complexes
    noise: Floats
    variance: Floats
    dc: float
    dc_variance: float
    swing: float
    apart: float
    partial: int = 0
    partial_offset: float = 0.0


def read_harmonics(samples: Floats, frames: Frames, near: Course, most: int | None = None) -> Readings:
    """Read all harmonics that the rate has room for, or so many at most.

    Parameters
    ----------
    samples : (n,)
    frames : at least three, each of some periods
    near : how the wave proceeds, close enough that the topmost harmonic lies within half a bin of its place

    """
    number = np.arange(int((frames.size / 2 - REACH_BINS) / (float(near.local.max()) * frames.size)) + 1)[: most and most + 1]
    bins = np.rint(np.outer(near.local, number) * frames.size).astype(int)
    read = _at(samples, frames, bins)
    read *= np.where(bins % 2, -1.0, 1.0)  # a transform counts phases from the start of a frame: these count from its middle
    dc, harmonics = read[:, 0].real, read[:, 1:]
    course = _course(*_in_step(harmonics, near.place, frames.shared), frames, len(samples))
    turned = _turned(harmonics, course.place)
    turned /= kaiser_gain(np.outer(course.local, number[1:]) * frames.size - bins[:, 1:])
    gain, of_mean = _gains(turned, frames.shared), frames.shared / frames.count
    mean = gain @ turned / frames.count
    scatter = _scatter(turned, mean, gain, frames.shared)
    partial, partial_offset = _inharmonic_partial(turned, course.pitch, frames)
    return Readings(
        course,
        mean,
        noise=scatter * of_mean,
        variance=_careful(scatter) * of_mean * ALLOWANCE**2,
        dc=float(dc.mean()),
        dc_variance=float(dc.var() * frames.shared / (frames.count - frames.shared)) * ALLOWANCE**2,
        swing=float(np.std(gain)),
        apart=_apart(turned[:, 0], frames),
        partial=partial,
        partial_offset=partial_offset,
    )


def _gains(turned: Complexes, shared: float) -> Floats:
    """Return the amplitude of the wave in each frame, (frames,), whose mean square is 1; ones where it is no less steady than noise allows.

    All harmonics of a wave that grows or fades do so alike: the gain of a frame is Σ Re(c·m*)/Σ|m|², with the harmonic c and its mean m.
    """
    ones = np.ones(len(turned))
    mean = turned.mean(axis=0)
    size = max(float(np.vdot(mean, mean).real), TINY)
    gain = (turned.real @ mean.real + turned.imag @ mean.imag) / size
    root = math.sqrt(float(gain @ gain) / len(gain))
    if root < LEAST_GAIN:
        return ones
    left = _scatter(turned, mean * root, gain / root, shared)
    noise = math.sqrt(float(np.median(left)) / (2 * size))
    return np.asarray(gain / root) if float(np.std(gain)) > SWINGS * noise else ones


def _apart(fundamental: Complexes, frames: Frames) -> float:
    """Return by how many periods a sample the fundamental runs away from the wave that all its harmonics put together.

    The partials of a string or a spring are no whole multiples of its lowest one: each goes its own way.
    """
    held = np.abs(np.vdot(fundamental[:-1], fundamental[1:])) / max(float(np.vdot(fundamental, fundamental).real), TINY)
    if held < COHERENT:
        return 0.0
    phase, t = np.unwrap(np.angle(fundamental)) / (2 * np.pi), frames.middles - frames.middles.mean()
    slope = float(t @ phase) / float(t @ t)
    scatter = math.sqrt(float(np.sum((phase - phase.mean() - slope * t) ** 2)) / (len(t) - 2))
    return slope if abs(slope) > STANDS_OUT * scatter * math.sqrt(frames.shared / float(t @ t)) else 0.0


def _inharmonic_partial(turned: Complexes, pitch: float, frames: Frames) -> tuple[int, float]:
    """Return the number of the strongest partial above the fundamental that is no whole multiple of it, and what it is off by; zeros for none."""
    turned = turned[:, :PARTIALS]
    power = np.einsum("ij,ij->j", turned.real, turned.real) + np.einsum("ij,ij->j", turned.imag, turned.imag)
    for n in sorted((np.flatnonzero(power[1:] > PARTIAL * power.max()) + 1).tolist(), key=lambda n: -power[n]):
        size, apart = np.abs(turned[:, n]), _apart(turned[:, n], frames)
        steady = float(np.std(size)) < UNSTEADY * float(size.mean())  # one that comes and goes is modulated
        if steady and OFF[0] * (n + 1) * pitch < abs(apart) < OFF[1] * pitch and not _folds((n + 1) * pitch + apart, pitch):
            return n + 1, apart
    return 0, 0.0


def _folds(line: float, pitch: float) -> bool:
    """Say whether a line lies where a harmonic of a pitch folds back to, both in periods a sample."""
    harmonics = np.arange(2.0, int(FOLDS / pitch) + 2) * pitch
    return any_folds(harmonics, line, 1.0, AT_FOLD * pitch)


def _at(samples: Floats, frames: Frames, bins: NDArray[np.intp]) -> Complexes:
    """Return the transforms of all frames at some bins, (frames, n); a row of bins for each frame, or one for all."""
    read, first = np.empty((frames.count, bins.shape[1]), complex), 0
    for some in transforms(samples, frames, kaiser(frames.size)):
        last = first + len(some)
        read[first:last] = some[:, bins[0]] if len(bins) == 1 else np.take_along_axis(some, bins[first:last], axis=1)
        first = last
    return read


def _turned(harmonics: Complexes, place: Floats) -> Complexes:
    """Return each harmonic turned back by where the wave stands: c_n·exp(−2πi·n·place), (frames, n)."""
    turns = np.empty(harmonics.shape, complex)
    turns[:] = np.exp(-2j * np.pi * place)[:, None]
    np.cumprod(turns, axis=1, out=turns)
    turns *= harmonics
    return turns


def _in_step(harmonics: Complexes, near: Floats, shared: float) -> tuple[Floats, float]:
    """Find where the wave stands in each frame, first by its fundamental, or the first harmonic that is no weaker, then by ever more.

    With phases that are nearly in step, the least-squares shift of a frame is Σ n·Im(c·m*)/v over 2π·Σ n²·|m|²/v, where c is the
    harmonic, m its mean over the frames and v its variance. Such a shift takes with it what a harmonic strays along it: of the two
    parts of its variance so much of one as it has a share in the sum, all of it where a single harmonic tells.

    Returns
    -------
    the places in periods, (frames,), and the information Σ n²·|m|²/v that told each, less what it took along with it

    """
    first = _first(harmonics)
    turns = np.unwrap(np.angle(harmonics[:, first] * np.exp(-2j * np.pi * (first + 1) * near)))
    place, top = near + turns / (2 * np.pi * (first + 1)), first + 1
    while True:
        top = min(STEP_UP * top, harmonics.shape[1])
        turned, number = _turned(harmonics[:, :top], place), np.arange(1, top + 1)
        mean = turned.mean(axis=0)
        weights = number * _weights(turned, mean, shared, first)
        each = number * weights * np.abs(mean) ** 2
        information = float(each.sum())
        across = np.einsum("ij,j->i", turned.imag, weights * mean.real) - np.einsum("ij,j->i", turned.real, weights * mean.imag)
        place = place + across / (2 * np.pi * max(information, TINY))
        if top == harmonics.shape[1]:
            return place, information - float(each @ each) / max(2 * information, TINY)


def _first(harmonics: Complexes) -> int:
    """Return the place of the first harmonic that has a share of the strongest one's power: a fundamental can be missing."""
    power = np.einsum("ij,ij->j", harmonics.real, harmonics.real) + np.einsum("ij,ij->j", harmonics.imag, harmonics.imag)
    return int(np.argmax(power > SHARE * power.max()))


def _weights(turned: Complexes, mean: Complexes, shared: float, first: int) -> Floats:
    """Return 1/variance of those harmonics that stand out, and of the first one that is followed; of the others nothing."""
    variance = _careful(_scatter(turned, mean, np.ones(len(turned)), shared))
    out = np.abs(mean) ** 2 > STANDS_OUT**2 * variance * shared / len(turned)
    out[first] = True
    return np.where(out, 1 / np.maximum(variance, TINY), 0.0)


def _scatter(turned: Complexes, mean: Complexes, gain: Floats, shared: float) -> Floats:
    """Return the variance of each harmonic in one frame, about its mean as loud as that frame is."""
    squares = np.zeros((len(mean), 2))
    for first in range(0, len(turned), AT_ONCE):
        off = turned[first : first + AT_ONCE] - np.outer(gain[first : first + AT_ONCE], mean)
        parts = off.view(float).reshape(len(off), *squares.shape)  # real beside imaginary
        squares += np.einsum("ijk,ijk->jk", parts, parts)
    return np.asarray(squares.sum(axis=1) / (len(turned) - shared))


def _careful(scatter: Floats) -> Floats:
    """Return the variance of each harmonic or the median of its neighbourhood, whichever is larger: few frames can agree by chance.

    A median, since a fundamental that is modulated strays by more than the noise about harmonics that are fainter.
    """
    near = min(NEIGHBOURS, len(scatter))
    padded = np.pad(scatter, (near // 2, near - 1 - near // 2), mode="edge")
    return np.maximum(scatter, np.median(np.lib.stride_tricks.sliding_window_view(padded, near), axis=1))


def _course(place: Floats, information: float, frames: Frames, length: int) -> Course:
    """Tell a wave that is steady from one that wanders, and its mean pitch.

    A place has the standard uncertainty 1/(2π·√(2·Σ n²·|m|²/v)). Where places scatter no more about a line, the wave proceeds along it.
    """
    t = frames.middles - frames.middles.mean()
    slope = float(t @ place) / float(t @ t)
    line = place.mean() + slope * t
    scatter = math.sqrt(float(np.sum((place - line) ** 2)) / (len(t) - 2))
    noise = 1 / (2 * math.pi * math.sqrt(2 * max(information, TINY)))
    pitch, u = mean_pitch(place, noise, frames, length)
    if scatter < WANDERS * noise:
        return Course(pitch, ALLOWANCE * u, line, np.array([slope]), place, noise)
    return Course(pitch, ALLOWANCE * u, place, np.asarray(np.gradient(place) / frames.hop), place, noise)
