"""How the pitch of a recording goes: frequency and clearness of its tone, frame by frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import NDArray

from benchrecord.bench.fits import Floats

LOWEST_HZ = 16.0
FRAME_S, HOP_S = 0.2, 0.1  # more than three periods of the lowest tone; two frames overlap by half
FULL = 40_000  # samples a second that a pitch needs at most; faster recordings are thinned
AT_ONCE = 64  # frames
SHORTEST = 3  # samples of a period
# The first maximum that is nearly as high as the highest is the period, and those after it are its multiples. Of a period of few
# samples the summit falls between two of them, and looks lower than it is.
NEARLY, FEW, NEARLY_OF_FEW = 0.9, 16, 0.7
TINY = float(np.finfo(np.float32).tiny)

Whole = NDArray[np.intp]
Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class PitchTrack:
    """Frequency, clearness and rms level of each frame, (n,) each; frames are ``FRAME_S`` long and start ``HOP_S`` apart.

    The clearness is the normalised correlation one period apart: 1 for a pure tone, near 0 for noise. The frequency is 0 Hz where
    there is no tone.
    """

    hz: Floats
    clear: Floats
    level: Floats


def pitch_track(blocks: Iterable[Floats], rate: int) -> PitchTrack:
    """Follow the pitch through a recording of ``rate`` samples a second that comes in blocks of any length.

    The normalised square difference function of a frame, n(τ) = 2·Σx_j·x_{j+τ} / Σ(x_j² + x_{j+τ}²), has its first high maximum one
    period on (McLeod and Wyvill, A smarter way to find pitch, ICMC 2005); those at the double of it, the double of that, and so on make
    the period finer.
    """
    thin = max(1, rate // FULL)
    parts = [_of_frames(frames, rate / thin) for frames in _frames(_thinned(blocks, thin), round(rate / thin * HOP_S))]
    hz, clear, level = np.concatenate([np.empty((3, 0)), *parts], axis=1)
    return PitchTrack(hz, clear, level)


def period_of(samples: Floats, rate: int) -> tuple[float, float]:
    """Return the period of a tone in s, from no more than ``FRAME_S`` of its samples, (n,), and its clearness; 0 s for none."""
    hz, clear, _ = _of_frames(samples[None, : round(rate * FRAME_S)], rate)[:, 0]
    return (1 / float(hz) if hz else 0.0), float(clear)


def _thinned(blocks: Iterable[Floats], thin: int) -> Iterator[Floats]:
    """Average ``thin`` samples into one; what is left of a block goes to the next."""
    rest = np.empty(0)
    for block in blocks:
        whole = np.concatenate([rest, block]) if len(rest) else block
        end = len(whole) - len(whole) % thin
        rest = whole[end:]
        yield whole[:end].reshape(-1, thin).mean(axis=1) if thin > 1 else whole


def _frames(blocks: Iterable[Floats], hop: int) -> Iterator[Floats]:
    """Yield frames of two hops, some at once: (m, 2·hop); each starts a hop after the one before."""
    held = np.empty(0)
    for block in blocks:
        held = np.concatenate([held, block])
        count = len(held) // hop - 1
        for first in range(0, count, AT_ONCE):
            hops = held[first * hop : (min(first + AT_ONCE, count) + 1) * hop].reshape(-1, hop)
            yield np.concatenate([hops[:-1], hops[1:]], axis=1)
        held = held[max(0, count) * hop :]


def _of_frames(frames: Floats, rate: float) -> Floats:
    """Return frequency, clearness and level of frames, (m, n): (3, m)."""
    x = (frames - frames.mean(axis=1, keepdims=True)).astype(np.float32)  # half the work, and its seven digits are enough here
    power = np.einsum("ij,ij->i", x, x)
    lags = min(x.shape[1] // 2, round(rate / LOWEST_HZ))
    found = np.zeros((3, len(x)))
    found[2] = np.sqrt(power / x.shape[1])
    if lags > 2 * SHORTEST:
        curves = _square_differences(x, power, lags)
        lag, found[1] = _first_maxima(curves)
        known = lag > 0
        found[0, known] = rate / _finer(curves[known], lag[known])
    return found


def _square_differences(x: Singles, power: Singles, lags: int) -> Floats:
    size = scipy.fft.next_fast_len(x.shape[1] + lags, real=True)
    spectrum = scipy.fft.rfft(x, size, axis=1)
    correlation = scipy.fft.irfft(spectrum.real**2 + spectrum.imag**2, size, axis=1)[:, :lags]
    head, tail = (np.cumsum(part[:, : lags - 1] ** 2, axis=1) for part in (x, x[:, ::-1]))
    both = np.repeat(2 * power[:, None], lags, axis=1)
    both[:, 1:] -= head + tail
    return np.asarray(2 * correlation / np.maximum(both, TINY), float)


def _first_maxima(curves: Floats) -> tuple[Floats, Floats]:
    """Return the lag of each curve's first maximum that is nearly its highest, and its height; those before its first zero do not count.

    Both are zero where there is none.
    """
    m, lags = curves.shape
    negative = curves < 0
    zero = np.where(negative.any(axis=1), negative.argmax(axis=1), lags)
    inner = curves[:, 1:-1]
    row, at = np.nonzero((inner > 0) & (inner >= curves[:, :-2]) & (inner > curves[:, 2:]))
    at += 1
    counts = at > np.maximum(zero[row], SHORTEST)
    row, at = row[counts], at[counts]
    before, top, after = curves[row, at - 1], curves[row, at], curves[row, at + 1]
    height = top + (after - before) ** 2 / np.maximum(8 * (2 * top - before - after), TINY)
    highest = np.zeros(m)
    np.maximum.at(highest, row, height)
    high = height >= np.where(at < FEW, NEARLY_OF_FEW, NEARLY) * highest[row]
    rows, first = np.unique(row[high], return_index=True)
    lag, clear = np.zeros(m), np.zeros(m)
    lag[rows], clear[rows] = at[high][first], height[high][first]
    return lag, clear


def _finer(curves: Floats, period: Floats) -> Floats:
    """Return each period from its own maximum, the one at its double, the double of that, and so on: each halves the error."""
    times = 1
    while True:
        rows = np.flatnonzero((times + 0.25) * period < curves.shape[1])
        if not len(rows):
            return period
        period[rows] = _vertices(curves, rows, times * period[rows], period[rows] / 16) / times
        times *= 2


def _vertices(curves: Floats, rows: Whole, near: Floats, reach: Floats) -> Floats:
    """Return where maxima of some rows lie: parabolas through three points as far apart as the noise asks for."""
    step, at = np.maximum(1, np.rint(reach)).astype(int), np.rint(near).astype(int)
    at = np.clip(at, step, curves.shape[1] - 1 - step)
    a, b, c = curves[rows, at - step], curves[rows, at], curves[rows, at + step]
    bend = a - 2 * b + c
    shift = np.clip(0.5 * (a - c) / np.minimum(bend, -TINY), -1, 1)
    return np.where(bend < 0, at + step * shift, near)
