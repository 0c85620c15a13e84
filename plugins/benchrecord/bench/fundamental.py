"""Finding a tone roughly: the strongest line of a spectrum, whether it is the fundamental, and where its harmonics put it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, any_folds, frame_size, kaiser, kaiser_gain, line_top

LOOKED_AT_S = 1.5
FEWEST_SAMPLES = 16  # whose spectrum has a bin beside the mean's
FEW_PERIODS = 24  # a tone with fewer in these seconds is looked for in all of the recording
LEAST_BIN = math.ceil(REACH_BINS) + 2  # what lies below is the mean, and its wandering
PROMINENT = 8.0  # a line is one where it is so many times the median of what lies around it
AROUND, AROUND_SHARE = 40, 0.15  # bins to either side, or as a share of its own place: a vibrato is no noise
FOLDED_HARMONICS = 320
LADDER = 1.5  # from one harmonic to the next that is looked for
NOMINAL_CENTS = 100.0  # from the nominal frequency, within which a line is taken for the fundamental
NO_TONE = "no tone stands out of it"
TOO_SLOW = f"too slow: what is strongest in it repeats fewer than {LEAST_BIN} times in {{:.3g}} s, if at all, and 22 periods are needed"

# The strongest line may be a harmonic. A line at a whole fraction of it is the fundamental where it is strong, or where it is weak and
# lies there exactly; where there is none, the other lines tell it, if they are multiples of one.
UNDERTONES = 12  # the least fraction that is looked for
DIVIDED = 4  # the least fraction that is looked for below a tone whose fundamental is known
STRONG, WEAK = 10 ** (-26 / 20), 10 ** (-50 / 20)  # of the strongest line
EXACT_BINS = 0.25
MOST_LINES, LINE = 40, 10 ** (-40 / 20)  # of those that tell it; the weakest, by the strongest
SIDE_LINE = 10 ** (-20 / 20)  # of the strongest line: one of those that tell it is so strong, or a modulation makes them
MULTIPLES = 24  # the strongest line may be such a multiple of a fundamental that is not there itself
LOWEST_HZ = 16.0  # of such a fundamental: what repeats more slowly is a beat or a vibrato
EXPLAINED, MORE = 0.9, 0.2  # the share of lines that must be multiples of it, and how many more than of the strongest line
MAINS_HZ, OF_MAINS, MAINS_HARMONICS, LOUD = (50.0, 60.0), 1e-3, 8, 0.5  # a line of the mains counts where it is so strong


def rough_hz(samples: Floats, rate: float, nominal_hz: float | None = None) -> float | NotHad:
    """Return the frequency of the strongest tone, to some millionths where it has many harmonics.

    The strongest line is its fundamental, unless there is another at a half, a third … of its frequency; of those that may be it, one at
    the nominal frequency is. Each harmonic that stands out then places the fundamental more closely.

    Parameters
    ----------
    samples : (n,)
    rate : Hz
    nominal_hz : where the fundamental should be, to a semitone

    """
    count = min(len(samples), frame_size(LOOKED_AT_S * rate))
    if count < FEWEST_SAMPLES:
        return NotHad(NO_TONE)
    spectrum = _spectrum(samples, count)
    peak = _strongest(spectrum)
    slow, few = _is_slow(spectrum), peak is not None and peak < FEW_PERIODS
    if count < len(samples) and (slow or few):
        whole = _spectrum(samples, len(samples))
        if not slow or not _is_slow(whole):
            spectrum, peak, slow = whole, _strongest(whole), False
        elif few:
            peak = None
    if peak is None:
        return NotHad(TOO_SLOW.format(len(samples) / rate) if slow else NO_TONE)
    bin_hz = rate / _size(spectrum)
    bins = _candidates(spectrum, peak, bin_hz)
    near = [bin_ for bin_ in (*bins, peak) if nominal_hz and abs(cents(bin_ * bin_hz, nominal_hz)) < NOMINAL_CENTS]
    return _by_harmonics(spectrum, (near or bins)[0]) * bin_hz


@dataclass(frozen=True, slots=True)
class Undertone:
    """A line at a whole fraction of a tone: its frequency, which part of the tone's that is, and its level against the tone in dB."""

    hz: float
    part: int
    level_db: float


