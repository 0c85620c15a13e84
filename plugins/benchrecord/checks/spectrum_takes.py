"""What one recording of a steady sound tells: its results, the lines of its spectrum, and what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from benchrecord.bench.channels import broadband, products
from benchrecord.bench.estimate import Estimate, decibels
from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import of_mains
from benchrecord.bench.noise import NoiseColour, colour
from benchrecord.bench.pulse import Movement, duty, movement, sharp_pulse
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import clipping, hum, silence, sounding
from benchrecord.bench.rejection import Line as SpectrumLine
from benchrecord.bench.rejection import Rejection, rejection
from benchrecord.bench.shape import middle_share, rise
from benchrecord.bench.steady import level_and_mean
from benchrecord.bench.tones import Tone, distortion_lost, even_harmonics_db, find_tone, power_of, thd
from benchrecord.bench.wander import drift_of_tone
from benchrecord.checks.channels import ANY_SOUND, Target, tone_target
from benchrecord.checks.kind import Bench
from benchrecord.checks.non_negative import non_negative, upper_bound
from benchrecord.checks.recordings import Heard, listen, lossy_words, warnings_if
from benchrecord.checks.tone_warnings import OF_HARMONICS, Warnings, inharmonic, leaking, misread, weak_fundamental
from benchrecord.model.findings import Results, Value
from benchrecord.model.job import Check, Take
from benchrecord.model.numbers import MINUS, shown

NOISE, PRODUCT, PULSE, SINE = "noise", "product", "pulse", "sine"
EXPECTED = (SINE, "triangle", "ramp", PULSE, NOISE, PRODUCT)
MAIN = {
    SINE: "thd_percent", "triangle": "rise_percent", "ramp": "rise_percent", PULSE: "duty_percent", NOISE: "slope_db_per_octave",
}  # fmt: skip
NAMED_LINES = 4
LISTED, ALL = 20, 200  # harmonics in a table, and among the points of a chart
FLAT, ROUND = 0.2, 0.41  # of the period between a quarter and three quarters of the height: a pulse has less, a triangle more
LEVELS = ("level_dbfs", "level_v")
OF_SHAPE = ("thd_percent", "even_harmonics_db", "rise_percent", *LEVELS)
FAINT = ("thd_percent", "even_harmonics_db", "slope_db_per_octave", "carrier_rejection_db", "signal_rejection_db")
TOLD_SWING = 0.01  # rms, as a share of the level: a tenth of a decibel
TOLD_LOSS = 0.01  # of the distortion
AT_MOST = "thd_at_most_percent"
BENT_PERCENT = 20.0  # of distortion: no sine
HOW_PRODUCT = (
    "Half a second at a time under Kaiser windows whose leakage lies 140 dB down; each line is read at its own frequency, with the noise"
    " beside it taken out, against the stronger of sum and difference."
)
TOLD_SHARE, A_TONE = 0.95, 0.3  # of the power that is periodic: less is told of a tone; more is no noise


NOTHING = Value(None)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a spectrum, an octave band of one or a harmonic: its name, frequency in Hz and level in dB, and the fitted level."""

    name: str
    hz: float
    level: Value
    fitted: Value = NOTHING


@dataclass(frozen=True, slots=True)
class Told:
    """What a recording told.

    ``warnings`` are what is wrong with it, ``how`` is how it was analysed, ``basis`` where its numbers and their uncertainty come from;
    ``bounds`` are levels that noise hides: no higher than so many dB.
    """

    results: Results
    lines: tuple[Line, ...]
    how: str
    basis: str
    words: str
    warnings: Warnings = ()
    bounds: dict[str, float] = field(default_factory=dict)


def expected(check: Check) -> str:
    """Return what a check expects to hear; a sine where it does not say."""
    return str(check.keys.get("expect") or SINE)


