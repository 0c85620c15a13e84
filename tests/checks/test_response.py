"""Response: cut-offs, slope and peak from a table or from recordings, against what is wanted, with their words and chart."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from bench.filters import Gain, butterworth, ladder, level_db, mirrored, poles, spaced, through
from benchrecord.bench.fits import Floats
from benchrecord.bench.sweep import exponential_sweep
from benchrecord.checks import all_kinds
from benchrecord.figures.chart import draw
from benchrecord.model.findings import CheckFinding, Item, Side, Verdict
from benchrecord.model.quantity import Quantity
from checks.conftest import Worked
from sounds import RATE, MemorySound, check_of, noise, seconds

KIND = all_kinds()["response"]
PERCENT = Quantity(5, "%", "5 %")
DB_METER = {
    "job.yml": "title: T\ndecision_rule: guarded\nmeters: [{id: level, ranges: [{unit: dB, up_to: 100, counts: 1, resolution: 0.1}]}]\n"
}


def table(found: Gain, left: Gain, hz: Floats | None = None) -> str:
    at = spaced(3) if hz is None else hz
    pairs = zip(at, level_db(found, at), level_db(left, at), strict=True)
    return "hz,as_found_db,as_left_db\n" + "".join(f"{f:.3f},{a:.3f},{b:.3f}\n" for f, a, b in pairs)


def swept(gain: Gain, *, seed: int = 0) -> Floats:
    quiet = np.zeros(RATE // 4)
    sent = np.concatenate([quiet, exponential_sweep(RATE, 2.0, 20.0, 20_000.0), quiet])
    return 0.3 * through(sent, RATE, gain) + noise(len(sent) / RATE, 1e-5, seed=seed)


def heard(sounds: dict[str, Floats], **keys: Any) -> CheckFinding:
    check, bench = check_of("response", {side: MemorySound(samples) for side, samples in sounds.items()}, **keys)
    return KIND.examine(replace(check, takes=tuple(t for t in check.takes if t.stage.startswith("as_"))), bench)


def number(of: Side | Item | None, name: str) -> float:
    assert of
    found = of.results[name].value
    assert isinstance(found, float), of.results[name].reason
    return found


SWEEP = {"sweep_s": 2.0, "sweep_hz": (20.0, 20_000.0)}


def test_a_table_tells_cut_off_slope_and_peak_of_both_sides(worked: Worked) -> None:
    text = table(butterworth(4, 730.0), butterworth(4, 1010.0), spaced(12))
    finding = worked("kind: response, low_pass: 1000, limit: 5 %", text)
    assert number(finding.found, "minus_3_db_hz") == pytest.approx(730, rel=0.01)
    assert number(finding.left, "minus_3_db_hz") == number(finding.left, "minus_3_db_high_hz")
    assert number(finding.left, "slope_db_per_octave") == pytest.approx(-24, abs=0.3)
    assert number(finding.left, "peak_db") == pytest.approx(0, abs=0.01)
    assert number(finding.left, "cutoff_error_percent") == pytest.approx(1, abs=1)
    assert (finding.found and finding.found.verdict, finding.verdict) == (Verdict.OUT, Verdict.IN)
    assert finding.plain == "The cut-off now lies at 1.01 kHz; it was 730 Hz. Wanted is 1 kHz."


def test_a_meter_s_range_in_db_goes_into_the_uncertainty(worked: Worked) -> None:
    text = table(poles(1, 730.0), poles(1, 1000.0), spaced(12))
    bare = worked("kind: response, low_pass: 1000, limit: 5 %", text)
    metered = worked("kind: response, low_pass: 1000, limit: 5 %, meter: level", text, more=DB_METER)
    u = [f.left.results["minus_3_db_hz"].uncertainty for f in (bare, metered) if f.left]
    assert u[0] is not None
    assert u[1] is not None
    assert u[1] > 1.5 * u[0]
    assert "its own part is missing" in bare.method
    assert "missing" not in metered.method


@pytest.mark.parametrize(
    ("keys", "gain", "wanted"),
    [
        ("high_pass: 30, limit: 10 %", mirrored(poles(1, 30.0), 30.0), 30),
        ("low_pass: 5000, limit: 60 cents", poles(1, 5000.0), 5000),
    ],
)
def test_the_cut_off_that_is_asked_for_is_the_one_that_is_held(worked: Worked, keys: str, gain: Gain, wanted: float) -> None:
    finding = worked(f"kind: response, {keys}", table(gain, gain, spaced(6)))
    assert number(finding.left, "minus_3_db_hz") == pytest.approx(wanted, rel=0.02)
    assert finding.verdict is Verdict.IN


def test_a_band_pass_has_both_cut_offs_a_centre_and_a_quality(worked: Worked) -> None:
    def gain(hz: Floats) -> Any:
        return 1 / (1 + 3j * (hz / 800 - 800 / hz))

    finding = worked("kind: response, band_pass: yes", table(gain, gain, spaced(6)))
    assert finding.left
    assert finding.left.results["minus_3_db_hz"].value == pytest.approx((677.6, 944.3), rel=0.01)
    assert number(finding.left, "centre_hz") == pytest.approx(800, rel=0.005)
    assert number(finding.left, "quality") == pytest.approx(3, rel=0.05)
    assert number(finding.left, "slope_below_db_per_octave") > 0 > number(finding.left, "slope_db_per_octave")
    assert finding.verdict is Verdict.INFORMATION
    assert finding.plain.startswith("It now passes 67")


@pytest.mark.parametrize("quality", [1.0, 3.0, 10.0])
def test_the_names_of_a_band_s_ends_stand_apart_and_its_lowest_reading_stands_clear_of_the_frame(
    worked: Worked, quality: float
) -> None:
    def gain(hz: Floats) -> Any:
        return 1 / (1 + 1j * quality * (hz / 800 - 800 / hz))

    chart = KIND.chart(worked("kind: response, band_pass: yes", table(gain, gain, spaced(24))))
    assert chart
    axes = Figure((4.2, 2.6)).subplots()
    chart.paint(axes)
    low, high = (text.get_window_extent() for text in axes.texts[:2])
    assert low.x1 < high.x0
    lowest = min(float(min(line.get_ydata())) for line in axes.lines)
    assert lowest > axes.get_ylim()[0]


def test_a_limit_in_db_is_one_of_the_peak(worked: Worked) -> None:
    finding = worked("kind: response, low_pass: yes, limit: 3 dB", table(ladder(1.0, 1000.0), ladder(3.0, 1000.0), spaced(12)))
    assert (finding.found and finding.found.verdict, finding.verdict) == (Verdict.IN, Verdict.OUT)
    assert "turn the trim of the resonance down" in finding.advice
    assert finding.left
    assert finding.left.worst.startswith("peak 15.")


def test_a_limit_about_no_wanted_cut_off_is_a_problem(worked: Worked) -> None:
    text = table(poles(1, 700.0), poles(1, 1000.0))
    assert worked("kind: response, low_pass: yes, limit: 5 %", text, problems=["unused-limit"]).verdict is Verdict.INFORMATION


@pytest.mark.parametrize("wanted", [800.0, 1250.0])
def test_advice_says_which_way(worked: Worked, wanted: float) -> None:
    text = table(poles(2, 1000.0), butterworth(2, 1000.0), spaced(6))
    finding = worked(f"kind: response, low_pass: {wanted}, limit: 5 %", text)
    assert finding.verdict is Verdict.OUT
    assert ("too high: lower it" if wanted < 1000 else "too low: raise it") in finding.advice


def test_too_few_readings_are_not_measured_and_say_why(worked: Worked) -> None:
    finding = worked("kind: response, low_pass: 1000, limit: 5 %", "hz,as_left_db\n100,0\n1000,-3\n")
    assert finding.verdict is Verdict.NOT_MEASURED
    assert finding.plain == "Not worked out: fewer than four readings tell no response."


def test_a_swept_sine_is_deconvolved_with_the_sweep_that_the_keys_describe() -> None:
    sounds = {"as_found": swept(butterworth(4, 613.0)), "as_left": swept(ladder(3.0, 805.0))}
    finding = heard(sounds, low_pass=1000.0, limit=PERCENT, **SWEEP)
    assert finding.found
    cutoff = finding.found.results["minus_3_db_hz"]
    assert cutoff.uncertainty
    assert abs(number(finding.found, "minus_3_db_hz") - 613) <= cutoff.uncertainty
    assert number(finding.left, "peak_db") == pytest.approx(15.54, abs=0.1)
    assert number(finding.left, "peak_hz") == pytest.approx(0.9268 * 805, rel=0.005)
    assert ", with a peak of 15.5" in finding.plain
    assert finding.method.startswith("Swept sine.")
    assert "0.00 s to 2.50 s of 2.50 s" in finding.method
    assert finding.curve
    assert 400 < len(finding.curve.rows) <= 600


def test_a_reference_recording_takes_out_what_the_recorder_adds() -> None:
    recorder = mirrored(poles(1, 60.0), 60.0)
    both = {"as_left": swept(lambda f: butterworth(2, 500.0)(f) * recorder(f)), "recordings/in.flac": swept(recorder)}
    finding = heard(both, low_pass=500.0, limit=PERCENT, reference="recordings/in.flac")
    assert number(finding.left, "minus_3_db_hz") == pytest.approx(500, rel=0.002)
    assert finding.left
    assert finding.left.results["minus_3_db_low_hz"].value is None
    assert finding.verdict is Verdict.IN


def test_noise_in_and_out_tells_the_same() -> None:
    sent = noise(12.0, 0.1, seed=3)
    both = {"as_left": through(sent, RATE, butterworth(2, 2000.0)) + noise(12.0, 1e-4, seed=4), "recordings/in.flac": sent}
    finding = heard(both, low_pass=2000.0, noise=True, reference="recordings/in.flac", limit=PERCENT)
    assert number(finding.left, "minus_3_db_hz") == pytest.approx(2000, rel=0.005)
    assert finding.method.startswith("Noise, in and out of one pass.")


def test_a_recording_without_word_of_what_went_in_is_not_measured() -> None:
    finding = heard({"as_left": swept(poles(1, 500.0))}, low_pass=500.0, limit=PERCENT)
    assert finding.verdict is Verdict.NOT_MEASURED
    assert "write sweep_s and sweep_hz" in finding.plain


def test_a_reference_of_another_rate_is_refused() -> None:
    check, bench = check_of(
        "response",
        {"as_left": MemorySound(swept(poles(1, 500.0))), "in": MemorySound(noise(1.0, 0.1), 44_100)},
        reference="in",
        low_pass=True,
    )
    finding = KIND.examine(replace(check, takes=check.takes[:1]), bench)
    assert "another rate" in finding.plain


def test_a_control_is_told_at_each_position_and_its_chart_shows_the_peaks() -> None:
    sounds = {f"as_left@{at}": swept(ladder(k, 800.0)) for at, k in (("0", 0.0), ("5", 2.0), ("10", 3.5))}
    finding = heard(sounds, low_pass=True, control="peak", limit=Quantity(10, "dB", "10 dB"), **SWEEP)
    assert finding.left
    assert [item.item for item in finding.left.items] == ["0", "5", "10"]
    assert [item.verdict for item in finding.left.items] == [Verdict.IN, Verdict.IN, Verdict.OUT]
    assert finding.left.worst.startswith("peak 22.3")
    assert finding.left.worst.endswith(" at 10, out of limits")
    assert [row[0] for row in finding.table.rows] == ["0", "5", "10"]
    chart = KIND.chart(finding)
    assert chart
    assert "peak in dB" in draw(chart, name="x")
    assert "along peak, at 0: " in finding.plain


def test_positions_with_names_stand_beside_each_other() -> None:
    sounds = {f"as_left@{at}": swept(butterworth(2, hz)) for at, hz in (("dark", 500.0), ("bright", 4000.0))}
    chart = KIND.chart(heard(sounds, low_pass=True, control="tone", **SWEEP))
    assert chart
    drawn = draw(chart, name="x")
    assert "dark" in drawn
    assert "cut-off in Hz" in drawn


def sine(hz: float, *, clipped: float = 1.0) -> Floats:
    return 0.3 * np.clip(np.sin(2 * np.pi * hz * seconds(3.0)), -clipped, clipped) + noise(3.0, 1e-5)


def test_self_oscillation_has_a_frequency_a_stability_and_a_shape() -> None:
    finding = heard(
        {"as_found": sine(990.0, clipped=0.5), "as_left": sine(1000.5)},
        oscillation=True,
        nominal_hz=1000.0,
        limit=Quantity(3, "cents", "3 cents"),
    )
    assert (finding.found and finding.found.verdict, finding.verdict) == (Verdict.OUT, Verdict.IN)
    assert number(finding.left, "frequency_hz") == pytest.approx(1000.5, abs=0.01)
    assert number(finding.left, "cutoff_error_cents") == pytest.approx(0.865, abs=0.02)
    assert number(finding.left, "stability_cents") < 0.1
    assert [side.results["is_sine"].value for side in (finding.found, finding.left) if side] == [False, True]
    assert finding.plain.startswith("It now sings by itself at 1000.50 Hz, steady within")
    assert ", a sine; it was 990.00 Hz" in finding.plain
    chart = KIND.chart(finding)
    assert chart
    assert "departure in cents" in draw(chart, name="x")


def test_without_a_nominal_frequency_a_limit_in_cents_is_one_of_the_stability() -> None:
    finding = heard({"as_left": sine(700.0)}, oscillation=True, limit=Quantity(3, "cents", "3 cents"))
    assert finding.verdict is Verdict.IN
    assert finding.left
    assert finding.left.worst.startswith("strays by 0.0")


def test_silence_is_not_measured_and_says_why() -> None:
    finding = heard({"as_left": np.zeros(RATE)}, low_pass=500.0, limit=PERCENT, **SWEEP)
    assert finding.verdict is Verdict.NOT_MEASURED
    assert "silent" in finding.plain
    assert KIND.chart(finding) is None


def test_nothing_read_is_nothing_measured() -> None:
    finding = heard({})
    assert (finding.found, finding.left, finding.plain) == (None, None, "Not measured yet.")


def test_the_chart_draws_levels_over_octaves_with_each_cut_off(worked: Worked) -> None:
    text = table(butterworth(4, 730.0), butterworth(4, 1010.0), spaced(12))
    finding = worked("kind: response, low_pass: 1000, limit: 5 %", text)
    chart = KIND.chart(finding)
    assert chart
    drawn = draw(chart, name="x")
    for words in ("frequency in Hz", "level in dB", ">730 Hz</text>", ">1.01 kHz</text>", ">10k</text>"):
        assert words in drawn
    assert "as found and as left" in chart.alt
    assert "The upper cut-off, 1.01 kHz, is uncertain by" in finding.basis


def test_a_sweep_that_is_cut_off_is_too_close_to_call() -> None:
    heard_left = swept(poles(1, 500.0))
    sides = {"as_found": heard_left, "as_left": np.clip(heard_left, -0.2, 0.2)}
    finding = heard(sides, low_pass=500.0, limit=Quantity(50, "%", "50 %"), **SWEEP)
    assert finding.found
    assert finding.left
    assert (finding.found.verdict, finding.found.warnings) == (Verdict.IN, ())
    assert [warning.code for warning in finding.left.warnings] == ["clipped", "overdriven"]
    assert finding.left.verdict is Verdict.NOT_MEASURED
    assert re.fullmatch(r"its uncertainty is larger than itself: it is \d+ Hz at most", finding.left.reason)


def test_a_sweep_that_is_cut_off_a_little_is_too_close_to_call() -> None:
    whole = swept(poles(1, 500.0))
    finding = heard({"as_left": np.clip(whole, -0.27, 0.27)}, low_pass=500.0, limit=Quantity(90, "%", "90 %"), **SWEEP)
    assert finding.left
    assert "clipped" in [warning.code for warning in finding.left.warnings]
    assert finding.left.verdict is Verdict.TOO_CLOSE


def test_clipping_leaves_the_frequency_of_an_oscillation_alone() -> None:
    finding = heard(
        {"as_left": 3 * sine(1000.5, clipped=0.5)}, oscillation=True, nominal_hz=1000.0, limit=Quantity(5, "cents", "5 cents")
    )
    assert finding.left
    assert [warning.code for warning in finding.left.warnings] == ["clipped"]
    assert finding.left.verdict is Verdict.IN
