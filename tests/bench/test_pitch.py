"""Topic 02: pitch. Class derived, f = 440·2^((n − 69)/12) and its like; 440 Hz from ISO 16 (memory); octave names practice."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import pitch as p
from benchrecord.bench.tracking import Tracking, exponential_tracking, linear_tracking
from reference.published import checks, rows

CHECKS = checks("02")
C4 = 261.6255653006
# Two frequencies stand rounded in the rows' names and unrounded in their values.
EXACT = {"261.626": C4, "466.164": 440 * 2 ** (1 / 12)}


def pair() -> Tracking:
    fit = exponential_tracking([0.0, 2.0], [C4, 1048.0])
    assert isinstance(fit, Tracking)
    return fit


def linear_semitone() -> float:
    fit = linear_tracking([1.0, 2 ** (1 / 12)], [p.note_frequency_hz(60), p.note_frequency_hz(61)], nominal_hertz_per_volt=C4)
    assert fit
    return p.note_frequency_hz(61) / fit.hertz_per_volt  # type: ignore[union-attr]


SINGLE: dict[str, Callable[[], float]] = {
    "a4": lambda: p.note_frequency_hz(p.note_number("A4")),
    "scale-error": lambda: pair().worst_signed_cents,
    "scale-error-per-oct": lambda: pair().errors_cents[1] / pair().octaves[1],
    "tracking-slope": lambda: 1 / pair().volts_per_octave,
    "hzv-semitone": linear_semitone,
    "hzv-offset": lambda: p.offset_cents(1.0, 5.0),
    "beat": lambda: p.beats_hz(440.0, 442.0),
}
# One semitone and one cent as the voltage that moves an ideal oscillator by as much.
SINGLE["semitone-mv"] = lambda: 1000 * 100 / p.cents(p.frequency_at_volts(1.0, C4), C4)
SINGLE["cent-mv"] = lambda: 1000 / p.cents(p.frequency_at_volts(1.0, C4), C4)


def computed(identity: str) -> float:
    if identity in SINGLE:
        return SINGLE[identity]()
    kind, rest = identity.split("-", 1)
    if kind == "midi":
        return p.note_frequency_hz(int(rest))
    if kind == "cents":
        hz, reference = re.findall(r"[\d.]+", rest)
        return p.cents(EXACT.get(hz, float(hz)), EXACT.get(reference, float(reference)))
    if kind == "voct":
        return p.frequency_at_volts(1 / 12 if rest == "0.0833333" else float(rest), C4)
    return p.linear_frequency_hz(float(rest), 110.0)


NUMBERS = {i: r for i, r in CHECKS.items() if i != "name-octave"}


@pytest.mark.parametrize("row", NUMBERS.values(), ids=NUMBERS)
def test_published(row: dict[str, str]) -> None:
    assert computed(row["id"]) == pytest.approx(float(row["value"]), rel=1e-9, abs=2e-9)


def test_where_middle_c_is_called_c4_or_c3() -> None:
    assert CHECKS["name-octave"]["class"] == "practice"
    assert p.note_number("C4") == p.note_number("C3", middle_c_octave=3) == 60


@pytest.mark.parametrize("row", rows("02-pitch.csv"), ids=lambda r: r["name_C4_is_60"])
def test_note_table(row: dict[str, str]) -> None:
    note = int(row["midi_note"])
    assert p.note_number(row["name_C4_is_60"]) == note
    assert p.note_frequency_hz(note) == pytest.approx(float(row["hz"]), abs=6e-10, rel=1e-10)
    volts = float(row["volt_at_1V_per_octave_C4_is_0V"])
    assert p.frequency_at_volts(volts, C4) == pytest.approx(float(row["hz"]), rel=1e-9)


def test_flats_and_small_letters() -> None:
    assert p.note_number("Bb2") == p.note_number("a#2") == 46
    assert p.note_number("Cb4") == 59


@pytest.mark.parametrize("text", ["", "H4", "C", "4", "C##4", "C4.5"])
def test_what_is_no_note(text: str) -> None:
    with pytest.raises(ValueError, match="is no note"):
        p.note_number(text)


@given(st.floats(-5, 5), st.floats(0.2, 2.0))
def test_cents_undo_the_scale(volts: float, scale: float) -> None:
    assert p.cents(p.frequency_at_volts(volts, C4, scale), C4) == pytest.approx(1200 * volts / scale, abs=1e-8)
