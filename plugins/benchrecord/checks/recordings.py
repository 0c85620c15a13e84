"""What a check hears: which recording, which channel, from which second to which."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import DamagedError, Sound, all_numbers, blocks, stretch
from benchrecord.checks.channels import ANY_SOUND, Choice, Target, channel_name, choose_channel
from benchrecord.checks.kind import Bench
from benchrecord.model.findings import ResultWarning
from benchrecord.model.job import Check, Take

LONGEST_S = 60.0  # held at once; more than a minute tells no more of a steady sound
NO_NUMBERS = "the recording holds values that are no numbers"
NAMED = {"left": 0, "right": 1}

Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Heard:
    """A stretch of a recording: ``samples`` (n,) of one channel where full scale is 1, ``rate`` in frames a second.

    ``why`` says why this channel was chosen, ``warnings`` what is doubtful about the choice; both are empty where there was none.
    """

    samples: Floats
    rate: int
    sound: Sound
    channel: int
    start: int  # frames
    stop: int
    why: str = ""
    warnings: tuple[ResultWarning, ...] = ()

    @property
    def seconds(self) -> float:
        """How long the stretch is."""
        return len(self.samples) / self.rate

    @property
    def channel_words(self) -> str:
        """Which channel was analysed and why: ``left channel (the louder one)``; empty where there is only one."""
        if self.sound.channels == 1:
            return ""
        return f"{channel_name(self.channel, self.sound.channels)}{f' ({self.why})' if self.why else ''}"

    @property
    def words(self) -> str:
        """What was analysed: ``left channel (the louder one), 0.10 s to 12.40 s of 30.00 s``."""
        name = f"{self.channel_words}, " if self.channel_words else ""
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


def listen(
    check: Check, bench: Bench, take: Take, *, target: Target = ANY_SOUND, longest_s: float = LONGEST_S
) -> Heard | NotHad:
    """Return what a check hears of a recording: of its key ``channel``, else of the one that holds the target best.

    It goes from ``from_s`` to ``to_s``, else from end to end; ``samples`` holds no more than ``longest_s`` of it.
    """
    return unless_damaged(lambda: _listen(check, bench, take, target=target, longest_s=longest_s))


def unless_damaged(hear: Callable[[], Made]) -> Made | NotHad:
    """Return what is heard of a recording, or where it is damaged: in the middle of a file that shows only when it is read."""
    try:
        return hear()
    except DamagedError as damage:
        return NotHad(str(damage))


def _listen(check: Check, bench: Bench, take: Take, *, target: Target, longest_s: float) -> Heard | NotHad:
    sound = bench.open(take.file)
    if isinstance(sound, NotHad):
        return sound
    start, stop = _span(check, sound)
    if start >= stop:
        return NotHad(f"the recording ends after {sound.frames / sound.rate:.2f} s, before the stretch that is asked for")
    choice = _choice(check, sound, start, stop, target=target)
    if choice.channel >= sound.channels:
        return NotHad(f"the recording has {sound.channels} channel{'s' if sound.channels > 1 else ''}, not the one asked for")
    held = stretch(sound, start, min(stop, start + round(longest_s * sound.rate)), choice.channel)
    if not all_numbers(held):
        return NotHad(NO_NUMBERS)
    return Heard(held, sound.rate, sound, choice.channel, start, stop, choice.why, choice.warnings)


def _span(check: Check, sound: Sound) -> tuple[int, int]:
    start, end = check.keys.get("from_s"), check.keys.get("to_s")
    last = sound.frames if end is None else min(sound.frames, round(float(end) * sound.rate))
    return round(float(start or 0.0) * sound.rate), last


def _choice(check: Check, sound: Sound, start: int, stop: int, *, target: Target) -> Choice:
    named = str(check.keys.get("channel", ""))
    if named:
        return Choice(NAMED.get(named, 0) if named in NAMED else int(named) - 1)
    return choose_channel(sound, start, stop, target=target)


def warnings_if(code: str, message: str, *affects: str, of_measurement: bool = False) -> tuple[ResultWarning, ...]:
    """Return a warning as a tuple of one; an empty tuple where there is no message."""
    return (ResultWarning(code, message, affects, of_measurement),) if message else ()


def lossy_words(bench: Bench, *takes: Take) -> str:
    """Warn of recordings whose coding leaves something out; empty where there is none."""
    names = [take.file.rpartition("/")[2] for take in takes if take.file in bench.lossy]
    return f"Stored with losses, which can hide what is faint: {', '.join(dict.fromkeys(names))}." if names else ""
