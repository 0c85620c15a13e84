"""Spectra: windows, their noise bandwidth, and the transforms of overlapping frames."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import ArrayLike, NDArray

from benchrecord.bench.estimate import TINY
from benchrecord.bench.fits import Floats

Complexes = NDArray[np.complex128]
BETA = 18.0  # of the Kaiser window: all that lies beyond its main lobe is 140 dB down
REACH_BINS = 6.0  # half the main lobe: √(β² + π²)/π = 5.8 bins
LOBE_BINS = 5.5  # where its formula still holds: β/π = 5.7
OVERLAP = 4  # frames that share each sample: their windows then add up to an even weight
LEAST_SIZE = 2048  # samples of a frame
KEPT = 1 << 18  # samples of a window that is kept to be used again
AT_ONCE = 1 << 17  # samples of frames transformed together: as many as a core holds close by


@dataclass(frozen=True, slots=True)
class Frames:
    """Where frames lie in a recording: ``count`` of ``size`` samples, each ``hop`` after the one before."""

    size: int
    hop: int
    count: int

    @property
    def middles(self) -> Floats:
        """The middle of each frame, in samples, (count,)."""
        return np.asarray(np.arange(self.count) * self.hop + self.size / 2, float)

    @property
    def shared(self) -> float:
        """What the overlap brings to a mean over the frames: its variance is that of one frame, times this over their number.

        White noise in frames k hops apart is correlated by ρ_k = Σ w(t)·w(t + k·hop) / Σ w²: 1 + 2·Σ (1 − k/count)·ρ_k.
        """
        return 1 + 2 * sum((1 - k / self.count) * rho for k, rho in enumerate(overlaps(), 1) if k < self.count)


@lru_cache(maxsize=1)
def overlaps() -> tuple[float, ...]:
    """Return how far white noise in frames 1, 2 … hops apart is correlated."""
    w, hop = kaiser(LEAST_SIZE), LEAST_SIZE // OVERLAP
    return tuple(float(w[k * hop :] @ w[: -k * hop]) / float(w @ w) for k in range(1, OVERLAP))


def frames_in(length: int, size: int, overlap: int = OVERLAP) -> Frames:
    """Return the frames of a size that fit into so many samples, each sample in ``overlap`` of them; none where there are fewer."""
    hop = max(1, size // overlap)
    return Frames(size, hop, max(0, (length - size) // hop + 1))


def frame_size(wanted: float) -> int:
    """Return a number of samples, at least the wanted one, that is transformed quickly."""
    return int(scipy.fft.next_fast_len(math.ceil(wanted), real=True))


@lru_cache(maxsize=1)
def window_variance() -> float:
    """Return the variance of the places in a frame, weighted by its window, by the square of its size."""
    at = (np.arange(LEAST_SIZE) + 0.5) / LEAST_SIZE - 0.5
    return float(at**2 @ kaiser(LEAST_SIZE))


def kaiser(size: int) -> Floats:
    """Return the Kaiser window of the bench, (size,), whose sum is 1."""
    return _kept_kaiser(size) if size <= KEPT else _kaiser(size)


@lru_cache(maxsize=16)
def _kept_kaiser(size: int) -> Floats:
    return _kaiser(size)


def _kaiser(size: int) -> Floats:
    window = np.asarray(scipy.signal.get_window(("kaiser", BETA), size), float)
    window /= window.sum()
    window.flags.writeable = False
    return window


def kaiser_gain(offset_bins: ArrayLike) -> Floats:
    """Return what a tone between two bins reads in one of them, 1 at the bin itself.

    sinh(√(β² − (πx)²)) / √(β² − (πx)²) over its value at x = 0, inside the main lobe (Kaiser's window; Harris, Proc. IEEE 66, 1978,
    from memory). Farther out it stays as at the edge of the lobe.
    """
    inside = np.clip(np.asarray(offset_bins, float), -LOBE_BINS, LOBE_BINS)
    root = np.sqrt(BETA**2 - (np.pi * inside) ** 2)
    return np.asarray(np.sinh(root) / root * (BETA / math.sinh(BETA)))


def line_top(magnitudes: Floats, at: int) -> float:
    """Return where the top of a line lies between bins, from the magnitude of its highest bin and both beside it.

    A parabola through their logarithms comes close; what it is off, it is off with the window's own main lobe too.
    """
    offset = read = _parabola(np.log(np.maximum(magnitudes[at - 1 : at + 2], TINY)))
    for _ in range(2):
        offset += read - _parabola(np.log(kaiser_gain(np.array([-1.0, 0.0, 1.0]) - offset)))
    return at + offset


def _parabola(three: Floats) -> float:
    """Return the top of the parabola through three points, as an offset from the middle one."""
    bend = float(three[0] - 2 * three[1] + three[2])
    return 0.5 * float(three[0] - three[2]) / bend if bend < 0 else 0.0


def noise_bandwidth_bins(window: ArrayLike) -> float:
    """Return the equivalent noise bandwidth of a window in bins: n·Σw²/(Σw)² (Harris 1978, from memory)."""
    w = np.asarray(window, float)
    return float(len(w) * (w @ w) / w.sum() ** 2)


def transforms(samples: Floats, frames: Frames, window: Floats) -> Iterator[Complexes]:
    """Yield the windowed transforms of consecutive frames, (some, size // 2 + 1) at a time."""
    view = np.lib.stride_tricks.sliding_window_view(samples, frames.size)[:: frames.hop][: frames.count]
    some = max(1, AT_ONCE // frames.size)
    for at in range(0, frames.count, some):
        yield scipy.fft.rfft(view[at : at + some] * window, axis=1, overwrite_x=True)


def mean_power(samples: Floats, frames: Frames, window: Floats) -> Floats:
    """Return the mean of the squared transforms over all frames, (size // 2 + 1,)."""
    total = np.zeros((frames.size // 2 + 1, 2))
    for some in transforms(samples, frames, window):
        parts = some.view(float).reshape(len(some), *total.shape)  # real beside imaginary
        total += np.einsum("ijk,ijk->jk", parts, parts)
    return np.asarray(total.sum(axis=1) / max(1, frames.count))


def any_folds(harmonics: Floats, line: float, rate: float, within: float) -> bool:
    """Say whether one of some harmonics, (n,), that lie above half the rate folds back to a line, all in the same unit, so nearly."""
    folded = np.abs(harmonics - rate * np.rint(harmonics / rate))
    return bool(np.any((np.abs(folded - line) < within) & (harmonics > rate / 2)))
