"""What a response comes to: from a table, a swept sine, noise, or a recording of self-oscillation, with what is wanted of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchrecord.bench.channels import resemblance
from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import clipping, silence
from benchrecord.bench.response import BAND_PASS, FLAT, HIGH_PASS, LOW_PASS, Figure, Response, response_of, shape_of
from benchrecord.bench.self_oscillation import SelfOscillation, self_oscillation
from benchrecord.bench.sweep import exponential_sweep, swept
from benchrecord.bench.through_noise import noise_through
from benchrecord.bench.wander import Wander
from benchrecord.checks.channels import ANY_SOUND, Target, tone_target
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import reading_uncertainty
from benchrecord.checks.non_negative import TOO_UNCERTAIN, non_negative
from benchrecord.checks.recordings import LONGEST_S, Heard, listen, lossy_words, warnings_if
from benchrecord.model.findings import ALL_RESULTS, Results, ResultWarning, Value
from benchrecord.model.job import Check, Take
from benchrecord.model.quantity import dimension

HELD_FRAMES = 3_000_000  # of each recording: a minute at 48 kHz, half of one at 96 kHz
WENT_IN_S = 30.0  # of each channel that is compared with what went in
AUDIBLE_HZ = (20.0, 20_000.0)
DECIMALS = {"Hz": 2, "dB": 2, "dB/octave": 2, "cents": 2, "%": 2, "": 2}  # no page shows more
COLUMNS = {"as_found": "as_found_db", "as_left": "as_left_db"}
BENT = 0.1  # third harmonic, as a share: a clipped sine has as much when a third of it is lost
FAINT = ("slope_db_per_octave", "slope_below_db_per_octave", "thd_percent")
NOTHING_SENT = "nothing says what went in: write sweep_s and sweep_hz of a swept sine, or a reference recording"
OTHER_RATE = "the recording of what went in has another rate than what came out"


@dataclass(frozen=True, slots=True)
class Told:
    """What one side, or one position of a control, tells: its points (Hz and dB, or seconds and cents), results, and how they came about."""

    results: Results
    points: tuple[tuple[float, float], ...] = ()
    response: Response | None = None
    oscillation: SelfOscillation | None = None
    how: str = ""
    words: str = ""
    warnings: tuple[ResultWarning, ...] = ()


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted: cut-offs in Hz, None where there is no number, and the shape that is meant, None where nothing says."""

    shape: str | None
    low_hz: float | None
    high_hz: float | None


def wanted_of(check: Check) -> Wanted:
    """Read what is wanted from the keys of a check: ``low_pass`` has an upper cut-off, ``high_pass`` a lower one."""
    low, high = check.keys.get("high_pass"), check.keys.get("low_pass")
    shape = shape_of(low_pass=bool(high), high_pass=bool(low), band_pass=bool(check.keys.get("band_pass")))
    return Wanted(shape, *(float(n) if isinstance(n, int | float) and not isinstance(n, bool) else None for n in (low, high)))


def told_by_table(check: Check, bench: Bench, stage: str) -> Told | NotHad | None:
    """Work out the readings of one side; None where there are none."""
    rows = check.table.rows if check.table else ()
    known = [(hz, db) for r in rows if (hz := r.number("hz")) is not None and (db := r.number(COLUMNS[stage])) is not None]
    if not known:
        return None
    each_u = [reading_uncertainty(check, bench, db, "dB") for _, db in known]
    u = [(e or 0.0) / 2 for e in each_u]
    found = response_of([hz for hz, _ in known], [db for _, db in known], shape=wanted_of(check).shape, level_u_db=u)
    if isinstance(found, NotHad):
        return found
    meter = (
        "" if all(e is not None for e in each_u) else " No range of a meter in dB is given, so that its own part is missing."
    )
    how = f"{len(known)} readings from {_hz(min(known)[0])} to {_hz(max(known)[0])}.{meter}"
    return Told(results_of(check, found), tuple(sorted(known)), found, how=how)


