"""What a ring modulator lets through of its inputs: their levels beside sum and difference."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, Frames, frame_size, frames_in, kaiser, mean_power

FRAME_S = 0.5  # so that an oscillator that wanders by a hertz stays within the main lobe of the window
LEAST_FRAMES = 4
SEARCH_SHARE, SEARCH_HZ = (
    0.02,
    5.0,
)  # how far from what was written an oscillator may stand: as a share of the higher, and at least
HIDDEN = 4.0  # standard uncertainties: a power that is not so far above nothing is hidden by noise
FEW = 1.1  # noise and scatter are known from few frames themselves (seen in trials)
STANDS_OUT_DB = 20.0  # of sum or difference above the noise beside it
BESIDE = (8, 9, 10, 11)  # bins on either side, clear of the window's main lobe, where the noise is read


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a spectrum: its frequency, rms level in dB of a full-scale sine's, and the standard uncertainty of that.

    ``hidden`` says that it does not stand out of the noise; the level is then the most that the noise could hide.
    """

    hz: float
    level_db: float
    u_db: float
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class Rejection:
    """Levels of carrier, signal, sum and difference; rejections are relative to the stronger of the latter two, in dB."""

    carrier: Line
    signal: Line
    sum: Line
    difference: Line

    @property
    def product(self) -> Line:
        """The stronger of sum and difference."""
        return max(self.sum, self.difference, key=lambda line: line.level_db)

    @property
    def carrier_db(self) -> float:
        """The carrier's rejection: negative is better."""
        return self.carrier.level_db - self.product.level_db

    @property
    def signal_db(self) -> float:
        """The signal's rejection: negative is better."""
        return self.signal.level_db - self.product.level_db

    def u_db(self, line: Line) -> float:
        """Return the standard uncertainty of a rejection."""
        return math.hypot(line.u_db, self.product.u_db)


def rejection(samples: Floats, rate: float, *, carrier_hz: float, signal_hz: float) -> Rejection | NotHad:
    """Return what is left of carrier and signal beside their product.

    Sum and difference are found near where they are expected; half their sum and half their difference are then where carrier and signal
    really stand. At each of the four frequencies frames of half a second are transformed (Kaiser window, all beyond its main lobe 140 dB
    down); the power is the mean over the frames, less that of the noise a few bins beside. Its uncertainty is what noise of that
    variance v brings to a power P, √(2·P·v + v²), or the scatter of the frames where that is more, over the root of their number.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz
    carrier_hz, signal_hz : as they are set, within 2 % or 5 Hz

    """
    size = frame_size(FRAME_S * rate)
    frames = frames_in(len(samples), size)
    if frames.count < LEAST_FRAMES:
        return NotHad(f"too short: {len(samples) / rate:.2f} s, and {FRAME_S * (1 + (LEAST_FRAMES - 1) / 4):.1f} s are needed")
    expected = sorted((carrier_hz + signal_hz, abs(carrier_hz - signal_hz)))
    crowded = _crowded([carrier_hz, signal_hz, *expected], rate, size)
    if crowded is not None:
        return crowded
    spectrum, every = _spectrum(samples, frames), (carrier_hz, signal_hz, *expected)
    reach = max(SEARCH_HZ, SEARCH_SHARE * max(carrier_hz, signal_hz))
    found = [_found(spectrum, hz, rate / size, min(reach, _gap(hz, every) / 2)) for hz in expected]
    if None in found:
        return NotHad(f"no product: nothing stands out at {expected[0]:g} Hz and {expected[1]:g} Hz")
    difference_hz, sum_hz = (float(hz) for hz in found if hz is not None)
    halves = ((sum_hz + difference_hz) / 2, (sum_hz - difference_hz) / 2)
    carrier, signal = halves if carrier_hz > signal_hz else halves[::-1]
    places = (carrier, signal, sum_hz, difference_hz)
    return Rejection(*_lines(samples, frames, places, rate=rate, spectrum=spectrum))


def _crowded(hz: list[float], rate: float, size: int) -> NotHad | None:
    """Say which of four frequencies cannot be told apart: two that lie within a window's reach, or one that the rate has no room for."""
    apart = 2 * max(BESIDE) * rate / size
    if max(hz) + apart > rate / 2:
        return NotHad(f"the sum, {max(hz):g} Hz, lies beyond what {rate:g} Hz can hold")
    near = sorted([0.0, *hz])
    if any(b - a < apart for a, b in itertools.pairwise(near)):
        return NotHad(f"carrier, signal, sum and difference must lie {apart:.0f} Hz apart to be told from each other")
    return None


def _spectrum(samples: Floats, frames: Frames) -> Floats:
    """Return the mean power in each bin, of every other frame: they still cover all samples twice."""
    half = Frames(frames.size, 2 * frames.hop, (frames.count + 1) // 2)
    return mean_power(samples, half, kaiser(frames.size))


def _gap(hz: float, every: Sequence[float]) -> float:
    """Return how far the nearest other line is."""
    return min(abs(hz - other) for other in every if other != hz)


def _found(spectrum: Floats, near_hz: float, bin_hz: float, reach_hz: float) -> float | None:
    """Return the frequency of the line nearest to where one is expected: the middle of its power; None where there is none."""
    low, high = (round((near_hz + step) / bin_hz) for step in (-reach_hz, reach_hz))
    low, high = max(1, low), min(len(spectrum) - 1, high)
    top = low + int(np.argmax(spectrum[low : high + 1]))
    wide = round(REACH_BINS)
    lobe = np.arange(max(0, top - wide), min(len(spectrum), top + wide + 1))
    noise = _noise(spectrum, top)
    if not spectrum[top] > noise * 10 ** (STANDS_OUT_DB / 10):
        return None
    power = np.maximum(spectrum[lobe] - noise, 0.0)
    return float(lobe @ power / power.sum()) * bin_hz


def _lines(samples: Floats, frames: Frames, places_hz: Sequence[float], *, rate: float, spectrum: Floats) -> list[Line]:
    """Read the level at some frequencies frame by frame; the noise is that of the spectrum beside them."""
    turns = np.outer(np.arange(frames.size), places_hz) * (2 * np.pi / rate)
    tones = np.hstack([np.cos(turns), np.sin(turns)]) * kaiser(frames.size)[:, None]
    read = np.array([samples[n * frames.hop : n * frames.hop + frames.size] @ tones for n in range(frames.count)])
    power = read[:, : len(places_hz)] ** 2 + read[:, len(places_hz) :] ** 2
    worth = frames.count / frames.shared
    noises = [_noise(spectrum, round(hz * frames.size / rate)) for hz in places_hz]
    return [_line(hz, power[:, n], noise, worth) for n, (hz, noise) in enumerate(zip(places_hz, noises, strict=True))]


def _noise(spectrum: Floats, at: int) -> float:
    """Return the mean power a few bins beside a line."""
    beside = [b for d in BESIDE for b in (at - d, at + d) if 0 <= b < len(spectrum)]
    return float(np.mean(spectrum[beside]))


def _line(hz: float, power: Floats, noise: float, worth: float) -> Line:
    mean = float(power.mean()) - noise
    scatter, expected = float(power.std()), math.sqrt(2 * max(mean, 0.0) * noise + noise**2)
    u = FEW * max(scatter, expected) / math.sqrt(worth)
    if mean < HIDDEN * u:
        return Line(hz, 10 * math.log10(4 * max(max(mean, 0.0) + 2 * u, 1e-30)), 0.0, hidden=True)
    return Line(hz, 10 * math.log10(4 * mean), -5 * math.log10(1 - 2 * u / mean))
