"""What a ring modulator lets through of its inputs: their levels beside sum and difference."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.fits import Floats
from benchrecord.bench.intermodulation import Coincidence, coincidences, free_tones, main_lines
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, Frames, frame_size, frames_in, kaiser, mean_power

LOW_ORDER = 5  # as 3·carrier − signal is of four: what a circuit makes of both most
STRAYS = 16.0  # times the noise beside it: a twin that stands out
FRAME_S = 0.5  # so that an oscillator that wanders by a hertz stays within the main lobe of the window
LEAST_FRAMES = 4
SEARCH_SHARE, SEARCH_HZ = (
    0.02,
    5.0,
)  # how far from what was written an oscillator may stand: as a share of the higher, and at least
HIDDEN = 4.0  # standard uncertainties: a power that is not so far above nothing is hidden by noise
FEW = 1.1  # noise and scatter are known from few frames themselves (seen in trials)
SPOILT = 0.1  # of the amplitude of a line, from harmonics that fall on it: with more it tells nothing
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

    Where a·carrier ± b·signal (a, b ≤ 9) falls on one of the four, as the third harmonic of a switched carrier does where 3·carrier −
    signal is the signal, nothing tells both apart: what stands out of the twin a·carrier ∓ b·signal tells how strong it is. A line that
    it may change by a tenth is not read, and less than that is in its uncertainty.

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
    places = main_lines(carrier, signal)
    found_lines = dict(zip(places, _lines(samples, frames, [*places.values()], rate=rate, spectrum=spectrum), strict=True))
    strays = _strays(spectrum, rate / size, coincidences(carrier, signal, REACH_BINS * rate / size))
    spoilt = _spoilt(found_lines, strays, lambda: _free(carrier, signal, rate, size))
    if spoilt is not None:
        return spoilt
    return Rejection(**{name: _widened(line, strays.get(name)) for name, line in found_lines.items()})


def _strays(spectrum: Floats, bin_hz: float, fallen: Sequence[Coincidence]) -> dict[str, tuple[float, Coincidence]]:
    """Return what harmonics may bring to a line, as an amplitude, and the strongest of them: all that stands out of their twins together.

    A twin beyond the recording's band tells nothing: one of a low order may be as strong as any line, and a higher one is faint.
    """
    found: dict[str, tuple[float, Coincidence]] = {}
    for each in fallen:
        at = round(each.twin_hz / bin_hz)
        amplitude = math.inf if each.order <= LOW_ORDER else 0.0
        if max(BESIDE) < at < len(spectrum) - max(BESIDE):
            top, noise = float(spectrum[at - 2 : at + 3].max()), _noise(spectrum, at)
            amplitude = math.sqrt(top) if top > STRAYS * noise else 0.0
        before, strongest = found.get(each.on, (0.0, each))
        found[each.on] = (before + amplitude, each if amplitude > before else strongest)
    return found


def _spoilt(lines: dict[str, Line], strays: dict[str, tuple[float, Coincidence]], free: Callable[[], str]) -> NotHad | None:
    """Say which line cannot be told from what harmonics make; None where there is none."""
    for name, (amplitude, each) in strays.items():
        line = lines[name]
        if 2 * amplitude > SPOILT * 10 ** (line.level_db / 20):
            return NotHad(f"{each.name} falls on the {name}, {line.hz:.4g} Hz, and may be as strong{free()}")
    return None


def _widened(line: Line, stray: tuple[float, Coincidence] | None) -> Line:
    """Return a line with what harmonics may have added to it, or taken off, in its uncertainty."""
    share = 2 * stray[0] / 10 ** (line.level_db / 20) if stray else 0.0
    return replace(line, u_db=math.hypot(line.u_db, -20 * math.log10(1 - min(share, SPOILT)) / math.sqrt(3)))


def _free(carrier_hz: float, signal_hz: float, rate: float, size: int) -> str:
    """Propose tones of whose harmonics nothing reaches into a line or the noise beside it."""
    bin_hz = rate / size
    lines_apart = 2 * max(BESIDE) * bin_hz  # as lines must lie to be told from each other
    apart = (max(BESIDE) + REACH_BINS) * bin_hz
    tones = free_tones(carrier_hz, signal_hz, apart_hz=apart, lines_apart_hz=lines_apart, top_hz=rate / 2 - lines_apart)
    return f": record it with {tones[0]:g} Hz and {tones[1]:g} Hz" if tones else ""


def _crowded(hz: list[float], rate: float, size: int) -> NotHad | None:
    """Say which of four frequencies cannot be told apart: two that lie within a window's reach, or one that the rate has no room for."""
    apart = 2 * max(BESIDE) * rate / size
    if max(hz) + apart > rate / 2:
        return NotHad(f"the sum, {max(hz):g} Hz, lies beyond what {rate:g} Hz can hold")
    near = sorted([0.0, *hz])
    if any(b - a < apart for a, b in itertools.pairwise(near)):
        free = _free(hz[0], hz[1], rate, size)
        return NotHad(f"carrier, signal, sum and difference must lie {apart:.0f} Hz apart to be told from each other{free}")
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