def told_by(check: Check, bench: Bench, take: Take) -> Told | NotHad:
    """Listen to one recording and work it out."""
    heard = listen(check, bench, take, target=_target(check, bench), longest_s=_longest_s(check, bench, take))
    if isinstance(heard, NotHad):
        return heard
    silent = silence(heard.samples)
    if silent is not None:
        return silent
    told = _oscillating(check, heard) if check.keys.get("oscillation") else _through(check, bench, heard)
    if isinstance(told, NotHad):
        return told
    period = heard.rate / told.oscillation.tone.hz.value if told.oscillation else None
    warnings = (
        *heard.warnings,
        *warnings_if(
            "clipped",
            clipping(heard.samples, period=period),
            "thd_percent" if told.oscillation else ALL_RESULTS,
            of_measurement=True,
        ),
        *warnings_if("lossy-coding", lossy_words(bench, take), *FAINT),
    )
    return replace(told, words=heard.words, warnings=(*warnings, *told.warnings))


def _target(check: Check, bench: Bench) -> Target:
    """Return what a recording is listened to for: the oscillation, or what went in."""
    if check.keys.get("oscillation"):
        return tone_target(_nominal(check))
    if not check.keys.get("reference") and not check.keys.get("sweep_s"):
        return ANY_SOUND

    def score(samples: Floats, rate: float) -> float:
        sent = _reference(check, bench, round(rate))
        return 0.0 if isinstance(sent, NotHad) else resemblance(sent)(samples, rate)

    return Target("what went in", score, WENT_IN_S)


def _longest_s(check: Check, bench: Bench, take: Take) -> float:
    """Return how much of a recording is held at once: less of a fast one, where it is to be compared with what went in."""
    sound = bench.open(take.file)
    fast = not isinstance(sound, NotHad) and not check.keys.get("oscillation")
    return min(LONGEST_S, HELD_FRAMES / sound.rate) if fast and not isinstance(sound, NotHad) else LONGEST_S


def _through(check: Check, bench: Bench, heard: Heard) -> Told | NotHad:
    """Divide what came out by what went in."""
    span = _span(check)
    went_in = _reference(check, bench, heard.rate)
    if isinstance(went_in, NotHad):
        return went_in
    measure = noise_through if check.keys.get("noise") else swept
    found = measure(heard.samples, went_in, heard.rate, (float(span[0]), float(span[1])))
    if isinstance(found, NotHad):
        return found
    level, shape = found.level_db, wanted_of(check).shape
    response = response_of(found.hz, level, shape=shape, level_u_db=found.level_u_db, shared_u_db=found.shared_u_db)
    if isinstance(response, NotHad):
        return response
    points = tuple(zip(found.hz.tolist(), found.level_db.tolist(), strict=True))
    how = f"{found.how[0].upper()}{found.how[1:]}."
    return Told(results_of(check, response), points, response, how=how, warnings=_overdriven(found.third))


def _overdriven(third: float) -> tuple[ResultWarning, ...]:
    """Warn of a sweep that comes back with its third harmonic; where that is strong the uncertainty covers it no more."""
    if not third:
        return ()
    message = (
        f"The sweep comes back with {100 * third:.2g} % of its third harmonic: something is overdriven. Record it fainter."
    )
    return warnings_if("overdriven", message, *((ALL_RESULTS,) if third > BENT else ()), of_measurement=True)


def _span(check: Check) -> Sequence[float]:
    return check.keys.get("sweep_hz") or AUDIBLE_HZ


