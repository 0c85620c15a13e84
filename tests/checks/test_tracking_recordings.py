"""Tracking from recordings: steps, one recording for each voltage, two oscillators, and one that need not track."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import Sound
from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.findings.kept import as_bytes, from_bytes
from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.job import Check, DecisionRule, Take
from benchrecord.model.quantity import Quantity
from checks.conftest import Worked
from contours import tone
from sounds import MemorySound, check_of, opened, seconds, with_noise
from waves import wandering_phase

KIND = all_kinds()["tracking"]
VOLTS = (0.0, 1.0, 2.0, 3.0, 4.0)
LIMIT = Quantity(3, "cents", "3 cents")


def stepped(hz: Sequence[float], length_s: float = 1.2, *, rate: int = 48_000) -> MemorySound:
    samples = np.concatenate([tone(f, length_s, rate=rate) for f in hz])
    return MemorySound(with_noise(samples, 50.0), rate)


def heard(sides: dict[str, Any], *, limit: Quantity | None = LIMIT, **keys: Any) -> CheckFinding:
    check, bench = check_of("tracking", sides, limit=limit, **keys)
    finding = KIND.examine(check, bench)
    assert from_bytes(as_bytes(finding), check) == finding
    return finding


def left(finding: CheckFinding) -> Side:
    assert finding.left
    return finding.left


def number(side: Side, name: str) -> float:
    found = side.results[name].value
    assert isinstance(found, float), side.results[name]
    return found


def exact(volts: Sequence[float], base: float = 110.0) -> list[float]:
    return [base * 2**v for v in volts]


def test_a_stepped_recording_gives_the_scale_and_the_errors() -> None:
    """At 1.01 V per octave four volts are 4/1.01 octaves: 1200·(4/1.01 − 4) = −47.5 cents."""
    finding = heard({"as_left": stepped([110 * 2 ** (v / 1.01) for v in VOLTS])}, steps=VOLTS)
    side = left(finding)
    assert side.verdict is Verdict.OUT
    assert number(side, "volts_per_octave") == pytest.approx(1.01, abs=1e-5)
    assert number(side, "worst_cents") == pytest.approx(1200 * (4 - 4 / 1.01), abs=0.02)
    u = side.results["worst_cents"].uncertainty
    assert u is not None
    assert u < 0.02
    assert finding.advice.startswith("Scale first: an octave takes too much voltage and comes out 11.9 cents narrow")


def test_published_pairs_are_found_again_in_a_recording() -> None:
    """Topic 02, class derived: 2 V above 261.6255653 Hz an oscillator that gives 1048.0 Hz is 2.475945615 cents sharp."""
    finding = heard({"as_left": stepped([261.6255653006, 1048.0], 2.0)}, steps=(0.0, 2.0))
    side = left(finding)
    u = side.results["worst_cents"].uncertainty or 0.0
    assert abs(number(side, "worst_cents") - 2.475945615) <= 1.5 * u < 0.02


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_steps_may_be_named_by_their_notes_and_then_have_an_offset(rate: int) -> None:
    """Topic 02, class derived: notes 45, 57 and 69 are 110, 220 and 440 Hz; all are 5 cents sharp here."""
    hz = [f * 2 ** (5 / 1200) for f in (110.0, 220.0, 440.0)]
    finding = heard({"as_left": stepped(hz, rate=rate)}, steps=("A2", "A3", "A4"))
    assert number(left(finding), "worst_cents") == pytest.approx(0, abs=0.02)
    assert number(left(finding), "offset_cents") == pytest.approx(5, abs=0.02)
    assert "Offset +5.0 cents from its note, where A4 is 440 Hz." in finding.method
    assert [row[0] for row in finding.table.rows] == ["A2", "A3", "A4"]


def test_steps_may_come_in_any_order() -> None:
    finding = heard({"as_left": stepped(exact((2.0, 0.0, 1.0)))}, steps=(2.0, 0.0, 1.0))
    assert number(left(finding), "worst_cents") == pytest.approx(0, abs=0.02)


def test_a_number_of_steps_that_does_not_agree_is_said_in_one_sentence() -> None:
    finding = heard({"as_left": stepped(exact(VOLTS))}, steps=VOLTS[:4])
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert finding.plain.startswith("Not worked out: 5 steps are heard, and 4 are listed (at 109.99, 220, 440, 880, 1760 Hz)")
    assert KIND.chart(finding) is None


def test_steps_that_are_not_listed_are_asked_for() -> None:
    finding = heard({"as_left": stepped(exact(VOLTS))})
    assert finding.plain == "Not worked out: its steps are not listed: write steps: and the volts or the notes, in their order."


def test_a_recording_for_each_voltage_does_as_well() -> None:
    sides = {f"as_left@{v}": MemorySound(with_noise(tone(f, 1.0), 50)) for v, f in (("0", 110.0), ("1 V", 220.0), ("2", 440.0))}
    side = left(heard(sides))
    assert number(side, "worst_cents") == pytest.approx(0, abs=0.05)
    assert number(side, "volts_per_octave") == pytest.approx(1, abs=1e-4)


def test_a_recording_without_a_tone_leaves_its_voltage_out_and_says_so() -> None:
    tones = {f"as_left@{v}": MemorySound(tone(f, 1.0)) for v, f in (("0", 110.0), ("1", 220.0))}
    finding = heard({**tones, "as_left@2": MemorySound(np.zeros(48_000))})
    assert number(left(finding), "worst_cents") == pytest.approx(0, abs=0.05)
    (warning,) = (w for w in left(finding).warnings if w.code == "left-out")
    assert warning.message.startswith("Left out: at 2, ")
    assert left(finding).verdict is Verdict.TOO_CLOSE


def test_a_linear_scale_is_heard_in_percent() -> None:
    finding = heard(
        {"as_left": stepped([500, 1000, 2060])}, steps=(1.0, 2.0, 4.0), hertz_per_volt=500.0, limit=Quantity(1, "%", "1 %")
    )
    assert number(left(finding), "worst_percent") == pytest.approx(3, abs=0.01)
    assert left(finding).verdict is Verdict.OUT


def test_the_sentences_of_a_recording() -> None:
    finding = heard({"as_found": stepped(exact(VOLTS, 108.0)), "as_left": stepped(exact(VOLTS))}, steps=VOLTS)
    assert finding.method.startswith("Heard: 5 steps between ")
    assert (
        "the frequency of each steady part from all its harmonics. Limits are guarded by the expanded uncertainty"
        in finding.method
    )
    assert finding.basis.startswith("Least sure is ")
    assert "How fast the recorder's own clock runs moves all frequencies alike, and no error." in finding.basis


Twins = Callable[[Sequence[float], Sequence[float]], CheckFinding]


@pytest.fixture
def twins() -> Twins:
    """Return what works out an oscillator beside another, from the frequencies of both at the same voltages."""

    def work(own: Sequence[float], other: Sequence[float]) -> CheckFinding:
        sounds = {"a": stepped(own), "b": stepped(other)}
        keys = {"steps": VOLTS}
        first, second = (
            Check(name, title, "tracking", takes=(Take("as_left", name),), keys={**keys, "tracks_with": twin}, limit=LIMIT)
            for name, title, twin in (("a", "One", "b"), ("b", "Two", "a"))
        )
        return KIND.examine(first, Bench(DecisionRule.GUARDED, checks={"a": first, "b": second}, open=opened(sounds)))

    return work


def test_two_oscillators_are_heard_against_each_other(twins: Twins) -> None:
    """The second is 2 cents a volt sharp of the first: 8 cents apart at 4 V, where 1760 Hz beat 8.15 times a second."""
    finding = twins(exact(VOLTS), [f * 2 ** (2 * v / 1200) for v, f in zip(VOLTS, exact(VOLTS), strict=True)])
    side = left(finding)
    assert number(side, "spread_cents") == pytest.approx(8, abs=0.05)
    assert side.results["interval_cents"].value == pytest.approx((0, 2, 4, 6, 8), abs=0.05)
    beats = side.results["beats_hz"].value
    assert isinstance(beats, tuple)
    assert beats[-1] == pytest.approx(1760 * (2 ** (8 / 1200) - 1), abs=0.05)
    assert finding.table.columns[-2:] == ("Interval to Two as left in cents", "Beats with Two as left in 1/s")
    chart = KIND.chart(finding)
    assert chart
    assert "the interval to Two against that at the lowest voltage, with the beats in a second above" in chart.caption


def test_each_of_two_oscillators_is_heard_once() -> None:
    sounds = {"a": stepped(exact(VOLTS)), "b": stepped(exact(VOLTS))}
    checks = {
        name: Check(name, name, "tracking", takes=(Take("as_left", name),), keys={"steps": VOLTS, "tracks_with": twin})
        for name, twin in (("a", "b"), ("b", "a"))
    }
    asked: list[str] = []

    def open_sound(file: str) -> Sound | NotHad:
        asked.append(file)
        return sounds[file]

    bench = Bench(DecisionRule.GUARDED, checks=checks, open=open_sound)
    apart = [number(left(KIND.examine(check, bench)), "spread_cents") for check in checks.values()]
    assert apart == pytest.approx([0, 0], abs=0.05)
    assert sorted(asked) == ["a", "b"]


def test_one_that_runs_an_octave_below_is_moved_by_it(twins: Twins) -> None:
    side = left(twins(exact(VOLTS), [f / 2 * 2 ** (3 / 1200) for f in exact(VOLTS)]))
    assert side.results["interval_cents"].value == pytest.approx((3,) * 5, abs=0.05)
    assert number(side, "spread_cents") == pytest.approx(0, abs=0.05)


def slow(hz: float, length_s: float = 12.0) -> MemorySound:
    return MemorySound(with_noise(np.sin(2 * np.pi * hz * np.arange(round(length_s * 4000)) / 4000), 40), 4000)


def sides(**hz: float) -> dict[str, MemorySound]:
    return {f"as_left@{at[1:]}": slow(f) for at, f in hz.items()}


@pytest.mark.parametrize(
    ("range_hz", "verdict", "advice"),
    [
        (None, Verdict.IN, ""),
        ((0.5, 18.0), Verdict.IN, ""),
        ((0.3, 18.0), Verdict.OUT, "Its slowest is not slow enough"),
        ((0.5, 21.0), Verdict.OUT, "Its fastest is not fast enough"),
    ],
)
def test_an_oscillator_that_need_not_track_has_a_range(
    range_hz: tuple[float, float] | None, verdict: Verdict, advice: str
) -> None:
    keys = {"range_hz": range_hz} if range_hz else {}
    finding = heard(sides(p0=0.4, p5=3.0, p10=19.0), not_tracking=True, limit=Quantity(10, "cents", "10 cents"), **keys)
    side = left(finding)
    assert side.verdict is verdict
    assert finding.advice.startswith(advice)
    assert (number(side, "lowest_hz"), number(side, "highest_hz")) == (
        pytest.approx(0.4, rel=1e-4),
        pytest.approx(19, rel=1e-4),
    )
    assert "volts_per_octave" not in side.results
    assert finding.plain.startswith("As left, it runs from 0.4000 Hz to 19.00 Hz and is steady within ")
    assert KIND.chart(finding)


def test_one_that_does_not_stand_still_is_out() -> None:
    """Periods that differ by 2 % (standard deviation) are 35 cents."""
    periods = 0.25 * (1 + np.random.default_rng(5).normal(0, 0.02, 60))
    turns = np.interp(np.arange(0, periods.sum(), 1 / 4000), np.concatenate([[0], np.cumsum(periods)]), np.arange(61))
    finding = heard(
        {"as_left": MemorySound(np.sin(2 * np.pi * turns), 4000)}, not_tracking=True, limit=Quantity(10, "cents", "10 cents")
    )
    assert number(left(finding), "stability_cents") == pytest.approx(34.6, rel=0.25)
    assert left(finding).verdict is Verdict.OUT
    assert finding.advice.startswith("It does not stand still")
    assert "that were counted in" in finding.basis


def test_a_table_tells_range_and_wander_too(worked: Worked) -> None:
    """Three readings at 5 V: 2.00, 2.01 and 2.02 Hz differ by 8.6 cents each."""
    rows = "volts,as_left_hz\n0,0.1\n5,2.00\n5,2.01\n5,2.02\n10,20\n"
    finding = worked("kind: tracking, not_tracking: yes, range_hz: [0.1, 20], limit: 10 cents", rows)
    assert number(left(finding), "stability_cents") == pytest.approx(8.6, abs=0.1)
    assert finding.plain == "As left, it runs from 0.1 Hz to 20 Hz and wanders by 8.6 cents."
    once = worked("kind: tracking, not_tracking: yes", "volts,as_left_hz\n0,0.1\n10,20\n")
    assert left(once).results["stability_cents"].reason.startswith("each voltage was read once")
    assert once.plain == "As left, it runs from 0.1 Hz to 20 Hz."
    assert once.verdict is Verdict.INFORMATION


def test_a_free_oscillator_in_the_range_of_hearing_is_heard_by_its_steps() -> None:
    finding = heard({"as_left": stepped([100, 1000], 4.0)}, not_tracking=True, steps=(0.0, 10.0), limit=None)
    assert (number(left(finding), "lowest_hz"), number(left(finding), "highest_hz")) == (
        pytest.approx(100),
        pytest.approx(1000),
    )
    assert number(left(finding), "stability_cents") < 0.1


def test_what_cannot_be_heard_is_said() -> None:
    silence: Floats = np.zeros(48_000)
    for keys in ({"steps": VOLTS}, {"not_tracking": True}):
        finding = heard({"as_left": MemorySound(silence)}, **keys)
        assert finding.plain.startswith("Not worked out: ")
        assert left(finding).verdict is Verdict.NOT_MEASURED


def codes(finding: CheckFinding) -> set[str]:
    return {warning.code for warning in left(finding).warnings}


def test_a_vibrato_is_out_of_a_limit_of_steadiness() -> None:
    """±30 cents at 8 Hz: an rms of 21.2, a peak of 30, and no drift."""
    t = np.arange(48_000 * 4) / 48_000
    samples = np.sin(2 * np.pi * np.cumsum(440 * 2 ** (30 * np.sin(2 * np.pi * 8 * t) / 1200)) / 48_000)
    finding = heard(
        {"as_left": MemorySound(with_noise(samples, 60))}, not_tracking=True, limit=Quantity(25, "cents", "25 cents")
    )
    side = left(finding)
    assert number(side, "wander_rms_cents") == pytest.approx(21.2, rel=0.02)
    assert number(side, "wander_peak_cents") == pytest.approx(30, rel=0.03)
    assert number(side, "wander_rate_hz") == pytest.approx(8, abs=0.01)
    assert abs(number(side, "drift_cents")) < 1
    assert side.verdict is Verdict.OUT


def test_a_drift_is_held_against_the_limit_of_steadiness() -> None:
    samples = np.sin(2 * np.pi * np.cumsum(440 * 2 ** (np.linspace(-4, 4, 48_000 * 4) / 1200)) / 48_000)
    finding = heard({"as_left": MemorySound(with_noise(samples, 60))}, not_tracking=True, limit=Quantity(5, "cents", "5 cents"))
    assert number(left(finding), "drift_cents") == pytest.approx(
        8, abs=0.05
    )  # of the whole recording, though the pitch is read after its first 0.2 s
    assert left(finding).verdict is Verdict.OUT
    assert left(finding).worst.startswith("drift +8.0 cents")


@pytest.mark.parametrize(("hz", "length_s"), [(2.0, 10.0), (3.2, 10.0), (2.0, 20.0)])
def test_a_slow_oscillator_drifts_in_all_of_its_recording(hz: float, length_s: float) -> None:
    """Ten cents from the first sample to the last are out of a limit of 9.8, however few periods tell them."""
    rate, cents = 8000, np.linspace(0, 10, round(length_s * 8000))
    samples = np.sin(2 * np.pi * np.cumsum(hz * 2 ** (cents / 1200)) / rate)
    limit = Quantity(9.8, "cents", "9.8 cents")
    finding = heard({"as_left": MemorySound(with_noise(samples, 70), rate)}, not_tracking=True, limit=limit)
    off = abs(number(left(finding), "drift_cents") - 10)
    assert off <= (left(finding).results["drift_cents"].uncertainty or 0) < 0.2
    assert left(finding).verdict is Verdict.OUT


@pytest.mark.parametrize(
    ("vibrato", "drift", "sentence"),
    [
        (20.0, 0.0, "it runs at 5.000 Hz and wanders by 14"),
        (0.0, 8.0, "it runs at 5.000 Hz and drifts by +8.0"),
        (20.0, -60.0, "it runs at 5.000 Hz, wanders by 14"),
        (0.0, 0.0, "it runs at 5.000 Hz and is steady within 0.1 cents"),
    ],
)
def test_a_drift_is_no_wander_in_a_sentence_nor_in_a_table(vibrato: float, drift: float, sentence: str) -> None:
    t = np.arange(20 * 2000) / 2000
    cents = vibrato * np.sin(2 * np.pi * 0.5 * t) + drift * (t / 20 - 0.5)
    samples = np.sin(2 * np.pi * np.cumsum(5 * 2 ** (cents / 1200)) / 2000)
    finding = heard({"as_left": MemorySound(with_noise(samples, 60), 2000)}, not_tracking=True, limit=None)
    assert sentence in finding.plain, finding.plain
    assert ("drifts" in finding.plain, "wanders" in finding.plain) == (drift != 0, vibrato != 0), finding.plain
    assert finding.table.columns[5:] == ("Wander (rms) as left in cents", "Drift as left in cents")
    wander, drifted = finding.table.rows[0][5:]
    assert isinstance(wander, Value)
    assert isinstance(drifted, Value)
    assert (wander.value is None) == (vibrato == 0)
    assert drifted.value == pytest.approx(drift, abs=0.5)


def test_steps_that_were_played_in_another_order_are_refused_with_the_order() -> None:
    finding = heard({"as_left": stepped(exact((2.0, 0.0, 1.0, 3.0)))}, steps=(0.0, 1.0, 2.0, 3.0))
    assert left(finding).verdict is Verdict.NOT_MEASURED
    assert "write steps: [2, 0, 1, 3], as they were played" in left(finding).reason


def test_one_tone_too_many_is_named() -> None:
    played = [110.0, 220.0, 300.0, 440.0, 880.0]
    finding = heard({"as_left": stepped(played)}, steps=(0.0, 1.0, 2.0, 3.0))
    assert "without the one at 300 Hz they fit" in left(finding).reason


def test_a_reading_that_is_a_multiple_of_what_its_neighbour_lets_expect_is_doubtful() -> None:
    finding = heard({"as_left": stepped([110.0, 220.0, 440.0, 1760.0])}, steps=VOLTS[:4])
    assert "harmonic-misread" in codes(finding)
    assert any("3 V is 2 times what the other readings let expect" in warning.message for warning in left(finding).warnings)
    assert left(finding).verdict is Verdict.TOO_CLOSE
    assert number(left(finding), "worst_cents") < 1
    assert left(finding).results["errors_cents"].value[3] == pytest.approx(1200, abs=1)  # type: ignore[index]
    assert finding.advice.startswith("No reading that can be relied on is out of its limit")


def gliding(hold_s: float, *, tau_s: float = 0.0, linear_s: float = 0.0, wide: float = 1.0, seed: int = 0) -> MemorySound:
    """Return a saw at 48 kHz that goes up six octaves of 1200·wide cents, gliding like a charging capacitor or for a constant time."""
    t, at, course = np.arange(round(hold_s * 48_000)) / 48_000, 0.0, []
    for step in range(6):
        aim = step * wide
        course.append(aim + (at - aim) * (np.exp(-t / tau_s) if tau_s else np.maximum(0, 1 - t / linear_s)))
        at = float(course[-1][-1])
    phase = np.cumsum(65.41 * 2 ** np.concatenate(course)) / 48_000
    return MemorySound(with_noise(0.35 * (2 * (phase % 1) - 1), 55, seed=seed))


@pytest.mark.parametrize(
    ("hold_s", "tau_s", "linear_s"),
    [(1.0, 0.0, 0.2), (1.0, 0.0, 0.5), (2.0, 0.12, 0.0), (2.0, 0.25, 0.0), (2.0, 0.3, 0.0), (2.0, 0.35, 0.0)],
)
@pytest.mark.parametrize("wide", [1.0, 1.002])
def test_no_glide_is_read_as_another_octave_nor_out_of_limits_by_itself(
    hold_s: float, tau_s: float, linear_s: float, wide: float
) -> None:
    limit = Quantity(15, "cents", "15 cents")
    finding = heard({"as_left": gliding(hold_s, tau_s=tau_s, linear_s=linear_s, wide=wide)}, steps=(*VOLTS, 5.0), limit=limit)
    side = left(finding)
    if side.verdict is Verdict.NOT_MEASURED:
        assert side.reason.count("still gliding") > 3
        return
    assert side.verdict in (Verdict.IN, Verdict.TOO_CLOSE)
    assert number(side, "worst_cents") < 15
    missing = 6 - len(side.results["errors_cents"].value)  # type: ignore[arg-type]
    assert (f"{missing} of 6 readings are left out, which still glide" in finding.plain) == (missing > 0)
    assert codes(finding) <= {"left-out", "gliding"}


def test_steps_that_glide_all_the_time_are_refused_with_that_reason() -> None:
    short = heard({"as_left": gliding(1.0, tau_s=0.15)}, steps=(*VOLTS, 5.0))
    assert left(short).verdict is Verdict.NOT_MEASURED
    assert "fewer than two readings at different voltages: step 2: still gliding" in left(short).reason
    long = heard({"as_left": gliding(1.0, tau_s=0.4)}, steps=(*VOLTS, 5.0))
    assert "% of the time the pitch glides" in left(long).reason


def test_an_octave_below_that_leaks_into_one_reading_does_not_halve_it() -> None:
    sounds = {f"as_left@{v}": tone(f, 2.0, kind="pulse") for v, f in enumerate(exact(VOLTS))}
    sounds["as_left@3"] += 10 ** (-23.5 / 20) * tone(440.0, 2.0, kind="pulse")
    finding = heard({at: MemorySound(with_noise(x, 60)) for at, x in sounds.items()})
    assert number(left(finding), "worst_cents") < 0.5
    assert left(finding).verdict is Verdict.IN
    assert codes(finding) == {"leaking-undertone"}


def test_a_recording_of_tracking_has_the_warnings_of_a_spectrum() -> None:
    """Overdriven, and with hum."""
    t = np.arange(48_000 * 3) / 48_000
    overdriven = {f"as_left@{v}": MemorySound(np.clip(1.5 * tone(f, 2.0), -0.9, 0.9)) for v, f in ((0, 110.0), (1, 220.0))}
    assert "clipped" in codes(heard(overdriven))
    hum = sum(0.02 / n * np.sin(2 * np.pi * 50 * n * t) for n in range(1, 5))
    assert "hum" in codes(heard({f"as_left@{v}": MemorySound(tone(f, 3.0) + hum) for v, f in ((0, 113.0), (1, 226.0))}))


@pytest.mark.parametrize(("rate_hz", "fast"), [(90.0, True), (5.0, False)])
def test_wander_faster_than_the_band_is_not_plainly_in(rate_hz: float, fast: bool) -> None:  # noqa: FBT001
    t = seconds(4)
    moving = 0.4 * np.sin(2 * np.pi * wandering_phase(441.3, 3 * np.sin(2 * np.pi * rate_hz * t), 48_000))
    side = left(
        heard({"as_left": MemorySound(with_noise(moving, 60))}, not_tracking=True, limit=Quantity(10, "cents", "10 cents"))
    )
    assert side.verdict is (Verdict.TOO_CLOSE if fast else Verdict.IN)
    touched = [warning for warning in side.warnings if warning.touches("wander_peak_cents")]
    assert [warning.code for warning in touched] == (["fast-wander"] if fast else [])
    assert not fast or "about 90 times a second, by 2 cents (rms)" in touched[0].message


def test_partials_that_are_no_whole_multiples_are_told_of_in_tracking_too() -> None:
    """1 : 2.003, the frequency of the lowest being right."""
    t = np.arange(48_000 * 2) / 48_000
    sounds = {
        f"as_left@{v}": 0.4 * np.sin(2 * np.pi * f * t) + 0.3 * np.sin(2 * np.pi * 2.003 * f * t)
        for v, f in enumerate(exact(VOLTS))
    }
    finding = heard({at: MemorySound(with_noise(x, 70)) for at, x in sounds.items()})
    assert codes(finding) == {"inharmonic"}
    assert any("is 2.003 times the lowest" in warning.message for warning in left(finding).warnings)
    assert number(left(finding), "worst_cents") < 0.1
    assert left(finding).verdict is Verdict.IN