def told_by(check: Check, bench: Bench, take: Take) -> Told | NotHad:
    """Listen to a recording and work out what the check expects of it."""
    heard = listen(check, bench, take, target=target_of(check))
    if isinstance(heard, NotHad):
        return heard
    silent = silence(heard.samples)
    if silent is not None:
        return silent
    within, pauses = sounding(heard.samples, heard.rate)
    own = replace(heard, samples=heard.samples[within], start=heard.start + within.start)
    told = {NOISE: _of_noise, PRODUCT: _of_product}.get(expected(check), _of_tone)(check, own)
    if isinstance(told, NotHad):
        return told
    lossy = warnings_if("lossy-coding", lossy_words(bench, take), *FAINT)
    return replace(told, warnings=(*heard.warnings, *lossy, *warnings_if("pauses", pauses), *told.warnings))


def target_of(check: Check) -> Target:
    """Return what a recording is listened to for: a tone, near its nominal frequency where there is one; noise; or a product."""
    nominal, carrier, signal = (check.keys.get(name) for name in ("nominal_hz", "carrier_hz", "signal_hz"))
    if expected(check) == NOISE:
        return Target("noise", broadband)
    if expected(check) == PRODUCT:
        return Target("the product", products(float(carrier), float(signal))) if carrier and signal else ANY_SOUND
    return tone_target(nominal)


def number_of(estimate: Estimate | NotHad, unit: str, decimals: int, *, factor: float = 1.0) -> Value:
    """Return an estimate as a result, with its expanded uncertainty."""
    if isinstance(estimate, NotHad):
        return Value(None, unit, reason=estimate.reason)
    return Value(factor * estimate.value, unit, factor * estimate.expanded, decimals)


def _levels(check: Check, rms: Estimate, mean: Estimate) -> dict[str, Value]:
    """Return level and offset, in volts too where the recorder's full scale is known."""
    level = decibels(Estimate(rms.value**2, 2 * rms.value * rms.u).times(2))
    found = {"level_dbfs": number_of(level, "dBFS", 2), "dc_offset": number_of(mean, "", 5)}
    volts = check.keys.get("full_scale_v")
    if volts:
        found |= {"level_v": number_of(rms.times(volts), "V", 4), "dc_offset_v": number_of(mean.times(volts), "V", 4)}
    return found


def _of_tone(check: Check, heard: Heard) -> Told | NotHad:
    nominal = check.keys.get("nominal_hz")
    tone = find_tone(heard.samples, heard.rate, nominal)
    if isinstance(tone, NotHad):
        return NotHad(f"{tone.reason}: it looks like noise" if "no tone" in tone.reason else tone.reason)
    expect = expected(check)
    moving = movement(heard.samples, tone) if expect == PULSE else None
    results = {
        "fundamental_hz": number_of(tone.hz, "Hz", 3),
        "drift_cents": number_of(drift_of_tone(tone, len(heard.samples)).cents, "cents", 2),
        **_levels(check, tone.rms, tone.dc),
        **_distortion(tone),
        "even_harmonics_db": number_of(even_harmonics_db(tone), "dB", 1),
        **_shape(expect, heard.samples, tone, moving),
    }
    warnings = (*_warnings(check, heard, tone, results), *_moving(moving))
    return Told(results, _harmonics(tone), _how(tone), _basis(tone, heard, results), heard.words, warnings)


def _distortion(tone: Tone) -> dict[str, Value]:
    """Return the distortion in %; the most that it can be, in place of a value that is less certain than it is large."""
    found = number_of(thd(tone), "%", 3, factor=100)
    most = upper_bound(found)
    return {"thd_percent": non_negative(found)} | ({AT_MOST: most} if most else {})


def _warnings(check: Check, heard: Heard, tone: Tone, results: Results) -> Warnings:
    expect = expected(check)
    cut_off = clipping(heard.samples, flat=expect == PULSE, period=heard.rate / tone.hz.value)
    return (
        *warnings_if("clipped", cut_off, *OF_SHAPE, of_measurement=True),
        *warnings_if("hum", hum(heard.samples, heard.rate, harmonics_of_hz=tone.hz.value)),
        *warnings_if("unsteady", _unsteady(tone)),
        *warnings_if("tremolo", _tremolo(tone), *LEVELS),
        *warnings_if("vibrato", _vibrato(tone), "thd_percent", "even_harmonics_db", "rise_percent"),
        *inharmonic(tone),
        *weak_fundamental(tone),
        *(leaking(heard.samples, tone, *OF_HARMONICS) if check.keys.get("nominal_hz") else ()),
        *misread(tone.hz.value, check.keys.get("nominal_hz")),
        *warnings_if("no-sine", _no_sine(expect, results["thd_percent"])),
        *warnings_if("folded", _sampled(expect, heard.samples, tone), "thd_percent", "even_harmonics_db"),
    )


