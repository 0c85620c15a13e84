"""How long a pulse stays high: from where both of its edges are steepest, or by counting samples."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.harmonics import ALLOWANCE
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.shape import (
    Share,
    Wave,
    heard_harmonics,
    high_share,
    misfit,
    polished,
    pulse_wave,
    share_estimate,
    share_u,
    stepwise,
)
from benchrecord.bench.tones import Tone

SHARP = 0.045  # of the height: so far off its levels a recorded edge is at least, in the mean of both samples beside it
SAW_TERMS = 4000
LOOKED_AT = 200_000  # samples, to find the two levels of a pulse
TAPER = 8.0  # β of the Kaiser taper of the harmonics: an edge then rings by less than 60 dB
APART = 2.5  # harmonics times the narrower part of the period: from here on the edges are apart
MIDDLE = 1 - math.log(2)  # of an exponential edge's rms width: so far its middle lies from its centre of gravity (derived)
FEWEST = 4  # harmonics that tell how far a wave is from an ideal one
OF_SAMPLED, OF_RECORDED = (
    0.6,
    0.25,
)  # of a sample: the rms by which the widths of a steady pulse may move slowly (seen in simulation)
BY_CHANCE = 4.0  # standard deviations of what the variance of so many widths is off by
FEWEST_WIDTHS = 8
MARGIN = 0.1  # of the height
ENDS_PERCENT = 2  # of the widths at either end: left out of their range
LEFT_OUT = 0.5  # of what missing harmonics change: an edge is not quite the ideal one that this is taken from


@dataclass(frozen=True, slots=True)
class Edges:
    """Both edges of a pulse.

    ``share`` is the part of the period between where the wave rises and falls most steeply, ``widths`` by how much the square of the rms
    width of the rising edge is larger than that of the falling one, in periods².
    """

    share: Share
    widths: Share


@dataclass(frozen=True, slots=True)
class Movement:
    """How the width of a pulse moves in the course of a recording: its mean, the rms about that, and its range, as shares of the period."""

    mean: float
    rms: float
    low: float
    high: float


def movement(samples: Floats, tone: Tone) -> Movement | None:
    """Return how the width of a pulse moves, slowly against its period; None where that is no more than sampling and noise make of it.

    Each width is a share of its own period, so that vibrato does not count. What does not follow its neighbours is chance: a sixth of the
    mean square of the second differences is taken off the variance, which is all of it where each is independent (class derived).

    Parameters
    ----------
    samples : (n,)
    tone : what was found in them

    """
    shares = _each_share(samples)
    if len(shares) < FEWEST_WIDTHS:
        return None
    chance = float(np.mean(np.diff(shares, 2) ** 2)) / 6
    square = float(np.var(shares)) - chance
    part = OF_RECORDED if sharp_pulse(samples, tone.noise_rms) is None else OF_SAMPLED
    least = max((part * tone.hz.value / tone.rate) ** 2, BY_CHANCE * chance / math.sqrt(len(shares)))
    if square <= least:
        return None
    low, high = np.percentile(shares, [ENDS_PERCENT, 100 - ENDS_PERCENT]).tolist()
    return Movement(float(shares.mean()), math.sqrt(square), low, high)


def _each_share(samples: Floats) -> Floats:
    """Return the part of each period for which a pulse is above the middle of its edges, (periods,).

    It has to come a tenth of its height past the middle of its levels before it counts as high or low. An edge is timed half way
    between what the pulse is in the middle of its two states beside the edge: so a tremolo does not count.
    """
    low, high = _levels(samples)
    middle, margin = (low + high) / 2, MARGIN * (high - low)
    sides = np.subtract(samples > middle + margin, samples < middle - margin, dtype=np.int8)
    known = np.flatnonzero(sides)
    turns = np.flatnonzero(np.diff(sides[known]))
    before, after = known[turns], known[turns + 1]
    levels = samples[(after[:-1] + before[1:]) // 2]
    halfway, before, after = (levels[1:] + levels[:-1]) / 2, before[1:-1], after[1:-1]
    times = before + (halfway - samples[before]) / (samples[after] - samples[before]) * (after - before)
    times = times[int(len(after) > 0 and sides[after[0]] < 0) :]  # from the first time that it rises
    rises, falls = times[::2], times[1::2]
    count = max(0, len(rises) - 1)
    return np.asarray((falls[:count] - rises[:count]) / np.diff(rises))


def duty(samples: Floats, tone: Tone) -> Estimate | NotHad:
    """Return the part of the period for which a pulse is high, between 0 and 1.

    Where its edges can be told apart, it is the time between them: what both have in common (how fast a recorder is, a coupling
    capacitor) does not change that. Else it is the time above the middle of the height, as an ideal pulse of as many harmonics would
    read, and how far the wave is from that counts. Where edges fall between two samples, samples are counted.

    Parameters
    ----------
    samples : (n,)
    tone : what was found in them

    """
    high = sharp_pulse(samples, tone.noise_rms)
    if high is not None:
        return _counted(high, tone.hz.value / tone.rate)
    count = heard_harmonics(tone)
    edges = edges_of(Wave(tone.harmonics[:count])) if count else None
    if edges is None or count * min(edges.share.value, 1 - edges.share.value) < APART:
        return _above_middle(tone, count)
    return _between(edges, tone.variance[:count])


def edges_of(wave: Wave) -> Edges:
    """Find the edges of a pulse: the highest and the lowest point of its derivative y, whose harmonics are tapered.

    Both edges have the same height. Of a bell of area A and rms width w the top is A/(√(2π)·w) and bends by A/(√(2π)·w³), so that w² is
    top over bend, and two edges differ by ⅔·w² times the logarithm of what their bends are to each other (derived). What a coupling
    capacitor adds to y beside the edges hardly bends.
    """
    number = np.arange(1, len(wave.harmonics) + 1)
    taper = np.kaiser(2 * len(number) + 3, TAPER)[len(number) + 2 : -1]
    steepness = Wave(wave.harmonics * taper * 2j * np.pi * number)
    drawn = steepness.drawn()
    places = np.array([np.argmax(drawn), np.argmin(drawn)]) / len(drawn)
    up, down = places = polished(steepness, places, 0.0, 1 / len(drawn), derivative=1)
    tops, bends = steepness.at(places), steepness.at(places, 2)
    by = np.array([1.0, -1.0]) / bends
    square = float((tops[0] - tops[1]) / (bends[1] - bends[0])) * 2 / 3
    share = Share(float((down - up) % 1), places, by, np.zeros(2), order=2, taper=taper)
    widths = Share(square * math.log(abs(bends[1] / bends[0])), places, square * by, np.zeros(2), order=3, taper=taper)
    return Edges(share, widths)


def _between(edges: Edges, variance: Floats) -> Estimate:
    """Return the time between both edges.

    Where one is wider than the other, their middles need not lie as their steepest points do: of exponential edges of the widths σ₁ and
    σ₂ by 0.31·|σ₁ − σ₂|, which is no more than 0.31·√|σ₁² − σ₂²|. That is taken as the half-width of a rectangle.
    """

    def reads(wave: Wave) -> Share:
        return edges_of(wave).share

    read = edges.share.value
    value = stepwise(read, len(variance), reads, pulse_wave)
    unlike = MIDDLE * math.sqrt(max(abs(edges.widths.value) - share_u(edges.widths, variance), 0.0))
    doubts = (unlike, LEFT_OUT * abs(value - read))
    return Estimate(value, math.hypot(share_u(edges.share, variance), *(doubt / math.sqrt(3) for doubt in doubts)))


def _above_middle(tone: Tone, count: int) -> Estimate | NotHad:
    """Return the time above the middle of the height, of a pulse whose edges run into each other.

    Each harmonic may be as far off as the whole is from an ideal pulse, and all of them may move the width one way.
    """
    if count < FEWEST:
        return NotHad(f"too few of its harmonics stand out, {count} of {FEWEST}: its width cannot be told")
    found = share_estimate(tone, high_share, pulse_wave)
    share = high_share(Wave(tone.harmonics[:count]))
    if isinstance(found, NotHad) or isinstance(share, NotHad):
        return found
    off = np.sqrt(misfit(tone.harmonics[:count], pulse_wave(found.value, count).harmonics))
    return Estimate(found.value, math.hypot(found.u, 2 * float(off @ np.abs(share.follows(count)))))


def sharp_pulse(samples: Floats, noise: float) -> NDArray[np.bool_] | None:
    """Say which samples of a pulse are high, (n,), where its edges fall between two samples: only a sum without a filter has such.

    A recorded edge passes through values in between; the two samples beside it are 6 % of the height off the levels at least. Here
    their mean square is no more than noise brings.
    """
    lowest, highest = float(samples.min()), float(samples.max())
    high = samples > (lowest + highest) / 2
    edges = np.nonzero(high[1:] != high[:-1])[0]
    if not len(edges):
        return None
    low_level, high_level = _levels(samples)
    beside = np.concatenate((edges, edges + 1))
    off = samples[beside] - np.where(high[beside], high_level, low_level)
    return high if float(np.mean(off**2)) < (SHARP * (high_level - low_level)) ** 2 + 1.5 * noise**2 else None


def _levels(samples: Floats) -> tuple[float, float]:
    """Return the level of a pulse where it is low, and where it is high: medians of what lies below and above the middle."""
    some = samples[:: len(samples) // LOOKED_AT + 1]
    high = some > (float(samples.min()) + float(samples.max())) / 2
    low_level, high_level = (float(np.median(some[part])) for part in (~high, high))
    return low_level, high_level


def _counted(high: NDArray[np.bool_], pitch: float) -> Estimate:
    """Return the share of high samples in whole periods.

    An edge is known to a sample; over P periods of q samples its error averages to
    u² = (1/q)²·Σ_j (sin(πPjq)/(P·sin(πjq)))²/(2π²j²), the power of a saw of one sample that is sampled once in a period.
    """
    periods = math.floor(len(high) * pitch)
    count = round(periods / pitch)
    order = np.arange(1, SAW_TERMS + 1)
    turned = np.pi * (order / pitch % 1)
    kept = np.where(np.sin(turned) > 1 / SAW_TERMS / periods, np.sin(periods * turned) / (periods * np.sin(turned)), 1.0)
    edge = pitch**2 * float(np.sum(kept**2 / (2 * np.pi**2 * order**2)))
    return Estimate(float(np.mean(high[:count])), ALLOWANCE * math.sqrt(2 * edge + 1 / (6 * count**2)))
