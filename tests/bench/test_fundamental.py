"""The fundamental of a tone: weak, missing, among hum, or with lines that are none of its harmonics."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import rough_hz, undertone
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone
from sounds import RATE, noise, seconds, with_noise
from waves import (
    phase_of,
    pulse_series,
    room,
    sampled_pulse,
    summed,
    through_small_speaker,
    triangle_series,
    wandering_phase,
    weak_fundamental,
)

CASES = 6
Case = tuple[float, Floats]


def read(samples: Floats, rate: float = RATE) -> float:
    hz = rough_hz(samples, rate)
    assert not isinstance(hz, NotHad), hz
    return hz


def weak(seed: int) -> Case:
    """The octave alone, or with three harmonics above it, and a fundamental 10 to 45 dB below it."""
    g = np.random.default_rng(seed)
    hz, below = g.uniform(40, 800), g.uniform(10, 45)
    rest = g.uniform(0, 0.3, 3) if seed % 2 else ()
    return hz, with_noise(summed(weak_fundamental(below, rest), phase_of(hz, 2, RATE, g.random())), below + 20, seed=seed)


def speaker(seed: int) -> Case:
    """A bass through a small loudspeaker: nothing is left of its fundamental, and often of its octave."""
    g = np.random.default_rng(seed)
    hz = g.uniform(31, 130)
    series = (
        triangle_series(1.0, room(hz, RATE)),
        pulse_series(0.5, room(hz, RATE)),
        pulse_series(g.uniform(0.05, 0.4), room(hz, RATE)),
        triangle_series(0.5, room(hz, RATE)),
    )[seed % 4]
    sound = summed(series, phase_of(hz, 2.5, RATE, g.random()))
    return hz, with_noise(through_small_speaker(sound, g.uniform(150, 500), 2 * g.integers(1, 4), RATE), 50, seed=seed)


def hum(seed: int) -> Case:
    """A sine with mains hum, often one that is nearly a harmonic of the mains itself."""
    g = np.random.default_rng(seed)
    mains, t = (50.0, 60.0)[seed % 2], seconds(2.0)
    hz = mains * g.integers(3, 9) * (1 + g.normal(0, 2e-4)) if seed % 3 else g.uniform(70, 900)
    lines = sum(np.sin(2 * np.pi * n * mains * t + n) / n for n in range(1, 6))
    return hz, with_noise(np.sin(2 * np.pi * hz * t) + 10 ** (-g.uniform(10, 50) / 20) * lines, 60, seed=seed)


def vibrato(seed: int) -> Case:
    g, t = np.random.default_rng(seed), seconds(2.0)
    hz, course = g.uniform(60, 1000), g.uniform(5, 60) * np.sin(2 * np.pi * g.uniform(4, 9) * t)
    series = triangle_series(1.0, min(30, room(1.1 * hz, RATE))) if seed % 2 else np.array([-0.5j])
    return hz, with_noise(summed(series, wandering_phase(hz, course, RATE)), 50, seed=seed)


def modulated(seed: int) -> Case:
    """A vibrato so fast that it makes lines of their own, which are multiples of one frequency with the tone itself, or nearly."""
    g, t = np.random.default_rng(seed), seconds(2.0)
    rate_hz = g.uniform(20, 60)
    hz = rate_hz * (g.integers(8, 25) + g.choice([0, 1 / 3, 1 / 2])) * (1 + g.normal(0, 1e-4))
    moving = g.uniform(3, 15) * np.sin(2 * np.pi * rate_hz * t)
    return hz, with_noise(summed(np.array([-0.5j]), wandering_phase(hz, moving, RATE)), 60, seed=seed)


def program(seed: int) -> Case:
    """A pulse that a program sampled without a filter: its lines fold back."""
    g = np.random.default_rng(seed)
    hz = g.uniform(2000, 11_000)
    return hz, with_noise(sampled_pulse(g.uniform(0.2, 0.8), phase_of(hz, 2, RATE, g.random())), 80, seed=seed)


def crosstalk(seed: int) -> Case:
    """An oscillator an octave lower leaks in, 55 to 80 dB down: that is no fundamental."""
    g = np.random.default_rng(seed)
    hz = g.uniform(200, 1000)
    leak = summed(triangle_series(1.0, 40), phase_of(hz / 2, 2, RATE, 0.3)) * 10 ** (-g.uniform(55, 80) / 20)
    return hz, with_noise(summed(triangle_series(1.0, room(hz, RATE)), phase_of(hz, 2, RATE)) + leak, 85, seed=seed)


@pytest.mark.parametrize("made", [weak, speaker, hum, vibrato, modulated, program, crosstalk])
def test_the_fundamental_is_no_other_line(made: Callable[[int], Case]) -> None:
    for seed in range(CASES):
        hz, samples = made(seed)
        assert abs(cents(read(samples), hz)) < (100 if made is vibrato else 1), (seed, hz)


def leaking(seed: int) -> tuple[float, Floats, float]:
    """Return a pulse into which an octave below leaks, its frequency, and the level of the leak in dB."""
    g = np.random.default_rng(seed)
    hz, below = g.uniform(150, 1500), -g.uniform(12, 45)
    upper = summed(pulse_series(0.5, room(hz, RATE)), phase_of(hz, 2, RATE))
    lower = summed(pulse_series(0.5, room(hz / 2, RATE)), phase_of(hz / 2, 2, RATE, 0.3))
    return hz, with_noise(upper + 10 ** (below / 20) * lower, 70, seed=seed), below


def test_the_nominal_frequency_settles_whether_an_octave_below_leaks_in_or_is_the_fundamental() -> None:
    for seed in range(CASES):
        hz, samples, below = leaking(seed)
        detuned = hz * 2 ** (np.random.default_rng(seed).uniform(-80, 80) / 1200)
        found = rough_hz(samples, RATE, detuned)
        assert isinstance(found, float)
        assert abs(cents(found, hz)) < 1, seed
        own = undertone(samples, RATE, found)
        assert own is not None
        assert (own.part, own.hz, own.level_db) == (2, pytest.approx(hz / 2, rel=1e-3), pytest.approx(below, abs=0.3))


@pytest.mark.parametrize("factor", [1.0, 3.7, 440.0])
def test_a_weak_fundamental_stays_one_where_the_nominal_frequency_is_its_own_or_fits_nothing(factor: float) -> None:
    for seed in range(CASES):
        hz, samples = weak(seed)
        found = rough_hz(samples, RATE, factor * hz)
        assert isinstance(found, float)
        assert abs(cents(found, hz)) < 1, seed


@pytest.mark.parametrize("made", [weak, speaker])
def test_a_tone_without_its_fundamental_has_its_frequency_within_u(made: Callable[[int], Case]) -> None:
    off = []
    for seed in range(12):
        hz, samples = made(seed)
        tone = find_tone(samples, RATE)
        assert isinstance(tone, Tone), tone
        off.append((tone.hz.value - hz) / tone.hz.expanded)
    assert np.sum(np.abs(off) <= 1) >= 11
    assert np.median(np.abs(off)) > 0.1


@pytest.mark.parametrize(
    ("lines", "one_of"),
    [
        ([440.0], {440.0}),
        ([440.0, 554.37], {440.0, 554.37}),  # a third of equal temperament: no common fundamental
        ([300.0, 400.0, 500.0], {100.0}),
        ([300.0, 411.0, 517.0], {300.0, 411.0, 517.0}),
    ],
)
def test_lines_have_a_fundamental_only_where_all_are_multiples_of_it(lines: list[float], one_of: set[float]) -> None:
    found = read(sum((np.sin(2 * np.pi * hz * seconds(2.0) + hz) for hz in lines), noise(2.0, 1e-4)))
    assert min(abs(found - hz) for hz in one_of) < 0.1


def test_a_wave_at_the_frequency_of_the_mains_is_no_hum() -> None:
    assert read(summed(triangle_series(1.0, 100), phase_of(50.0, 2, RATE))) == pytest.approx(50.0, rel=1e-5)
