"""How a pitch wanders: the rms and the peak of its departures from a straight course, its drift from start to end, and its rate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.estimate import TINY, Below, Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.harmonics import Course, read_harmonics
from benchrecord.bench.periods import Periods
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import OVERLAP, Frames, frame_size, frames_in, kaiser_gain, overlaps
from benchrecord.bench.tones import Tone
from benchrecord.bench.uncertainty import TWO_SIGMA, K, coverage_factor

CENTS = 1200 / math.log(2)  # of a small change in frequency, as a share of it
PERIODS, SHORTEST_S = 8.0, 0.04  # of a frame
TAPS = 6  # hops to either side that give the frequency of a frame
EDGE_BINS, TOP_BINS = 1.4, 1.66  # cycles a frame up to which a wander is read, and at which 3 dB of it are missing
# Standard uncertainty of how much of a wander is read, as a share of it: of one that repeats at no more than so much of the band,
# of a faster one, and of what does not repeat, part of which may be faster still.
SLOW, RIPPLE_SLOW, RIPPLE, IRREGULAR = 0.5, 0.003, 0.012, 0.015
STOPPED = 0.05  # weight of what lies above the edge
STAYS_BINS = 0.5  # by which a harmonic may move during a frame
FEWEST = 12  # frequencies of a course
FOURTH_DIFFERENCE = np.array([1.0, -4.0, 6.0, -4.0, 1.0])  # leaves little but noise of a course
BLOCKS = (6, 12)  # of a course, whose means give the uncertainty of its drift: what is slow counts as it is
DRIFT_BLOCKS, WANDERS = 6, 4.0  # whose means give a drift; times their noise: more is no noise
PERIODIC, STANDS_OUT = 0.8, 2.0  # share of the power that one rate must have; times the noise that it must be
LEAST_CYCLES = 4.0  # of a wander that repeats
NOISE_U = 0.25  # to which the power of noise is known (own choice)
PEAK_NOISE = 3.0  # standard deviations that noise adds to the largest of many departures


@dataclass(frozen=True, slots=True)
class Wander:
    """How a pitch wanders about a straight course.

    Attributes
    ----------
    seconds, cents : (n,) the course: its departure from the mean
    rms_cents, peak_cents : of the departures from the straight line through the course
    drift_cents : what that line rises by from the start of the recording to its end, also where less of it is seen
    whole_cents, departure_cents : rms and largest of the departures from the mean, the whole drift among them
    rate_hz : of the departures, where they repeat
    band_hz : rates that are seen, from one cycle in the recording to where 3 dB are missing

    """

    seconds: Floats
    cents: Floats
    rms_cents: Estimate | Below
    peak_cents: Estimate | Below
    drift_cents: Estimate
    whole_cents: Estimate | Below
    departure_cents: Estimate | Below
    rate_hz: Estimate | NotHad
    band_hz: tuple[float, float]


def wander_of_tone(samples: Floats, tone: Tone) -> Wander | NotHad:
    """Return how a tone wanders, from where it stands in frames of eight periods or 40 ms, whichever is longer.

    Parameters
    ----------
    samples : (n,) in which the tone was found
    tone : the tone

    """
    frames = frames_in(len(samples), frame_size(max(PERIODS * tone.rate / tone.hz.value, SHORTEST_S * tone.rate)))
    if frames.count < FEWEST + 2 * TAPS:
        return _too_short(len(samples) / tone.rate)
    near = _carried_over(tone, frames)
    course = read_harmonics(samples, frames, near, most=_within_a_bin(near, frames)).course
    share_of_hop = tone.rate / (frames.hop * tone.hz.value)  # of the pitch, that a period a hop is
    departures = course.measured - frames.middles * tone.hz.value / tone.rate
    cents = CENTS * np.log1p(share_of_hop * np.convolve(departures, differentiator()[::-1], "valid"))
    noise = CENTS * share_of_hop * noise_gain() * min(course.noise, _fast_noise(departures))
    band = tone.rate / len(samples), TOP_BINS * tone.rate / frames.size
    return describe(frames.middles[TAPS:-TAPS] / tone.rate, cents, noise, band, length_s=len(samples) / tone.rate)


def wander_of_periods(slow: Periods) -> Wander | NotHad:
    """Return how a slow wave wanders from period to period."""
    if len(slow.periods) < FEWEST:
        return _too_short(float(slow.periods.sum()))
    ends = np.concatenate([[0.0], np.cumsum(slow.periods)])
    cents = CENTS * np.log(slow.periods.mean() / slow.periods)
    noise = CENTS * math.sqrt(2) * slow.passage_u / float(slow.periods.mean())
    return describe(
        (ends[1:] + ends[:-1]) / 2,
        cents,
        noise,
        (1 / float(ends[-1]), slow.hz.value / 2),
        length_s=slow.length_s,
        mean_s=1 / slow.hz.value,
    )


def _too_short(seconds: float) -> NotHad:
    return NotHad(f"{seconds:.3g} s are too short to show how its pitch wanders")


@dataclass(frozen=True, slots=True)
class Drift:
    """How a pitch drifts.

    Attributes
    ----------
    cents : what it rises by from start to end
    mean_u_cents : standard uncertainty of its mean by how it wanders

    """

    cents: Estimate
    mean_u_cents: float


@lru_cache(maxsize=1)
def differentiator() -> Floats:
    """Return what each place from ``TAPS`` hops before to as many behind weighs in a frequency, in periods a hop.

    Antisymmetric taps by least squares, for the derivative of what the window of a frame leaves of a wander at each rate.
    """
    bins = np.linspace(0.02, OVERLAP / 2, 400)
    turn = 2 * np.pi * bins / OVERLAP
    passed = np.clip((OVERLAP / 2 - bins) / (OVERLAP / 2 - EDGE_BINS), 0, 1)
    weight = np.where(bins <= EDGE_BINS, 1.0, STOPPED) / turn
    sines = 2 * np.sin(np.outer(turn, np.arange(1, TAPS + 1)))
    taps = np.linalg.lstsq(sines * weight[:, None], turn / kaiser_gain(bins) * passed * weight, rcond=None)[0]
    taps /= 2 * float(taps @ np.arange(1, TAPS + 1))  # exact for a frequency that stays
    return np.concatenate([-taps[::-1], [0.0], taps])


@lru_cache(maxsize=1)
def noise_gain() -> float:
    """Return the standard deviation of a frequency, in periods a hop, by that of a place."""
    return _gain(differentiator())


def _gain(taps: Floats) -> float:
    """Return the standard deviation of a weighted sum over frames that overlap and share noise."""
    shared = np.array([1.0, *overlaps(), *np.zeros(len(taps))])[: len(taps)]
    return math.sqrt(float(taps @ scipy.linalg.toeplitz(shared) @ taps))


def _fast_noise(places: Floats) -> float:
    """Return the noise of places by what changes from frame to frame."""
    return float(np.std(np.convolve(places, FOURTH_DIFFERENCE, "valid"))) / _gain(FOURTH_DIFFERENCE)


def _carried_over(tone: Tone, frames: Frames) -> Course:
    """Return the course of a tone at other frames."""
    own, middles, pitch = tone.course, frames.middles, tone.course.pitch
    known = tone.frames.middles
    place = middles * pitch + np.interp(middles, known, own.measured - known * pitch)
    local = np.maximum(np.gradient(place) / frames.hop, pitch / 2)
    return Course(pitch, own.pitch_u, place, local, place, own.noise)


def _within_a_bin(course: Course, frames: Frames) -> int:
    """Return up to which harmonic a wave stays within a bin during each frame: those above would distort a fast wander."""
    change = OVERLAP * float(np.abs(np.diff(course.local)).max()) * frames.size
    return max(1, int(STAYS_BINS / max(change, STAYS_BINS / frames.size)))


def describe(
    seconds: Floats, cents: Floats, noise: float, band_hz: tuple[float, float], *, length_s: float, mean_s: float = 0.0
) -> Wander:
    """Return rms, peak, drift and rate of a course.

    Parameters
    ----------
    seconds, cents : (n,) departures from the mean pitch, nearly even in time
    noise : standard deviation of each by noise
    band_hz : rates that are seen
    length_s : of the recording, of which the course may leave out a little at both ends
    mean_s : over which each is a mean, which takes sin(πfT)/(πfT) of a wander at a rate f

    """
    rate = _rate(seconds, cents, noise, band_hz)
    line, rest = _line_and_rest(seconds, cents, rate.value if isinstance(rate, Estimate) else None)
    if isinstance(rate, Estimate):
        noise = min(noise, float(np.std(rest)))
    about_mean = cents - cents.mean()
    t = seconds - seconds.mean()
    off = about_mean - line * t
    whole = off + line * t * (length_s / math.sqrt(12) / float(np.std(t)))  # a line has an rms of its rise / √12
    share_u = _share_u(rate, band_hz, float(np.std(rest)) / max(float(np.std(off)), TINY))
    if isinstance(rate, Estimate):
        share_u = math.hypot(share_u, 1 / max(float(np.sinc(rate.value * mean_s)), TINY) - 1)
    return Wander(
        seconds,
        about_mean,
        _without_noise(off, noise, share_u),
        _peak(float(np.max(np.abs(off))), noise, share_u),
        Estimate(line * length_s, max(_slope_u(seconds, rest, blocks) for blocks in BLOCKS) * length_s),
        _without_noise(whole, noise, share_u),
        _peak(float(np.max(np.abs(whole))), noise, share_u),
        rate,
        band_hz,
    )


def _share_u(rate: Estimate | NotHad, band_hz: tuple[float, float], irregular: float) -> float:
    """Return the standard uncertainty of a wander as a share of it, by the share that does not repeat."""
    if isinstance(rate, NotHad):
        return IRREGULAR
    return math.hypot(RIPPLE_SLOW if rate.value <= SLOW * band_hz[1] else RIPPLE, IRREGULAR * irregular)


def _without_noise(off: Floats, noise: float, share_u: float) -> Estimate | Below:
    """Return the rms of departures without noise, which the frequencies of neighbours share."""
    by_chance = noise**2 * math.hypot(math.sqrt(2 * OVERLAP / len(off)), NOISE_U)
    left = float(np.mean(off**2)) - noise**2
    most = math.sqrt(max(left, 0.0) + 2 * by_chance)
    if left < 2 * by_chance:
        return Below(f"noise hides it: it is below {most:.2g} cents", most)
    rms = math.sqrt(left)
    return Estimate(rms, math.hypot(by_chance / (2 * rms), share_u * rms))


def _peak(peak: float, noise: float, share_u: float) -> Estimate | Below:
    if peak < 2 * PEAK_NOISE * noise:
        return Below(f"noise hides it: it is below {peak:.2g} cents", peak)
    return Estimate(peak, math.hypot(PEAK_NOISE / 2 * noise, share_u * peak))


def _line_and_rest(seconds: Floats, cents: Floats, rate_hz: float | None) -> tuple[float, Floats]:
    """Return the slope of a course in cents a second, and what neither its line nor a wander of that rate explains."""
    t = seconds - seconds.mean()
    turn = [] if rate_hz is None else [np.cos(2 * np.pi * rate_hz * t), np.sin(2 * np.pi * rate_hz * t)]
    design = np.column_stack([np.ones(len(t)), t, *turn])
    fit = np.linalg.lstsq(design, cents, rcond=None)[0]
    return float(fit[1]), np.asarray(cents - design @ fit)


def _slope_u(seconds: Floats, rest: Floats, blocks: int) -> float:
    """Return the standard uncertainty of a slope by what the means of so many blocks leave of it."""
    means, middles = (np.array([part.mean() for part in np.array_split(x, blocks)]) for x in (rest, seconds))
    scatter = float(np.linalg.norm(means)) / math.sqrt(blocks - 2)
    return coverage_factor(TWO_SIGMA, blocks - 2) / K * scatter / (float(np.std(middles)) * math.sqrt(blocks))


def _rate(seconds: Floats, cents: Floats, noise: float, band_hz: tuple[float, float]) -> Estimate | NotHad:
    """Return the rate at which departures repeat, where one rate has most of their power: by least squares, with a line."""
    start = _rough_rate(seconds, cents, band_hz)
    if start is None:
        return NotHad("its departures do not repeat at one rate")

    def left(rate_hz: float) -> float:
        return float(np.sum(_line_and_rest(seconds, cents, rate_hz)[1] ** 2))

    reach = 0.5 * band_hz[0]
    rate_hz = float(scipy.optimize.minimize_scalar(left, bounds=(start - reach, start + reach), method="bounded").x)
    without, rest = float(np.sum(_line_and_rest(seconds, cents, None)[1] ** 2)), left(rate_hz)
    power = (without - rest) / len(cents)
    if without - rest < PERIODIC * without or power < (STANDS_OUT * noise) ** 2:
        return NotHad("its departures do not repeat at one rate")
    u = math.sqrt(3 * rest / power) / len(cents) / math.pi * band_hz[0]
    return Estimate(rate_hz, u)


def _rough_rate(seconds: Floats, cents: Floats, band_hz: tuple[float, float]) -> float | None:
    """Return the strongest rate of a course, by its transform; None where it is too slow to repeat."""
    even = np.linspace(seconds[0], seconds[-1], len(seconds))
    course = np.interp(even, seconds, _line_and_rest(seconds, cents, None)[1])
    size = 4 * scipy.fft.next_fast_len(len(course), real=True)
    power = np.abs(scipy.fft.rfft(course * scipy.signal.get_window("hann", len(course)), size)) ** 2
    rates = scipy.fft.rfftfreq(size, float(even[1] - even[0]))
    seen = (rates >= LEAST_CYCLES * band_hz[0]) & (rates <= band_hz[1])
    return float(rates[seen][np.argmax(power[seen])]) if seen.any() else None


def drift_of_tone(tone: Tone, length: int) -> Drift:
    """Return how the pitch of a tone drifts in a recording of so many samples."""
    return _drift(tone.frames.middles / tone.rate, tone.course.measured, length / tone.rate, tone.course.noise)


def drift_of_periods(slow: Periods) -> Drift:
    """Return how a slow wave drifts in its recording: as fast as from its first passage to its last."""
    times = np.concatenate([[0.0], np.cumsum(slow.periods)])
    return _drift(times, np.arange(len(times), dtype=float), slow.length_s, slow.passage_u * slow.hz.value)


def mean_of_periods(slow: Periods, drift: Drift) -> Estimate:
    """Return the mean frequency of a slow wave over its recording: its periods may lie to one side of the middle while it drifts."""
    middle_s = slow.start_s + float(slow.periods.sum()) / 2
    share = (slow.length_s / 2 - middle_s) / slow.length_s / CENTS * slow.hz.value
    return Estimate(slow.hz.value + share * drift.cents.value, math.hypot(slow.hz.u, share * drift.cents.u))


def _drift(seconds: Floats, places: Floats, length_s: float, noise: float) -> Drift:
    """Return the drift of a wave that stood at these places then, both (n,) with n of at least four: from the means of some blocks.

    What the means leave of a line is its uncertainty: how the wave wanders, and the noise of each place.
    """
    edges = np.rint(np.linspace(0, len(places) - 1, min(DRIFT_BLOCKS, len(places) // 2) + 1)).astype(int)
    at, pitch = (seconds[edges[1:]] + seconds[edges[:-1]]) / 2, np.diff(places[edges]) / np.diff(seconds[edges])
    blocks = CENTS * np.log(pitch / pitch.mean())
    t = at - at.mean()
    slope, freedom = float(t @ blocks) / float(t @ t), len(t) - 2
    drift = slope * length_s
    of_noise = CENTS * math.sqrt(2) * noise / float(np.diff(places[edges]).mean())
    if freedom < 1:
        return Drift(Estimate(drift, math.hypot(drift, of_noise * length_s / float(np.linalg.norm(t)))), 0.0)
    scatter = float(np.linalg.norm(blocks - blocks.mean() - slope * t)) / math.sqrt(freedom)
    scatter *= coverage_factor(TWO_SIGMA, freedom) / K
    wander = scatter if scatter > WANDERS * of_noise else 0.0  # noise of a place moves its two blocks apart, and not their mean
    u = scatter * length_s / float(np.linalg.norm(t))
    return Drift(Estimate(drift, u), wander / math.sqrt(len(t)))