def undertone(samples: Floats, rate: float, hz: float) -> Undertone | None:
    """Return the lowest line at a half, a third or a quarter of a tone that could be its fundamental; None where there is none."""
    spectrum = _spectrum(samples, min(len(samples), frame_size(LOOKED_AT_S * rate)))
    bin_hz = rate / _size(spectrum)
    for part in range(DIVIDED, 1, -1):
        line = _undertone(spectrum, hz / bin_hz, part, bin_hz)
        if line is not None:
            ratio = _height(spectrum, line) / _height(spectrum, hz / bin_hz)
            return Undertone(line * bin_hz, part, 20 * math.log10(ratio))
    return None


def _height(spectrum: Floats, bin_: float) -> float:
    """Return the magnitude of a line between bins."""
    return float(spectrum[round(bin_)] / kaiser_gain(bin_ - round(bin_)))


def _size(spectrum: Floats) -> int:
    return 2 * (len(spectrum) - 1)


def _spectrum(samples: Floats, count: int) -> Floats:
    """Return the magnitudes of the middle of a recording; an even number of samples is taken."""
    count -= count % 2
    first = (len(samples) - count) // 2
    piece = samples[first : first + count]
    piece = piece - piece.mean()
    piece *= kaiser(count)
    return np.asarray(np.abs(scipy.fft.rfft(piece)), float)


def _is_slow(spectrum: Floats) -> bool:
    """Say whether what is strongest has too few periods for a line."""
    return bool(spectrum[:LEAST_BIN].max() > PROMINENT * np.median(spectrum)) and int(np.argmax(spectrum)) < LEAST_BIN


def _strongest(spectrum: Floats) -> float | None:
    if len(spectrum) <= 2 * LEAST_BIN:
        return None
    at = LEAST_BIN + int(np.argmax(spectrum[LEAST_BIN:-LEAST_BIN]))
    return line_top(spectrum, at) if _is_line(spectrum, at) else None


def _is_line(spectrum: Floats, at: int) -> bool:
    reach = max(AROUND, round(AROUND_SHARE * at))
    around = spectrum[max(0, at - reach) : at + reach + 1]
    return bool(spectrum[at] > PROMINENT * np.median(around)) and spectrum[at] >= spectrum[at - 1 : at + 2].max()


def _line_near(spectrum: Floats, bin_: float, reach: int = 1) -> float | None:
    """Return the line within so many bins of a place, None where there is none."""
    centre = round(bin_)
    if not LEAST_BIN <= centre < len(spectrum) - LEAST_BIN:
        return None
    at = centre - reach + int(np.argmax(spectrum[centre - reach : centre + reach + 1]))
    return line_top(spectrum, at) if _is_line(spectrum, at) else None


def _candidates(spectrum: Floats, peak: float, bin_hz: float) -> list[float]:
    """Return what may be the fundamental of the strongest line, in bins, the likeliest first.

    It is a line at a whole fraction of the strongest, or what nearly all lines are multiples of where it is not there itself.
    """
    whole = _common_part(spectrum, peak, bin_hz)
    lines = {part: _undertone(spectrum, peak, part, bin_hz) for part in range(UNDERTONES, 1, -1)}
    known = {part: line for part, line in lines.items() if line is not None}
    likely = [line for part, line in known.items() if part % whole == 0]
    return [*likely, peak / whole, *(line for part, line in known.items() if part % whole)]


def _undertone(spectrum: Floats, peak: float, part: int, bin_hz: float) -> float | None:
    line = _line_near(spectrum, peak / part)
    return line if line is not None and _is_undertone(spectrum, line, peak, part=part, bin_hz=bin_hz) else None