def _moving(moving: Movement | None) -> Warnings:
    """Warn of a pulse whose width moves: its width and its harmonics are means over that."""
    if moving is None:
        return ()
    low, high, rms = (100 * share for share in (moving.low, moving.high, moving.rms))
    message = f"Its width moves between {low:.1f} and {high:.1f} % of its period, by {rms:.2g} % (rms): switch its modulation off, and record it again."
    return warnings_if("width-modulated", message, "duty_percent", "thd_percent", "even_harmonics_db")


def _shape(expect: str, samples: Floats, tone: Tone, moving: Movement | None) -> dict[str, Value]:
    """Return the width of a pulse, or the rise of a triangle or ramp, unless the wave is clearly none.

    A width that moves is the mean over its periods, uncertain by how it moves: at any moment it may be so far from its mean.
    """
    name = MAIN[expect]
    if name == "thd_percent":
        return {}
    share = middle_share(tone)
    flat = isinstance(share, float) and share < FLAT
    steep = isinstance(share, float) and share > ROUND
    if expect == PULSE:
        own = Estimate(moving.mean, moving.rms) if moving else duty(samples, tone)
        known = own if isinstance(share, NotHad) or flat or moving else _unlike("pulse", share)
    else:
        known = rise(tone) if isinstance(share, NotHad) or steep else _unlike(expect, share)
    value = number_of(known, "%", 2, factor=100)
    return {name: non_negative(value) if expect == PULSE else value}  # a falling ramp may rise for no time at all


def _unlike(expect: str, share: float) -> NotHad:
    """Say what a wave looks like instead."""
    like = "a pulse" if share < FLAT else "a sine" if share < ROUND else "a triangle or ramp"
    return NotHad(
        f"it is no {expect} but looks like {like}: for {100 * share:.0f} % of its period it is near the middle of its height"
    )


def _unsteady(tone: Tone) -> str:
    if tone.periodic > TOLD_SHARE:
        return ""
    return f"Only {100 * tone.periodic:.0f} % of its power is in the harmonics of {tone.hz.value:.4g} Hz: noise or other tones lie in it."


def _tremolo(tone: Tone) -> str:
    """Say that the level goes up and down: the levels are means over that."""
    return f"Its level goes up and down by {100 * tone.swing:.2g} % (rms)." if tone.swing > TOLD_SWING else ""


def _vibrato(tone: Tone) -> str:
    """Say that the pitch moves faster than harmonics can be followed: they come out too weak, the higher the more."""
    lost = distortion_lost(tone)
    if lost < TOLD_LOSS:
        return ""
    return (
        f"Its pitch moves within the {1000 * tone.frames.size / tone.rate:.2g} ms in which harmonics are read, as by vibrato: the distortion"
        f" comes out about {100 * lost:.2g} % of itself too small. Switch the vibrato off, and record it again."
    )


def _no_sine(expect: str, distortion: Value) -> str:
    number = distortion.value
    if expect != SINE or not isinstance(number, float) or number < BENT_PERCENT:
        return ""
    return "With harmonics as strong as these it is no sine."


def _sampled(expect: str, samples: Floats, tone: Tone) -> str:
    """Say that harmonics fold back: a recorder keeps out what lies above half its rate, a program need not."""
    if expect != PULSE or sharp_pulse(samples, tone.noise_rms) is None:
        return ""
    return (
        "Its edges fall between two samples, as no recorder makes them: what lies above half the rate is folded back onto its harmonics."
        " Its width comes from counting samples over whole periods, which folding does not change."
    )