def _reference(check: Check, bench: Bench, rate: int) -> Floats | NotHad:
    """Return what went in, (n,): as it was recorded, whole and on its own louder channel, else the sweep that the keys describe."""
    file, seconds = check.keys.get("reference"), check.keys.get("sweep_s")
    if file:
        whole = replace(check, keys={k: v for k, v in check.keys.items() if k not in ("from_s", "to_s", "channel")})
        sent = Take("reference", str(file))
        went_in = listen(whole, bench, sent, longest_s=_longest_s(check, bench, sent))
        if isinstance(went_in, NotHad):
            return went_in
        return went_in.samples if went_in.rate == rate else NotHad(OTHER_RATE)
    if not seconds or check.keys.get("noise"):
        return NotHad(NOTHING_SENT)
    return exponential_sweep(rate, float(seconds), float(_span(check)[0]), float(_span(check)[1]))


def _oscillating(check: Check, heard: Heard) -> Told | NotHad:
    found = self_oscillation(heard.samples, heard.rate)
    if isinstance(found, NotHad):
        return found
    frequency = _estimate(found.tone.hz, "Hz")
    results = {
        "frequency_hz": non_negative(frequency),
        "stability_cents": _estimate(found.stability_cents, "cents"),
        **_wander_results(found.wander),
        "thd_percent": non_negative(_estimate(found.distortion, "%", 100)),
        "is_sine": Value(None, reason=found.is_sine.reason) if isinstance(found.is_sine, NotHad) else Value(found.is_sine),
        **_against(check, [(found.tone.hz.value, 2 * found.tone.hz.u, _nominal(check))]),
    }
    how = "Self-oscillation, read as a tone: its frequency as a whole, and its course in frames of eight periods or 40 ms."
    return Told(_with_uncertainty(check, results), found.course, oscillation=found, how=how)


def _wander_results(wander: Wander | NotHad) -> dict[str, Value]:
    names = ("wander_rms_cents", "wander_peak_cents", "drift_cents")
    if isinstance(wander, NotHad):
        return dict.fromkeys(names, _estimate(wander, "cents")) | {"wander_rate_hz": _estimate(wander, "Hz")}
    parts = (wander.rms_cents, wander.peak_cents, wander.drift_cents)
    own = {name: _estimate(part, "cents") for name, part in zip(names, parts, strict=True)}
    return own | {
        "wander_rate_hz": non_negative(_estimate(wander.rate_hz, "Hz")),
        "wander_band_hz": Value(wander.band_hz, "Hz"),
    }


def _estimate(found: Estimate | NotHad, unit: str, factor: float = 1.0) -> Value:
    if isinstance(found, NotHad):
        return Value(None, unit, reason=found.reason)
    return Value(factor * found.value, unit, factor * found.expanded, DECIMALS[unit])


def _nominal(check: Check) -> float | None:
    known = check.keys.get("nominal_hz")
    return float(known) if known else None


def results_of(check: Check, response: Response) -> Results:
    """Return the results of a response, and how far its cut-offs are from those that are wanted."""
    low, high = (non_negative(_figure(f, "Hz")) for f in (response.minus_3_db_low_hz, response.minus_3_db_high_hz))
    below, above = (_figure(f, "dB/octave") for f in (response.slope_low, response.slope_high))
    main = {LOW_PASS: (high, above), HIGH_PASS: (low, below)}.get(response.shape, (_both(low, high), above))
    wanted = wanted_of(check)
    pairs = [
        (float(v.value), v.uncertainty or 0.0, hz)
        for v, hz in ((low, wanted.low_hz), (high, wanted.high_hz))
        if isinstance(v.value, float)
    ]
    results = {
        "minus_3_db_hz": main[0],
        "minus_3_db_low_hz": low,
        "minus_3_db_high_hz": high,
        "slope_db_per_octave": main[1],
        **({"slope_below_db_per_octave": below} if response.shape in (BAND_PASS, FLAT) else {}),
        "peak_db": _figure(response.peak_db, "dB"),
        "peak_hz": _bare(response.peak_hz, "Hz"),
        **(
            {"centre_hz": _bare(response.centre_hz, "Hz"), "quality": _bare(response.quality, "")}
            if response.shape == BAND_PASS
            else {}
        ),
        **_against(check, pairs, next((v.reason for v in (high, low) if TOO_UNCERTAIN in v.reason), "")),
    }
    return _with_uncertainty(check, results)


