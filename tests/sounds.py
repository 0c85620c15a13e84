"""Recordings for tests: made in memory, or written as files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import Sound
from benchrecord.checks.kind import Bench
from benchrecord.model.job import Check, DecisionRule, Take

RATE = 48_000


@dataclass(frozen=True)
class MemorySound:
    """Samples that stand for a recording: (n,) of one channel, or (n, channels)."""

    samples: Floats
    rate: int = RATE

    @property
    def frames(self) -> int:
        """How many frames there are."""
        return len(self.samples)

    @property
    def channels(self) -> int:
        """How many channels a frame has."""
        return 1 if self.samples.ndim == 1 else self.samples.shape[1]

    def read(self, start: int, stop: int, channel: int) -> Floats:
        """Return the samples of one channel from a frame up to another."""
        one = self.samples if self.samples.ndim == 1 else self.samples[:, channel]
        return np.array(one[start:stop], float)


def seconds(length_s: float, rate: int = RATE) -> Floats:
    """Return the time of each sample, in seconds."""
    return np.arange(round(length_s * rate)) / rate


def noise(length_s: float, rms: float, *, rate: int = RATE, seed: int = 0) -> Floats:
    """Return white noise of a level."""
    return np.random.default_rng(seed).normal(0, rms, round(length_s * rate))


def with_noise(samples: Floats, snr_db: float, *, seed: int = 0) -> Floats:
    """Add white noise that lies so many decibels below the samples without their mean."""
    rms = float(np.std(samples)) * 10 ** (-snr_db / 20)
    return samples + np.random.default_rng(seed).normal(0, rms, len(samples))


def check_of(kind: str, sounds: dict[str, Sound], **keys: Any) -> tuple[Check, Bench]:
    """Return a check of recordings and the bench that plays them.

    ``sounds`` is keyed by side, or by side and a control's position: ``as_left``, ``as_left@5``.
    """
    takes = tuple(Take(side.partition("@")[0], side, side.partition("@")[2]) for side in sounds)
    check = Check("c", "A check", kind, takes=takes, limit=keys.pop("limit", None), keys=keys)
    rule = DecisionRule.GUARDED
    return check, Bench(rule, checks={"c": check}, open=opened(sounds))


def opened(sounds: dict[str, Sound]) -> Callable[[str], Sound | NotHad]:
    """Return what opens recordings that are held in memory."""
    return lambda file: sounds.get(file) or NotHad(f"{file} is not there")


def write_sound(path: Path, samples: Floats, *, rate: int = RATE, subtype: str | None = None) -> Path:
    """Write samples as a recording; its format is that of the name."""
    import soundfile  # noqa: PLC0415  # only where a file is needed

    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, samples, rate, subtype=subtype)
    return path
