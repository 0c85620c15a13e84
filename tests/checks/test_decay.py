"""Decay: how long a tank rings after a strike, against what is wanted, with its bands, its noise and its words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from bench.decays import ringing
from benchrecord.bench.fits import Floats
from benchrecord.checks import all_kinds
from benchrecord.figures.chart import draw
from benchrecord.model.findings import CheckFinding, Item, Side, Value, Verdict
from benchrecord.model.quantity import Quantity
from sounds import RATE, MemorySound, check_of, noise

KIND = all_kinds()["decay"]
LIMIT = Quantity(10, "%", "10 %")


def struck(t60: float, *, floor_db: float = -70.0, seed: int = 1, length_s: float | None = None) -> Floats:
    return ringing([(1, t60)], RATE, length_s or 1.4 * t60, floor_db=floor_db, seed=seed, lead_s=0.3)


def finding(sounds: dict[str, Floats], **keys: Any) -> CheckFinding:
    check, bench = check_of("decay", {side: MemorySound(samples) for side, samples in sounds.items()}, **keys)
    return KIND.examine(check, bench)


def number(of: Side | Item | None, name: str) -> float:
    assert of
    found = of.results[name].value
    assert isinstance(found, float)
    return found


@pytest.fixture(scope="module")
def both() -> CheckFinding:
    return finding({"as_found": struck(0.9, floor_db=-40), "as_left": struck(2.0)}, wanted_s=2.1, limit=LIMIT)


def test_both_sides_have_their_times_with_their_uncertainty(both: CheckFinding) -> None:
    for name in ("edt_s", "t20_s", "t30_s"):
        assert both.left
        value = both.left.results[name]
        assert value.uncertainty
        assert abs(number(both.left, name) - 2.0) <= 1.5 * value.uncertainty  # it is one of a twentieth
        assert value.uncertainty < 0.05
    assert both.left
    assert number(both.left, "expanded_uncertainty") == both.left.results["t20_s"].uncertainty
    assert number(both.found, "t20_s") == pytest.approx(0.9, rel=0.03)
    assert number(both.left, "floor_db") == pytest.approx(-70, abs=1.5)


def test_t20_is_held_against_the_limit_about_what_is_wanted(both: CheckFinding) -> None:
    assert (both.found and both.found.verdict, both.left and both.left.verdict) == (Verdict.OUT, Verdict.IN)
    assert number(both.left, "t20_error_percent") == pytest.approx(100 * (2.0 / 2.1 - 1), abs=1.5)
    assert both.left
    assert both.left.worst.endswith(" s, within limits")
    assert both.advice == ""


def test_what_the_floor_does_not_allow_is_null_with_its_reason(both: CheckFinding) -> None:
    assert both.found
    t30, bent = both.found.results["t30_s"], both.found.results["curvature_percent"]
    assert (t30.value, t30.reason) == (None, "the floor lies 39 dB below the start, and this range needs 45 dB")
    assert bent.value is None
    assert bent.reason


def test_a_tank_that_is_too_quick_comes_with_advice_and_one_too_long_with_another() -> None:
    short = finding({"as_found": struck(0.9)}, wanted_s=2.1, limit=LIMIT)
    long = finding({"as_found": struck(3.0)}, wanted_s=2.1, limit=Quantity(0.2, "s", "0.2 s"))
    assert short.verdict is long.verdict is Verdict.OUT
    assert "dies away too soon" in short.advice
    assert "rings longer than wanted" in long.advice


def test_octaves_are_items_and_lines_of_the_table(both: CheckFinding) -> None:
    assert both.left
    names = [item.item for item in both.left.items]
    assert names == [f"{hz} octave" for hz in ("63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz")]
    assert [row[0] for row in both.table.rows] == ["all of it", *names]
    for item in both.left.items:
        assert item.verdict is Verdict.INFORMATION
        value = item.results["t20_s"]
        assert value.uncertainty
        assert abs(number(item, "t20_s") - 2.0) <= 1.5 * value.uncertainty, item.item


def test_octaves_are_left_out_where_nobody_wants_them() -> None:
    own = finding({"as_left": struck(1.0)}, bands=False)
    assert own.left
    assert own.left.items == ()
    assert len(own.table.rows) == 1


def test_without_a_limit_it_is_for_information() -> None:
    own = finding({"as_left": struck(1.0)}, bands=False)
    assert own.verdict is Verdict.INFORMATION
    assert own.plain.startswith("A strike now dies away by 60 dB in 0.99")


def test_a_limit_without_a_wanted_time_is_held_against_nothing() -> None:
    own = finding({"as_left": struck(1.0)}, bands=False, limit=LIMIT)
    assert own.verdict is Verdict.INFORMATION
    assert KIND.unused_limit(own.check).startswith("wanted_s")


def test_several_strikes_count_together_and_their_scatter_is_told() -> None:
    three = np.concatenate([gain * struck(1.0, seed=n, length_s=1.6) for n, gain in enumerate((0.8, 1.0, 0.6))])
    own = finding({"as_left": three}, bands=False)
    assert own.left
    assert own.left.results["strikes"] == Value(3)
    t20 = own.left.results["t20_s"]
    assert t20.uncertainty
    assert abs(number(own.left, "t20_s") - 1.0) <= t20.uncertainty
    assert "The mean of 3 strikes" in own.method
    assert "3 strikes scatter by" in own.basis


def test_the_predelay_comes_from_the_click_or_from_the_second_it_was_struck_at() -> None:
    clicked = struck(1.2)
    clicked[round(0.267 * RATE) :][:24] += np.random.default_rng(1).normal(0, 0.5, 24)
    for samples, keys in ((clicked, {}), (struck(1.2), {"struck_s": 0.267})):
        assert number(finding({"as_left": samples}, bands=False, **keys).left, "predelay_s") == pytest.approx(0.033, abs=0.001)
    unheard = finding({"as_left": struck(1.2)}, bands=False).left
    assert unheard
    assert "no click is heard" in unheard.results["predelay_s"].reason


def test_a_control_is_told_at_each_of_its_positions() -> None:
    sounds = {"as_left@short": struck(0.8), "as_left@long": struck(2.2)}
    own = finding(sounds, wanted_s=2.2, limit=LIMIT, control="Decay")
    assert own.left
    assert [(i.item, i.verdict) for i in own.left.items] == [("short", Verdict.OUT), ("long", Verdict.IN)]
    assert own.left.verdict is Verdict.OUT
    assert " at short, out of limits" in own.left.worst
    assert " at short, 2." in own.plain


def test_two_slopes_are_told_by_their_curvature() -> None:
    made = ringing([(1, 0.5), (0.02, 2.0)], RATE, 3.0, floor_db=-75, seed=4, lead_s=0.2)
    own = finding({"as_left": made}, bands=False)
    assert number(own.left, "curvature_percent") == pytest.approx(25, abs=4)
    assert "two decays lie over each other" in own.basis


@pytest.mark.parametrize("samples", [np.zeros(RATE), noise(1.0, 0.01)], ids=["silence", "noise"])
def test_a_recording_without_a_strike_is_not_measured_and_says_why(samples: Floats) -> None:
    own = finding({"as_left": samples}, wanted_s=2.0, limit=LIMIT)
    assert own.verdict is Verdict.NOT_MEASURED
    assert own.plain == "Not worked out: no strike stands out of the noise."
    assert own.left
    assert own.left.results["t20_s"].value is None
    assert KIND.chart(own) is None


def test_nothing_recorded_is_nothing_measured() -> None:
    own = finding({})
    assert (own.found, own.left, own.plain) == (None, None, "Not measured yet.")
    assert KIND.chart(own) is None


def test_words_and_curve_hold_this_recording_s_own_figures(both: CheckFinding) -> None:
    assert "it was 0.8" in both.plain
    assert "Wanted are 2.1 s." in both.plain
    assert "0.00 s to 3.10 s of 3.10 s" in both.method
    assert "The decay starts at 0.30 s; the noise lies 70 dB below it" in both.basis
    assert "In 8 octaves it lies between" in both.basis
    assert both.curve
    assert len(both.curve.rows) <= 600


def test_the_chart_has_both_curves_their_lines_and_the_noise(both: CheckFinding) -> None:
    chart = KIND.chart(both)
    assert chart
    assert "energy still to come" in draw(chart, name="decay")
    assert draw(chart, name="decay").count(">noise</text>") == 2
    assert "drawn out to −60 dB" in chart.caption
    assert "as found and as left" in chart.alt


def test_hum_informs_and_clipping_makes_the_times_doubtful() -> None:
    made = struck(1.0, length_s=3.0)
    humming = made + 0.003 * np.sin(2 * np.pi * 50 * np.arange(len(made)) / RATE)
    sides = {"as_found": humming, "as_left": np.clip(made, -0.2, 0.2)}
    own = finding(sides, bands=False, wanted_s=1.0, limit=LIMIT)
    assert own.found
    assert own.left
    assert [(w.code, w.affects) for w in own.found.warnings] == [("hum", ())]
    assert own.found.verdict is Verdict.IN
    (clipped,) = own.left.warnings
    assert clipped.code == "clipped"
    assert clipped.touches("t20_s")
    assert own.left.verdict is Verdict.TOO_CLOSE
    assert own.advice == ""


def test_a_time_by_the_first_ten_decibels_says_so() -> None:
    own = finding({"as_left": struck(1.0, floor_db=-28)}, bands=False)
    assert own.left
    assert own.left.results["t20_s"].value is None
    assert "(by its first 10 dB; the noise allows no more)" in own.plain


@pytest.mark.parametrize("length", [1, 2, 3, 50, 1440, 5000])
@pytest.mark.parametrize("kind", ["silence", "click", "burst", "constant"])
def test_no_recording_is_too_short_or_too_odd(kind: str, length: int) -> None:
    samples = {
        "silence": np.zeros(length),
        "click": np.eye(1, length)[0],
        "burst": noise(length / RATE, 0.3)[:length],
        "constant": np.full(length, 0.7),
    }[kind]
    own = finding({"as_left": samples}, wanted_s=2.0, limit=LIMIT)
    assert own.left
    t20 = own.left.results["t20_s"]
    assert t20.value is not None or t20.reason
