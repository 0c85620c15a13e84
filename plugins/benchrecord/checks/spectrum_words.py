"""How a spectrum is told: for a client, and what to do at the bench."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.checks.spectrum_limits import REJECTIONS, target_of
from benchrecord.checks.spectrum_takes import AT_MOST, MAIN, NOISE, PRODUCT, SINE, expected
from benchrecord.checks.tone_warnings import MISREAD
from benchrecord.checks.wording import NOT_YET, change, not_left
from benchrecord.model.findings import Item, Results, Side, Value, Verdict, is_in_doubt
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import dimension

SAYS = {
    "thd_percent": "its harmonics come to {} of the fundamental",
    "duty_percent": "the pulse stays high for {} of its period",
    "rise_percent": "the wave rises for {} of its period",
    "slope_db_per_octave": "the density of the noise changes by {} an octave",
    "fundamental_hz": "the tone runs at {}",
    "carrier_rejection_db": "the inputs lie below their product by {}",
}
ACROSS = {  # the same at several positions of a control
    "thd_percent": "the distortion is {}",
    "duty_percent": "the part of its period for which the pulse stays high is {}",
    "rise_percent": "the part of its period for which the wave rises is {}",
    "slope_db_per_octave": "the change of the density in an octave is {}",
}
HIDES = "hides"
MEASURE_AGAIN = (
    "Its frequency is a multiple or a fraction of the nominal one: look which octave it plays, and measure it again."
)
EACH_SHOWN = 5  # positions of a control that a sentence can hold
EVEN_DB = -6.0  # of all distortion: from here on the even harmonics are most of it


def main_result(check: Check) -> str:
    """Return the name of the result that a check is about."""
    pitch = check.limit is not None and dimension(check.limit.unit) in ("cents", "Hz")
    return (
        "fundamental_hz"
        if pitch and expected(check) not in (NOISE, PRODUCT)
        else MAIN.get(expected(check), "carrier_rejection_db")
    )


def plain(check: Check, found: Side | None, left: Side | None) -> str:
    """Say for a client what is heard: ``As left, the pulse stays high for 50.10 % of its period; as found it was 37.20 %``."""
    if not found and not left:
        return NOT_YET
    before, now = (_told(check, side) for side in (found, left))
    if not before and not now:
        reasons = (reason for side in (left, found) if side for reason in (side.reason, *_reasons(check, side)) if reason)
        return f"Not worked out: {next(reasons, 'nothing could be heard')}."
    name = main_result(check)
    across = ACROSS if (left or found or Side(Verdict.NOT_MEASURED)).items else {}
    what = across.get(name, SAYS[name]).format(now or before)
    if now:
        then = f"; as found it was {before}" if before else ""
        return f"As left, {what}{then}."
    return f"As found, {what}; {not_left(left)}."


def _told(check: Check, side: Side | None) -> str:
    """Return the result in words, or that of every position; empty where there is none."""
    if side is None:
        return ""
    if not side.items:
        slope = side.results.get("slope_db_per_octave", Value(None)) if expected(check) == NOISE else Value(None)
        return change(slope) if slope.value is not None else _number(check, side.results)
    known = [(i.item, number) for i in side.items if (number := _number(check, i.results))]
    if len(known) > EACH_SHOWN:
        known = [known[0], known[-1]]
    parts = [f"{number} at {at}" for at, number in known]
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _number(check: Check, results: Results) -> str:
    if expected(check) == PRODUCT:
        known = {name: results.get(key, Value(None)) for name, key in REJECTIONS.items()}
        parts = [f"{_below(value)} ({name})" for name, value in known.items() if value.value is not None or value.reason]
        return " and ".join(parts) if any(value.value is not None or HIDES in value.reason for value in known.values()) else ""
    value, most = results.get(main_result(check), Value(None)), results.get(AT_MOST)
    if value.value is None and most and main_result(check) == "thd_percent":
        return f"{shown(most)} at most"
    return shown(value, sign=value.unit == "dB") if value.value is not None else ""


def _below(value: Value) -> str:
    """Write a rejection as how far something lies below, or that noise hides it."""
    if isinstance(value.value, float):
        return shown(Value(-value.value, "dB", value.uncertainty, 1))
    return f"more than can be heard, {value.reason}"


def _reasons(check: Check, side: Side) -> list[str]:
    name = main_result(check)
    return [r[name].reason for r in (side.results, *(i.results for i in side.items)) if name in r]


def advice(check: Check, side: Side | None) -> str:
    """Say what to turn, where something is out of its limit or too close to it; nothing where the recording is in doubt."""
    if side is None or side.verdict not in (Verdict.OUT, Verdict.TOO_CLOSE):
        return ""
    worst = next((i for i in side.items if i.verdict is side.verdict), side)
    if any(warning.code == MISREAD for warning in worst.warnings):
        return MEASURE_AGAIN
    if is_in_doubt(side, main_result(check)):
        return ""
    results = worst.results
    if main_result(check) == "fundamental_hz":
        off = results["deviation"].value
        return f"It is {'sharp' if isinstance(off, float) and off > 0 else 'flat'}: tune it, after it has warmed up."
    return {SINE: _of_sine, NOISE: _of_noise, PRODUCT: _of_product}.get(expected(check), _of_shape)(check, results)


def _of_shape(check: Check, results: Results) -> str:
    value = results[main_result(check)].value
    much = isinstance(value, float) and value > target_of(check, results)
    if expected(check) == "pulse":
        return f"The pulse is too {'wide' if much else 'narrow'}: set its width again, and look whether the comparator's threshold has moved."
    return (
        f"It rises for too {'long' if much else 'short'} a part of its period: set the symmetry again; if the trim does not reach, compare"
        " the currents that charge and discharge the capacitor."
    )


def _of_sine(_check: Check, results: Results) -> str:
    even, distortion = results["even_harmonics_db"].value, results["thd_percent"].value
    if not isinstance(distortion, float):
        return ""
    share = 10 ** (even / 10) / (distortion / 100) ** 2 if isinstance(even, float) and distortion else 0.0
    if share > 10 ** (EVEN_DB / 10):
        return "Much of the distortion is even harmonics: set the symmetry of the shaper, and of the triangle that feeds it, first."
    return "The distortion is odd harmonics: set how hard the shaper is driven."


def _of_noise(check: Check, results: Results) -> str:
    slope = results["slope_db_per_octave"].value
    bright = isinstance(slope, float) and slope > target_of(check, results)
    return f"The noise is too {'bright' if bright else 'dark'}: look at the capacitors and the setting of the filter that colours it."


def _of_product(_check: Check, results: Results) -> str:
    levels = {name: results[key].value for name, key in REJECTIONS.items()}
    known = {name: level for name, level in levels.items() if isinstance(level, float)}
    worse = max(known, key=lambda name: known[name]) if known else "carrier"
    return (
        f"The {worse} comes through most: null it with that input alone connected, then the other one, and go round until both stay."
        " Null at the temperature at which it will be played."
    )


def positions(items: Sequence[Item]) -> list[tuple[float, Item]] | None:
    """Return items with the position of their control as a number; None where one is no number."""
    try:
        return sorted(((float(item.item.replace(",", ".")), item) for item in items), key=lambda one: one[0])
    except ValueError:
        return None
