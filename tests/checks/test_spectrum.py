"""Spectrum: recordings of waves, noise and products with known truth, held against limits."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.checks.spectrum import KIND
from benchrecord.figures.chart import draw
from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.quantity import Quantity
from sounds import MemorySound, check_of, noise, seconds, with_noise
from waves import phase_of, pulse_series, room, sampled_pulse, summed, triangle_series, wandering_phase

RATE = 48_000


def examined(sounds: dict[str, Floats], *, limit: str = "", **keys: Any) -> CheckFinding:
    """Return the finding of recordings; ``limit`` is a number and its unit."""
    number, _, unit = limit.partition(" ")
    quantity = Quantity(float(number), unit or None, limit) if limit else None
    check, bench = check_of("spectrum", {k: MemorySound(s) for k, s in sounds.items()}, limit=quantity, **keys)
    finding = KIND.examine(check, bench)
    _all_numbers_are_finite(finding)
    return finding


def _all_numbers_are_finite(finding: CheckFinding) -> None:
    sides = [s for s in (finding.found, finding.left) if s]
    values = [v for s in sides for r in (s.results, *(i.results for i in s.items)) for v in r.values()]
    values += [c for row in finding.table.rows for c in row if isinstance(c, Value)]
    for value in values:
        assert value.value is not None or value.reason or not value.unit
        for number in (value.value, value.uncertainty):
            assert number is None or isinstance(number, str) or math.isfinite(float(number))  # type: ignore[arg-type]  # a number


def side(finding: CheckFinding, name: str = "left") -> Side:
    own: Side | None = getattr(finding, name)
    assert own is not None
    return own


def number(own: Side, name: str) -> float:
    value = own.results[name].value
    assert isinstance(value, float)
    return value


def pulse(duty: float, hz: float = 220.0, snr_db: float = 60, seed: int = 0) -> Floats:
    return with_noise(0.4 * summed(pulse_series(duty, room(hz, RATE)), phase_of(hz, 2, RATE, 0.3)), snr_db, seed=seed)


def triangle(rise: float, hz: float = 220.0) -> Floats:
    return with_noise(0.4 * summed(triangle_series(rise, room(hz, RATE)), phase_of(hz, 2, RATE, 0.3)), 60)


def sine(seconds_percent: float = 0.0, thirds_percent: float = 0.0, hz: float = 1000.3) -> Floats:
    series = np.array([-0.5j, seconds_percent / 200, thirds_percent / 200])
    return with_noise(0.4 * summed(series, phase_of(hz, 2, RATE)), 80)


def coloured(slope_db: float, seed: int = 1) -> Floats:
    spectrum = np.fft.rfft(noise(4, 1, seed=seed))
    hz = np.maximum(np.fft.rfftfreq(4 * RATE, 1 / RATE), 20)
    made = np.fft.irfft(spectrum * hz ** (slope_db / 20 / math.log10(2)))
    return np.asarray(0.1 * made / made.std())


def ring(carrier_db: float, signal_db: float, snr_db: float = 80) -> Floats:
    t = seconds(2.5)
    tones = {560.0: 0.0, 1440.0: -0.5, 440.0: carrier_db, 1000.0: signal_db}
    made = [0.2 * 10 ** (db / 20) * np.sin(2 * np.pi * hz * t + n) for n, (hz, db) in enumerate(tones.items())]
    return with_noise(np.sum(made, axis=0), snr_db)


def test_the_width_of_a_pulse_as_found_and_as_left() -> None:
    finding = examined({"as_found": pulse(0.372), "as_left": pulse(0.501)}, expect="pulse", limit="1 %")
    for name, truth in (("found", 37.2), ("left", 50.1)):
        own = side(finding, name)
        width = own.results["duty_percent"]
        assert number(own, "duty_percent") == pytest.approx(truth, abs=width.uncertainty)
        assert number(own, "fundamental_hz") == pytest.approx(220, abs=own.results["fundamental_hz"].uncertainty)
        assert own.results["expanded_uncertainty"].value == width.uncertainty
    assert (side(finding, "found").verdict, side(finding).verdict) == (Verdict.OUT, Verdict.IN)
    assert finding.plain == "As left, the pulse stays high for 50.10 % of its period; as found it was 37.20 %."
    assert side(finding).worst == "50.10 %, +0.10 % from the 50 % wanted, within limits"
    assert number(side(finding, "found"), "deviation") == pytest.approx(-12.8, abs=0.01)


def test_the_results_of_a_wave_are_those_of_the_guide() -> None:
    own = side(examined({"as_left": pulse(0.25)}, expect="pulse"))
    assert {
        "fundamental_hz",
        "level_dbfs",
        "dc_offset",
        "thd_percent",
        "even_harmonics_db",
        "duty_percent",
    } <= own.results.keys()
    assert own.verdict is Verdict.INFORMATION
    assert own.worst == ""
    series = np.abs(pulse_series(0.25, 90))
    assert number(own, "thd_percent") == pytest.approx(100 * math.sqrt(np.sum(series[1:] ** 2)) / series[0], rel=1e-4)
    assert number(own, "level_dbfs") == pytest.approx(20 * math.log10(0.4 * math.sqrt(0.75 * 2)), abs=0.03)


@pytest.mark.parametrize(
    ("expect", "rise", "keys", "off"),
    [
        ("triangle", 0.44, {}, -6),
        ("ramp", 0.97, {}, -3),
        ("ramp", 0.03, {}, 3),
        ("ramp", 0.97, {"target": 97.0}, 0),
        ("triangle", 0.56, {"target": 55.0}, 1),
    ],
)
def test_what_a_rise_is_held_against(expect: str, rise: float, keys: dict[str, float], off: float) -> None:
    own = side(examined({"as_left": triangle(rise)}, expect=expect, limit="2 %", **keys))
    assert number(own, "rise_percent") == pytest.approx(100 * rise, abs=0.01)
    assert number(own, "deviation") == pytest.approx(off, abs=0.01)
    assert own.verdict is (Verdict.IN if abs(off) < 2 else Verdict.OUT)


def test_a_sine_is_held_to_its_distortion() -> None:
    finding = examined({"as_found": sine(2, 1), "as_left": sine(0.21, 0.08)}, expect="sine", limit="0.5 %", full_scale_v=10.0)
    assert number(side(finding), "thd_percent") == pytest.approx(math.hypot(0.21, 0.08), abs=0.001)
    assert (side(finding, "found").verdict, side(finding).verdict) == (Verdict.OUT, Verdict.IN)
    assert number(side(finding), "level_v") == pytest.approx(4 / math.sqrt(2), rel=1e-4)
    assert finding.plain == "As left, its harmonics come to 0.225 % of the fundamental; as found it was 2.236 %."
    assert examined({"as_left": sine(2, 1)}, limit="0.5 %").advice.startswith("Much of the distortion is even harmonics")
    assert examined({"as_left": sine(0.1, 1)}, limit="0.5 %").advice.startswith("The distortion is odd harmonics")


@pytest.mark.parametrize(
    ("limit", "keys", "off", "verdict"),
    [
        ("2 cents", {"nominal_hz": 1000.0}, 1200 * math.log2(1.0003), Verdict.IN),
        ("0.2 cents", {"nominal_hz": 1000.0}, 1200 * math.log2(1.0003), Verdict.OUT),
        ("1 Hz", {"nominal_hz": 1000.0}, 0.3, Verdict.IN),
    ],
)
def test_a_limit_in_cents_or_hertz_is_held_against_the_pitch(
    limit: str, keys: dict[str, float], off: float, verdict: Verdict
) -> None:
    finding = examined({"as_left": sine()}, limit=limit, **keys)
    assert number(side(finding), "deviation") == pytest.approx(off, abs=1e-4)
    assert side(finding).verdict is verdict
    assert finding.plain == "As left, the tone runs at 1000.300 Hz."
    assert finding.advice == ("It is sharp: tune it, after it has warmed up." if verdict is Verdict.OUT else "")


@pytest.mark.parametrize(
    ("sound", "keys", "limit", "why"),
    [
        (sine(), {}, "2 cents", "nominal_hz"),
        (sine(), {}, "3 dB", "a limit in %, of distortion, or in cents or Hz, of its pitch"),
        (coloured(0), {"expect": "noise"}, "3 %", "a limit in dB, of the slope of noise"),
        (
            ring(-40, -50),
            {"expect": "product", "carrier_hz": 440.0, "signal_hz": 1000.0},
            "3 %",
            "a limit in dB, of the rejection of a product",
        ),
    ],
)
def test_a_limit_of_another_quantity_is_told_and_not_held(sound: Floats, keys: dict[str, Any], limit: str, why: str) -> None:
    finding = examined({"as_left": sound}, limit=limit, **keys)
    assert side(finding).verdict is Verdict.INFORMATION
    assert why in finding.method
    assert f"The limit {limit} is held against nothing" in finding.method


def test_the_slope_of_noise() -> None:
    finding = examined({"as_found": coloured(-1.1), "as_left": coloured(-3.0)}, expect="noise", target=-3.0, limit="0.5 dB")
    own = side(finding).results["slope_db_per_octave"]
    assert number(side(finding), "slope_db_per_octave") == pytest.approx(-3, abs=own.uncertainty)
    assert (side(finding, "found").verdict, side(finding).verdict) == (Verdict.OUT, Verdict.IN)
    said = r"As left, the density of the noise changes by −[23]\.\d\d dB an octave; as found it was −1\.\d\d dB\."
    assert re.fullmatch(said, finding.plain)
    assert [row[0] for row in finding.table.rows] == ["126", "251", "501", "1000", "1995", "3981", "7943"]


def test_the_rejection_of_a_product_is_the_worse_of_both_inputs() -> None:
    finding = examined(
        {"as_found": ring(-27, -32), "as_left": ring(-54, -51)},
        expect="product",
        carrier_hz=440.0,
        signal_hz=1000.0,
        limit="-50 dB",
    )
    for name, (carrier, signal) in (("found", (-27, -32)), ("left", (-54, -51))):
        own = side(finding, name)
        for key, truth in (("carrier_rejection_db", carrier), ("signal_rejection_db", signal)):
            assert number(own, key) == pytest.approx(truth, abs=1.5 * (own.results[key].uncertainty or 0))
    assert (side(finding, "found").verdict, side(finding).verdict) == (Verdict.OUT, Verdict.IN)
    assert side(finding).worst.startswith("the signal −51.0 dB")
    assert finding.plain == (
        "As left, the inputs lie below their product by 54.0 dB (carrier) and 51.0 dB (signal);"
        " as found it was 27.0 dB (carrier) and 32.0 dB (signal)."
    )
    assert [row[0] for row in finding.table.rows] == ["carrier", "signal", "sum", "difference"]


def test_an_input_that_noise_hides_is_within_a_limit_that_the_noise_is_below() -> None:
    keys = {"expect": "product", "carrier_hz": 440.0, "signal_hz": 1000.0}
    hidden = examined({"as_left": ring(-140, -140, snr_db=40)}, limit="-50 dB", **keys)
    assert side(hidden).verdict is Verdict.IN
    assert side(hidden).results["carrier_rejection_db"].value is None
    assert "the noise hides it: it is below −" in side(hidden).results["carrier_rejection_db"].reason
    assert side(examined({"as_left": ring(-140, -140, snr_db=40)}, limit="-120 dB", **keys)).verdict is Verdict.TOO_CLOSE


def test_a_verdict_too_close_to_call() -> None:
    own = side(examined({"as_left": pulse(0.5101, snr_db=20)}, expect="pulse", limit="1.01 %"))
    assert own.results["expanded_uncertainty"].value > 0.001  # type: ignore[operator]  # a number
    assert own.verdict is Verdict.TOO_CLOSE
    assert own.worst.endswith("too close to call")


def test_positions_of_a_control_have_items() -> None:
    sounds = {
        "as_found@0": triangle(0.09),
        "as_left@0": triangle(0.03),
        "as_left@5": triangle(0.502),
        "as_left@10": triangle(0.97),
    }
    finding = examined(sounds, expect="triangle", control="shape")
    assert [i.item for i in side(finding).items] == ["0", "5", "10"]
    assert [i.results["rise_percent"].value for i in side(finding).items] == pytest.approx([3, 50.2, 97], abs=0.01)
    assert side(finding).results == {}
    assert finding.plain == (
        "As left, the part of its period for which the wave rises is 3.00 % at 0, 50.20 % at 5 and 97.00 % at 10;"
        " as found it was 9.00 % at 0."
    )
    assert finding.table.columns == ("shape", "Rising as found in %", "Rising as left in %")


def test_the_worst_position_concludes() -> None:
    sounds = {"as_left@low": pulse(0.5), "as_left@high": pulse(0.53), "as_left@top": pulse(0.56)}
    own = side(examined(sounds, expect="pulse", limit="1 %", control="range"))
    assert [i.verdict for i in own.items] == [Verdict.IN, Verdict.OUT, Verdict.OUT]
    assert (own.verdict, own.worst) == (Verdict.OUT, "at top 56.00 %, +6.00 % from the 50 % wanted, out of limits")


@pytest.mark.parametrize(
    ("sound", "expect", "reason"),
    [
        (np.zeros(RATE), "sine", "the recording is silent"),
        (noise(2, 0.1), "pulse", "no tone stands out of it: it looks like noise"),
        (triangle(0.5), "pulse", "it is no pulse but looks like a triangle or ramp"),
        (sine(), "pulse", "it is no pulse but looks like a sine"),
        (pulse(0.3), "triangle", "it is no triangle but looks like a pulse"),
        (sine(), "ramp", "it is no ramp but looks like a sine"),
        (sine(), "noise", "it is no noise: a tone of 1000 Hz has 100 % of its power"),
        (sine(), "product", "no product: nothing stands out at 560 Hz and 1440 Hz"),
        (sine()[:600], "sine", "too short: it holds 12.5 periods"),
        (coloured(0)[:RATE], "noise", "too short: 1.00 s"),
        (ring(-40, -40)[:9000], "product", "too short: 0.19 s"),
    ],
)
def test_what_cannot_be_worked_out_says_why(sound: Floats, expect: str, reason: str) -> None:
    keys = {"carrier_hz": 440.0, "signal_hz": 1000.0} if expect == "product" else {}
    finding = examined({"as_left": sound}, expect=expect, **keys)
    limited = examined({"as_left": sound}, expect=expect, limit="1 dB" if expect in ("noise", "product") else "1 %", **keys)
    assert reason in finding.plain
    assert finding.plain.startswith("Not worked out: ")
    assert (side(limited).verdict, side(finding).verdict) == (Verdict.NOT_MEASURED, Verdict.NOT_MEASURED)
    assert reason in side(finding).reason


def test_a_product_without_its_frequencies_asks_for_them() -> None:
    assert "carrier_hz and signal_hz are needed" in examined({"as_left": ring(-40, -40)}, expect="product").plain


@pytest.mark.parametrize(
    ("sound", "expect", "told"),
    [
        (np.clip(sine(), -0.3, 0.3), "sine", "it is cut off at its top and bottom"),
        (np.clip(3 * pulse(0.5), -1, 1), "pulse", "at full scale: most likely the recorder was overdriven"),
        (
            pulse(0.5) + 0.01 * np.sin(2 * np.pi * 50 * seconds(2)),
            "pulse",
            "mains hum at 50 Hz and its multiples lies in it, 35 dB below",
        ),
        (np.concatenate((np.zeros(RATE), pulse(0.5))), "pulse", "it pauses for 1 s of 3 s"),
        (pulse(0.5) + noise(2, 0.15), "pulse", "of its power is in the harmonics of 220 Hz: noise or other tones lie in it"),
        (
            0.4 * sampled_pulse(0.3, phase_of(220, 2, RATE)),
            "pulse",
            "its edges fall between two samples, as no recorder makes them",
        ),
        (pulse(0.5), "sine", "with harmonics as strong as these it is no sine"),
        (
            coloured(0) + 0.01 * np.sin(2 * np.pi * 3000 * seconds(4)),
            "noise",
            "steady lines at 3000 Hz were taken out of it",
        ),
        (
            coloured(0) + 0.06 * np.sin(2 * np.pi * 3000 * seconds(4)),
            "noise",
            "a tone of 3000 Hz lies in it with 15 % of its power",
        ),
    ],
)
def test_faults_of_a_recording_are_told(sound: Floats, expect: str, told: str) -> None:
    messages = [warning.message for _, warning in examined({"as_left": sound}, expect=expect).warnings]
    assert any(told in f"{message[0].lower()}{message[1:]}" for message in messages)


def test_a_pause_does_not_spoil_the_result() -> None:
    sound = np.concatenate((np.zeros(RATE), pulse(0.372), np.zeros(RATE)))
    own = side(examined({"as_left": sound}, expect="pulse"))
    assert number(own, "duty_percent") == pytest.approx(37.2, abs=0.001)
    assert number(own, "level_dbfs") == pytest.approx(side_level(pulse(0.372)), abs=0.01)


def side_level(samples: Floats) -> float:
    return 20 * math.log10(float(np.std(samples)) * math.sqrt(2))


def test_channel_and_stretch_are_told() -> None:
    check, bench = check_of(
        "spectrum",
        {"as_left": MemorySound(np.stack((pulse(0.5), pulse(0.3)), axis=1))},
        expect="pulse",
        channel="right",
        from_s=0.5,
    )
    finding = KIND.examine(check, bench)
    assert "Heard: right channel, 0.50 s to 2.00 s of 2.00 s." in finding.method
    assert number(side(finding), "duty_percent") == pytest.approx(30, abs=0.001)


def test_nothing_recorded_is_nothing_measured() -> None:
    finding = examined({})
    assert (finding.found, finding.left, finding.plain) == (None, None, "Not measured yet.")
    assert KIND.chart(finding) is None


@pytest.mark.parametrize(
    ("sounds", "keys"),
    [
        ({"as_found": pulse(0.3), "as_left": pulse(0.5)}, {"expect": "pulse", "limit": "1 %"}),
        ({"as_left": sine(1, 1)}, {"limit": "3 %"}),
        ({"as_found": coloured(-1), "as_left": coloured(-3)}, {"expect": "noise"}),
        ({"as_found": ring(-30, -30)}, {"expect": "product", "carrier_hz": 440.0, "signal_hz": 1000.0, "limit": "-50 dB"}),
        ({"as_found@0": pulse(0.3), "as_left@10": pulse(0.6)}, {"expect": "pulse", "limit": "1 %", "control": "width"}),
        ({"as_found@low": pulse(0.3), "as_left@high": pulse(0.6)}, {"expect": "pulse", "control": "range"}),
        (
            {"as_found@0": ring(-30, -40), "as_left@0": ring(-50, -60)},
            {"expect": "product", "carrier_hz": 440.0, "signal_hz": 1000.0, "limit": "-50 dB"},
        ),
        ({"as_left@0": coloured(-3), "as_left@10": coloured(3)}, {"expect": "noise", "control": "colour"}),
    ],
)
def test_every_finding_has_a_picture_that_its_caption_explains(sounds: dict[str, Floats], keys: dict[str, Any]) -> None:
    finding = examined(sounds, **keys)
    chart = KIND.chart(finding)
    assert chart is not None
    assert chart.caption.startswith(finding.plain)
    assert finding.plain in chart.alt
    assert draw(chart, name="c").startswith("<svg")
    assert len(finding.table.rows) <= 40
    assert all(len(row) == len(finding.table.columns) for row in finding.table.rows)


def test_how_the_number_came_about_has_its_own_figures() -> None:
    basis = examined({"as_left": pulse(0.5, snr_db=30)}, expect="pulse").basis
    assert "the mean over 2 s of the recording" in basis
    assert "The width is read from where its edges are steepest" in basis
    assert (
        "The sum lies at 1440.00 Hz"
        in examined({"as_left": ring(-40, -40)}, expect="product", carrier_hz=440.0, signal_hz=1000.0).basis
    )
    assert "1/√(bandwidth · time)" in examined({"as_left": coloured(0)}, expect="noise").basis


def test_all_harmonics_of_a_low_note_are_offered_beside_the_first_twenty() -> None:
    finding = examined({"as_left": pulse(0.3)}, expect="pulse")
    assert len(finding.table.rows) == 20
    assert finding.curve is not None
    assert len(finding.curve.rows) == 90
    assert examined({"as_left": sine()}).curve is None


def clipped(by: float) -> Floats:
    return np.clip(by * np.sin(2 * np.pi * 440 * seconds(2)), -1, 1)


def test_clipping_makes_a_distortion_doubtful_and_leaves_a_pitch_alone() -> None:
    distortion = side(examined({"as_left": clipped(1.05)}, limit="5 %"))
    assert distortion.verdict is Verdict.TOO_CLOSE
    assert [warning.code for warning in distortion.warnings] == ["clipped"]
    pitch = side(examined({"as_left": clipped(1.05)}, limit="5 cents", nominal_hz=440.0))
    assert pitch.verdict is Verdict.IN
    assert [warning.code for warning in pitch.warnings] == ["clipped"]


@pytest.mark.parametrize(("by", "level"), [(1.005, 1.0), (1.1, 1.0), (2.0, 1.0), (2.0, 0.4)])
def test_distortion_that_the_recorder_may_have_made_is_neither_in_nor_out(by: float, level: float) -> None:
    for limit in ("0.01 %", "60 %"):
        finding = examined({"as_left": level * clipped(by)}, limit=limit)
        assert side(finding).verdict is Verdict.TOO_CLOSE
        assert finding.advice == ""
    (message,) = [warning.message for _, warning in finding.warnings if warning.code == "clipped"]
    assert ("The instrument may do that" in message) is (level < 1)
    whole = examined({"as_left": sine(2, 1)}, limit="0.5 %")
    assert side(whole).verdict is Verdict.OUT
    assert whole.advice != ""


def test_advice_is_given_for_positions_that_are_not_in_doubt() -> None:
    assert examined({"as_left@1": sine(2, 1), "as_left@2": clipped(2)}, limit="0.5 %", control="drive").advice != ""
    assert examined({"as_left@1": sine(), "as_left@2": clipped(2)}, limit="0.5 %", control="drive").advice == ""


def test_a_warning_stands_beside_the_position_that_it_is_of() -> None:
    sounds = {"as_left@1": sine(), "as_left@2": clipped(1.05)}
    items = side(examined(sounds, limit="5 %", control="drive")).items
    assert [(item.item, item.verdict, [w.code for w in item.warnings]) for item in items] == [
        ("1", Verdict.IN, []),
        ("2", Verdict.TOO_CLOSE, ["clipped"]),
    ]


@pytest.mark.parametrize(("limit", "verdict"), [("1 %", Verdict.IN), ("0.1 %", Verdict.TOO_CLOSE), ("", Verdict.INFORMATION)])
def test_a_distortion_less_certain_than_it_is_large_is_told_as_the_most_it_can_be(limit: str, verdict: Verdict) -> None:
    finding = examined({"as_left": with_noise(0.4 * np.sin(2 * np.pi * 440 * seconds(2)), 12)}, limit=limit)
    own = side(finding)
    assert own.verdict is verdict
    assert own.results["thd_percent"].value is None
    assert 0.1 < number(own, "thd_at_most_percent") < 1
    assert own.results["thd_percent"].reason.startswith("its uncertainty is larger than itself: it is 0.")
    assert re.search(r"its harmonics come to 0\.\d+ % at most of", finding.plain)


def test_a_level_that_goes_up_and_down_is_told() -> None:
    swinging = (1 + 0.3 * np.sin(2 * np.pi * 4 * seconds(3))) * 0.4 * np.sin(2 * np.pi * 440 * seconds(3))
    (warning,) = side(examined({"as_left": with_noise(swinging, 70)})).warnings
    assert warning.code == "tremolo"
    assert re.search(r"by 2[01] % \(rms\)", warning.message)
    assert warning.touches("level_dbfs")
    assert not warning.touches("fundamental_hz")


def test_lines_that_were_taken_out_of_noise_are_named() -> None:
    humming = coloured(0) + 0.02 * np.sin(2 * np.pi * 1000 * seconds(4)) + 0.01 * np.sin(2 * np.pi * 300 * seconds(4))
    warnings = {w.code: w.message for w in side(examined({"as_left": humming}, expect="noise")).warnings}
    assert re.match(r"Steady lines at 1000, 300 Hz were taken out", warnings["lines"])


@pytest.mark.parametrize("mains", [50.0, 60.0])
@pytest.mark.parametrize("level", [0.012, 0.15])
def test_hum_in_noise_is_called_hum_and_nothing_else(mains: float, level: float) -> None:
    """Whether the noise or the hum is louder: no tone lies in it, none is missed in it, and each line is one of the mains."""
    t = seconds(10)
    humming = level * (
        np.sin(2 * np.pi * mains * t) + 0.4 * np.sin(4 * np.pi * mains * t) + 0.5 * np.sin(6 * np.pi * mains * t)
    )
    own = side(examined({"as_left": noise(10, 0.1, seed=3) + humming}, expect="noise"))
    warnings = {w.code: w.message for w in own.warnings}
    assert set(warnings) == {"hum", "lines"}
    assert warnings["lines"].startswith(f"Steady lines at {3 * mains:g}, {2 * mains:g} Hz were taken out")
    assert number(own, "slope_db_per_octave") == pytest.approx(0, abs=0.1)


def test_an_octave_below_that_leaks_in_halves_neither_the_frequency_nor_the_width() -> None:
    """A divider that lets a fifteenth of its next stage through: 20·log10(1/15) = −23.5 dB."""
    both = [
        amplitude * summed(pulse_series(0.5, 70), phase_of(hz, 3, RATE)) for amplitude, hz in ((0.3, 261.9), (0.02, 130.95))
    ]
    sound = with_noise(both[0] + both[1], 70)
    own = side(examined({"as_left": sound}, expect="pulse", limit="2 %", nominal_hz=261.6))
    assert number(own, "fundamental_hz") == pytest.approx(261.9, rel=1e-5)
    assert number(own, "duty_percent") == pytest.approx(50, abs=0.1)
    warnings = {w.code: w for w in own.warnings}
    assert warnings["leaking-undertone"].message.startswith("A tone of 130.95 Hz, an octave below, leaks in 23.5 dB below")
    assert not warnings["leaking-undertone"].touches("fundamental_hz")
    assert own.verdict is Verdict.TOO_CLOSE


def test_another_octave_than_the_nominal_one_is_doubtful_and_not_out() -> None:
    finding = examined({"as_left": sine(0.1, 1)}, nominal_hz=500.0, limit="5 cents")
    assert side(finding).verdict is Verdict.TOO_CLOSE
    assert finding.advice.startswith("Its frequency is a multiple or a fraction of the nominal one")
    assert "harmonic-misread" in {w.code for w in side(finding).warnings}


def test_a_coding_with_losses_makes_doubtful_what_is_faint() -> None:
    check, bench = check_of("spectrum", {"as_left": MemorySound(sine())}, limit=Quantity(1.0, "%", "1 %"))
    lossy = KIND.examine(check, replace(bench, lossy=frozenset(take.file for take in check.takes)))
    assert side(KIND.examine(check, bench)).verdict is Verdict.IN
    assert side(lossy).verdict is Verdict.TOO_CLOSE


@pytest.mark.parametrize(("depth", "rate_hz"), [(0.1, 0.3), (0.1, 1.1), (0.02, 6.0)])
def test_a_pulse_whose_width_moves_is_not_plainly_in(depth: float, rate_hz: float) -> None:
    t = seconds(4)
    moving = 0.4 * np.where((220.3 * t) % 1 < 0.5 + depth * np.sin(2 * np.pi * rate_hz * t), 1, -1)
    own = side(examined({"as_left": with_noise(moving, 60)}, expect="pulse", limit="2 %"))
    assert own.verdict is Verdict.TOO_CLOSE
    (warning,) = [warning for warning in own.warnings if warning.code == "width-modulated"]
    assert re.match(r"Its width moves between \d\d\.\d and \d\d\.\d % of its period", warning.message)
    assert warning.touches("duty_percent")
    assert not warning.touches("fundamental_hz")
    assert own.results["duty_percent"].uncertainty == pytest.approx(2 * 100 * depth / math.sqrt(2), rel=0.1)


def test_the_warning_of_folding_agrees_with_the_uncertainty_of_a_width() -> None:
    """Samples that are counted over many periods give a width far closer than a sample; folding does not touch it."""
    own = side(
        examined({"as_left": 0.4 * sampled_pulse(0.3, phase_of(220.3, 2, RATE))}, expect="pulse", target=30.0, limit="1 %")
    )
    (warning,) = [warning for warning in own.warnings if warning.code == "folded"]
    assert "comes from counting samples over whole periods" in warning.message
    assert not warning.touches("duty_percent")
    assert own.verdict is Verdict.IN
    assert abs(number(own, "duty_percent") - 30) <= (own.results["duty_percent"].uncertainty or 0)


@pytest.mark.parametrize(("cents", "rate_hz", "warned"), [(100, 6, True), (2, 0.5, False)])
def test_vibrato_that_weakens_harmonics_is_warned_of(cents: float, rate_hz: float, warned: bool) -> None:  # noqa: FBT001
    phase = wandering_phase(110.3, cents * np.sin(2 * np.pi * rate_hz * seconds(3)), RATE)
    made = 0.4 * summed(np.array([-0.5j, 0.0015, 0.002j]), phase)
    own = side(examined({"as_left": with_noise(made, 70)}, limit="0.6 %"))
    assert own.verdict is (Verdict.TOO_CLOSE if warned else Verdict.IN)
    touched = [warning.code for warning in own.warnings if warning.touches("thd_percent")]
    assert touched == (["vibrato"] if warned else [])
    assert abs(number(own, "thd_percent") - 0.5) <= (own.results["thd_percent"].uncertainty or 0)