def _figure(figure: Figure | NotHad, unit: str) -> Value:
    if isinstance(figure, NotHad):
        return Value(None, unit, reason=figure.reason)
    return Value(figure.value, unit, 2 * figure.u, DECIMALS[unit])


def _bare(number: float | NotHad, unit: str) -> Value:
    return Value(None, unit, reason=number.reason) if isinstance(number, NotHad) else Value(number, unit, None, DECIMALS[unit])


def _both(low: Value, high: Value) -> Value:
    """Return both cut-offs where there are two, else the one that is there."""
    known = [v for v in (low, high) if isinstance(v.value, float)]
    if len(known) == 1:
        return known[0]
    return Value(tuple(float(v.value) for v in known), "Hz") if known else high  # type: ignore[arg-type]  # floats


def _against(check: Check, pairs: Sequence[tuple[float, float, float | None]], reason: str = "") -> dict[str, Value]:
    """Return how far a frequency is from the wanted one: the worst of several; nothing where no number is wanted.

    ``reason`` says why there may be no frequency.
    """
    off = [(cents(hz, wanted), u / hz, hz / wanted) for hz, u, wanted in pairs if wanted]
    if not off:
        asked = any(hz for hz in (*vars_of(wanted_of(check)), _nominal(check)))
        return {"cutoff_error_percent": Value(None, "%", reason=reason or "there is no cut-off to compare")} if asked else {}
    worst, share, ratio = max(off, key=lambda one: abs(one[0]))
    return {
        "cutoff_error_percent": Value(100 * (ratio - 1), "%", 100 * share * ratio, DECIMALS["%"]),
        "cutoff_error_cents": Value(worst, "cents", CENTS_PER_OCTAVE / math.log(2) * share, DECIMALS["cents"]),
    }


def vars_of(wanted: Wanted) -> tuple[float | None, float | None]:
    """Return the cut-offs that are wanted."""
    return wanted.low_hz, wanted.high_hz


def _with_uncertainty(check: Check, results: dict[str, Value]) -> Results:
    held = results.get(held_name(check)) or results.get("minus_3_db_hz") or results.get("frequency_hz") or Value(None)
    return {**results, "expanded_uncertainty": Value(held.uncertainty, held.unit, reason=held.reason)}


def held_name(check: Check) -> str:
    """Return the result that the limit is held against, by its unit."""
    unit = dimension(check.limit.unit) if check.limit else None
    if unit == "dB":
        return "peak_db"
    if unit == "cents":
        no_target = check.keys.get("oscillation") and not _nominal(check)
        return "stability_cents" if no_target else "cutoff_error_cents"
    return "frequency_hz" if unit == "Hz" else "cutoff_error_percent"


def limits_of(check: Check) -> tuple[float | None, float | None]:
    """Return what the held result may be."""
    if check.limit is None:
        return None, None
    width = abs(check.limit.in_base())
    name = held_name(check)
    if name in ("peak_db", "stability_cents"):
        return None, width
    if name == "frequency_hz":
        nominal = _nominal(check)
        return (None, None) if nominal is None else (nominal - width, nominal + width)
    return -width, width


def unused_limit(check: Check) -> str:
    """Say what is needed where nothing is held against the limit: one about a frequency needs the frequency that is wanted."""
    if check.limit is None or held_name(check) in ("peak_db", "stability_cents"):
        return ""
    if check.keys.get("oscillation") or held_name(check) == "frequency_hz":
        return "" if _nominal(check) else "nominal_hz, the frequency that is wanted"
    return "" if any(vars_of(wanted_of(check))) else "low_pass or high_pass with the cut-off that is wanted"


def _hz(hz: float) -> str:
    return f"{hz / 1000:g} kHz" if hz >= 1000 else f"{hz:g} Hz"  # noqa: PLR2004  # a kilohertz
