"""How much of what is looked for a channel holds: a tone, noise, a known signal, or a level that rises and falls."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.sound import Sound, stretch
from benchrecord.bench.spectra import REACH_BINS, frame_size, frames_in, kaiser, mean_power

Score = Callable[[Floats, float], float]  # of samples (n,) at a rate: from 0, nothing of it, to 1, nothing else

FRAME_S = 2.0
BLOCK_BINS, FLOOR_PERCENT = 64, 20.0  # of such a block: the noise between lines, where they lie close together too
LINE_POWER = 64.0  # times that noise
LOWEST_BIN = 2  # below it lies what is left of the mean
CLOSE_CENTS = 100.0  # a line so far from the frequency that is looked for counts half
MAINS_HZ, MAINS_HARMONICS, MAINS_SHARE = (50.0, 60.0), 8, 1e-3  # how far the mains strays from its frequency (common practice)
LEVEL_S = 0.02
LOW_PERCENT, HIGH_PERCENT = 1.0, 99.5


def channel_samples(sound: Sound, start: int, stop: int) -> list[Floats]:
    """Return a stretch of every channel, (n,) each; what is no number in them is taken for 0 or full scale.

    Raises
    ------
    DamagedError
        Where it cannot be read on before its end.

    """
    return [np.nan_to_num(stretch(sound, start, stop, n), posinf=1.0, neginf=-1.0) for n in range(sound.channels)]


def level(samples: Floats) -> float:
    """Return the rms of samples without their mean."""
    return float(np.std(samples)) if len(samples) else 0.0


def tone_near(hz: float) -> Score:
    """Return what scores a channel by its lines close to a frequency: their share of the power, less the farther away they are."""

    def score(samples: Floats, rate: float) -> float:
        power, line, bins_a_hz = _lines(samples, rate)
        near = CENTS_PER_OCTAVE * np.log2(np.maximum(np.arange(len(power)), 0.5) / (hz * bins_a_hz))
        return _share(power, line / (1 + (near / CLOSE_CENTS) ** 2))

    return score


def any_tone(samples: Floats, rate: float) -> float:
    """Score a channel by the share of its power in lines that are no mains hum."""
    power, line, bins_a_hz = _lines(samples, rate)
    return _share(power, line * ~_mains(len(power), bins_a_hz))


def products(carrier_hz: float, signal_hz: float) -> Score:
    """Return what scores a channel by the share of its power in the sum and the difference of two frequencies."""
    both = tone_near(carrier_hz + signal_hz), tone_near(abs(carrier_hz - signal_hz))
    return lambda samples, rate: min(1.0, sum(score(samples, rate) for score in both))


def broadband(samples: Floats, rate: float) -> float:
    """Score a channel by the share of its power between lines: noise."""
    power, line, _ = _lines(samples, rate)
    return _share(power, 1.0 - line)


def resemblance(reference: Floats) -> Score:
    """Return what scores a channel by the greatest correlation with a signal, (m,), at any delay; 1 for a copy of it."""

    def score(samples: Floats, _rate: float) -> float:
        both = [(x - x.mean()).astype(np.float32) for x in (samples, reference)]
        norm = float(np.linalg.norm(both[0])) * float(np.linalg.norm(both[1]))
        size = scipy.fft.next_fast_len(len(samples) + len(reference), real=True)
        ours, sent = (scipy.fft.rfft(x, size) for x in both)
        ours *= np.conj(sent, out=sent)
        return min(1.0, float(np.abs(scipy.fft.irfft(ours, size, overwrite_x=True)).max()) / norm) if norm else 0.0

    return score


def level_swing(samples: Floats, rate: float) -> float:
    """Score a channel by how far its level falls below its highest: 0 for a steady sound, 1 for one with silence between."""
    size = max(1, round(LEVEL_S * rate))
    blocks = samples[: len(samples) // size * size].reshape(-1, size)
    if not len(blocks):
        return 0.0
    low, high = np.percentile(np.sqrt(np.einsum("ij,ij->i", blocks, blocks)), [LOW_PERCENT, HIGH_PERCENT])
    return float(1 - low / high) if high else 0.0


def alike(one: Floats, other: Floats) -> float:
    """Return how much two channels are the same sound at two levels: the magnitude of their correlation without delay."""
    norm = level(one) * level(other) * len(one)
    return abs(float(one @ other) - float(one.mean()) * float(other.sum())) / norm if norm else 0.0


def _lines(samples: Floats, rate: float) -> tuple[Floats, Floats, float]:
    """Return the power of each bin, (n,), 1 where it belongs to a line and 0 where not, and how many bins a hertz has."""
    size = min(frame_size(FRAME_S * rate), len(samples) - len(samples) % 2)
    if size < BLOCK_BINS:
        return np.zeros(1), np.zeros(1), 1.0
    power = mean_power(samples - samples.mean(), frames_in(len(samples), size, 2), kaiser(size))
    blocks = math.ceil(len(power) / BLOCK_BINS)
    floor = np.percentile(np.resize(power, (blocks, BLOCK_BINS)), FLOOR_PERCENT, axis=1)
    line = np.asarray(power > LINE_POWER * np.repeat(floor, BLOCK_BINS)[: len(power)], float)
    line[:LOWEST_BIN] = 0.0
    return power, line, size / rate


def _mains(count: int, bins_a_hz: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    at = np.arange(count)
    own = np.zeros(count, bool)
    for place in (n * hz * bins_a_hz for hz in MAINS_HZ for n in range(1, MAINS_HARMONICS + 1)):
        own |= np.abs(at - place) < REACH_BINS + MAINS_SHARE * place
    return own


def _share(power: Floats, weights: Floats) -> float:
    total = float(power.sum())
    return float(power @ weights) / total if total else 0.0
