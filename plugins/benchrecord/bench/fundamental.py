"""Finding a tone roughly: the strongest line of a spectrum, whether it is the fundamental, and where its harmonics put it."""

from __future__ import annotations

import math

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, frame_size, kaiser, line_top

LOOKED_AT_S = 1.5
FEW_PERIODS = 24  # a tone with fewer in these seconds is looked for in all of the recording
LEAST_BIN = math.ceil(REACH_BINS) + 2  # what lies below is the mean, and its wandering
UNDERTONES, UNDERTONE = (
    6,
    10 ** (-26 / 20),
)  # a line at a whole fraction of the strongest is the fundamental where it is no weaker
PROMINENT = 8.0  # a line is one where it is so many times the median of what lies around it
AROUND = 40  # bins to either side
FOLDED_HARMONICS = 40
LADDER = 1.5  # from one harmonic to the next that is looked for
NO_TONE = "no tone stands out of it"


def rough_hz(samples: Floats, rate: float) -> float | NotHad:
    """Return the frequency of the strongest tone, to some millionths where it has many harmonics.

    The strongest line is its fundamental, unless there is another at a half, a third … of its frequency. Each harmonic that stands
    out then places the fundamental more closely.

    Parameters
    ----------
    samples : (n,)
    rate : Hz

    """
    count = min(len(samples), frame_size(LOOKED_AT_S * rate))
    spectrum = _spectrum(samples, count)
    peak = _strongest(spectrum)
    if peak is not None and peak < FEW_PERIODS and count < len(samples):
        spectrum = _spectrum(samples, len(samples))
        peak = _strongest(spectrum)
    if peak is None:
        return NotHad(NO_TONE)
    return _by_harmonics(spectrum, _fundamental(spectrum, peak)) * rate / _size(spectrum)


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


def _strongest(spectrum: Floats) -> float | None:
    if len(spectrum) <= 2 * LEAST_BIN:
        return None
    at = LEAST_BIN + int(np.argmax(spectrum[LEAST_BIN:-LEAST_BIN]))
    return line_top(spectrum, at) if _is_line(spectrum, at) else None


def _is_line(spectrum: Floats, at: int) -> bool:
    around = spectrum[max(0, at - AROUND) : at + AROUND + 1]
    return bool(spectrum[at] > PROMINENT * np.median(around)) and spectrum[at] >= spectrum[at - 1 : at + 2].max()


def _line_near(spectrum: Floats, bin_: float, reach: int = 1) -> float | None:
    """Return the line within so many bins of a place, None where there is none."""
    centre = round(bin_)
    if not LEAST_BIN <= centre < len(spectrum) - LEAST_BIN:
        return None
    at = centre - reach + int(np.argmax(spectrum[centre - reach : centre + reach + 1]))
    return line_top(spectrum, at) if _is_line(spectrum, at) else None


def _fundamental(spectrum: Floats, peak: float) -> float:
    for part in range(UNDERTONES, 1, -1):
        line = _line_near(spectrum, peak / part)
        strong = line is not None and spectrum[round(line)] > UNDERTONE * spectrum[round(peak)]
        if line is not None and strong and not _folded(line, peak, _size(spectrum)):
            return line
    return peak


def _folded(line: float, peak: float, size: int) -> bool:
    """Say whether a line is where a harmonic above half the rate folds back to: then it tells nothing of the period."""
    harmonics = np.arange(2, FOLDED_HARMONICS) * peak
    folded = np.abs(harmonics - size * np.rint(harmonics / size))
    return bool(np.any((np.abs(folded - line) < 1) & (harmonics > size / 2)))


def _by_harmonics(spectrum: Floats, bin_: float) -> float:
    """Climb the harmonics, each placed by those below it; the highest one that stands out tells most."""
    number = 2
    while number * bin_ < len(spectrum) - LEAST_BIN:
        line = _line_near(spectrum, number * bin_)
        if line is not None:
            bin_ = line / number
        number = max(number + 1, int(number * LADDER))
    return bin_