def _is_undertone(spectrum: Floats, line: float, peak: float, *, part: int, bin_hz: float) -> bool:
    """Say whether a line at a fraction of the strongest is its fundamental."""
    exact = spectrum[round(line)] > WEAK * spectrum[round(peak)] and abs(line - peak / part) < EXACT_BINS
    strong = spectrum[round(line)] > STRONG * spectrum[round(peak)]
    return bool(exact or strong) and _is_own(spectrum, line, peak, bin_hz)


def _is_own(spectrum: Floats, line: float, peak: float, bin_hz: float) -> bool:
    """Say whether a line belongs to a tone: it is none of the mains, and none that folds back."""
    loud = spectrum[round(line)] > LOUD * spectrum[round(peak)]
    return bool(loud or not of_mains(line * bin_hz)) and not _folded(line, peak, _size(spectrum))


def of_mains(hz: float) -> bool:
    """Say whether a line lies at the mains frequency or at one of its first multiples."""
    numbers = ((mains, max(1, round(hz / mains))) for mains in MAINS_HZ)
    return any(number <= MAINS_HARMONICS and abs(hz - number * mains) < OF_MAINS * hz for mains, number in numbers)


def _common_part(spectrum: Floats, peak: float, bin_hz: float) -> int:
    """Return which multiple of the fundamental the strongest line is, by the other lines: the least of which nearly all are multiples.

    Vibrato and tremolo make lines to either side of each harmonic. They may be multiples of one frequency by chance, but high ones, or
    faint.
    """
    lines = _lines(spectrum, peak, bin_hz)
    parts = np.arange(1, min(MULTIPLES, int(peak * bin_hz / LOWEST_HZ)) + 1)
    if not len(lines) or not len(parts) or spectrum[np.rint(lines).astype(int)].max() < SIDE_LINE * spectrum[round(peak)]:
        return 1
    parts = parts[min(lines.min(), peak) * parts / peak < UNDERTONES + 1 / 2]
    multiple = np.outer(parts / peak, lines)
    off = np.abs(multiple - np.rint(multiple)) * (peak / parts)[:, None]
    share = np.mean((off < EXACT_BINS) & (multiple > 0.5), axis=1)  # noqa: PLR2004  # nearer to the first than to nothing
    good = np.flatnonzero((share > EXPLAINED) & (share > share[0] + MORE))
    return int(parts[good[0]]) if len(good) else 1


def _lines(spectrum: Floats, peak: float, bin_hz: float) -> Floats:
    """Return where the strongest lines lie, in bins, without the strongest of all."""
    inner = spectrum[1:-1]
    at = 1 + np.flatnonzero((inner >= spectrum[:-2]) & (inner > spectrum[2:]) & (inner > LINE * spectrum[round(peak)]))
    at = at[(at >= LEAST_BIN) & (at < len(spectrum) - LEAST_BIN) & (np.abs(at - peak) > REACH_BINS)]
    at = at[np.argsort(-spectrum[at])][:MOST_LINES]
    lines = [line_top(spectrum, int(n)) for n in at if _is_line(spectrum, int(n))]
    return np.array([line for line in lines if _is_own(spectrum, line, peak, bin_hz)])


def _folded(line: float, peak: float, size: int) -> bool:
    """Say whether a line is where a harmonic above half the rate folds back to: then it tells nothing of the period."""
    harmonics = np.arange(2.0, FOLDED_HARMONICS) * peak
    return any_folds(harmonics, line, size, 1.0)


def _by_harmonics(spectrum: Floats, bin_: float) -> float:
    """Climb the harmonics, each placed by those below it; the highest one that stands out tells most."""
    number = 2
    while number * bin_ < len(spectrum) - LEAST_BIN:
        line = _line_near(spectrum, number * bin_)
        if line is not None:
            bin_ = line / number
        number = max(number + 1, int(number * LADDER))
    return bin_
