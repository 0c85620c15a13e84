"""What a check hears: which recording, which channel, from which second to which."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import DamagedError, Sound, all_numbers, blocks, loudest_channel, stretch
from benchrecord.checks.kind import Bench
from benchrecord.model.findings import ResultWarning
from benchrecord.model.job import Check, Take

LONGEST_S = 60.0  # held at once; more than a minute tells no more of a steady sound
NO_NUMBERS = "the recording holds values that are no numbers"
NAMED = {"left": 0, "right": 1}

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Heard:
    """A stretch of a recording: ``samples`` (n,) of one channel where full scale is 1, ``rate`` in frames a second."""

    samples: Floats
    rate: int
    sound: Sound
    channel: int
    start: int  # frames
    stop: int

    @property
    def seconds(self) -> float:
        """How long the stretch is."""
        return len(self.samples) / self.rate

    @property
    def words(self) -> str:
        """What was analysed: ``left channel, 0.10 s to 12.40 s of 30.00 s``."""
        names = ("left channel, ", "right channel, ") if self.sound.channels == 2 else ()  # noqa: PLR2004  # stereo
        name = "" if self.sound.channels == 1 else names[self.channel] if names else f"channel {self.channel + 1}, "
        end = self.start + len(self.samples)
        return f"{name}{self.start / self.rate:.2f} s to {end / self.rate:.2f} s of {self.sound.frames / self.rate:.2f} s"

    def blocks(self, seconds: float) -> Iterator[Floats]:
        """Yield the whole stretch piece by piece, also where it is longer than ``samples``; what is held is not read again."""
        size = max(1, round(seconds * self.rate))
        held = len(self.samples) // size * size
        yield from (self.samples[at : at + size] for at in range(0, held, size))
        yield from blocks(self.sound, self.start + held, self.stop, self.channel, size=size)


def takes_of(check: Check, stage: str) -> tuple[Take, ...]:
    """Return the recordings of one side, in their order; those of a control's positions where there are any."""
    own = [take for take in check.takes if take.stage == stage]
    return tuple([take for take in own if take.at] or own)


def settings_of(check: Check) -> tuple[str, ...]:
    """Return the positions of the control that a check was recorded at, in their order; none where it has no settings."""
    return tuple(dict.fromkeys(take.at for take in check.takes if take.at))


def listen(check: Check, bench: Bench, take: Take, *, longest_s: float = LONGEST_S) -> Heard | NotHad:
    """Return what a check hears of a recording: its key ``channel``, else the louder one; from ``from_s`` to ``to_s``, else all.

    ``samples`` holds no more than ``longest_s`` of it.
    """
    return unless_damaged(lambda: _listen(check, bench, take, longest_s))


def unless_damaged(hear: Callable[[], Made]) -> Made | NotHad:
    """Return what is heard of a recording, or where it is damaged: in the middle of a file that shows only when it is read."""
    try:
        return hear()
    except DamagedError as damage:
        return NotHad(str(damage))


def _listen(check: Check, bench: Bench, take: Take, longest_s: float) -> Heard | NotHad:
    sound = bench.open(take.file)
    if isinstance(sound, NotHad):
        return sound
    start, stop = _span(check, sound)
    if start >= stop:
        return NotHad(f"the recording ends after {sound.frames / sound.rate:.2f} s, before the stretch that is asked for")
    channel = _channel(check, sound, start, stop)
    if channel >= sound.channels:
        return NotHad(f"the recording has {sound.channels} channel{'s' if sound.channels > 1 else ''}, not the one asked for")
    held = stretch(sound, start, min(stop, start + round(longest_s * sound.rate)), channel)
    return Heard(held, sound.rate, sound, channel, start, stop) if all_numbers(held) else NotHad(NO_NUMBERS)


def _span(check: Check, sound: Sound) -> tuple[int, int]:
    start, end = check.keys.get("from_s"), check.keys.get("to_s")
    last = sound.frames if end is None else min(sound.frames, round(float(end) * sound.rate))
    return round(float(start or 0.0) * sound.rate), last


def _channel(check: Check, sound: Sound, start: int, stop: int) -> int:
    wanted = str(check.keys.get("channel", ""))
    if not wanted:
        return loudest_channel(sound, start, stop)
    return NAMED.get(wanted, 0) if wanted in NAMED else int(wanted) - 1


def warnings_if(code: str, message: str, *affects: str) -> tuple[ResultWarning, ...]:
    """Return a warning as a tuple of one; an empty tuple where there is no message."""
    return (ResultWarning(code, message, affects),) if message else ()


def lossy_words(bench: Bench, *takes: Take) -> str:
    """Warn of recordings whose coding leaves something out; empty where there is none."""
    names = [take.file.rpartition("/")[2] for take in takes if take.file in bench.lossy]
    return f"Stored with losses, which can hide what is faint: {', '.join(dict.fromkeys(names))}." if names else ""
