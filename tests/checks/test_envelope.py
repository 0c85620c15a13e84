"""Envelope: stages from a table and from recordings, their ranges, and what is said of them."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest
import scipy

from benchrecord.bench.fits import Floats
from benchrecord.checks import all_kinds
from benchrecord.findings.kept import as_bytes, from_bytes
from benchrecord.model.findings import CheckFinding, Results, Side, Verdict
from benchrecord.model.quantity import Quantity
from checks.conftest import Worked
from contours import Made, tone, two_tones
from sounds import RATE, MemorySound, check_of, noise, seconds

KIND = all_kinds()["envelope"]
TABLE = "stage,setting,as_found_s,as_left_s,low,high\nattack,0,0.0009,0.0018,0.0015,0.0024\nattack,10,3.6,7.6,6.0,10.0\ndecay,10,5.4,11.3,9,15\n"
AT_MOST = 1.5  # of an expanded uncertainty: one case of a hundred may be outside it
METER = "- {id: trace, title: Trace, ranges: [{unit: s, up_to: 20, reading_percent: 2}]}"


def left(finding: CheckFinding) -> Side:
    assert finding.left
    return finding.left


def number(results: Results, name: str) -> float:
    found = results[name].value
    assert isinstance(found, float), results[name]
    return found


def sound(made: Made, *, hz: float = 880.0, cycles: int = 4, kind: str = "sine") -> Floats:
    long = made.start + (2.5 * made.falling(0.01) if made.period > 1e9 else cycles * made.period)
    return made.level(long) * tone(hz, long, kind=kind) + noise(long, 2e-4)


def heard(*, limit: str = "", **keys: Any) -> CheckFinding:
    sides = {side: MemorySound(samples) for side, samples in keys.pop("sides").items()}
    quantity = Quantity(float(limit), "%", f"{limit} %") if limit else None
    check, bench = check_of("envelope", sides, limit=quantity, **keys)
    finding = KIND.examine(check, bench)
    assert from_bytes(as_bytes(finding), check) == finding  # no number that is none, and nothing that a file cannot hold
    return finding


def test_a_table_is_held_against_its_own_limits(worked: Worked) -> None:
    finding = worked("kind: envelope", TABLE)
    assert [i.item for i in left(finding).items] == ["attack at 0", "attack at 10", "decay at 10"]
    assert left(finding).verdict is Verdict.IN
    assert number(left(finding).items[1].results, "attack_s") == 7.6
    assert number(left(finding).results, "attack_longest_s") == 7.6
    assert finding.found
    assert finding.found.verdict is Verdict.OUT
    assert finding.plain == "As left, 3 of 3 times are within limits; as found it was 0 of 3."


def test_times_that_are_all_off_alike_point_to_the_timing_part(worked: Worked) -> None:
    finding = worked(
        "kind: envelope",
        TABLE.replace("as_left_s", "note").replace(",note", "").replace(",0.0018", "").replace(",7.6", "").replace(",11.3", ""),
    )
    assert finding.advice.startswith("Every attack is about 0.47 of what is wanted: look at the timing capacitor")


def test_times_that_are_off_at_one_end_point_to_the_control(worked: Worked) -> None:
    rows = "stage,setting,as_left_s,low,high\nattack,0,0.0018,0.0015,0.0024\nattack,10,3.6,6.0,10.0\n"
    assert worked("kind: envelope", rows).advice.startswith(
        "The attack is off at some positions and not at others: look at the control"
    )


def test_the_trace_s_uncertainty_can_make_it_too_close_to_call(worked: Worked) -> None:
    """2 % of 6.1 s are 0.12 s, and 0.14 s with k = 2 over √3: 0.1 s inside is too close."""
    rows = "stage,setting,as_left_s,low,high\nattack,10,6.1,6.0,10.0\n"
    more = {"job.yml": f"title: T\ndecision_rule: guarded\nmeters:\n  {METER}\n"}
    finding = worked("kind: envelope, meter: trace", rows, more=more)
    assert finding.verdict is Verdict.TOO_CLOSE
    assert "2 % of the reading" in finding.basis


@pytest.mark.parametrize(
    ("times", "limit", "verdicts"),
    [
        ((0.0018, 0.1, 2.2), "", [Verdict.IN, Verdict.INFORMATION, Verdict.IN]),
        ((0.0022, 0.1, 2.2), "", [Verdict.OUT, Verdict.INFORMATION, Verdict.IN]),
        ((0.0022, 0.1, 2.2), ", limit: 20 %", [Verdict.IN, Verdict.INFORMATION, Verdict.IN]),
        ((0.0018, 0.1, 1.5), ", limit: 20 %", [Verdict.IN, Verdict.INFORMATION, Verdict.OUT]),
    ],
)
def test_a_control_must_reach_from_end_to_end(
    worked: Worked, times: tuple[float, ...], limit: str, verdicts: list[Verdict]
) -> None:
    rows = "stage,setting,as_left_s\n" + "".join(f"attack,{5 * n},{t}\n" for n, t in enumerate(times))
    finding = worked(f"kind: envelope, wanted: {{attack: [2 ms, 2]}}{limit}", rows)
    assert [i.verdict for i in left(finding).items] == verdicts


def test_a_limit_widens_those_of_the_rows(worked: Worked) -> None:
    rows = "stage,as_left_s,low,high\nattack,0.9,1,2\n"
    assert worked("kind: envelope", rows).verdict is Verdict.OUT
    assert worked("kind: envelope, limit: 20 %", rows).verdict is Verdict.IN


def test_a_range_that_is_none_is_a_problem(worked: Worked) -> None:
    rows = "stage,setting,as_left_s\nattack,0,0.5\n"
    worked("kind: envelope, wanted: {attack: fast, decay: [1, 2, 3]}", rows, problems=["wrong-type", "wrong-type"])
    worked("kind: envelope, wanted: soon", rows, problems=["wrong-type"])
    worked("kind: envelope, wanted: {attack: [2, 1]}", rows, problems=["limits-reversed"])


def test_without_limits_it_is_for_information(worked: Worked) -> None:
    finding = worked("kind: envelope", "stage,setting,as_left_s\nattack,0,0.5\nattack,10,5\nrelease,5,250 ms\n")
    assert finding.verdict is Verdict.INFORMATION
    assert finding.plain == "As left, the contour rises in 0.5 s to 5 s and has a release of 0.250 s."
    assert KIND.chart(finding)


def test_an_empty_table_is_not_measured(worked: Worked) -> None:
    finding = worked("kind: envelope", "stage,as_left_s\nattack,\n")
    assert (finding.plain, KIND.chart(finding)) == ("Not measured yet.", None)


def test_a_recording_tells_its_stages_and_their_shapes() -> None:
    made = Made(attack=0.05, plateau=0.1, decay=0.2)
    side = left(heard(sides={"as_left": sound(made)}))
    assert number(side.results, "attack_s") == pytest.approx(0.05, rel=5e-3)
    assert number(side.results, "hold_s") == pytest.approx(made.truth["hold"], rel=5e-3)
    assert number(side.results, "decay_s") == pytest.approx(0.2, rel=5e-3)
    assert (side.results["attack_shape"].value, side.results["decay_shape"].value) == ("straight", "exponential")
    assert number(side.results, "decay_time_constant_s") == pytest.approx(0.2 / 2.1972, rel=5e-3)
    assert side.results["gap_s"].reason == side.results["period_s"].reason == "the contour does not repeat itself"
    assert (side.results["mode"].value, side.results["cycles"].value, side.verdict) == ("one-shot", 1, Verdict.INFORMATION)


def test_a_contour_that_repeats_is_said_in_one_sentence() -> None:
    before, after = (
        Made(attack=0.02, plateau=0.05, decay=0.08, period=0.4),
        Made(attack=0.05, plateau=0.05, decay=0.1, period=0.5),
    )
    finding = heard(sides={"as_found": sound(before), "as_left": sound(after)})
    said = re.sub(r"(?<=up for )[56]\d\.\d", "…", finding.plain)
    assert said == (
        "As left, the contour rises in 50.0 ms, stays up for … ms, falls in 100.0 ms, rests for 0.289 s and comes again after 0.500 s;"
        " as found it rises in 20.0 ms, stays up for … ms, falls in 80.0 ms, rests for 0.244 s and comes again after 0.400 s."
    )
    assert (
        "Heard: 0.00 s to 2.20 s of 2.20 s; level of a tone of 880 Hz, its power averaged twice over 0.568 ms" in finding.method
    )
    assert "a contour that repeats itself, 4 cycles" in finding.method
    assert finding.basis.startswith("The attack was timed on 4 cycles; their spread is")
    assert "dB below the peak and was taken off as power" in finding.basis


def test_a_recorded_voltage_needs_no_tone() -> None:
    made = Made(attack=0.004, plateau=0.01, decay=0.05)
    finding = heard(sides={"as_left": 0.6 * made.level(0.8) + noise(0.8, 1e-4)}, source="voltage")
    assert number(left(finding).results, "attack_s") == pytest.approx(0.004, rel=0.02)
    assert "its voltage, averaged over 0.2 ms" in finding.method


@pytest.mark.parametrize(("limit", "verdict"), [("", Verdict.OUT), ("30", Verdict.IN)])
def test_one_recording_is_held_against_the_range_wanted(limit: str, verdict: Verdict) -> None:
    finding = heard(sides={"as_left": sound(Made(attack=0.05))}, wanted={"attack": (0.06, 2.0)}, limit=limit)
    assert left(finding).verdict is verdict
    assert left(finding).results["expanded_uncertainty"].value == left(finding).results["attack_s"].uncertainty
    assert left(finding).worst.startswith("attack 50.0")


def test_positions_of_a_control_are_items_by_their_own_name() -> None:
    sides = {f"as_left@{at}": sound(Made(attack=t)) for at, t in (("0", 0.01), ("5", 0.05), ("10", 0.3))}
    finding = heard(sides=sides, wanted={"attack": (0.012, 0.4)}, limit="10")
    items = left(finding).items
    assert [(i.item, i.verdict) for i in items] == [("0", Verdict.IN), ("5", Verdict.INFORMATION), ("10", Verdict.OUT)]
    assert number(items[2].results, "attack_s") == pytest.approx(0.3, rel=5e-3)
    assert number(left(finding).results, "attack_longest_s") == number(items[2].results, "attack_s")
    chart = KIND.chart(finding)
    assert chart
    assert "Farthest out as left: attack at 10 0.2" in chart.caption


def test_one_position_without_a_contour_does_not_hide_the_others() -> None:
    finding = heard(sides={"as_left@0": noise(1.0, 0.0), "as_left@5": sound(Made())})
    silent, fine = left(finding).items
    assert (silent.verdict, fine.verdict) == (Verdict.NOT_MEASURED, Verdict.INFORMATION)
    assert silent.results["attack_s"].reason == "the recording is silent: all its samples are the same"


def test_who_knows_that_it_runs_once_may_say_so() -> None:
    side = left(heard(sides={"as_left": sound(Made(attack=0.02, plateau=0.05, decay=0.08, period=0.4))}, mode="one-shot"))
    assert side.results["mode"].value == "one-shot"
    assert side.results["period_s"].value is None


def test_what_cannot_be_heard_is_said() -> None:
    finding = heard(sides={"as_left": tone(440, 1.0)}, from_s=5.0)
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert finding.plain == "Not worked out: the recording ends after 1.00 s, before the stretch that is asked for."


def test_the_chart_of_a_recording_is_one_cycle() -> None:
    finding = heard(sides={"as_found": sound(Made()), "as_left": sound(Made(attack=0.1))})
    chart = KIND.chart(finding)
    assert chart
    assert finding.curve
    assert len(finding.curve.rows) <= 600
    assert "level against time, as found and as left" in chart.alt


def codes(side: Side) -> dict[str, tuple[str, ...]]:
    return {warning.code: warning.affects for warning in side.warnings}


@pytest.mark.parametrize("corner_hz", [0.1, 0.5, 2.0, 20.0])
def test_blocked_direct_voltage_leaves_no_time_that_is_plainly_in(corner_hz: float) -> None:
    """A high pass, as an input for sound has one, takes the voltage below its rest."""
    voltage = Made(attack=0.02, plateau=0.1, decay=0.05).level(1.5)
    blocked = scipy.signal.lfilter(*scipy.signal.butter(1, corner_hz, "highpass", fs=RATE), voltage)
    sides = {"as_found": voltage + noise(1.5, 1e-4), "as_left": blocked + noise(1.5, 1e-4)}
    finding = heard(sides=sides, source="voltage", wanted={"attack": (0.001, 2.0)})
    assert finding.found
    assert (finding.found.verdict, codes(finding.found)) == (Verdict.IN, {})
    assert "attack_s" in codes(left(finding))["dc-blocked"]
    assert left(finding).verdict is not Verdict.IN
    decay = left(finding).results["decay_s"]
    assert "blocks direct voltage" in decay.reason or abs(number({"": decay}, "") - 0.05) <= (decay.uncertainty or 0.0)


def test_an_overdriven_recorder_makes_stages_too_close_to_call() -> None:
    sides = {"as_found": sound(Made()), "as_left": np.clip(3 * sound(Made()), -1, 1)}
    finding = heard(sides=sides, wanted={"attack": (0.001, 2.0)})
    assert finding.found
    assert finding.found.verdict is Verdict.IN
    assert left(finding).verdict is Verdict.TOO_CLOSE
    assert codes(left(finding)) == {"clipped": ("attack_s", "hold_s", "decay_s", "gap_s")}
    assert "too close to call for what is doubtful about it" in left(finding).worst


def test_times_that_the_recorder_may_have_bent_ask_for_no_repair() -> None:
    made = {"as_left@0": Made(attack=0.05), "as_left@10": Made(attack=0.2)}
    whole = heard(sides={name: sound(one) for name, one in made.items()}, wanted={"attack": (0.2, 0.8)})
    assert left(whole).verdict is Verdict.OUT
    assert "attack" in whole.advice
    cut_off = heard(sides={name: np.clip(3 * sound(one), -1, 1) for name, one in made.items()}, wanted={"attack": (0.2, 0.8)})
    assert left(cut_off).verdict is Verdict.TOO_CLOSE
    assert cut_off.advice == ""
    assert "beyond its limit, too close to call for what is doubtful about it" in left(cut_off).worst


@pytest.mark.parametrize("apart_hz", [1.7, 4.0, 9.0])
def test_beats_are_not_taken_for_edges(apart_hz: float) -> None:
    made = Made(attack=0.1, plateau=0.2, decay=0.64, period=1.7)
    finding = heard(sides={"as_left": made.level(8.7) * two_tones(443, apart_hz, 8.7) + noise(8.7, 2e-4)})
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert "beating" in codes(left(finding))
    assert re.search(r"two tones under it beat about .* times a second: record one oscillator alone", finding.plain)


def test_a_faint_beat_widens_what_it_leaves_open() -> None:
    made = Made(attack=0.1, plateau=0.2, decay=0.64)
    clean, beats = (made.level(2.5) * two_tones(443, 5.0, 2.5, ratio=r) + noise(2.5, 2e-4) for r in (0.0, 0.05))
    finding = heard(sides={"as_found": clean, "as_left": beats}, wanted={"decay": (0.1, 2.0)})
    assert finding.found
    assert finding.found.verdict is Verdict.IN
    assert left(finding).verdict is Verdict.TOO_CLOSE
    decay = left(finding).results["decay_s"]
    assert abs(number(left(finding).results, "decay_s") - 0.64) <= (decay.uncertainty or 0.0)
    assert (decay.uncertainty or 0.0) > 10 * (finding.found.results["decay_s"].uncertainty or 0.0)


@pytest.mark.parametrize("offset", [0.03, -0.1])
@pytest.mark.parametrize("kind", ["sine", "ramp"])
def test_direct_voltage_under_a_sound_changes_no_time(kind: str, offset: float) -> None:
    samples = sound(Made(), kind=kind)
    clean, moved = (left(heard(sides={"as_left": x})).results for x in (samples, samples + offset))
    for name in ("attack_s", "hold_s", "decay_s"):
        assert number(moved, name) == pytest.approx(number(clean, name), rel=1e-6)


def test_a_time_less_certain_than_it_is_long_is_no_time() -> None:
    for seed in range(12):
        made = Made(attack=0.02, plateau=0.0, decay=0.03)
        carrier = np.random.default_rng(seed).normal(0, 0.3, round(0.6 * RATE))
        for name in ("attack", "hold", "decay"):
            value = left(heard(sides={"as_left": made.level(0.6) * carrier})).results.get(f"{name}_s")
            assert value is None or value.value is None or (value.uncertainty or 0.0) < number({"": value}, "")


@pytest.mark.parametrize("source", ["signal", "voltage"])
def test_a_click_at_the_start_is_left_out_and_widens_what_it_hides(source: str) -> None:
    made = Made(attack=0.08, plateau=0.1, decay=0.3)
    samples = sound(made) if source == "signal" else 0.5 * made.level(1.6) + noise(1.6, 1e-4)
    at = round(made.start * RATE)
    samples[at : at + 60] += 0.9 * np.hanning(60)
    finding = heard(sides={"as_left": samples}, source=source, wanted={"attack": (0.01, 1.0)})
    for name, true in made.truth.items():
        value = left(finding).results[f"{name}_s"]
        assert abs(number(left(finding).results, f"{name}_s") - true) <= (value.uncertainty or 0.0) < 0.2 * true
    assert codes(left(finding))["click"] == ("attack_s",)
    assert left(finding).verdict is Verdict.TOO_CLOSE


def swinging(made: Made, depth_db: float, hz: float, *, seed: int = 0) -> Floats:
    """Return a tone under a contour, whose level also goes up and down by so many decibels."""
    share = (10 ** (depth_db / 20) - 1) / (10 ** (depth_db / 20) + 1)
    tremolo = 1 + share * np.sin(2 * np.pi * hz * seconds(5.0) + seed)
    return 0.5 * made.level(5.0) * tone(440, 5.0) * tremolo + noise(5.0, 1e-3, seed=seed)


@pytest.mark.parametrize("made", [Made(0.3, 0.3, 0.8), Made(0.2, 0.2, 0.5, period=1.6)], ids=["once", "again"])
@pytest.mark.parametrize(("depth_db", "hz"), [(2.0, 5.0), (6.0, 8.0), (11.0, 6.0)])
def test_a_tremolo_makes_the_times_doubtful(made: Made, depth_db: float, hz: float) -> None:
    wanted = {"attack": (1e-3, 5.0), "decay": (1e-3, 5.0)}
    side = left(heard(sides={"as_left": swinging(made, depth_db, hz)}, limit="5", wanted=wanted))
    (warning,) = (w for w in side.warnings if w.code == "tremolo")
    told = re.search(r"about ([\d.]+) times a second", warning.message)
    assert told
    assert float(told[1]) == pytest.approx(hz, rel=0.2)
    assert warning.touches("attack_s")
    assert side.verdict is not Verdict.IN


@pytest.mark.parametrize("seed", range(6))
def test_a_contour_without_one_is_not_called_a_tremolo(seed: int) -> None:
    random = np.random.default_rng(seed)
    made = Made(
        10 ** random.uniform(-2, 0), random.uniform(0, 0.6), 10 ** random.uniform(-0.7, 0.3), period=(math.inf, 2.9)[seed % 2]
    )
    side = left(heard(sides={"as_left": swinging(made, 0.0, 5.0, seed=seed)}))
    assert "tremolo" not in [warning.code for warning in side.warnings]


@pytest.mark.parametrize(("level_db", "codes_told"), [(-45, ["hum"]), (-100, [])])
def test_hum_under_a_contour_is_told_and_leaves_its_times(level_db: float, codes_told: list[str]) -> None:
    made = Made(0.2, 0.3, 0.7)
    mains = 10 ** (level_db / 20) * sum(tone(50 * n, 5.0) / n for n in (1, 2, 3))
    side = left(heard(sides={"as_left": 0.5 * made.level(5.0) * tone(440, 5.0) + noise(5.0, 1e-4) + 0.5 * mains}))
    assert [(warning.code, warning.affects) for warning in side.warnings] == [(code, ()) for code in codes_told]
    assert number(side.results, "attack_s") == pytest.approx(0.2, abs=side.results["attack_s"].uncertainty)


def test_a_struck_tone_dies_away_as_it_does_however_sudden_its_attack() -> None:
    """A sine of 80 Hz to 3 kHz that decays exponentially from a sudden onset, in noise and with direct voltage under it."""
    rng = np.random.default_rng(5)
    off: list[float] = []
    for attack in 6 * [0.0, 0.001, 0.002, 0.005, 0.01, 0.02]:
        hz, tau = (float(np.exp(rng.uniform(np.log(low), np.log(high)))) for low, high in ((80, 3000), (0.04, 0.8)))
        length = 0.5 + 8 * tau
        u = seconds(length) - 0.3
        level = np.where(u < 0, 0.0, np.where(u < attack, u / (attack or 1.0), np.exp((attack - u) / tau)))
        wave = np.sin(2 * np.pi * (hz * u + rng.uniform()))
        samples = (
            0.7 * level * wave + noise(length, 10 ** (rng.uniform(-90, -60) / 20), seed=round(hz)) + rng.choice([0.0, 0.02])
        )
        found = left(heard(sides={"as_left": samples}, mode="one-shot")).results["decay_s"]
        if found.value is not None:
            assert found.uncertainty
            off.append(abs(float(found.value) - tau * math.log(9)) / found.uncertainty)
    assert len(off) >= 34
    assert sum(one <= 1 for one in off) >= 0.95 * len(off)
    assert max(off) < AT_MOST
    assert float(np.median(off)) > 0.1
