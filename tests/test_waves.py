"""The waves that the recordings of tests are made of have the published shapes (topic 04: definitions of rms, mean and crest)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from reference.published import checks
from waves import pulse_series, sampled_pulse, summed, triangle_series

CHECKS = checks("04")
PHASE = np.arange(20_000) / 20_000 + 1e-5
WAVES: dict[str, Callable[[], Floats]] = {
    "sine": lambda: np.asarray(np.sin(2 * np.pi * PHASE)),
    "square": lambda: sampled_pulse(0.5, PHASE),
    "triangle": lambda: summed(triangle_series(0.5, 2000), PHASE),
    "sawtooth": lambda: summed(triangle_series(1.0, 4000), PHASE),
}


def value(name: str) -> float:
    return float(CHECKS[name]["value"])


@pytest.mark.parametrize("name", WAVES)
def test_a_wave_has_its_published_rms_mean_and_reading_on_an_averaging_meter(name: str) -> None:
    wave = WAVES[name]()
    rms, mean = math.sqrt(float(np.mean(wave**2))), float(np.mean(np.abs(wave)))
    assert rms == pytest.approx(value(f"rms-{name}"), rel=3e-4)
    assert mean == pytest.approx(value(f"arv-{name}"), rel=3e-4)
    assert 20 * math.log10(mean * math.pi / (2 * math.sqrt(2)) / rms) == pytest.approx(value(f"avgmeter-{name}"), abs=3e-3)
    assert 1 / rms == pytest.approx(value(f"crest-{name}"), rel=3e-4)  # of a peak of 1


@pytest.mark.parametrize("duty", [0.1, 0.25, 0.5])
def test_a_pulse_from_nothing_to_one_has_its_published_crest_factor(duty: float) -> None:
    wave = (sampled_pulse(duty, PHASE) + 1) / 2
    assert 1 / math.sqrt(float(np.mean(wave**2))) == pytest.approx(value(f"crest-pulse0-{duty:g}"), rel=1e-3)


@pytest.mark.parametrize("duty", [0.5, 0.49, 0.48, 0.45, 0.4, 0.3, 0.25])
def test_a_lopsided_pulse_has_the_published_second_harmonic(duty: float) -> None:
    first, second = np.abs(pulse_series(duty, 2))
    assert second / first == pytest.approx(value(f"even-pulse-{duty:g}"), abs=1e-9)


@pytest.mark.parametrize("rise", [0.5, 0.49, 0.48, 0.45, 0.4])
def test_a_lopsided_triangle_has_the_published_second_harmonic(rise: float) -> None:
    first, second = np.abs(triangle_series(rise, 2))
    assert second / first == pytest.approx(value(f"even-tri-{rise:g}"), abs=1e-9)
