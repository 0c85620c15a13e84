"""The mean pitch of waves that wander by a hundredth of a cent to a cent, with known truth."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.mean_pitch import mean_pitch
from benchrecord.bench.spectra import frames_in, kaiser
from benchrecord.bench.tones import Tone, find_tone
from sounds import RATE, seconds, with_noise
from waves import room, summed, triangle_series

FRAMES = frames_in(3 * RATE, 2048)
SPAN = FRAMES.middles / RATE - 1.5


def wandering(kind: str, length_s: float, g: np.random.Generator) -> Floats:
    """Return how far a pitch is from its middle at each sample, (n,), in the rms of that."""
    t = seconds(length_s)
    if kind == "rises":
        return (t / length_s - 0.5) * np.sqrt(12)
    if kind == "sags":
        return ((t / length_s - 0.5) ** 2 - 1 / 12) * np.sqrt(180)
    if kind == "swings":
        return np.sqrt(2) * np.sin(2 * np.pi * (g.uniform(0.1, 1) * t + g.uniform()))
    steps = g.normal(0, 1, 50) if kind == "jitters" else np.cumsum(g.normal(0, 1, 50))
    way = np.interp(t, np.linspace(0, length_s, 50), steps)
    return (way - way.mean()) / np.std(way)


@pytest.mark.parametrize("kind", ["steady", "rises", "sags", "swings", "strays", "jitters"])
def test_the_stated_uncertainty_of_a_mean_frequency_is_honest(kind: str) -> None:
    """20 Hz to 5 kHz, noise 20 to 80 dB down: 95 of 100 within U (38 of 40), and U no more than three times what is seen."""
    off = []
    for seed in range(40):
        g = np.random.default_rng(seed)
        hz, length_s = 20 * 250 ** g.random(), g.uniform(2, 4)
        cents = 0.0 if kind == "steady" else 10 ** g.uniform(-2, 0)
        pitch = hz * 2 ** (cents * wandering(kind, length_s, g) / 1200) / RATE
        phase = np.concatenate([[0.0], np.cumsum((pitch[1:] + pitch[:-1]) / 2)])
        series = np.array([-0.5j]) if seed % 2 else triangle_series(g.uniform(0.01, 0.99), min(room(1.01 * hz, RATE), 40))
        tone = find_tone(with_noise(0.4 * summed(series, phase + g.random()), g.uniform(20, 80), seed=seed), RATE)
        assert isinstance(tone, Tone)
        off.append((tone.hz.value - phase[-1] / (len(phase) - 1) * RATE) / tone.hz.expanded)
    assert np.sum(np.abs(off) <= 1) >= 38
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


def test_a_pitch_that_swings_has_the_mean_of_the_whole_recording() -> None:
    """Three quarters of a swing: its mean is 2/3π of its height. A line through the places would say another."""
    height, turn = 1e-4, 1.5 * np.pi / (3 * RATE)
    pitch, u = mean_pitch(FRAMES.middles * 0.01 - height / turn * np.cos(turn * FRAMES.middles), 1e-7, FRAMES, 3 * RATE)
    assert pitch == pytest.approx(0.01 + 2 / (3 * np.pi) * height, abs=2 * u)
    assert u < 0.01 * height


def test_what_is_cubic_in_time_is_told_by_all_frames() -> None:
    place = FRAMES.middles * 0.01 + 0.1 * SPAN**3
    few = (
        mean_pitch(place + np.random.default_rng(n).normal(0, 1e-4, FRAMES.count), 1e-4, FRAMES, 3 * RATE)[1] for n in range(9)
    )
    assert max(few) < 3e-4 / (3 * RATE)


def test_noise_of_both_ends_counts_where_the_wave_strays() -> None:
    """A walk of frame after frame is no cubic; the ends are then as far off as half a frame may take it."""
    walk = np.cumsum(np.random.default_rng(4).normal(0, 1e-3, FRAMES.count))
    _, u = mean_pitch(walk, 1e-5, FRAMES, 3 * RATE)
    assert u * 3 * RATE == pytest.approx(np.sqrt(2) * 2e-3, rel=0.3)


def test_few_frames_that_agree_by_chance_tell_no_more_than_their_noise_allows() -> None:
    """Eight frames of nothing but noise, which they share as they overlap: 95 of 100 within two standard uncertainties."""
    frames, off = frames_in(5700, 2048), []
    window = kaiser(frames.size)
    for seed in range(200):
        samples = np.random.default_rng(seed).normal(0, 1e-3, 5700)
        place = np.array([samples[n * frames.hop :][: frames.size] @ window for n in range(frames.count)])
        pitch, u = mean_pitch(place, 1e-3 * float(np.linalg.norm(window)), frames, 5700)
        off.append(pitch / (2 * u))
    assert frames.count == 8
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6
