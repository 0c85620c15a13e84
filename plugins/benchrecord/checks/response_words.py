"""How a response is worded: for a client, for a colleague, and how its numbers came about."""

from __future__ import annotations

from collections.abc import Iterator

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.response import BAND_PASS, FLAT, Figure, Response
from benchrecord.bench.self_oscillation import SelfOscillation
from benchrecord.bench.wander import Wander
from benchrecord.checks.response_results import Told, wanted_of
from benchrecord.checks.wording import NOT_YET, not_left
from benchrecord.model.findings import Results, Side, Value
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown

HOW = (
    "Cut-offs are where it has fallen by 3.01 dB from the pass band, slopes least-squares lines from −12 dB to −36 dB"
    " or the lowest reading."
)
KILO = 1000.0


def hz_said(hz: float) -> str:
    """Write a frequency with three digits: ``249 Hz``, ``1.02 kHz``."""
    return f"{hz / KILO:.3g} kHz" if hz >= KILO else f"{hz:.3g} Hz"


def said(results: Results) -> str:
    """Word the results of one side in a few words: ``1.02 kHz, peak 4.1 dB at 950 Hz``."""
    if "frequency_hz" in results:
        return _sings(results)
    passed = _passes(results)
    peak, at = (results.get(name, Value(None)) for name in ("peak_db", "peak_hz"))
    return f"{passed}, peak {shown(peak)} at {hz_said(at.value)}" if isinstance(at.value, float) else passed


def _passes(results: Results) -> str:
    value = results.get("minus_3_db_hz", Value(None)).value
    if isinstance(value, tuple):
        return " to ".join(hz_said(hz) for hz in value)
    return hz_said(value) if isinstance(value, float) else "no cut-off"


def _sings(results: Results) -> str:
    frequency, steady, sine = (results.get(name, Value(None)) for name in ("frequency_hz", "stability_cents", "is_sine"))
    if frequency.value is None:
        return "no oscillation"
    within = f", steady within {shown(steady)}" if steady.value is not None else ""
    shape = "" if sine.value is None else ", a sine" if sine.value else ", no sine"
    return f"{shown(frequency)}{within}{shape}"


def plain(check: Check, found: Side | None, left: Side | None) -> str:
    """Say for a client what it passes: ``The cut-off now lies at 1.02 kHz; it was 730 Hz. Wanted are 1 kHz.``."""
    side = left or found
    if side is None:
        return NOT_YET
    if side.items:
        return _of_settings(check, found, left)
    before, now = (_words(check, s) if s and not s.reason else "" for s in (found, left))
    if not (now or before):
        return f"Not worked out: {next((s.reason for s in (left, found) if s and s.reason), 'nothing was read')}."
    head, then = _heads(check, side if not side.reason else found or side)
    wanted = [
        f"{hz_said(hz)}" for hz in (wanted_of(check).low_hz, wanted_of(check).high_hz, check.keys.get("nominal_hz")) if hz
    ]
    end = f" Wanted {'are' if len(wanted) > 1 else 'is'} {' to '.join(wanted)}." if wanted else ""
    if now:
        return f"{head.format('now ').strip()} {now}{f'; {then} {before}' if before else ''}.{end}"
    return f"As found {head.format('').lower()} {before}; {not_left(left)}.{end}"


def _heads(check: Check, side: Side) -> tuple[str, str]:
    """Return how the sentence on a side starts, and how it goes on to the other."""
    if check.keys.get("oscillation"):
        return "It {}sings by itself at", "it was"
    if isinstance(side.results.get("minus_3_db_hz", Value(None)).value, tuple):
        return "It {}passes", "it was"
    if side.results.get("minus_3_db_hz", Value(None)).value is None:
        return "Within what was read there {}is", "it was"
    return "The cut-off {}lies at", "it was"


def _words(check: Check, side: Side) -> str:
    if check.keys.get("oscillation"):
        return _sings(side.results)
    peak, at = (side.results.get(name, Value(None)) for name in ("peak_db", "peak_hz"))
    with_peak = f", with a peak of {shown(peak)} at {hz_said(at.value)}" if isinstance(at.value, float) else ""
    return f"{_passes(side.results)}{with_peak}"


def _of_settings(check: Check, found: Side | None, left: Side | None) -> str:
    """Tell of each position of a control what it comes to."""
    side, when = (left, "left") if left else (found, "found")
    known = [i for i in side.items if said(i.results) not in ("no cut-off", "no oscillation")] if side else []
    if side is None or not known:
        return f"Not worked out: {side.reason if side and side.reason else 'nothing was read'}."
    control = str(check.keys.get("control") or "its control")
    told = "; ".join(f"at {item.item}: {said(item.results)}" for item in known)
    return f"As {when}, along {control}, {told}."


def based(told: Told | None) -> Iterator[str]:
    """Yield how the numbers and their uncertainty came about, with this check's own figures."""
    if told and told.response:
        yield from _of_response(told.response, len(told.points))
    if told and told.oscillation:
        yield from _of_oscillation(told.oscillation)


def _of_response(response: Response, count: int) -> Iterator[str]:
    band = response.pass_band
    level = shown(Value(band.level_db.value, "dB", 2 * band.level_db.u, 2))
    if band.from_hz == band.to_hz:
        yield f"The band of {count} points is rounded and goes by its top, {level} at {hz_said(band.from_hz)}."
    else:
        octave = f"{hz_said(band.from_hz)} to {hz_said(band.to_hz)}"
        yield f"The pass band is the octave of {count} points whose level is surest, flat and well told, {octave}: {level}."
    for name, cutoff in (("lower", response.minus_3_db_low_hz), ("upper", response.minus_3_db_high_hz)):
        if isinstance(cutoff, Figure):
            u = shown(Value(2 * cutoff.u, "Hz", 2 * cutoff.u))
            yield (
                f"The {name} cut-off, {hz_said(cutoff.value)}, is uncertain by {u} (k = 2): that of the pass band and of the levels beside"
                " it over the slope there, and how far apart they stand."
            )
    if response.shape in (BAND_PASS, FLAT) and not isinstance(response.quality, NotHad) and response.shape == BAND_PASS:
        yield f"Its quality factor is {response.quality:.3g}."


def _band(wander: Wander | NotHad) -> str:
    """Name the rates that are seen: `` from 0.25 to 41 Hz``."""
    return "" if isinstance(wander, NotHad) else f" from {wander.band_hz[0]:.2g} to {wander.band_hz[1]:.2g} Hz"


def _of_oscillation(oscillation: SelfOscillation) -> Iterator[str]:
    hz = oscillation.tone.hz
    yield (
        f"The frequency comes from how the phase moves through the recording and is uncertain by {shown(Value(hz.expanded, 'Hz', hz.expanded))}"
        " (k = 2)."
    )
    if not isinstance(oscillation.stability_cents, NotHad):
        steady = oscillation.stability_cents
        yield (
            f"Its pitch departs from the mean by up to {shown(Value(steady.value, 'cents', steady.expanded))}, known to"
            f" {shown(Value(steady.expanded, 'cents', steady.expanded))} (k = 2), at rates{_band(oscillation.wander)}."
        )
    if not isinstance(oscillation.distortion, NotHad):
        yield "It counts as a sine where its harmonics together are below 5 % (common practice, no source)."