def _harmonics(tone: Tone) -> tuple[Line, ...]:
    numbers = range(1, min(tone.below(), ALL) + 1)
    return tuple(Line(str(n), n * tone.hz.value, number_of(decibels(power_of(tone, [n])), "dB", 1)) for n in numbers)


def _how(tone: Tone) -> str:
    below, number = tone.below(), len(tone.harmonics)
    left_out = f", of {number} that its rate has room for" if number > below else ""
    return (
        f"{tone.frames.count} frames of {1000 * tone.frames.size / tone.rate:.3g} ms, each sample in four of them, under Kaiser windows"
        f" whose leakage lies 140 dB down, read in step with the tone; {below} harmonics below 20 kHz{left_out}. What folds back from"
        " above half the rate does not count, unless it falls on a harmonic: then nothing in the samples tells it apart."
    )


def _basis(tone: Tone, heard: Heard, results: Results) -> str:
    frequency = (
        f"The frequency is the mean over {heard.seconds:.3g} s of the recording, from how the phase of the harmonics moves through"
        f" {tone.frames.count} frames; how they scatter and stray from frame to frame leaves it uncertain by"
        f" {own(results['fundamental_hz'])} (k = 2). The clock of the recorder is taken as right."
    )
    said = [frequency]
    distortion = results["thd_percent"]
    if distortion.value is not None:
        said.append(
            f"The distortion adds up the powers of {tone.below() - 1} harmonics, less what the noise brings to each; what is left uncertain"
            f" of them makes {own(distortion)}."
        )
    places = {
        "duty_percent": ("width", "from where its edges are steepest"),
        "rise_percent": ("rise", "at 20 and 80 % of its height"),
    }
    for name, (what, where) in places.items():
        if name in results and results[name].value is not None:
            said.append(
                f"The {what} is read {where}, in one period drawn with all harmonics that stand out of the noise; the scatter of the"
                f" harmonics, and what the model of the wave leaves of them, move it by {own(results[name])} at most (k = 2)."
            )
    return " ".join(said)


def own(value: Value) -> str:
    """Write the uncertainty of a value, two digits of it; one that is less than the value's last digit as less than that."""
    last = 10.0 ** -(value.decimals or 0)
    if not value.uncertainty or value.uncertainty < last:
        return f"less than {shown(Value(last, value.unit, decimals=value.decimals))}"
    return shown(Value(value.uncertainty, value.unit, value.uncertainty))


def _of_noise(check: Check, heard: Heard) -> Told | NotHad:
    tone = find_tone(heard.samples, heard.rate)
    humming = isinstance(tone, Tone) and of_mains(tone.hz.value)  # the slope is read without it, if it leaves enough
    if isinstance(tone, Tone) and tone.periodic > A_TONE and not humming:
        return NotHad(f"it is no noise: a tone of {tone.hz.value:.4g} Hz has {100 * tone.periodic:.0f} % of its power")
    found = colour(heard.samples, heard.rate)
    if isinstance(found, NotHad):
        return found
    slope = Estimate(found.slope_db, found.slope_u_db)
    results = {"slope_db_per_octave": number_of(slope, "dB", 2), **_levels(check, *level_and_mean(heard.samples))}
    lines = tuple(
        Line(f"{band.hz:.0f}", band.hz, Value(band.level_db, "dB", 2 * band.u_db, 1), Value(fitted, "dB", decimals=1))
        for band, fitted in zip(found.bands, found.line(), strict=True)
    )
    warnings = (
        *warnings_if("clipped", clipping(heard.samples), "slope_db_per_octave", *LEVELS, of_measurement=True),
        *warnings_if("hum", hum(heard.samples, heard.rate)),
        *warnings_if("tone-in-noise", "" if humming else _tone_in_noise(tone)),
        *warnings_if("lines", _lines_in_noise(found)),
    )
    return Told(results, lines, _how_noise(found), _noise_basis(found, heard, results), heard.words, warnings)


