"""What a circuit makes of noise: its magnitude over frequency, with its uncertainty."""

from __future__ import annotations

import math

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.magnitude import DB, FAINT, Magnitude, no_faster, points
from benchrecord.bench.reasons import NotHad

PER_OCTAVE = 24
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
TINY = float(np.finfo(float).tiny)


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
    (recorded, reference), rate = no_faster([recorded, reference], rate, span_hz[1])
    segment = scipy.fft.next_fast_len(round(SEGMENT_S * rate), real=True)
    shorter = min(len(recorded), len(reference))
    if shorter < 2 * segment:
        return NotHad(f"{shorter / rate:.1f} s of noise are too short")
    came_out, put_in = _aligned(recorded, reference)
    if len(put_in) < 2 * segment:
        return NotHad(f"{len(put_in) / rate:.1f} s of noise are too short")
    hz, power_in, power_out, crossed, averages = _powers(put_in, came_out, rate, segment)
    both_powers = np.maximum(power_in * power_out, TINY)
    coherence = np.clip(crossed / both_powers, 0, 1)
    centres = points(span_hz[0], min(span_hz[1], 0.45 * rate), PER_OCTAVE)
    if float(np.sum(coherence * power_out)) > COHERENT * float(np.sum(power_out)):
        relative = (1 - coherence) / (2 * np.maximum(coherence, 1 / averages) * averages)
        chance, squared = (both_powers - crossed) / (averages - 1), np.maximum(power_in, TINY) ** 2
        how = "noise, in and out of one pass"
        return _averaged(centres, hz, crossed / squared, relative, chance=chance / squared, how=how)
    # nothing belongs together, so that nothing need be cut off
    count = min(len(recorded), len(reference))
    hz, power_in, power_out, _, averages = _powers(reference[:count], recorded[:count], rate, segment)
    ratio = power_out / np.maximum(power_in, TINY) * (1 - 1 / averages)
    relative = np.full(len(hz), (2 * averages - 1) / (4 * averages * (averages - 2)))
    how = "noise, in and out on their own"
    return _over_a_floor(_averaged(centres[::WIDER], hz, ratio, relative, chance=np.zeros(len(hz)), how=how))


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
