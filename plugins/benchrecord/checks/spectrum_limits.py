"""What the limit of a spectrum is held against: by what is expected to be heard, and by the unit of the limit."""

from __future__ import annotations

from dataclasses import dataclass

from benchrecord.bench.conformity import verdict
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, cents
from benchrecord.checks.kind import Bench
from benchrecord.checks.spectrum_takes import AT_MOST, MAIN, NOISE, PRODUCT, SINE, Told, expected
from benchrecord.model.findings import Results, Value, Verdict
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import dimension

FULL = 100.0  # percent
TARGETS = {"pulse": 50.0, "triangle": 50.0, NOISE: 0.0}
REJECTIONS = {"carrier": "carrier_rejection_db", "signal": "signal_rejection_db"}
LN_2 = 0.6931471805599453


@dataclass(frozen=True, slots=True)
class Held:
    """What is held against the limit: ``value`` between ``low`` and ``high``, as ``words`` tell it, and the ``result`` it is about.

    ``hidden`` says that noise hides it: it is no higher than the value.
    """

    value: Value
    low: float | None
    high: float | None
    words: str
    result: str
    hidden: bool = False

    @property
    def number(self) -> float | None:
        """The value as a number; None where it could not be had."""
        return self.value.value if isinstance(self.value.value, float) else None

    def concluded(self, bench: Bench) -> Verdict:
        """Hold it against the limit; what noise hides is within it where even the noise is, and too close to call else."""
        if self.number is None:
            return Verdict.NOT_MEASURED
        if self.hidden and self.high is not None:
            return Verdict.IN if self.number <= self.high else Verdict.TOO_CLOSE
        return Verdict(verdict(self.number, self.value.uncertainty, self.low, self.high, rule=bench.rule.value))


def held(check: Check, told: Told) -> Held | str:
    """Return what the check's limit is held against, or why it is held against nothing; empty where there is no limit."""
    if check.limit is None:
        return ""
    unused = unused_limit(check)
    if unused:
        return f"The limit {check.limit_text} is held against nothing; needed: {unused}."
    expect, limit, unit = expected(check), check.limit.in_base(), _unit(check)
    if expect == PRODUCT:
        return _worse(told, limit)
    if unit in ("cents", "Hz"):
        return _off_pitch(check, told.results, abs(limit), unit)
    return _most(told, limit) if expect == SINE else _away(check, told.results, abs(limit))


def unused_limit(check: Check) -> str:
    """Say what limit is needed where nothing is held against the one that is given; empty where something is."""
    if check.limit is None:
        return ""
    expect, unit = expected(check), _unit(check)
    if expect in (PRODUCT, NOISE):
        quantity = "the rejection of a product" if expect == PRODUCT else "the slope of noise"
        return "" if unit == "dB" else f"a limit in dB, of {quantity}"
    if unit in ("cents", "Hz"):
        return "" if check.keys.get("nominal_hz") else f"nominal_hz, the frequency about which {check.limit_text} are allowed"
    quantity = "distortion" if expect == SINE else "the shape of a wave"
    return "" if unit == "%" else f"a limit in %, of {quantity}, or in cents or Hz, of its pitch"


def _unit(check: Check) -> str:
    """Return what a limit is of: in a plain number that of the result a check is about."""
    of_limit = dimension(check.limit.unit) if check.limit else None
    return of_limit or ("dB" if expected(check) in (NOISE, PRODUCT) else "%")


def _most(told: Told, limit: float) -> Held:
    distortion, most = told.results["thd_percent"], told.results.get(AT_MOST)
    if most is None:
        return Held(distortion, None, limit, f"{shown(distortion)} of distortion", "thd_percent")
    return Held(most, None, limit, f"{shown(most)} of distortion at most", "thd_percent", hidden=True)


def target_of(check: Check, results: Results) -> float:
    """Return what is wanted: the key ``target``, else 50 % of a pulse or triangle, all or nothing of a ramp, and 0 dB of noise."""
    given = check.keys.get("target")
    if given is not None:
        return float(given)
    rising = results.get("rise_percent", Value(None)).value
    ramp = FULL if not isinstance(rising, float) or rising >= FULL / 2 else 0.0
    return TARGETS.get(expected(check), ramp)


def _away(check: Check, results: Results, limit: float) -> Held:
    """Hold how far the width, the rise or the slope is from the one that is wanted."""
    name = MAIN[expected(check)]
    main = results[name]
    if not isinstance(main.value, float):
        return Held(main, -limit, limit, main.reason, name)
    target = target_of(check, results)
    off = Value(main.value - target, main.unit, main.uncertainty, main.decimals)
    wanted = shown(Value(target, main.unit, decimals=2 if target % 1 else 0))
    words = f"{shown(main, sign=main.unit == 'dB')}, {shown(off, sign=True)} from the {wanted} wanted"
    return Held(off, -limit, limit, words, name)


def _worse(told: Told, limit: float) -> Held:
    """Hold the input that comes through more."""
    known = {
        name: (value.value, value, False) if isinstance(value.value, float) else (told.bounds[key], value, True)
        for name, key in REJECTIONS.items()
        if (value := told.results[key]).value is not None or key in told.bounds
    }
    if not known:
        return Held(Value(None, "dB", reason="neither input could be read"), None, limit, "", "carrier_rejection_db")
    name, (number, value, hidden) = max(known.items(), key=lambda one: one[1][0])
    worse = Value(number, "dB", value.uncertainty, 1)
    return Held(worse, None, limit, f"the {name} {'below ' if hidden else ''}{shown(worse)}", REJECTIONS[name], hidden)


def _off_pitch(check: Check, results: Results, limit: float, unit: str) -> Held:
    """Hold how far the fundamental is from the frequency that is wanted."""
    nominal, hz = float(check.keys["nominal_hz"]), results["fundamental_hz"]
    if not isinstance(hz.value, float):
        return Held(hz, -limit, limit, hz.reason, "fundamental_hz")
    if unit == "Hz":
        off = Value(hz.value - nominal, "Hz", hz.uncertainty, 3)
    else:
        off = Value(cents(hz.value, nominal), "cents", CENTS_PER_OCTAVE / LN_2 * (hz.uncertainty or 0.0) / hz.value, 2)
    mean = Held(off, -limit, limit, f"{shown(hz)}, {shown(off, sign=True)} from the {nominal:g} Hz wanted", "fundamental_hz")
    drift = _drift(results["drift_cents"], hz.value, unit)
    farther = isinstance(drift.value, float) and abs(drift.value) > max(abs(mean.number or 0.0), drift.uncertainty or 0.0)
    words = f"{shown(drift, sign=True)} of drift from start to end"
    return Held(drift, -limit, limit, words, "drift_cents") if farther else mean


def _drift(cents_drift: Value, hz: float, unit: str) -> Value:
    """Return the drift from start to end in the unit of the limit."""
    if unit != "Hz" or not isinstance(cents_drift.value, float):
        return cents_drift
    per_cent = hz * LN_2 / CENTS_PER_OCTAVE
    return Value(cents_drift.value * per_cent, "Hz", (cents_drift.uncertainty or 0.0) * per_cent, 3)
