"""The filters that the responses of tests are made with are the published ones (topic 09: magnitudes, phases, slopes and poles)."""

from __future__ import annotations

import numpy as np
import pytest

from bench.filters import ladder, ladder_below, level_db, poles, spaced
from benchrecord.bench.response import Figure, response_of
from reference.published import checks

CHECKS = checks("09")
FOUR = poles(4, 1.0)


def numbers(name: str) -> list[float]:
    return [float(part) for part in CHECKS[name]["value"].split(",")]


def at(hz: float) -> float:
    return float(level_db(FOUR, np.array([hz]))[0])


def test_four_poles_have_the_published_magnitude_and_phase_at_their_frequency() -> None:
    assert at(1.0) == pytest.approx(numbers("4p-fc")[0], abs=1e-9)
    turned = np.degrees(np.unwrap(np.angle(FOUR(np.linspace(0, 1, 50)))))[-1]
    assert turned == pytest.approx(numbers("4p-ph")[0], abs=1e-9)
    assert np.degrees(np.angle(poles(1, 1.0)(np.array([1.0]))))[0] == pytest.approx(numbers("rc-ph")[0])


@pytest.mark.parametrize("hz", [1, 2, 4, 8])
def test_four_poles_have_the_published_slope(hz: float) -> None:
    step = 1e-4
    slope = (at(hz * 2**step) - at(hz * 2**-step)) / (2 * step)
    assert slope == pytest.approx(numbers(f"4p-slope-{hz}")[0], abs=1e-4)


@pytest.mark.parametrize("octave", [(2, 4), (4, 8), (8, 16)])
def test_four_poles_fall_by_the_published_amount_in_an_octave(octave: tuple[int, int]) -> None:
    low, high = octave
    assert at(high) - at(low) == pytest.approx(numbers(f"4p-oct-{low}-{high}")[0], abs=1e-9)


@pytest.mark.parametrize("feedback", ["0", "1", "2", "3", "3.5", "3.9", "4", "4.2"])
def test_feedback_lowers_the_pass_band_as_published(feedback: str) -> None:
    level = float(level_db(ladder(float(feedback), 1.0), np.array([0.0]))[0])
    assert level == pytest.approx(numbers(f"lad-dc-{feedback}")[0], abs=1e-8)


@pytest.mark.parametrize("feedback", ["1", "2", "3", "3.5", "3.9", "4", "4.2"])
def test_poles_with_feedback_lie_where_they_are_published(feedback: str) -> None:
    real, imaginary = numbers(f"lad-pole-{feedback}")
    pole = complex(real, imaginary) / 1j  # the gain counts in frequencies: s = jf
    assert abs(ladder_below(float(feedback), 1.0)(np.array([pole]))[0]) < 1e-7


def test_a_filter_oscillates_by_itself_at_the_published_feedback_and_frequency() -> None:
    gain, hz = numbers("osc-gain")[0], numbers("osc-freq")[0]
    assert abs(ladder_below(gain, 1.0)(np.array([hz]))[0]) < 1e-12


def test_two_unbuffered_sections_are_cut_off_where_it_is_published() -> None:
    hz = spaced(48, 0.005, 14)
    levels = -20 * np.log10(np.abs(1 + 3j * hz - hz**2))  # H = 1/(1 + 3jx − x²)
    cutoff = response_of(hz, levels).minus_3_db_high_hz
    assert isinstance(cutoff, Figure)
    assert cutoff.value == pytest.approx(numbers("2rc-pass")[0], rel=2e-3)
