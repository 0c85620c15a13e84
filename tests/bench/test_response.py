"""Topic 09: filters. The rows are exact (class derived), their formulas stand beside them."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.filters import Gain, butterworth, ladder, level_db, mirrored, poles, spaced, true_cutoff
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.response import (
    BAND_PASS,
    FLAT,
    HALF_POWER_DB,
    HIGH_PASS,
    LOW_PASS,
    Figure,
    Response,
    response_of,
)
from reference.published import checks, rows

CHECKS = checks("09")
MAGNITUDES = rows("09-filter-magnitudes.csv")
FINE = spaced(24, 0.5, 22)  # Hz: far below and above a filter at 1 kHz


def found(hz: Floats, level: Floats, **more: object) -> Response:
    response = response_of(hz, level, **more)  # type: ignore[arg-type]
    assert isinstance(response, Response)
    return response


def of(gain: Gain, hz: Floats = FINE, **more: object) -> Response:
    return found(hz, level_db(gain, hz), **more)


def value(figure: Figure | NotHad) -> float:
    assert isinstance(figure, Figure)
    return figure.value


def number(name: str) -> float:
    return float(CHECKS[name]["value"])


@pytest.mark.parametrize("row", MAGNITUDES, ids=[f"{r['filter']}-{r['order']}-{r['f_over_fc']}" for r in MAGNITUDES])
def test_the_filters_that_these_tests_are_made_with_are_the_published_ones(row: dict[str, str]) -> None:
    make = poles if "poles" in row["filter"] else butterworth
    level = level_db(make(int(row["order"]), 1.0), np.array([float(row["f_over_fc"])]))
    assert level[0] == pytest.approx(float(row["magnitude_dB"]), abs=2e-9, rel=1e-9)


def test_a_cut_off_is_where_half_the_power_is_left() -> None:
    assert pytest.approx(number("rc-fc"), abs=1e-11) == -HALF_POWER_DB


@pytest.mark.parametrize("n", [1, 2, 3, 4, 6, 8])
def test_the_cut_off_of_identical_poles_is_the_published_one_within_its_uncertainty(n: int) -> None:
    for gain, response, side in (
        (poles(n, 1000.0), LOW_PASS, "minus_3_db_high_hz"),
        (mirrored(poles(n, 1000.0), 1000.0), HIGH_PASS, "minus_3_db_low_hz"),
    ):
        own = of(gain)
        wanted = 1000 * number(f"casc-{n}") ** (1 if response == LOW_PASS else -1)
        cutoff = getattr(own, side)
        assert own.shape == response
        assert value(cutoff) == pytest.approx(wanted, abs=2 * cutoff.u)
        assert value(cutoff) == pytest.approx(wanted, rel=2e-3)


@pytest.mark.parametrize("order", [2, 3, 4, 6, 8])
def test_the_cut_off_of_a_butterworth_filter_is_its_own_frequency(order: int) -> None:
    own = of(butterworth(order, 440.0))
    assert value(own.minus_3_db_high_hz) == pytest.approx(440, rel=1e-4)
    assert own.minus_3_db_low_hz == NotHad("it does not fall by 3 dB within the readings")


def test_a_true_four_pole_slope_stays_below_24_db_an_octave_from_12_to_36_db_down() -> None:
    """From 12 to 36 dB down it goes on from the pole frequency to some three times that: between its slopes there."""
    slope = value(of(poles(4, 1000.0)).slope_high)
    assert number("4p-slope-1") > slope > number("4p-slope-4")
    assert value(of(mirrored(poles(4, 1000.0), 1000.0)).slope_low) == pytest.approx(-slope, abs=0.03)


@pytest.mark.parametrize("order", [1, 2, 4, 8])
def test_a_steep_slope_comes_to_six_db_an_octave_and_pole(order: int) -> None:
    hz = spaced(48, 1.0, 17)
    assert value(of(butterworth(order, 1000.0), hz).slope_high) == pytest.approx(order * number("slope"), rel=0.03)


@pytest.mark.parametrize("feedback", ["1", "2", "3", "3.5", "3.9"])
def test_the_peak_of_a_filter_with_feedback_is_the_published_one(feedback: str) -> None:
    """Published against unity: the level of the pass band is 1/(1 + k)."""
    peak, at = (float(n) for n in re.findall(r"-?[\d.]+", CHECKS[f"lad-peak-{feedback}"]["value"]))
    own = of(ladder(float(feedback), 1000.0), spaced(200, 5.0, 11), shape=LOW_PASS)
    assert own.pass_band.level_db.value == pytest.approx(number(f"lad-dc-{feedback}"), abs=0.01)
    assert own.peak_db.value == pytest.approx(peak - number(f"lad-dc-{feedback}"), abs=0.02)
    assert own.peak_hz == pytest.approx(1000 * at, rel=1e-3)


def test_the_quality_of_a_band_pass_is_the_published_one() -> None:
    """Source: topic 09, q-bp: edges at 900 and 1111.111 Hz."""
    quality = number("q-bp")

    def gain(f: Floats) -> Floats:
        return np.asarray(1 / np.sqrt(1 + quality**2 * (f / 1000 - 1000 / f) ** 2))

    own = of(gain, spaced(48))  # type: ignore[arg-type]  # without a phase
    assert own.shape == BAND_PASS
    assert value(own.minus_3_db_low_hz) == pytest.approx(900, rel=5e-4)
    assert value(own.minus_3_db_high_hz) == pytest.approx(1111.111, rel=5e-4)
    assert own.quality == pytest.approx(quality, rel=2e-3)
    assert own.centre_hz == pytest.approx(1000, rel=1e-4)


@pytest.mark.parametrize("per_octave", [1, 2, 3, 6])
def test_readings_far_apart_leave_the_cut_off_more_uncertain_and_hold_it_within_that(per_octave: int) -> None:
    """A table of octaves misses an eighth-order corner between two readings: three uncertainties there."""
    for gain in (butterworth(2, 1000.0), butterworth(4, 1000.0), ladder(1.0, 1000.0)):
        wanted = true_cutoff(gain)
        for shift in (0.0, 0.3, 0.6):
            cutoff = of(gain, spaced(per_octave, 20 * 2 ** (shift / per_octave)), shape=LOW_PASS).minus_3_db_high_hz
            assert isinstance(cutoff, Figure)
            assert abs(cutoff.value - wanted) <= 3 * cutoff.u + 1


@pytest.mark.parametrize("per_octave", [6, 12])
def test_readings_hold_the_cut_off_within_what_they_leave_uncertain_of_it(per_octave: int) -> None:
    """By chance one part of a pass band looks the flattest, and is not."""
    hz, u, random = spaced(per_octave), 0.3, np.random.default_rng(1)
    errors, stated = [], []
    for gain in (poles(1, 1000.0), butterworth(2, 1000.0), poles(4, 3000.0)):
        truth = true_cutoff(gain)
        for _ in range(20):
            level = level_db(gain, hz) + u * random.normal(size=len(hz))
            figure = found(hz, level, shape=LOW_PASS, level_u_db=np.full(len(hz), u)).minus_3_db_high_hz
            assert isinstance(figure, Figure)
            errors.append(figure.value / truth - 1)
            stated.append(figure.u / truth)
    assert np.mean(np.abs(errors) <= 2 * np.array(stated)) >= 0.95
    assert float(np.mean(stated)) < 3 * float(np.sqrt(np.mean(np.square(errors))))


def test_what_neighbours_share_of_their_uncertainty_no_mean_of_them_makes_less() -> None:
    hz = spaced(48)
    level, u = level_db(butterworth(2, 1000.0), hz), np.full(len(hz), 0.1)
    apart, alike = (found(hz, level, level_u_db=u, shared_u_db=shared).pass_band.level_db.u for shared in (0 * u, u))
    assert apart < 0.06
    assert alike > 0.1


def test_the_uncertainty_of_readings_goes_into_the_cut_off_over_the_slope_there() -> None:
    hz = spaced(12)
    level, u = level_db(butterworth(2, 1000.0), hz), 0.1
    band = found(hz, level, level_u_db=np.full(len(hz), u)).pass_band.level_db
    sure, unsure = (found(hz, level, level_u_db=np.full(len(hz), own)).minus_3_db_high_hz for own in (0.0, u))
    assert isinstance(sure, Figure)
    assert isinstance(unsure, Figure)
    octaves = math.hypot(u, band.u) / 6.02  # a Butterworth filter of second order falls by 6.02 dB an octave at its corner
    assert unsure.u == pytest.approx(1000 * math.log(2) * octaves, rel=0.15)
    assert sure.u < unsure.u / 10


def test_an_amplifier_is_flat_with_a_cut_off_at_either_end() -> None:
    hz = spaced(6, 5.0, 13)
    own = found(hz, level_db(poles(1, 15_000.0), hz) + level_db(mirrored(poles(1, 25.0), 25.0), hz))
    assert own.shape in (FLAT, BAND_PASS)
    assert value(own.minus_3_db_low_hz) == pytest.approx(25, rel=0.01)
    assert value(own.minus_3_db_high_hz) == pytest.approx(15_000, rel=0.01)


def test_a_bell_is_a_peak_over_a_flat_band() -> None:
    hz = spaced(24)
    own = found(hz, 10 * np.log10(1 + (10**1.2 - 1) / (1 + 25 * (hz / 1000 - 1000 / hz) ** 2)))
    assert own.shape == FLAT
    assert own.peak_db.value == pytest.approx(12, abs=0.1)
    assert own.peak_hz == pytest.approx(1000, rel=0.005)
    assert isinstance(own.minus_3_db_high_hz, NotHad)


def test_the_floor_of_what_was_measured_is_no_slope() -> None:
    hz = spaced(12)
    level = np.maximum(level_db(butterworth(4, 500.0), hz), -30 + np.random.default_rng(1).normal(0, 0.4, len(hz)))
    assert value(found(hz, level).slope_high) == pytest.approx(-23.5, abs=1)


def test_one_low_reading_is_no_cut_off() -> None:
    hz = spaced(12)
    level = level_db(butterworth(2, 1000.0), hz)
    level[30] -= 8
    assert value(found(hz, level).minus_3_db_high_hz) == pytest.approx(1000, rel=0.005)


def test_too_little_of_a_fall_gives_no_slope_and_says_so() -> None:
    slope = of(poles(1, 10_000.0), spaced(6)).slope_high
    assert slope == NotHad("the lowest reading lies 7 dB below the pass band: too little for a slope from −12 dB on")


def test_fewer_than_four_readings_tell_nothing() -> None:
    assert isinstance(response_of([100, 200, 300], [0, 0, -3]), NotHad)
    assert isinstance(response_of([100, 100, 100, 100], [0, 0, -3, -6]), NotHad)


@given(st.floats(-80, 40), st.floats(100, 3000), st.integers(1, 6))
@settings(deadline=None, max_examples=40)
def test_gain_moves_no_cut_off(gain_db: float, hz: float, order: int) -> None:
    grid = spaced(12)
    level = level_db(butterworth(order, hz), grid)
    here, there = (value(found(grid, level + g).minus_3_db_high_hz) for g in (0.0, gain_db))
    assert there == pytest.approx(here, rel=1e-6)


@given(st.lists(st.tuples(st.floats(1, 30_000), st.floats(-120, 20).map(lambda db: round(db, 4))), max_size=30))
@settings(deadline=None, max_examples=100)
def test_no_readings_break_it(pairs: list[tuple[float, float]]) -> None:
    response = response_of([hz for hz, _ in pairs], [db for _, db in pairs])
    if isinstance(response, Response):
        figures = (response.minus_3_db_low_hz, response.minus_3_db_high_hz, response.slope_low, response.slope_high)
        assert all(math.isfinite(f.value) and math.isfinite(f.u) for f in (*figures, response.peak_db) if isinstance(f, Figure))


def test_the_pass_band_of_a_filter_with_feedback_is_no_surer_than_its_rise_lets_it_be() -> None:
    """Four poles with feedback rise before they fall: from 20 Hz on, the level towards zero is a guess where the cut-off is low."""
    off, hz = [], 20 * 2 ** (np.arange(470) / 48)
    for feedback in (0.2, 0.5, 1.0, 1.5, 2.0, 3.0):
        for cut_off in (60.0, 100.0, 150.0, 300.0, 1000.0, 4000.0):
            gain = ladder(feedback, cut_off)
            own = response_of(hz, level_db(gain, hz), shape="low-pass", level_u_db=np.full(len(hz), 0.01))
            assert isinstance(own, Response)
            figure, true = own.minus_3_db_high_hz, true_cutoff(gain)
            assert isinstance(figure, Figure)
            off.append(abs(figure.value - true) / (2 * figure.u))
            if cut_off >= 1000:
                assert 2 * figure.u < 0.01 * true  # far from it nothing is guessed
    assert np.mean(np.array(off) <= 1) >= 0.95
    assert np.median(off) > 0.1


def test_a_coupling_capacitor_leaves_a_pass_band_sure() -> None:
    """What falls below 20 Hz of a low pass at 2 kHz is another filter: the band between is flat for octaves."""
    hz = 20 * 2 ** (np.arange(470) / 48)
    both = level_db(poles(1, 2000.0), hz) - 10 * np.log10(1 + (20 / hz) ** 2)
    own = response_of(hz, both, shape="low-pass")
    assert isinstance(own, Response)
    assert isinstance(own.minus_3_db_high_hz, Figure)
    assert own.minus_3_db_high_hz.u < 0.01 * 2000
