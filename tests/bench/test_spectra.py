"""Windows and frames of spectra. Second witnesses: scipy's own windows and transforms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy

from benchrecord.bench.spectra import (
    BETA,
    LOBE_BINS,
    OVERLAP,
    REACH_BINS,
    frame_size,
    frames_in,
    kaiser,
    kaiser_gain,
    line_top,
    mean_power,
    noise_bandwidth_bins,
    transforms,
)
from reference.published import checks

CHECKS = checks("06")
SIZE = 4096


@pytest.mark.parametrize("name", ["boxcar", "hann", "hamming", "blackman", "blackmanharris", "flattop"])
def test_published_noise_bandwidths(name: str) -> None:
    """Topic 06: derived, N·Σw²/(Σw)² of scipy's windows; they match Harris 1978, table 1 (from memory)."""
    assert noise_bandwidth_bins(scipy.signal.get_window(name, SIZE)) == pytest.approx(
        float(CHECKS[f"win-{name}"]["value"]), abs=1e-6
    )


def test_the_window_is_scipys_with_a_sum_of_one() -> None:
    assert kaiser(SIZE) * scipy.signal.get_window(("kaiser", BETA), SIZE).sum() == pytest.approx(
        scipy.signal.get_window(("kaiser", BETA), SIZE)
    )
    assert kaiser(SIZE).sum() == pytest.approx(1)


@pytest.mark.parametrize("offset", [0, 0.1, 0.5, 1, 2.7, 5])
def test_a_tone_between_bins_reads_as_the_formula_says(offset: float) -> None:
    exact = abs(np.sum(kaiser(SIZE) * np.exp(2j * np.pi * offset * np.arange(SIZE) / SIZE)))
    assert kaiser_gain(offset) == pytest.approx(exact, abs=1e-9)


def test_beyond_the_main_lobe_nothing_leaks_and_the_formula_stays_finite() -> None:
    fine = np.abs(np.fft.rfft(kaiser(SIZE), 16 * SIZE))
    assert 20 * math.log10(fine[round(16 * REACH_BINS) :].max()) < -140
    assert kaiser_gain(40.0) == kaiser_gain(LOBE_BINS)


def test_frames_start_a_quarter_of_their_length_apart() -> None:
    frames = frames_in(10_000, 4000)
    assert (frames.hop, frames.count) == (1000, 7)
    assert frames.middles.tolist() == [2000 + 1000 * n for n in range(7)]
    assert frames_in(3999, 4000).count == 0


def test_a_mean_over_frames_of_noise_varies_as_their_overlap_says() -> None:
    frames = frames_in(40_000, 4000)
    means = []
    for seed in range(400):
        noise = np.random.default_rng(seed).normal(size=40_000)
        read = np.concatenate(list(transforms(noise, frames, kaiser(4000))))[:, 40:400:12]
        means.append((read * np.exp(-2j * np.pi * np.outer(frames.middles / 4000, np.arange(40, 400, 12)))).mean(axis=0))
    one = noise_bandwidth_bins(kaiser(4000)) / 4000
    assert np.mean(np.abs(means) ** 2) == pytest.approx(one * frames.shared / frames.count, rel=0.05)


def test_an_overlap_of_three_quarters_loses_little() -> None:
    """With all samples weighed alike the variance would be 1/n: what the frames bring is no more than a tenth above that."""
    frames = frames_in(400_000, 4000)
    assert frames.shared * noise_bandwidth_bins(kaiser(4000)) / 4000 / frames.count * 400_000 < 1.1
    assert frames_in(8000, 4000, 2).hop == 2000 == 4000 * 2 // OVERLAP


def test_mean_power_is_that_of_all_frames() -> None:
    noise = np.random.default_rng(1).normal(size=30_000)
    frames = frames_in(30_000, 3000)
    plain = [np.abs(scipy.fft.rfft(noise[s : s + 3000] * kaiser(3000))) ** 2 for s in range(0, 27_001, 750)]
    assert mean_power(noise, frames, kaiser(3000)) == pytest.approx(np.mean(plain, axis=0))


@pytest.mark.parametrize("place", [40.0, 40.2, 40.499, 39.7])
def test_the_top_of_a_line_is_found_between_bins(place: float) -> None:
    line = np.abs(np.fft.rfft(kaiser(SIZE) * np.cos(2 * np.pi * place * np.arange(SIZE) / SIZE)))
    assert line_top(line, round(place)) == pytest.approx(place, abs=1e-6)


def test_frames_have_sizes_that_are_transformed_quickly() -> None:
    assert frame_size(4099) == scipy.fft.next_fast_len(4099, real=True)
    assert frame_size(4099.5) >= 4100
