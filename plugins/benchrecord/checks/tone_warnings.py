"""What is doubtful about a tone and its recording, as warnings that every kind that reads tones gives alike."""

from __future__ import annotations

import math

from benchrecord.bench.estimate import STANDS_OUT
from benchrecord.bench.fast_wander import fast_wander
from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import undertone
from benchrecord.bench.misreading import times_of
from benchrecord.bench.recording_faults import clipping, hum
from benchrecord.bench.tones import Tone
from benchrecord.checks.recordings import warnings_if
from benchrecord.model.findings import ALL_RESULTS, ResultWarning, Value
from benchrecord.model.numbers import roughly, shown

Warnings = tuple[ResultWarning, ...]
OF_HARMONICS = ("thd_percent", "even_harmonics_db", "rise_percent", "duty_percent")
INHARMONIC_SHARE = 5e-5  # of the frequency: a tenth of a cent
MISREAD = "harmonic-misread"
OCTAVE = 2
WEAK = 0.01  # of the strongest harmonic's power: 20 dB


def of_recording(samples: Floats, tone: Tone) -> Warnings:
    """Warn of clipping and of hum, which do not move a frequency."""
    period = tone.rate / tone.hz.value
    return (
        *warnings_if("clipped", clipping(samples, period=period)),
        *warnings_if("hum", hum(samples, tone.rate, harmonics_of_hz=tone.hz.value)),
    )


def too_fast(samples: Floats, tone: Tone, *affects: str) -> Warnings:
    """Warn of a pitch that moves faster than the wander that is read."""
    found = fast_wander(samples, tone)
    if found is None:
        return ()
    often = f"about {roughly(found.rate_hz)} times a second, by {roughly(found.rms_cents)} cents (rms)"
    words = f"Its pitch also moves {often}: wander is read up to {roughly(found.band_hz)} Hz, without that."
    return warnings_if("fast-wander", words, *affects)


def inharmonic(tone: Tone, *affects: str) -> Warnings:
    """Warn of partials that are no whole multiples: such a tone has no single frequency, or another tone sounds with it."""
    if abs(tone.apart_hz) >= INHARMONIC_SHARE * tone.hz.value:
        own = shown(Value(tone.hz.value + tone.apart_hz, "Hz", tone.hz.expanded))
        message = f"Its partials are no whole multiples of the lowest, {own}: it has no single frequency."
        return warnings_if("inharmonic", message, *(affects or (ALL_RESULTS,)))
    if not tone.partial:
        return ()
    hz = tone.partial * tone.hz.value + tone.partial_offset_hz
    message = f"Its partial at {hz:.6g} Hz is {hz / tone.hz.value:.5g} times the lowest, no whole multiple: it is left out of the harmonics."
    return warnings_if("inharmonic", message, *OF_HARMONICS)


def weak_fundamental(tone: Tone, *affects: str) -> Warnings:
    """Warn of a fundamental far below its strongest harmonic, as of a tone an octave lower that leaks in, or one that is not there."""
    power = [abs(complex(c)) ** 2 for c in tone.harmonics[: tone.below()]]
    strongest = max(range(len(power)), key=power.__getitem__, default=0)
    if not power or power[0] >= WEAK * power[strongest]:
        return ()
    if power[0] <= STANDS_OUT * float(tone.variance[0]):
        words = f"Its fundamental of {tone.hz.value:.5g} Hz is not in the recording: its harmonics give it."
    else:
        below = 10 * math.log10(power[strongest] / power[0])
        words = f"Its fundamental of {tone.hz.value:.5g} Hz is {below:.0f} dB below its harmonic {strongest + 1}: weak, or another tone."
    return warnings_if("weak-fundamental", words, *affects)


def leaking(samples: Floats, tone: Tone, *affects: str) -> Warnings:
    """Warn of a tone at a whole fraction of the one that was expected, such as an octave below that a divider lets through."""
    found = undertone(samples, tone.rate, tone.hz.value)
    if found is None:
        return ()
    where = "an octave below" if found.part == OCTAVE else f"at 1/{found.part} of it"
    words = f"A tone of {found.hz:.5g} Hz, {where}, leaks in {-found.level_db:.1f} dB below the {tone.hz.value:.5g} Hz that are expected."
    return warnings_if("leaking-undertone", words, *affects)


def misread(hz: float, nominal_hz: float | None, *affects: str) -> Warnings:
    """Warn of a reading that is a multiple or a fraction of the nominal frequency."""
    times = times_of(hz, nominal_hz) if nominal_hz else ""
    message = (
        f"{hz:.5g} Hz is {times} the nominal {nominal_hz:.5g} Hz: another octave, or a harmonic read for the fundamental."
        if times
        else ""
    )
    return warnings_if(MISREAD, message, *(affects or (ALL_RESULTS,)), of_measurement=True)
