"""Pitch: notes, cents, volts per octave."""

from __future__ import annotations

import math
import re

A4_NOTE, SEMITONES, CENTS_PER_OCTAVE = 69, 12, 1200
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_NAME = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d+)")


def cents(hz: float, reference_hz: float) -> float:
    """Return the interval from a reference in cents: 1200·log2(f/f_ref)."""
    return CENTS_PER_OCTAVE * math.log2(hz / reference_hz)


def note_frequency_hz(note: float, a4_hz: float = 440.0) -> float:
    """Return the frequency of a note number (69 is A4): a4·2^((n − 69)/12). Source: ISO 16 (from memory) for 440 Hz."""
    return float(a4_hz * 2 ** ((note - A4_NOTE) / SEMITONES))


def note_number(name: str, middle_c_octave: int = 4) -> int:
    """Return the number of a note such as ``C4`` (60), ``F#3`` or ``Bb2``.

    Two ways of counting octaves are in use (common practice); ``middle_c_octave`` chooses.

    Raises
    ------
    ValueError
        Where the text is no note.

    """
    match = _NAME.fullmatch(name.strip())
    if not match:
        raise ValueError(f"{name} is no note: write one like C4 or F#3")
    accidental = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[match[2]]
    return 60 + SEMITONES * (int(match[3]) - middle_c_octave) + _STEPS[match[1].upper()] + accidental


def frequency_at_volts(volts: float, zero_volts_hz: float, volts_per_octave: float = 1.0) -> float:
    """Return the frequency of an ideal exponential oscillator: f0·2^(V/scale)."""
    return float(zero_volts_hz * 2 ** (volts / volts_per_octave))


def linear_frequency_hz(volts: float, hertz_per_volt: float) -> float:
    """Return the frequency of an ideal linear oscillator: k·V."""
    return hertz_per_volt * volts


def offset_cents(volts: float, offset_mv: float) -> float:
    """Return the pitch error that an offset brings to a linear oscillator at a voltage: 1200·log2((V + ΔV)/V)."""
    return cents(volts + offset_mv / 1000, volts)


def beats_hz(hz: float, other_hz: float) -> float:
    """Return how often two tones beat in a second."""
    return abs(hz - other_hz)
