"""What recordings of a struck tank come to: the times of each, in all of the sound and in octaves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchrecord.bench.bands import Band
from benchrecord.bench.decay import RANGES, Decay, DecayTime
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import clipping, hum
from benchrecord.bench.strikes import PREDELAY_U, STEP_S
from benchrecord.bench.struck import Struck, Together, in_octaves, struck, together
from benchrecord.checks.channels import RISE_AND_FALL
from benchrecord.checks.kind import Bench
from benchrecord.checks.non_negative import non_negative
from benchrecord.checks.recordings import listen, lossy_words, warnings_if
from benchrecord.model.findings import Item, Results, ResultWarning, Value, Verdict
from benchrecord.model.job import Check, Take
from benchrecord.model.quantity import dimension

NO_STRIKE = "no strike stands out of the noise"
KILO = 1000
TIMES = ("edt_s", "t20_s", "t30_s", "curvature_percent", "t20_error_percent")


@dataclass(frozen=True, slots=True)
class Rung:
    """What one recording tells: its strikes, of which the loudest is drawn and split into bands.

    ``words`` say what was heard of it, from second ``start_s`` on.
    """

    words: str
    start_s: float
    strikes: tuple[Struck, ...]
    octaves: tuple[tuple[Band, Decay | NotHad], ...]
    warnings: tuple[ResultWarning, ...] = ()  # what is wrong with the recording

    @property
    def loudest(self) -> Struck:
        """The loudest strike."""
        return max(self.strikes, key=lambda one: one.loudest)

    def time(self, name: str) -> Together | NotHad:
        """Return one of the times, the mean of all strikes."""
        own = [one.decay if isinstance(one.decay, NotHad) else time_of(one.decay, name) for one in self.strikes]
        return together(own)


def time_of(decay: Decay, name: str) -> DecayTime | NotHad:
    """Return one of the times of a decay: edt, t20 or t30."""
    return {"edt": decay.edt, "t20": decay.t20, "t30": decay.t30}[name]


def rung_of(check: Check, bench: Bench, take: Take) -> Rung | NotHad:
    """Listen to a recording, find its strikes, and split the loudest into octaves unless the key ``bands`` says no."""
    heard = listen(check, bench, take, target=RISE_AND_FALL)
    if isinstance(heard, NotHad):
        return heard
    strikes = struck(heard.samples, heard.rate)
    if not strikes:
        return NotHad(NO_STRIKE)
    warnings = (
        *heard.warnings,
        *warnings_if("clipped", clipping(heard.samples), *TIMES, of_measurement=True),
        *warnings_if("hum", hum(heard.samples, heard.rate)),
        *warnings_if("lossy-coding", lossy_words(bench, take), *TIMES),
    )
    rung = Rung(heard.words, heard.start / heard.rate, strikes, (), warnings)
    wanted = check.keys.get("bands") is not False
    first, last = (round(s * heard.rate) for s in (rung.loudest.start_s, rung.loudest.stop_s))
    return replace(rung, octaves=in_octaves(heard.samples[first:last], heard.rate)) if wanted else rung


def results_of(check: Check, rung: Rung) -> Results:
    """Return all results of one recording."""
    times = {f"{name}_s": value_of(rung.time(name)) for name in RANGES}
    decay, t20 = rung.loudest.decay, times["t20_s"]
    wanted = check.keys.get("wanted_s")
    off = None if not wanted or not isinstance(t20.value, float) else 100 * (t20.value / wanted - 1)
    off_u = 100 * (t20.uncertainty or 0.0) / wanted if wanted else None
    return {
        "predelay_s": _predelay(check, rung),
        **times,
        "curvature_percent": _curvature(decay),
        "floor_db": Value(None, "dB", reason=decay.reason)
        if isinstance(decay, NotHad)
        else Value(decay.floor_db, "dB", None, 0),
        "strikes": Value(len(rung.strikes)),
        **({"t20_error_percent": Value(off, "%", off_u, None, t20.reason)} if wanted else {}),
        "expanded_uncertainty": Value(t20.uncertainty, "s", None, None, t20.reason),
    }


def value_of(time: Together | NotHad | DecayTime) -> Value:
    """Return a time with its expanded uncertainty; a reason where that is larger than the time itself."""
    if isinstance(time, NotHad):
        return Value(None, "s", reason=time.reason)
    return non_negative(Value(time.seconds, "s", 2 * time.seconds_u, 3), bounded=False)


def _curvature(decay: Decay | NotHad) -> Value:
    bent = decay if isinstance(decay, NotHad) else decay.curvature_percent
    if isinstance(bent, NotHad) or isinstance(decay, NotHad):
        return Value(None, "%", reason=bent.reason if isinstance(bent, NotHad) else "")
    return Value(bent, "%", 2 * decay.curvature_u)


def _predelay(check: Check, rung: Rung) -> Value:
    """Return how long the loudest strike takes until it sounds: from its click, or from the second that it is known to fall at."""
    at = check.keys.get("struck_s")
    if at is None:
        known = rung.loudest.predelay_s
        return (
            Value(None, "s", reason=known.reason) if isinstance(known, NotHad) else Value(known.value, "s", known.expanded, 4)
        )
    waited = [one.start_s + rung.start_s - float(at) for one in rung.strikes]
    after = min((s for s in waited if s >= 0), default=None)
    return Value(after, "s", 2 * PREDELAY_U * STEP_S, 4, "" if after is not None else f"no strike sounds after {at:g} s")


def band_item(band: Band, decay: Decay | NotHad) -> Item:
    """Return what an octave tells, for information."""
    results = {f"{name}_s": value_of(decay if isinstance(decay, NotHad) else time_of(decay, name)) for name in RANGES}
    return Item(f"{hz_said(band.nominal_hz)} octave", Verdict.INFORMATION, {**results, "curvature_percent": _curvature(decay)})


def hz_said(hz: float) -> str:
    """Write a frequency: ``250 Hz``, ``4 kHz``."""
    return f"{hz / KILO:g} kHz" if hz >= KILO else f"{hz:g} Hz"


def limits_of(check: Check) -> tuple[float | None, float | None]:
    """Return the decay times that are allowed: the limit about the one wanted; none where either is missing."""
    wanted, limit = check.keys.get("wanted_s"), check.limit
    if limit is None or wanted is None:
        return None, None
    width = limit.in_base() if dimension(limit.unit) != "%" else limit.in_base() * wanted / 100
    return wanted - abs(width), wanted + abs(width)


def bare(value: Value) -> Value:
    """Return a value without its unit, for a table whose head has it."""
    return Value(value.value, "", value.uncertainty, value.decimals, value.reason)
