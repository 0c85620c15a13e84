"""What a check hears of a recording."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.checks.recordings import Heard, listen, lossy_words, settings_of, takes_of
from benchrecord.intake.sound_file import FileSound, read_recording
from benchrecord.model.job import Check, DecisionRule, Take
from sounds import RATE, MemorySound, check_of, noise, seconds

TONE = np.sin(2 * np.pi * 440 * seconds(2.0))
KEYS: dict[str, dict[str, Any]] = {
    "spectrum": {"expect": "noise"},
    "tracking": {"steps": (0.0, 1.0)},
    "response": {"sweep_hz": (20.0, 20_000.0), "sweep_s": 9.0},
}
BOTH = np.column_stack([0.2 * TONE, 0.6 * TONE])


def heard(samples: Any = BOTH, **keys: Any) -> Heard | NotHad:
    check, bench = check_of("spectrum", {"as_left": MemorySound(samples)}, **keys)
    return listen(check, bench, check.takes[0])


def words(**keys: Any) -> str:
    found = heard(**keys)
    return found.words if isinstance(found, Heard) else found.reason


def test_what_was_analysed_is_told_by_channel_and_seconds() -> None:
    assert words() == "right channel (the louder; both hold the same sound), 0.00 s to 2.00 s of 2.00 s"
    assert words(channel="left", from_s=0.5, to_s=1.5) == "left channel, 0.50 s to 1.50 s of 2.00 s"
    assert words(samples=TONE) == "0.00 s to 2.00 s of 2.00 s"
    assert words(samples=np.column_stack([TONE] * 3), channel="3") == "channel 3, 0.00 s to 2.00 s of 2.00 s"


def test_a_stretch_or_a_channel_that_is_not_there_is_told() -> None:
    assert words(from_s=3) == "the recording ends after 2.00 s, before the stretch that is asked for"
    assert words(from_s=1, to_s=0.5) == "the recording ends after 2.00 s, before the stretch that is asked for"
    assert words(samples=TONE, channel="right") == "the recording has 1 channel, not the one asked for"
    assert words(samples=np.array([0.0, math.nan])) == "the recording holds values that are no numbers"


def test_no_more_is_held_than_asked_for_and_blocks_go_to_the_end() -> None:
    check, bench = check_of("decay", {"as_left": MemorySound(TONE)})
    found = listen(check, bench, check.takes[0], longest_s=0.5)
    assert isinstance(found, Heard)
    assert (found.seconds, found.words) == (0.5, "0.00 s to 0.50 s of 2.00 s")
    assert [len(b) for b in found.blocks(0.75)] == [36_000, 36_000, 24_000]


def test_blocks_are_taken_from_what_is_held_where_they_lie_in_it() -> None:
    """What was read first is told from what is read now by its sign."""
    check, bench = check_of("decay", {"as_left": MemorySound(TONE)})
    found = listen(check, bench, check.takes[0], longest_s=1.2)
    assert isinstance(found, Heard)
    other = replace(found, sound=MemorySound(-TONE))
    blocks = list(other.blocks(0.5))
    assert [len(b) for b in blocks] == [24_000] * 4
    assert np.array_equal(np.concatenate(blocks), np.concatenate([TONE[:48_000], -TONE[48_000:]]))


def test_a_recording_that_cannot_be_opened_has_a_reason() -> None:
    check, bench = check_of("spectrum", {"as_left": MemorySound(TONE)})
    assert listen(check, bench, Take("as_left", "gone.wav")) == NotHad("gone.wav is not there")
    assert listen(check, Bench(DecisionRule.SIMPLE), check.takes[0]) == NotHad("as_left was not read")


@pytest.mark.parametrize("kind", ["spectrum", "envelope", "decay", "tracking", "response"])
def test_damage_in_the_middle_is_told_by_every_kind(tmp_path: Path, kind: str) -> None:
    """A head and an end that are whole say nothing of what lies between."""
    recording = tmp_path / "as_left.flac"
    soundfile.write(recording, noise(12.0, 0.1), RATE)
    content = bytearray(recording.read_bytes())
    content[len(content) // 4 : len(content) // 4 + 3000] = bytes(range(250)) * 12
    recording.write_bytes(content)
    facts, wrong = read_recording(tmp_path, recording.name)
    assert facts
    assert not wrong
    check, bench = check_of(kind, {"as_left": FileSound(recording, facts.rate, facts.frames, 1)}, **KEYS.get(kind, {}))
    told = re.search(r"the recording is damaged between (\S+) s and (\S+) s", repr(all_kinds()[kind].examine(check, bench)))
    assert told
    assert float(told[1]) <= 3.0 <= float(told[2])


class DamagedSound(MemorySound):
    """A recording that nothing can be read of after 65 s."""

    def read(self, start: int, stop: int, channel: int) -> Floats:
        return super().read(start, min(stop, 65 * self.rate), channel)


def test_a_contour_that_is_damaged_behind_what_is_held_is_told() -> None:
    t = seconds(70, 2000)
    check, bench = check_of("envelope", {"as_left": DamagedSound(np.sin(2 * np.pi * 100 * t) * (t % 2 < 1), 2000)})
    found = all_kinds()["envelope"].examine(check, bench).left
    assert found
    assert found.reason == "the recording is damaged between 65.00 s and 70.00 s"


def test_positions_of_a_control_come_in_their_order() -> None:
    takes = (Take("as_left", "a", "10"), Take("as_found", "b", "0"), Take("as_left", "c", "0"), Take("as_left", "d"))
    check = Check("c", "C", "spectrum", takes=takes)
    assert settings_of(check) == ("10", "0")
    assert [t.file for t in takes_of(check, "as_left")] == ["a", "c"]
    assert [t.file for t in takes_of(Check("c", "C", "spectrum", takes=takes[3:]), "as_left")] == ["d"]


@pytest.mark.parametrize("lossy", [True, False])
def test_a_lossy_recording_is_named(lossy: bool) -> None:  # noqa: FBT001  # a case
    take = Take("as_left", "recordings/a.ogg")
    bench = Bench(DecisionRule.SIMPLE, lossy=frozenset({take.file} if lossy else ()))
    assert lossy_words(bench, take, take).endswith("faint: a.ogg.") is lossy
