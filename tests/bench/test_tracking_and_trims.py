"""Tracking and trims: definitions of this project (class derived), held by their exact properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import trims
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import Beat, LinearTracking, Tracking, exponential_tracking, linear_tracking, oscillator_beats
from benchrecord.bench.uncertainty import TWO_SIGMA, coverage_factor

SCALES = st.floats(0.1, 3.0)
BASES = st.floats(1.0, 2000.0)
POINTS = st.lists(st.integers(-20, 50).map(lambda n: n / 10), min_size=3, max_size=12, unique=True)


def tracked(volts: list[float], hz: list[float], scale: float, **more: float) -> Tracking:
    fit = exponential_tracking(volts, hz, nominal_volts_per_octave=scale, reference_volts=more.get("at"))
    assert isinstance(fit, Tracking)
    return fit


@given(POINTS, SCALES, BASES, st.data())
def test_an_exact_scale_has_no_error_from_any_reference(
    volts: list[float], scale: float, base: float, draw: st.DataObject
) -> None:
    at = draw.draw(st.sampled_from(volts))
    fit = tracked(volts, [base * 2 ** (v / scale) for v in volts], scale, at=at)
    assert fit.reference_volts == at
    assert fit.errors_cents == pytest.approx([0.0] * len(volts), abs=1e-7)
    assert fit.volts_per_octave == pytest.approx(scale, rel=1e-9)
    assert fit.curvature_cents_per_octave2 == pytest.approx(0.0, abs=1e-4)
    assert (fit.scale_error_percent, fit.worst_cents, fit.rms_cents) == pytest.approx((0, 0, 0), abs=1e-6)


@given(st.floats(-20, 20), st.floats(0.5, 2.0), st.floats(0.1, 10))
def test_errors_and_curvature_are_as_made_and_do_not_know_the_pitch(bend: float, scale: float, factor: float) -> None:
    volts = [scale * n for n in range(6)]
    hz = [55 * 2 ** (n + bend * n * n / 1200) for n in range(6)]
    fit, moved = tracked(volts, hz, scale), tracked(volts, [factor * f for f in hz], scale)
    assert fit.errors_cents == pytest.approx([bend * n * n for n in range(6)], abs=1e-8)
    assert moved.errors_cents == pytest.approx(fit.errors_cents, abs=1e-8)
    assert fit.curvature_cents_per_octave2 == pytest.approx(bend, abs=1e-7)
    assert fit.octaves == pytest.approx(range(6))


def test_a_flat_top_end_bends_down_and_is_the_worst() -> None:
    fit = tracked([0.0, 1.0, 2.0, 3.0, 4.0], [100.0, 200.0, 400.0, 800.0, 1560.0], 1.0)
    assert fit.curvature_cents_per_octave2 is not None
    assert fit.curvature_cents_per_octave2 < 0
    assert (fit.worst_at_volts, fit.worst_cents) == (4.0, -fit.worst_signed_cents)
    assert fit.worst_signed_cents == pytest.approx(1200 * math.log2(1560 / 1600))
    assert fit.rms_cents == pytest.approx(fit.worst_cents / math.sqrt(5))


def test_a_wide_scale_is_told_as_volts() -> None:
    fit = tracked([1.0, 0.0, 2.0], [200 / 2 ** (1 - 1 / 1.02), 100.0, 100 * 2 ** (2 / 1.02)], 1.0)
    assert fit.scale_error_percent == pytest.approx(2.0, abs=1e-9)
    assert (fit.reference_volts, fit.reference_hz) == (0.0, 100.0)
    assert fit.errors_cents[0] == pytest.approx(1200 * (1 / 1.02 - 1))  # in the order of the readings


def test_uncertainty_of_errors_joins_reading_and_reference() -> None:
    fit = exponential_tracking([0.0, 1.0], [100.0, 200.0], hz_uncertainty=[0.03, 0.08])
    assert isinstance(fit, Tracking)
    assert fit.errors_u_cents == pytest.approx((0.0, 1200 / math.log(2) * 0.0005))  # 3e-4 and 4e-4 join to 5e-4
    assert fit.volts_per_octave_u == pytest.approx(0.0005 / math.log(2))
    assert (fit.curvature_cents_per_octave2, fit.curvature_u) == (None, None)


def test_uncertainty_of_the_scale_is_that_of_the_inverted_slope() -> None:
    generator = np.random.default_rng(1)
    volts = np.linspace(0, 5, 11)
    noise = 1e-3
    slopes = [
        tracked(volts.tolist(), (2 ** (volts / 0.5 + generator.normal(0, noise, 11))).tolist(), 0.5).volts_per_octave
        for _ in range(400)
    ]
    expected = 0.5**2 * noise / math.sqrt(float(np.sum((volts - volts.mean()) ** 2)))
    assert np.std(slopes) == pytest.approx(expected, rel=0.15)
    widened = expected * coverage_factor(TWO_SIGMA, 9) / 2
    told = [
        tracked(volts.tolist(), (2 ** (volts / 0.5 + generator.normal(0, noise, 11))).tolist(), 0.5).volts_per_octave_u or 0
        for _ in range(100)
    ]
    assert np.mean(told) == pytest.approx(widened, rel=0.15)


def off_over_u(count: int, seed: int, *, bend: float = 0.0, set_within_cents: float = 0.0, known: bool = True) -> list[float]:
    """Return the errors of scale and bend over U, of readings that are the less sure the lower they are."""
    octaves = np.linspace(0, 8, count)
    own = 0.3 * 2 ** -(octaves / 2)  # cents
    random = np.random.default_rng(seed).normal(0, np.hypot(own, set_within_cents))
    hz = 20 * 2 ** (octaves + (bend * octaves**2 + random) / 1200)
    fit = exponential_tracking(octaves, hz, hz_uncertainty=hz * own * math.log(2) / 1200 if known else None)
    assert isinstance(fit, Tracking)
    true = 1 / (1 + 8 * bend / 1200)  # a parabola's straight line is as steep as its middle
    found = (
        (fit.volts_per_octave - true, fit.volts_per_octave_u),
        (
            (fit.curvature_cents_per_octave2 or 0) - bend,
            fit.curvature_u,
        ),
    )
    return [error / (2 * u) for error, u in found if u]


@pytest.mark.parametrize(
    "how",
    [{}, {"bend": -0.8}, {"set_within_cents": 3.0}, {"set_within_cents": 3.0, "known": False}],
    ids=["straight", "bent", "set by hand", "no meter"],
)
def test_the_stated_uncertainty_of_scale_and_bend_is_honest(how: dict[str, float]) -> None:
    """95 of 100 lie within U, which is no more than three times what is seen.

    Also of few readings, of a bend, which is no scatter, and where voltages lie beside what was written.
    """
    off = np.concatenate([off_over_u(n, seed, **how) for n in (5, 6, 8) for seed in range(60)])  # type: ignore[arg-type]
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


def test_three_readings_of_known_uncertainty_tell_scale_and_bend() -> None:
    off = np.array([off_over_u(3, seed) for seed in range(100)])
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6
    assert (
        len(off_over_u(3, 1, known=False)) == 1
    )  # three readings of their own tell nothing of what their bend is uncertain by


@pytest.mark.parametrize(
    ("volts", "hz", "at"),
    [
        ([0.0], [100.0], None),
        ([1.0, 1.0], [100.0, 101.0], None),
        ([0.0, 1.0], [0.0, 100.0], None),
        ([0.0, 1.0], [1.0, 2.0], 3.0),
        ([], [], None),
    ],
)
def test_too_little_is_said(volts: list[float], hz: list[float], at: float | None) -> None:
    fit = exponential_tracking(volts, hz, reference_volts=at)
    assert isinstance(fit, NotHad)
    assert fit.reason


def test_unequal_lengths_are_misuse() -> None:
    with pytest.raises(ValueError, match="each voltage"):
        exponential_tracking([0.0, 1.0], [100.0])


@given(st.lists(st.integers(1, 80).map(lambda n: n / 10), min_size=2, max_size=9, unique=True), st.floats(10, 1000))
def test_an_exact_linear_oscillator(volts: list[float], per_volt: float) -> None:
    fit = linear_tracking(volts, [per_volt * v for v in volts], nominal_hertz_per_volt=per_volt)
    assert isinstance(fit, LinearTracking)
    assert fit.hertz_per_volt == pytest.approx(per_volt)
    assert fit.worst_percent == pytest.approx(0, abs=1e-9)


def test_a_linear_oscillator_that_is_off() -> None:
    fit = linear_tracking([1.0, 2.0], [110.0, 217.8], nominal_hertz_per_volt=110.0)
    assert isinstance(fit, LinearTracking)
    assert fit.errors_percent == pytest.approx((0.0, -1.0))
    assert fit.worst_percent == pytest.approx(1.0)
    assert fit.hertz_per_volt == pytest.approx((110 + 2 * 217.8) / 5)
    assert isinstance(linear_tracking([0.0, 1.0], [0.0, 110.0], nominal_hertz_per_volt=110.0), NotHad)


def test_beats_at_common_voltages() -> None:
    beats = oscillator_beats([2.0, 1.0, 0.0], [442.0, 220.0, 110.0], [0.5, 1.0, 2.0], [150.0, 220.0, 440.0])
    assert isinstance(beats, tuple)
    assert beats[0] == Beat(1.0, 0.0, 0.0)
    assert (beats[1].volts, beats[1].hz, len(beats)) == (2.0, 2.0, 2)
    assert beats[1].cents == pytest.approx(-7.85141504, abs=1e-8)
    assert isinstance(oscillator_beats([1.0], [1.0], [2.0], [1.0]), NotHad)
    assert isinstance(oscillator_beats([1.0], [0.0], [1.0], [1.0]), NotHad)


def test_sensitivity_is_the_slope_of_logged_pairs() -> None:
    assert trims.sensitivity_per_turn([0.0, 1.0, 3.0], [10.0, 12.5, 17.5]) == pytest.approx(2.5)
    assert isinstance(trims.sensitivity_per_turn([1.0, 1.0], [1.0, 2.0]), NotHad)
    assert isinstance(trims.sensitivity_per_turn([], []), NotHad)


@given(st.floats(-100, 100), st.floats(-100, 100), st.floats(0.01, 50) | st.floats(-50, -0.01))
def test_turning_by_what_is_told_arrives(reading: float, target: float, per_turn: float) -> None:
    turns = trims.turns_to_target(reading, target, per_turn)
    assert not isinstance(turns, NotHad)
    assert reading + turns * per_turn == pytest.approx(target, abs=1e-9)


def test_a_trim_that_does_nothing_has_no_turns() -> None:
    assert isinstance(trims.turns_to_target(1.0, 2.0, 0.0), NotHad)
    assert trims.travel_left_turns(25.0, 4.0) == (4.0, 21.0)


@given(st.permutations(list("abcdefg")), st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=12))
def test_each_trim_comes_after_those_it_waits_for(names: list[str], pairs: list[tuple[int, int]]) -> None:
    after: dict[str, list[str]] = {n: [] for n in names}
    for a, b in pairs:
        if a != b:
            after["abcdefg"[max(a, b)]].append("abcdefg"[min(a, b)])
    order = trims.setting_order(after)
    assert isinstance(order, tuple)
    assert sorted(order) == sorted(names)
    assert all(order.index(first) < order.index(name) for name, waits in after.items() for first in waits)
    if not pairs:
        assert list(order) == names


def test_a_circle_is_spelled_out() -> None:
    assert trims.setting_order({"a": ["b"], "b": ["c"], "c": ["b"]}) == trims.Circle(("b", "c", "b"))
    assert trims.setting_order({"a": ["a"]}) == trims.Circle(("a", "a"))
    assert trims.setting_order({"a": ["elsewhere"], "b": []}) == ("a", "b")
