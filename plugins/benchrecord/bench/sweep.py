"""What a circuit makes of a swept sine, or of noise: its magnitude over frequency, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import NDArray

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad

Spectrum = NDArray[np.complex64]
Singles = NDArray[np.float32]

PER_OCTAVE = 48  # points of a swept sine
NOISE_PER_OCTAVE = 24
DB = 20 / math.log(10)
LOW_FADE_OCTAVES, HIGH_FADE_OCTAVES = 2.0, 1 / 3  # beyond the ends of a sweep, to keep out what it does not hold
BEFORE_S, LONGEST_S, SHORTEST_S = 0.05, 1.0, 0.15  # of an answer to an impulse: before its top, and behind it
FADE_SHARE = 0.25  # of the part behind
STEP_S, LEFT_OVER = 0.005, 1e-8  # of an answer's energy: what is cut off
CHANCE = 10.0  # standard deviations of the noise, which is slow and sums up badly
COARSE, MOST = 8, 0.9  # of the power in the lower eighth of the spectrum: then that is enough to see where an answer lies
ROOM, HALVING, PADDED = 2.2, ("kaiser", 9.0), 64  # times the top of a sweep: a rate that is twice as high is halved
LEAST_SHARE = 0.5  # of the power that must be an answer to the sweep
SMOOTH_OCTAVES = 1 / 6
TERMS = 3  # of the series of what a window blurs: an octave above the start of a sweep, or where it passes all, one would do
SEGMENT_S, PIECE_SEGMENTS = 0.7, 12
OVERLAPPED = 0.947  # of the segments count: Hann, half overlapped (P. D. Welch, IEEE Trans. AU-15 (1967) 70, from memory)
BINS_APART = 2.0  # a Hann window makes so many bins of segments so overlapped one: 19/9 of their variances over 19/18 (derived)
COHERENT = 0.3  # of the power that comes out: below, it is not what went in
WIDER = 4  # of those points one: noise that is not of one pass is averaged over a sixth of an octave
BLUR = 12.0  # an average over a piece is off by such a part of what its neighbours' line departs from it: a parabola (derived)
STEEPNESS = np.geomspace(1e-3, 1e3, 400)  # halves of a piece, in half widths of a peak
FALLEN = 10**-1.2  # of the mean power: what falls no lower has no slope that a floor might bend
SURELY = 2.0  # standard deviations
ALIGNED_TO = 4  # samples, of segments of tens of thousands
FAINT, TINY = 1e-12, float(np.finfo(float).tiny)


@dataclass(frozen=True, slots=True)
class Magnitude:
    """Levels over frequency: Hz and dB, (n,), with the standard uncertainty of each level, dB, and the part of it that neighbours share.

    ``how`` names the way.
    """

    hz: Floats
    level_db: Floats
    level_u_db: Floats
    shared_u_db: Floats
    how: str


def exponential_sweep(rate: float, seconds: float, low_hz: float, high_hz: float) -> Floats:
    """Return a sine whose frequency grows by as many octaves in each second (A. Farina, AES 108th Convention (2000) 5093)."""
    octaves = math.log(high_hz / low_hz)
    phase = np.arange(round(seconds * rate), dtype=np.float64)
    phase *= octaves / (seconds * rate)
    np.expm1(phase, out=phase)  # in place: a minute of it is not small
    phase *= 2 * math.pi * low_hz * seconds / octaves
    return np.sin(phase, out=phase)


def swept(recorded: Floats, reference: Floats, rate: float, span_hz: tuple[float, float]) -> Magnitude | NotHad:
    """Return the magnitude from a swept sine.

    The spectrum of what came out is divided by that of what went in, no matter when the recording was started. The answer to an
    impulse that this gives is cut out where it stands above the noise: distortion of an exponential sweep comes before it and is
    left out. What the noise leaves uncertain is found from pieces of the same length behind the answer.

    Parameters
    ----------
    recorded, reference : (n,), (m,) what came out and what went in
    rate : of both, Hz
    span_hz : ends of the sweep

    """
    (recorded, reference), rate = _no_faster([recorded, reference], rate, span_hz[1])
    recorded, reference = recorded.astype(np.float32), reference.astype(np.float32)  # half the memory
    answer, cut = _answer(recorded, reference, rate, span_hz)
    if isinstance(cut, NotHad):
        return cut
    window = _window(round(BEFORE_S * rate), round(cut[1] * rate))
    whole, top = 2 * scipy.fft.next_fast_len(round(2 * LONGEST_S * rate), real=True), round(cut[0] * rate)
    own_hz = np.asarray(scipy.fft.rfftfreq(whole, 1 / rate))
    gain, blur = _seen(_piece(answer, top, window, rate), window, _taper(own_hz, span_hz).astype(np.float32), rate)
    points = _points(span_hz[0], min(span_hz[1], 0.499 * rate), PER_OCTAVE)
    level = np.interp(np.log(points), np.log(own_hz[1:]), DB * np.log(np.maximum(np.abs(gain[1:]), FAINT)))
    faint = np.interp(points, own_hz, _noise(answer, rate, top, window, whole=whole))
    blurred = DB * np.interp(points, own_hz, blur)
    u = np.hypot(DB * np.sqrt((faint / 10 ** (level / 20)) ** 2 / 2 + cut[2] / 3), blurred)
    return Magnitude(points, level, u, blurred, "swept sine")


def _answer(
    recorded: Floats, reference: Floats, rate: float, span_hz: tuple[float, float]
) -> tuple[Singles, tuple[float, float, float] | NotHad]:
    """Return the answer to an impulse, and where it is cut; in the precision of both, with no more at hand than is needed."""
    size = scipy.fft.next_fast_len(len(recorded) + len(reference), real=True)
    put_in, matched = (scipy.fft.rfft(x, size) for x in (reference, recorded))
    even = put_in.real**2
    even += put_in.imag**2
    even += np.float32(FAINT * even.max())
    matched *= np.conj(put_in, out=put_in)
    del put_in
    matched *= _taper(np.arange(len(matched), dtype=np.float32) * np.float32(rate / size), span_hz)
    cut = _cut(*_coarse(matched, size, rate))
    matched /= even
    del even
    return scipy.fft.irfft(matched, size, overwrite_x=True), cut


def _seen(piece: Singles, window: Singles, passed: Singles, rate: float) -> tuple[Spectrum, Floats]:
    """Return the gain that an answer tells through its window, and how far the window may have put it off, as parts of it.

    A window blurs, most of all where a sweep begins. The answer to a wire, of what the sweep holds alone, is seen through it as well, and
    divided by: that puts right what is alike in both. What is found is still G̃ = R·G where a gain G changes its level or its phase. By
    Neumann's series G = Σ (1 − R)ⁿ·G̃: what is wrong is what R, done again and again, makes of what was found.
    """
    whole = 2 * (len(passed) - 1)

    def through(gain: Spectrum | float) -> Spectrum:
        answer = _piece(scipy.fft.irfft(gain * passed, whole), 0, window, rate)
        return np.asarray(scipy.fft.rfft(window * answer, whole))

    wire = through(1.0) + np.float32(FAINT)
    gain = scipy.fft.rfft(window * piece, whole) / wire
    left, wrong = gain, np.zeros_like(gain)
    for _ in range(TERMS):
        left = left - through(left) / wire
        wrong += left
    return gain, np.abs(wrong) / np.maximum(np.abs(gain), FAINT)


def _points(low_hz: float, high_hz: float, per_octave: int) -> Floats:
    count = max(2, math.floor(math.log2(high_hz / low_hz) * per_octave) + 1)
    return np.asarray(low_hz * 2 ** (np.arange(count) / per_octave))


def _taper(hz: NDArray[np.floating], span_hz: tuple[float, float]) -> NDArray[np.floating]:
    """Pass what a sweep holds and fade out beyond its ends: slowly at the lower one, so that it does not ring for long."""
    octave = np.log2(np.maximum(hz, FAINT))
    below, above = (math.log2(span_hz[0]) - octave) / LOW_FADE_OCTAVES, (octave - math.log2(span_hz[1])) / HIGH_FADE_OCTAVES
    return np.asarray(np.cos(np.pi / 2 * np.clip(np.maximum(below, above), 0, 1)) ** 2)


def _no_faster(sounds: list[Floats], rate: float, top_hz: float) -> tuple[list[Floats], float]:
    """Return sounds at half the rate as long as that leaves room for what is wanted; what the halving does to both is alike."""
    while rate / 2 >= ROOM * top_hz:
        # what the filter lays before and behind belongs to a sound as well
        sounds, rate = [scipy.signal.resample_poly(np.pad(x, PADDED), 1, 2, window=HALVING) for x in sounds], rate / 2
    return sounds, rate


def _coarse(matched: Spectrum, size: int, rate: float) -> tuple[Floats, float]:
    """Return the correlation of what came out with what went in, and its rate: from the lower eighth where most of its power is."""
    count = len(matched) // COARSE
    low = float(np.vdot(matched[:count], matched[:count]).real)
    if low < MOST * float(np.vdot(matched, matched).real):
        return scipy.fft.irfft(matched, size), rate
    short = 2 * (count - 1)
    return scipy.fft.irfft(matched[:count], short), rate * short / size


def _cut(matched: Floats, rate: float) -> tuple[float, float, float] | NotHad:
    """Return when the answer has its top, how many seconds behind it hold nearly all of it, and the share of power beyond."""
    power = matched**2
    top, step = int(np.argmax(power)), max(1, round(STEP_S * rate))
    behind = np.roll(power, -top)[: round(2 * LONGEST_S * rate)]
    pieces = behind[: len(behind) // step * step].reshape(-1, step).sum(axis=1, dtype=np.float64)
    late = pieces[len(pieces) // 2 :]
    left = np.cumsum((pieces - np.median(late))[::-1])[::-1] / pieces.sum()
    left -= CHANCE * np.std(late) * np.sqrt(np.arange(len(pieces), 0, -1)) / pieces.sum()  # what is not surely more than noise
    over = np.flatnonzero(left > LEFT_OVER)
    last = min(max(int(over[-1]) + 1 if len(over) else 0, round(SHORTEST_S / STEP_S)), round(LONGEST_S / STEP_S))
    held = power[np.arange(top - round(BEFORE_S * rate), top + last * step) % len(power)].sum(dtype=np.float64)
    if held < LEAST_SHARE * power.sum(dtype=np.float64):
        return NotHad("what is heard does not follow the sweep that went in")
    return top / rate, last * step / rate, max(0.0, float(left[min(last, len(left) - 1)]))


def _window(before: int, length: int) -> Singles:
    """Return the window of an answer: rising before its top, flat, and falling over the last quarter."""
    fade = max(1, int(FADE_SHARE * length))
    rise, fall = (np.sin(np.pi / 2 * (np.arange(n) + 0.5) / n) ** 2 for n in (max(1, before // 2), fade))
    return np.concatenate([rise, np.ones(before - before // 2 + length - fade), fall[::-1]]).astype(np.float32)


def _piece(answer: Singles, top: int, window: Singles, rate: float) -> Singles:
    first = top - round(BEFORE_S * rate)
    return answer[np.arange(first, first + len(window)) % len(answer)]


def _noise(answer: Singles, rate: float, top: int, window: Singles, *, whole: int) -> Floats:
    """Return the rms magnitude of pieces beside the answer: where one lacks what the recording no longer holds, another has it."""
    pieces = [_piece(answer, top + n * len(window), window, rate) for n in (-1, 1, 2)]
    before, *behind = (np.abs(scipy.fft.rfft(window * piece, whole)) ** 2 for piece in pieces)
    hz = np.arange(len(before), dtype=np.float64)
    return np.maximum(_smooth(before, hz), _smooth(sum(behind) / len(behind), hz))


def _smooth(power: Floats, bins: Floats) -> Floats:
    """Return the root of the mean over a sixth of an octave about each bin."""
    total, half = np.concatenate([[0.0], np.cumsum(power, dtype=np.float64)]), 2 ** (SMOOTH_OCTAVES / 2)
    low, high = np.floor(bins / half).astype(int), np.minimum(np.ceil(bins * half).astype(int) + 1, len(power))
    return np.asarray(np.sqrt((total[high] - total[low]) / (high - low)))


def noise_through(recorded: Floats, reference: Floats, rate: float, span_hz: tuple[float, float]) -> Magnitude | NotHad:
    """Return the magnitude from noise that went in and what came out of it.

    Where both are of one pass, it is the cross spectrum over that of what went in, which noise of the circuit's own does not lift;
    its relative standard deviation is √((1 − γ²)/(2·γ²·n)), with the coherence γ² and n averages, and its square is (1 − γ²)/(γ²·n) too
    high on the average, since what does not belong together never quite averages out. Where they are not, it is the ratio
    of both power spectra: √(1/(2·n)) for the two together (J. S. Bendat and A. G. Piersol, Random Data, 9.2, from memory), and as few
    averages are to be had, exactly: such a ratio follows the F distribution with 2·n degrees of freedom above and below. Its mean is
    n/(n − 1), its relative variance (2·n − 1)/(n·(n − 2)), a quarter of it that of the magnitude.

    Parameters
    ----------
    recorded, reference : (n,), (m,) what came out and what went in
    rate : of both, Hz
    span_hz : frequencies wanted

    """
    (recorded, reference), rate = _no_faster([recorded, reference], rate, span_hz[1])
    segment = scipy.fft.next_fast_len(round(SEGMENT_S * rate), real=True)
    came_out, put_in = _aligned(recorded, reference)
    if len(put_in) < 2 * segment:
        return NotHad(f"{len(put_in) / rate:.1f} s of noise are too short")
    hz, power_in, power_out, crossed, averages = _powers(put_in, came_out, rate, segment)
    both_powers = np.maximum(power_in * power_out, TINY)
    coherence = np.clip(crossed / both_powers, 0, 1)
    points = _points(span_hz[0], min(span_hz[1], 0.45 * rate), NOISE_PER_OCTAVE)
    if float(np.sum(coherence * power_out)) > COHERENT * float(np.sum(power_out)):
        relative = (1 - coherence) / (2 * np.maximum(coherence, 1 / averages) * averages)
        chance, squared = (both_powers - crossed) / (averages - 1), np.maximum(power_in, TINY) ** 2
        how = "noise, in and out of one pass"
        return _averaged(points, hz, crossed / squared, relative, chance=chance / squared, how=how)
    # nothing belongs together, so that nothing need be cut off
    count = min(len(recorded), len(reference))
    hz, power_in, power_out, _, averages = _powers(reference[:count], recorded[:count], rate, segment)
    ratio = power_out / np.maximum(power_in, TINY) * (1 - 1 / averages)
    relative = np.full(len(hz), (2 * averages - 1) / (4 * averages * (averages - 2)))
    how = "noise, in and out on their own"
    return _over_a_floor(_averaged(points[::WIDER], hz, ratio, relative, chance=np.zeros(len(hz)), how=how))


def _powers(put_in: Floats, came_out: Floats, rate: float, segment: int) -> tuple[Floats, Floats, Floats, Floats, float]:
    """Return frequencies, the power densities of both, the square of their cross density, and how many averages they are worth.

    A piece at a time, as the transforms of a minute would not be small.
    """
    count = max(1, len(put_in) // (PIECE_SEGMENTS * segment))
    pieces = list(zip(np.array_split(put_in, count), np.array_split(came_out, count), strict=True))
    own = {"fs": rate, "nperseg": segment}
    power_in, power_out, cross = (
        sum(what(*piece) for piece in pieces) / count
        for what in (
            lambda x, _: scipy.signal.welch(x, **own)[1],
            lambda _, y: scipy.signal.welch(y, **own)[1],
            lambda x, y: scipy.signal.csd(x, y, **own)[1],
        )
    )
    averages = OVERLAPPED * sum(max(1, (2 * len(x)) // segment - 1) for x, _ in pieces)
    return np.asarray(scipy.fft.rfftfreq(segment, 1 / rate)), power_in, power_out, np.abs(cross) ** 2, averages


def _aligned(recorded: Floats, reference: Floats) -> tuple[Floats, Floats]:
    """Return the parts of both that belong together, by the top of their correlation."""
    coarse = [x[: len(x) // ALIGNED_TO * ALIGNED_TO].reshape(-1, ALIGNED_TO).sum(axis=1) for x in (recorded, reference)]
    matched = np.abs(scipy.signal.correlate(*coarse, mode="full", method="fft"))
    delay = (int(np.argmax(matched)) - (len(coarse[1]) - 1)) * ALIGNED_TO
    came_out, put_in = recorded[max(0, delay) :], reference[max(0, -delay) :]
    count = min(len(came_out), len(put_in))
    return came_out[:count], put_in[:count]


def _averaged(points: Floats, hz: Floats, square: Floats, relative: Floats, *, chance: Floats, how: str) -> Magnitude:
    """Average a squared magnitude over the part of an octave about each point.

    What chance alone adds on the average is taken off, down to what it scatters by. Its relative variances shrink with the bins.
    Where the curve bends, an average over a part as wide as the way to the next point is off by a twelfth of what its neighbours' line
    departs from it (of a parabola: the mean of x² over ±w/2 is w²/12, and the line between ±w lies w² above the middle); a top is off
    by what such an average leaves out of a resonance.
    """
    half = math.sqrt(points[1] / points[0])
    first = np.clip(np.searchsorted(hz, points / half), 1, len(hz) - 2)
    last = np.maximum(np.searchsorted(hz, points * half), first + 1)
    first, last = np.unique(np.stack([first, last]), axis=1)
    count = last - first
    sums = (np.concatenate([[0.0], np.cumsum(x)])[[last, first]] for x in (hz, square, relative, chance))
    middle, found, spread, added = ((above - below) / count for above, below in sums)
    scatter = np.sqrt(spread * BINS_APART / count)  # of a magnitude: twice that of its square
    mean = np.maximum(found - added, np.minimum(1, 2 * scatter) * found)
    level = DB / 2 * np.log(np.maximum(mean, TINY))  # of a power: its relative errors count half
    bend, part = np.zeros(len(mean)), (middle[1:-1] - middle[:-2]) / (middle[2:] - middle[:-2])
    bend[1:-1] = (mean[1:-1] - mean[:-2] - part * (mean[2:] - mean[:-2])) / np.maximum(mean[1:-1], TINY) / BLUR
    u = DB * np.hypot(scatter * found / np.maximum(mean, TINY), bend / 2)
    return Magnitude(middle, level, np.hypot(u, _flattened_db(mean)), np.zeros(len(level)), how)


def _flattened_db(power: Floats) -> Floats:
    """Return how far averages over neighbouring pieces lie below the tops of narrow peaks, dB; nothing beside a top.

    The power of a resonance is 1/(1 + t²), t half widths from its top. Its mean over ±x is atan(x)/x, that over the next piece, from x
    to 3x, (atan(3x) − atan(x))/(2x): their ratio tells x (derived). A top that lies aside in its piece lifts one neighbour; the lower
    one then tells more than is missing.
    """
    level, middle = np.zeros(len(power)), np.maximum(power[1:-1], TINY)
    inside, outside = np.arctan(STEEPNESS), np.arctan(3 * STEEPNESS)
    lower, higher = np.minimum(power[:-2], power[2:]) / middle, np.maximum(power[:-2], power[2:]) / middle
    missing = np.interp(-lower, (inside - outside) / (2 * inside), STEEPNESS / inside)
    level[1:-1] = np.where(higher <= 1, DB / 2 * np.log(missing), 0)
    return level


def _over_a_floor(found: Magnitude) -> Magnitude:
    """Add what a floor of noise may have lifted each level by, which is alike for all.

    Nothing but the way it flattens tells it from what falls. From R₁ a fall goes on to R₂ an octave farther. Left alone, it would fall
    by the steepest factor a of any octave (of those below the mean power: behind a narrow peak it falls steeper than anywhere). On a
    floor F they are R₁ = P + F and R₂ = a·P + F, so that F = (R₂ − a·R₁)/(1 − a) (derived). It is taken at the lowest reading, no lower
    than that surely is, from the side that is flatter, and a level R then lies, as rectangular, between 10·lg(R − F) and 10·lg(R).
    """
    octave, power, doubt = np.log2(found.hz), 10 ** (found.level_db / 10), 2 * found.level_u_db / DB
    lowest = int(np.argmin(power * (1 + SURELY * doubt)))
    least, mean = float(power[lowest] * (1 + SURELY * doubt[lowest])), float(np.mean(power))
    if least > FALLEN * mean:
        return found
    left, before = [], []
    for way in (-1, 1):
        within = (octave + way >= octave[0]) & (octave + way <= octave[-1])
        start, start_doubt = (np.interp(octave + way, octave, each) for each in (power, doubt))
        behind = within & (start <= mean)
        left += list(power[behind] / start[behind] * (1 + np.hypot(doubt, start_doubt)[behind]))
        before += [float(start[lowest])] if within[lowest] else []
    share, higher = min([*left, 1 - FAINT]), max(min(before, default=least), least)
    floor = np.clip((least - share * higher) / (1 - share), 0, least)
    lifted = -DB / 2 * np.log1p(-np.minimum(floor / power, 1 - FAINT)) / math.sqrt(3)
    u, shared_u = (np.hypot(each, lifted) for each in (found.level_u_db, found.shared_u_db))
    return Magnitude(found.hz, found.level_db, u, shared_u, found.how)
