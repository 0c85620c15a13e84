"""A recording as the sums see it: stretches of samples, read piece by piece."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Protocol

import numpy as np

from benchrecord.bench.fits import Floats

PIECE = 1 << 18  # frames read at a time
LARGEST_SAMPLE = 1e6  # where full scale is 1: a float recorder's scale may be another, but not by more
SILENT = 0.0


class DamagedError(Exception):
    """A recording that cannot be read as far as its head says; the message tells where."""


class Sound(Protocol):
    """A recording: ``rate`` in frames a second, and its samples where full scale is 1."""

    @property
    def rate(self) -> int:
        """Frames a second."""

    @property
    def frames(self) -> int:
        """How many frames there are."""

    @property
    def channels(self) -> int:
        """How many channels a frame has."""

    def read(self, start: int, stop: int, channel: int) -> Floats:
        """Return the samples of one channel from a frame up to another: (n,), fewer where they cannot be read."""


def stretch(sound: Sound, start: int, stop: int, channel: int) -> Floats:
    """Return the samples of one channel from a frame up to another, (n,); fewer where the recording ends before.

    Raises
    ------
    DamagedError
        Where it cannot be read on before its end.

    """
    samples, filled = np.empty(max(0, min(stop, sound.frames) - start)), 0
    for piece in _pieces(sound, start, stop, channel, size=PIECE):
        samples[filled : filled + len(piece)] = piece
        filled += len(piece)
    return samples[:filled]


def blocks(sound: Sound, start: int, stop: int, channel: int, *, size: int = PIECE) -> Iterator[Floats]:
    """Yield a stretch in pieces of ``size`` frames, the last one shorter: for sums over what is too long to hold at once.

    Raises
    ------
    DamagedError
        Where it cannot be read on before its end.

    """
    for piece in _pieces(sound, start, stop, channel, size=size):
        yield piece if all_numbers(piece) else np.nan_to_num(piece, posinf=1.0, neginf=-1.0)


def _pieces(sound: Sound, start: int, stop: int, channel: int, *, size: int) -> Iterator[Floats]:
    end = min(stop, sound.frames)
    for at in range(start, end, size):
        until = min(at + size, end)
        piece = sound.read(at, until, channel)
        if len(piece) < until - at:
            raise DamagedError(f"the recording is damaged between {at / sound.rate:.2f} s and {until / sound.rate:.2f} s")
        yield piece


def all_numbers(samples: Floats) -> bool:
    """Return whether every sample is a number of a sensible size: a recording in floating point can hold others."""
    return not len(samples) or bool(np.abs(samples).max() <= LARGEST_SAMPLE)  # false of what is no number too


def rms(samples: Floats) -> float:
    """Return the root of the mean square; zero where there are no samples."""
    return math.sqrt(float(np.mean(np.square(samples)))) if len(samples) else SILENT


def level_dbfs(level: float) -> float | None:
    """Return an rms level in decibels, where a sine of full scale is 0 dB; None for silence."""
    return 20 * math.log10(level * math.sqrt(2)) if level > 0 else None
