"""The peak of a contour and its zero, from trails whose peak is 1 and whose zero is nothing by construction."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.contour_cycles import cycles_in, peaks_of, rough_lengths, with_zero
from benchrecord.bench.contour_sight import Sight, at_a_look, noise_of, sight_of
from benchrecord.bench.fits import Floats
from benchrecord.bench.level_trail import level_trail, voltage_trail
from contours import Made, tone
from sounds import RATE, noise

SHAPES = [
    Made(attack=0.08, plateau=0.0, decay=0.04, falls_straight=True),
    Made(attack=0.01, plateau=0.0, decay=0.5),
    Made(attack=0.2, plateau=0.0, decay=0.02, aim=1.05),
    Made(attack=0.05, plateau=0.3, decay=0.1),
]


def voltage_of(samples: Floats, rate: int = RATE) -> Sight:
    return sight_of(voltage_trail([samples], rate, len(samples)), power=False)


def peak_of(sight: Sight) -> tuple[float, float]:
    """Return the highest peak that was found, and its expanded uncertainty."""
    rough = at_a_look(sight)
    cycles = cycles_in(rough)
    lengths = rough_lengths(rough, cycles)
    peaks = peaks_of(with_zero(sight, cycles, lengths, rough), cycles, lengths)
    return max(peaks.heights), 2 * peaks.u


@pytest.mark.parametrize("made", SHAPES)
def test_the_peak_of_a_corner_and_of_a_plateau_is_not_read_low(made: Made) -> None:
    peak, expanded = peak_of(voltage_of(made.level(1.5) + noise(1.5, 1e-6)))
    assert peak == pytest.approx(1, abs=3e-4)
    assert abs(peak - 1) <= expanded < 2e-3


@pytest.mark.parametrize("snr_db", [30, 40, 50, 60])
def test_noise_does_not_lift_a_peak_beyond_its_uncertainty(snr_db: float) -> None:
    """95 of 100 within U, and U no more than three times what is seen."""
    rms, seeds = 10 ** (-snr_db / 20), range(20)
    found = [peak_of(voltage_of(made.level(1.5) + noise(1.5, rms, seed=seed))) for made in SHAPES for seed in seeds]
    off = np.array([(peak - 1) / expanded for peak, expanded in found])
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(off**2)) >= 1 / 6


@pytest.mark.parametrize("plateau_ms", [0.1, 0.3, 1.0])
def test_a_plateau_too_short_to_be_seen_is_within_the_uncertainty(plateau_ms: float) -> None:
    """It makes a peak seem higher that is taken for a corner."""
    made = Made(attack=0.08, plateau=0.001 * plateau_ms, decay=0.04, falls_straight=True)
    peak, expanded = peak_of(voltage_of(made.level(1.0) + noise(1.0, 1e-3)))
    assert abs(peak - 1) <= expanded


def test_the_ripple_of_a_tone_is_averaged_out_of_a_corner() -> None:
    """Windows are a seventh of the time above 90 % at best, and the mean over a period lowers the corner once more."""
    made, length_s = SHAPES[0], 1.0
    samples = made.level(length_s) * tone(1000, length_s) * 2 + noise(length_s, 1e-5)
    course = level_trail([samples], RATE, len(samples), periods_s=(0.001, 0.0005))
    peak, expanded = peak_of(sight_of(course, power=True, period_s=0.0005))
    assert peak == pytest.approx(1, abs=1e-3)
    assert abs(peak - 1) <= expanded


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_noise_is_told_as_it_is(rate: int) -> None:
    """White noise of a hundredth, through a mean over 0.2 ms: √(0.2 ms · rate) times less."""
    sight = voltage_of(SHAPES[3].level(1.5, rate) + noise(1.5, 0.01, rate=rate), rate)
    assert noise_of(sight, 1.0) == pytest.approx((0.01 / np.sqrt(2e-4 * rate),) * 2, rel=0.1)


def test_zero_is_taken_where_the_contour_rests_however_short_that_is() -> None:
    """Between straight flanks that take most of a period, a tenth of it at rest."""
    made = Made(attack=0.56, plateau=0.2, decay=0.2, falls_straight=True, period=1.3)
    sight = voltage_of(made.level(5.0)[round(0.3 * RATE) :] + noise(4.7, 1e-4))
    rough = at_a_look(sight)
    cycles = cycles_in(rough)
    found = with_zero(sight, cycles, rough_lengths(rough, cycles), rough)
    assert abs(found.zero) <= 3 * found.zero_u < 1e-4
