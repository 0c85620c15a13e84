"""Real recordings: notes of a piano, whose strings decay, beat against each other, and have partials that are no whole multiples.

Source: `tests/reference/piano/`. What the second witnesses say was worked out from the same files by other means.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import soundfile

from benchrecord.bench.pitch import cents, note_frequency_hz, note_number
from benchrecord.checks import all_kinds
from benchrecord.intake.sound_file import opener, read_recording
from benchrecord.model.findings import CheckFinding, Side, Value
from reference.published import FOLDER
from sounds import check_of

PIANO = FOLDER / "piano"
NOTES = ("A3", "A4", "C6")


def finding(kind: str, name: str, **keys: Any) -> CheckFinding:
    recording, problem = read_recording(PIANO, f"{name}.ogg")
    assert recording, problem
    sound = opener(PIANO, (recording,))(recording.file)
    assert sound
    check, bench = check_of(kind, {"as_left": sound}, channel="left", **keys)
    return all_kinds()[kind].examine(check, bench)


def left(found: CheckFinding) -> Side:
    assert found.left
    return found.left


def number(value: Value) -> float:
    assert isinstance(value.value, float)
    return value.value


def line_hz(name: str, near_hz: float) -> float:
    """Return the top of the line near a frequency, by numpy alone: two seconds under a Hann window, with noughts added."""
    samples, rate = soundfile.read(PIANO / f"{name}.ogg")
    heard = samples[round(0.3 * rate) : round(2.3 * rate), 0]
    power = np.abs(np.fft.rfft(heard * np.hanning(len(heard)), 2**20)) ** 2
    hz = np.fft.rfftfreq(2**20, 1 / rate)
    near = np.abs(hz - near_hz) < 0.02 * near_hz
    return float(hz[near][np.argmax(power[near])])


@pytest.mark.parametrize("name", NOTES)
def test_a_note_has_the_pitch_of_its_name_and_of_its_strongest_line(name: str) -> None:
    """To 15 cents of equal temperament (A4 is 440 Hz: ISO 16), and to what two seconds can keep apart: half a hertz.

    The strings of a note beat, so that its mean pitch and its strongest line are not the same.
    """
    side = left(finding("spectrum", name, expect="sine", from_s=0.3, to_s=2.3))
    hz = number(side.results["fundamental_hz"])
    assert abs(cents(hz, note_frequency_hz(note_number(name)))) < 15
    assert hz == pytest.approx(line_hz(name, hz), abs=0.5)


def test_partials_that_are_no_whole_multiples_are_told_and_make_the_pitch_less_certain() -> None:
    found = finding("spectrum", "A3", expect="sine", from_s=0.3, to_s=2.3)
    pitch = left(found).results["fundamental_hz"]
    assert pitch.uncertainty
    assert abs(number(pitch) - line_hz("A3", 220)) <= pitch.uncertainty
    assert any("no whole multiples of the lowest, 220.1" in warning.message for _, warning in found.warnings)


def test_a_string_whose_beats_outlast_its_decay_has_no_decay_time() -> None:
    """A straight line through the levels has 2.9 s from 0 to −10 dB and 16.1 s from −5 to −25 dB, each less certain than it is long."""
    results = left(finding("decay", "A4")).results
    for name in ("edt_s", "t20_s"):
        assert results[name].value is None
        assert "is larger than itself" in results[name].reason
