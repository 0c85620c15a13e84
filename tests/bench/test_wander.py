"""How a pitch wanders: vibrato, chance, drift and rest of known size, in tones and in slow waves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import scipy

from benchrecord.bench.estimate import Below, Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.periods import Periods, count_periods
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tones import Tone, find_tone
from benchrecord.bench.wander import Wander, drift_of_periods, mean_of_periods, wander_of_periods, wander_of_tone
from sounds import RATE, seconds, with_noise
from waves import pulse_series, room, summed, triangle_series, wandering_phase


def wander(samples: Floats, rate: float = RATE) -> Wander:
    tone = find_tone(samples, rate)
    assert isinstance(tone, Tone), tone
    found = wander_of_tone(samples, tone)
    assert isinstance(found, Wander), found
    return found


def sound(hz: float, cents: Floats, *, wave: int = 0, snr_db: float = 60, seed: int = 0) -> Floats:
    count = min(40, room(1.2 * hz, RATE))
    series = (np.array([-0.5j]), triangle_series(1.0, count), pulse_series(0.5, count))[wave % 3]
    return with_noise(0.4 * summed(series, wandering_phase(hz, cents, RATE)), snr_db, seed=seed)


def by_chance(length_s: float, top_hz: float, g: np.random.Generator) -> Floats:
    """Return a wander of an rms of 1, in a band from nothing up."""
    slow = RATE // 100
    draws = g.normal(0, 1, round(length_s * slow) + 400)
    filtered = scipy.signal.sosfiltfilt(scipy.signal.butter(4, 2 * top_hz / slow, output="sos"), draws)[200:-200]
    return np.interp(seconds(length_s), np.arange(len(filtered)) / slow, filtered / filtered.std())


@pytest.mark.parametrize("hz", [55.0, 110.0, 440.0, 2000.0])
@pytest.mark.parametrize("wave", [0, 1])
def test_a_fast_vibrato_is_seen(hz: float, wave: int) -> None:
    """±30 cents at 8 Hz: an rms of 30/√2, whatever the note. Means over a second would have averaged it away."""
    found = wander(sound(hz, 30 * np.sin(2 * np.pi * 8 * seconds(3.0)), wave=wave))
    assert isinstance(found.rms_cents, Estimate)
    assert isinstance(found.peak_cents, Estimate)
    assert isinstance(found.rate_hz, Estimate)
    assert found.rms_cents.value == pytest.approx(30 / np.sqrt(2), rel=0.03)
    assert found.peak_cents.value == pytest.approx(30, rel=0.03)
    assert found.rate_hz.value == pytest.approx(8, abs=0.01)
    assert found.band_hz[0] == pytest.approx(1 / 3)
    assert found.band_hz[1] > 8


@dataclass(frozen=True)
class Made:
    """A wander of known size: a vibrato, one by chance, or none, with a drift."""

    samples: Floats
    course: Floats
    drift: float
    rate_hz: float | None


def made(seed: int) -> Made:
    g = np.random.default_rng(seed)
    hz, length_s = 40 * 100 ** g.random(), g.uniform(2, 4)
    t, top = seconds(length_s), 1.4 * min(hz / 8, 25)
    rate_hz = max(4.2 / length_s, min(g.uniform(1, 9), 0.9 * top)) if seed % 4 < 2 else None
    course = np.zeros(len(t))
    if rate_hz:
        course = 10 ** g.uniform(-0.5, 2) * np.sin(2 * np.pi * rate_hz * t + g.uniform(0, 6))
    elif seed % 4 == 2:
        course = 10 ** g.uniform(-0.5, 1.3) * by_chance(length_s, min(g.uniform(0.5, 5), 0.7 * top), g)
    drift = 10 ** g.uniform(-1, 1.5) * g.choice([-1, 0, 1])
    cents = course + drift * (t / length_s - 0.5)
    return Made(sound(hz, cents, wave=seed, snr_db=g.uniform(25, 80), seed=seed), course, drift, rate_hz)


def true_and_found(seed: int) -> dict[str, tuple[float, object]]:
    """Return what is true of what was seen, from the first frequency to the last, beside what was found of it."""
    own = made(seed)
    found, t = wander(own.samples), np.arange(len(own.course)) / RATE
    seen = own.course[(t >= found.seconds[0]) & (t <= found.seconds[-1])]
    line = np.polynomial.Polynomial.fit(np.arange(len(seen)), seen, 0 if own.rate_hz else 1)(np.arange(len(seen)))
    off = seen - line
    return {
        "rms": (float(np.std(off)), found.rms_cents),
        "peak": (float(np.abs(off).max()), found.peak_cents),
        "drift": (own.drift, found.drift_cents),
        **({"rate": (own.rate_hz, found.rate_hz)} if own.rate_hz else {}),
    }


def test_the_stated_uncertainty_of_a_wander_is_honest() -> None:
    """40 Hz to 4 kHz, noise 25 to 80 dB down: 95 of 100 within U, and what noise hides is below what is stated."""
    off: dict[str, list[float]] = {"rms": [], "peak": [], "drift": [], "rate": []}
    for seed in range(40):
        for name, (true, found) in true_and_found(seed).items():
            if isinstance(found, Below):
                assert true <= found.most, (seed, name)
            else:
                assert isinstance(found, Estimate), (seed, name)
                off[name].append((found.value - true) / found.expanded)
    for name, some in off.items():
        assert np.sum(np.abs(some) > 1) <= max(1, 0.05 * len(some)), name
        assert np.median(np.abs(some)) > 0.05, name


@pytest.mark.parametrize("hz", [60.0, 440.0])
def test_a_still_tone_has_a_bound_and_no_rate(hz: float) -> None:
    found = wander(sound(hz, np.zeros(3 * RATE), wave=1))
    assert isinstance(found.rms_cents, Below)
    assert found.rms_cents.most < 0.01
    assert found.rms_cents.reason == f"noise hides it: it is below {found.rms_cents.most:.2g} cents"
    assert abs(found.drift_cents.value) <= found.drift_cents.expanded < 0.01
    assert isinstance(found.rate_hz, NotHad)


def test_a_glide_is_a_drift_and_no_wander() -> None:
    found = wander(sound(440, np.linspace(-60, 60, 4 * RATE)))
    assert found.drift_cents.value == pytest.approx(120, abs=0.05)
    assert isinstance(found.rms_cents, Below)
    assert found.rms_cents.most < 0.1


def test_a_wander_by_chance_has_no_rate() -> None:
    found = wander(sound(300, 5 * by_chance(4.0, 4.0, np.random.default_rng(1))))
    assert found.rate_hz == NotHad("its departures do not repeat at one rate")


def test_a_short_tone_shows_no_wander() -> None:
    tone = find_tone(sound(440, np.zeros(RATE // 10)), RATE)
    assert isinstance(tone, Tone)
    assert wander_of_tone(sound(440, np.zeros(RATE // 10)), tone) == NotHad("0.1 s are too short to show how its pitch wanders")


def of_periods(samples: Floats, rate: int) -> Wander:
    slow = count_periods(samples, rate)
    assert isinstance(slow, Periods), slow
    found = wander_of_periods(slow)
    assert isinstance(found, Wander), found
    return found


@pytest.mark.parametrize("hz", [0.5, 3.0, 15.0])
@pytest.mark.parametrize("square", [True, False], ids=["square", "sine"])
def test_a_slow_wave_wanders_from_period_to_period(hz: float, square: bool) -> None:  # noqa: FBT001  # a case
    """Periods whose pitch swings by 20 cents, once in ten: an rms of 14.1. A still wave has a bound of its noise and its edges."""
    rate, turns = 8000, np.arange(round(40 / hz * 8000)) * hz / 8000
    for swing in (20.0, 0.0):
        phase = np.cumsum(hz * 2 ** (swing * np.sin(2 * np.pi * 0.1 * turns) / 1200)) / rate
        wave = np.where(phase % 1 < 0.5, 1.0, -1.0) if square else np.sin(2 * np.pi * phase)
        found = of_periods(with_noise(wave, 40), rate)
        if swing:
            assert isinstance(found.rms_cents, Estimate)
            assert found.rms_cents.value == pytest.approx(20 / np.sqrt(2), abs=0.05 * 20)
            assert isinstance(found.rate_hz, Estimate)
            assert found.rate_hz.value == pytest.approx(0.1 * hz, rel=0.01)
            assert found.band_hz[1] == pytest.approx(hz / 2, rel=1e-3)
        else:
            assert isinstance(found.rms_cents, Below)
            assert found.rms_cents.most < 2


@pytest.mark.parametrize("cycles", [0.15, 0.25, 0.35])
def test_a_wander_of_few_periods_is_as_uncertain_as_their_means_take_of_it(cycles: float) -> None:
    """A period is a mean: it takes sin(πx)/(πx) of a wander of x cycles in it."""
    turns = np.arange(round(60 / 3 * 2000)) * 3 / 2000
    phase = np.cumsum(3 * 2 ** (20 * np.sin(2 * np.pi * cycles * turns) / 1200)) / 2000
    found = of_periods(with_noise(np.sin(2 * np.pi * phase), 60), 2000)
    assert isinstance(found.rms_cents, Estimate)
    assert abs(found.rms_cents.value - 20 / np.sqrt(2)) <= found.rms_cents.expanded < 0.6 * 20


def drifting(seed: int) -> tuple[Floats, float, float]:
    """Return a slow wave at 2 kHz that drifts, what its line rises by from the first sample to the last, and its mean frequency.

    Sines and triangles of six to forty periods, evenly or ever more slowly as something warms up, which start anywhere in a period.
    """
    g = np.random.default_rng(seed)
    hz, drift, periods = 10 ** g.uniform(-0.3, 1), 10 ** g.uniform(-0.5, 1.7) * g.choice([-1, 1]), g.uniform(6, 40)
    t = np.linspace(0, 1, round(periods / hz * 2000))
    cents = drift * (t if seed % 3 else 1 - np.exp(-t / g.uniform(0.4, 2)))
    phase = np.cumsum(hz * 2 ** (cents / 1200)) / 2000 + g.uniform()
    wave = np.sin(2 * np.pi * phase) if seed % 2 else 1 - 4 * np.abs(phase % 1 - 0.5)
    return (
        with_noise(wave, g.uniform(40, 80), seed=seed),
        float(np.polyfit(t, cents, 1)[0]),
        float(np.mean(hz * 2 ** (cents / 1200))),
    )


def test_the_drift_of_a_slow_wave_is_that_of_all_of_its_recording() -> None:
    """Not of the whole periods in it alone: 95 of 100 within U, and so is the mean frequency."""
    off: dict[str, list[float]] = {"drift": [], "mean": []}
    for seed in range(60):
        samples, rise, mean = drifting(seed)
        slow = count_periods(samples, 2000)
        assert isinstance(slow, Periods), slow
        found = drift_of_periods(slow)
        off["drift"].append((found.cents.value - rise) / found.cents.expanded)
        own = mean_of_periods(slow, found)
        off["mean"].append((own.value - mean) / own.expanded)
    for name, some in off.items():
        assert np.mean(np.abs(some) <= 1) >= 0.95, name
    assert np.median(np.abs(off["drift"])) > 0.05