def _lines_in_noise(found: NoiseColour) -> str:
    """Say which steady lines were taken out of the octaves."""
    if not found.lines_hz:
        return ""
    named = ", ".join(f"{hz:.0f}" for hz in found.lines_hz[:NAMED_LINES])
    more = f" and {len(found.lines_hz) - NAMED_LINES} more" if len(found.lines_hz) > NAMED_LINES else ""
    share = f"{100 * found.lines_share:.2g} % of the power"
    return f"Steady lines at {named} Hz{more} were taken out of it before the slope was read: {share}."


def _tone_in_noise(tone: Tone | NotHad) -> str:
    if isinstance(tone, NotHad):  # a line of less power is named among those that were taken out
        return ""
    return f"A tone of {tone.hz.value:.4g} Hz lies in it with {100 * tone.periodic:.0f} % of its power."


def _how_noise(found: NoiseColour) -> str:
    return (
        f"Density averaged over {len(found.bands)} octave bands (IEC 61260-1), half overlapping frames under Hann windows; slope of the line"
        " of least squares through the levels of the bands."
    )


def _noise_basis(found: NoiseColour, heard: Heard, results: Results) -> str:
    lowest, highest = found.bands[0], found.bands[-1]
    return (
        f"Noise that is listened to for {heard.seconds:.3g} s tells its density in the octave of {lowest.hz:.0f} Hz to"
        f" {2 * lowest.u_db:.2f} dB and in that of {highest.hz:.0f} Hz to {2 * highest.u_db:.2f} dB (k = 2): 1/√(bandwidth · time). The line"
        f" through {len(found.bands)} bands makes {own(results['slope_db_per_octave'])} an octave of that."
    )


def _of_product(check: Check, heard: Heard) -> Told | NotHad:
    carrier, signal = (check.keys.get(name) for name in ("carrier_hz", "signal_hz"))
    if not carrier or not signal:
        return NotHad("carrier_hz and signal_hz are needed to tell the lines of a product")
    found = rejection(heard.samples, heard.rate, carrier_hz=float(carrier), signal_hz=float(signal))
    if isinstance(found, NotHad):
        return found
    inputs = {"carrier_rejection_db": found.carrier, "signal_rejection_db": found.signal}
    results = {name: _relative(found, line) for name, line in inputs.items()} | _levels(check, *level_and_mean(heard.samples))
    lines = {"carrier": found.carrier, "signal": found.signal, "sum": found.sum, "difference": found.difference}
    warnings = (
        *warnings_if("clipped", clipping(heard.samples, flat=True), *inputs, *LEVELS, of_measurement=True),
        *warnings_if("hum", hum(heard.samples, heard.rate, beside_hz=[line.hz for line in lines.values()])),
    )
    return Told(
        results,
        tuple(Line(name, line.hz, _relative(found, line)) for name, line in lines.items()),
        HOW_PRODUCT,
        _product_basis(found, results),
        heard.words,
        warnings,
        {name: line.level_db - found.product.level_db for name, line in inputs.items() if line.hidden},
    )


def _relative(found: Rejection, line: SpectrumLine) -> Value:
    """Return the level of a line against the stronger of sum and difference."""
    level, against = line.level_db, found.product
    if line.hidden:
        return Value(
            None, "dB", reason=f"the noise hides it: it is below {level - against.level_db:.1f} dB".replace("-", MINUS)
        )
    u = None if line is against else 2 * found.u_db(line)
    return Value(level - against.level_db, "dB", u, 1)


def _product_basis(found: Rejection, results: Results) -> str:
    named = (("carrier", "carrier_rejection_db"), ("signal", "signal_rejection_db"))
    parts = [f"that of the {name} uncertain by {own(results[key])}" for name, key in named if results[key].value is not None]
    uncertain = (
        f" Noise beside the lines, and how they scatter from frame to frame, leave {' and '.join(parts)} (k = 2)."
        if parts
        else ""
    )
    hidden = [f" Of the {name}, {results[key].reason}." for name, key in named if results[key].value is None]
    return (
        f"The sum lies at {found.sum.hz:.2f} Hz and the difference at {found.difference.hz:.2f} Hz; half of both together and half of what"
        f" they are apart are the exact frequencies of the inputs, at which their rest is read.{uncertain}{''.join(hidden)}"
    )
