"""How long a pulse stays high: recordings of pulses made with known truth, their edges ideal, real, or behind capacitors."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import scipy

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.pulse import duty, edges_of, movement, sharp_pulse
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.shape import Wave, pulse_wave, share_u
from benchrecord.bench.tones import Tone, find_tone
from sounds import noise, with_noise
from waves import edged_pulse_series, low_cut, phase_of, pulse_series, room, sampled_pulse, summed, wandering_phase

RATE = 48_000
RATES = (44_100, 48_000, 96_000)
Off = list[float]


def found(samples: Floats, rate: float = RATE) -> Tone:
    """Return the tone of a recording that has one."""
    tone = find_tone(samples, rate)
    assert isinstance(tone, Tone)
    return tone


def width(samples: Floats, rate: float = RATE) -> Estimate:
    estimate = duty(samples, found(samples, rate))
    assert isinstance(estimate, Estimate)
    return estimate


def pulse_s_edges(number: int, random: np.random.Generator) -> dict[str, Any]:
    """Return edges of 2 to 12 µs, the same or two, straight or exponential."""
    rise, fall = random.uniform(2e-6, 12e-6, 2)
    return {"edges_s": (rise, rise if number % 3 == 0 else fall), "exponential": number % 2 == 0}


def widths_off(count: int, seed: int) -> Off:
    """Return errors over U of pulses of 10 to 90 %, from 30 Hz to 3 kHz, with real edges or none, half of them behind a low cut."""
    random, off = np.random.default_rng(seed), []
    for n in range(count):
        rate, hz, share = RATES[n % 3], 30 * 100 ** random.random(), random.uniform(0.1, 0.9)
        if n % 8 == 7:
            made = sampled_pulse(share, phase_of(hz, 1.0, rate, random.random()))
        else:
            hz = max(hz, 100.0) if n % 4 else hz  # the many harmonics of low notes take long to make
            series = edged_pulse_series(share, hz, room(hz, rate), **pulse_s_edges(n, random))
            series = low_cut(series, hz, random.uniform(2, 25), int(random.integers(1, 3))) if n % 2 else series
            made = summed(series, phase_of(hz, 1.0, rate, random.random()))
        own = width(with_noise(0.4 * made, random.uniform(30, 90), seed=n), rate)
        off.append((own.value - share) / own.expanded)
    return off


@pytest.mark.parametrize(("count", "seed"), [(64, 1), pytest.param(300, 2, marks=pytest.mark.slow)])
def test_the_stated_uncertainty_of_a_width_is_honest(count: int, seed: int) -> None:
    """95 of 100 lie within U, and half of all errors are more than a tenth of it."""
    off = np.abs(widths_off(count, seed))
    assert np.mean(off <= 1) >= 0.95
    assert np.median(off) >= 0.1


@pytest.mark.parametrize("exponential", [False, True])
def test_what_both_edges_share_does_not_move_the_width(*, exponential: bool) -> None:
    for hz, share in ((63.0, 0.2), (220.3, 0.7), (811.0, 0.5)):
        series = edged_pulse_series(share, hz, room(hz, RATE), edges_s=(9e-6, 9e-6), exponential=exponential)
        own = width(with_noise(0.4 * summed(low_cut(series, hz, 20), phase_of(hz, 1.5, RATE)), 60))
        assert own.value == pytest.approx(share, abs=2e-6)


def test_edges_of_unlike_widths_leave_the_width_uncertain() -> None:
    alike, unlike = (
        width(
            with_noise(0.4 * summed(edged_pulse_series(0.3, 220, 100, edges_s=s, exponential=True), phase_of(220, 2, RATE)), 70)
        )
        for s in ((2e-6, 2e-6), (2e-6, 12e-6))
    )
    assert unlike.expanded > 10 * alike.expanded
    assert abs(unlike.value - 0.3) < unlike.expanded
    assert unlike.expanded < 12e-6 * 220  # and no more than a whole edge


def test_the_widths_of_edges_differ_by_what_was_made() -> None:
    """The variance of a straight edge is a twelfth of the square of its length."""
    edges = edges_of(Wave(edged_pulse_series(0.4, 100, 240, edges_s=(11e-6, 4e-6))))
    lengths = np.array([11e-6, 4e-6]) / 0.8 * 100  # in periods
    assert edges.widths.value == pytest.approx((lengths[0] ** 2 - lengths[1] ** 2) / 12, rel=0.15)


def test_noise_moves_an_edge_as_much_as_it_says() -> None:
    ideal, random = pulse_wave(0.3, 60), np.random.default_rng(3)
    moved = [
        edges_of(Wave(ideal.harmonics + 1e-4 * random.normal(0, np.sqrt(0.5), (2, 60)).T @ [1, 1j])).share.value
        for _ in range(200)
    ]
    assert float(np.std(moved)) == pytest.approx(share_u(edges_of(ideal).share, np.full(60, 1e-8)), rel=0.2)


def test_edges_that_run_into_each_other_are_read_at_the_middle_of_the_height() -> None:
    for hz, share in ((3000.0, 0.15), (4100.0, 0.6)):
        own = width(with_noise(0.4 * summed(pulse_series(share, room(hz, RATE)), phase_of(hz, 1, RATE)), 60))
        assert own.value == pytest.approx(share, abs=own.expanded)


def test_two_harmonics_do_not_tell_how_far_a_wave_is_from_a_pulse() -> None:
    samples = with_noise(0.4 * summed(pulse_series(0.3, 2), phase_of(9000, 1, RATE)), 60)
    assert duty(samples, found(samples)) == NotHad("too few of its harmonics stand out, 2 of 4: its width cannot be told")


@pytest.mark.parametrize("hz", [100.0, 1000.0, 10_000.0])
def test_pulses_that_a_program_sampled_have_the_uncertainty_of_a_sample(hz: float) -> None:
    """At whole fractions of the rate the same phases come again: nothing tells widths within a sample apart."""
    random, off = np.random.default_rng(round(hz)), []
    for n in range(40):
        share = random.uniform(0.1, 0.9)
        own = width(with_noise(0.5 * sampled_pulse(share, phase_of(hz, 1, RATE, random.random())), 60, seed=n))
        off.append((own.value - share) / own.expanded)
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


@pytest.mark.parametrize("snr_db", [20, 50, 80])
@pytest.mark.parametrize("hz", [30.3, 1000.0, 9_999.0])
def test_only_edges_between_samples_are_sharp(hz: float, snr_db: float) -> None:
    phase = phase_of(hz, 1.5, RATE, 0.123)
    for share in (0.07, 0.5):
        recorded, counted = (
            with_noise(0.4 * made, snr_db)
            for made in (summed(pulse_series(share, room(hz, RATE)), phase), sampled_pulse(share, phase))
        )
        assert sharp_pulse(recorded, found(recorded).noise_rms) is None
        assert sharp_pulse(counted, found(counted).noise_rms) is not None


def test_a_coupling_capacitor_does_not_move_the_width() -> None:
    """A tilt of a quarter of the height, as a recorder's input brings at 20 Hz."""
    samples = summed(pulse_series(0.372, 1100), phase_of(20.3, 3, RATE))
    sections = scipy.signal.butter(1, 2.5, "highpass", fs=RATE, output="sos")
    own = width(scipy.signal.sosfilt(sections, samples)[RATE // 2 :] * 0.4 + noise(2.5, 1e-4))
    assert own.value == pytest.approx(0.372, abs=1e-5)


def test_edges_of_finite_steepness_do_not_move_the_width() -> None:
    sections = scipy.signal.butter(1, 5000, fs=RATE, output="sos")
    samples = scipy.signal.sosfilt(sections, summed(pulse_series(0.372, 200), phase_of(110.7, 3, RATE)))
    assert width(samples * 0.4 + noise(3, 1e-4)).value == pytest.approx(0.372, abs=1e-4)


def test_the_shape_of_a_fundamental_alone_cannot_be_told() -> None:
    samples = 0.5 * np.sin(2 * np.pi * phase_of(15_000, 1, RATE)) + noise(1, 1e-3)
    assert duty(samples, found(samples)) == NotHad("too few of its harmonics stand out, 1 of 4: its width cannot be told")


def modulated(hz: float, depth: float, rate_hz: float, *, times: int = 8, length_s: float = 3.0) -> Floats:
    """Return a pulse whose width swings about a half: as a program samples it, or (times above 1) as a recorder filters it."""
    t = np.arange(round(length_s * RATE * times)) / (RATE * times)
    wave = np.where((hz * t) % 1 < 0.5 + depth * np.sin(2 * np.pi * rate_hz * t + 1), 0.4, -0.4)
    return wave if times == 1 else np.asarray(scipy.signal.resample_poly(wave, 1, times))


@pytest.mark.parametrize("times", [1, 8])
@pytest.mark.parametrize(
    ("hz", "depth", "rate_hz"), [(55.0, 0.01, 8.0), (220.3, 0.1, 1.1), (220.3, 0.05, 0.2), (880.6, 0.04, 4.0)]
)
def test_a_width_that_moves_is_seen(hz: float, depth: float, rate_hz: float, times: int) -> None:
    samples = with_noise(modulated(hz, depth, rate_hz, times=times), 50)
    moving = movement(samples, found(samples))
    assert moving
    swing = depth * np.sin(2 * np.pi * rate_hz * np.arange(0, 3, 1 / hz) + 1)
    assert moving.mean == pytest.approx(0.5 + swing.mean(), abs=0.05 * depth)
    assert moving.rms == pytest.approx(swing.std(), rel=0.15)
    assert (moving.low, moving.high) == pytest.approx((0.5 + swing.min(), 0.5 + swing.max()), abs=0.1 * depth + 0.7 * hz / RATE)


def test_a_width_that_stands_still_does_not_move() -> None:
    """Pulses of 30 Hz to 3 kHz, with edges between samples or real ones, behind a low cut or not, in noise."""
    random = np.random.default_rng(8)
    for n in range(24):
        hz, share = 30 * 100 ** random.random(), random.uniform(0.1, 0.9)
        hz = hz if n % 4 == 0 else max(hz, 150.0)
        phase = phase_of(hz, 1.5, RATE, random.random())
        series = edged_pulse_series(share, hz, room(hz, RATE), **pulse_s_edges(n, random))
        series = low_cut(series, hz, random.uniform(2, 25)) if n % 2 else series
        made = sampled_pulse(share, phase) if n % 4 == 0 else summed(series, phase)
        samples = with_noise(0.4 * made, random.uniform(30, 90), seed=n)
        assert movement(samples, found(samples)) is None, (hz, share)


@pytest.mark.parametrize("share", [0.5, 0.3, 0.1])
def test_neither_tremolo_nor_vibrato_moves_a_width(share: float) -> None:
    t = np.arange(2 * RATE) / RATE
    series = pulse_series(share, room(230, RATE))
    trembling = (1 + 0.3 * np.sin(2 * np.pi * 4 * t)) * 0.3 * summed(series, phase_of(220.3, 2, RATE))
    gliding = 0.4 * summed(series, wandering_phase(220.3, 50 * np.sin(2 * np.pi * 5 * t), RATE))
    assert movement(trembling, found(trembling)) is None
    assert movement(gliding, found(gliding)) is None
    own = width(trembling)
    assert abs(own.value - share) < own.expanded


def test_a_few_periods_do_not_show_how_a_width_moves() -> None:
    samples = modulated(30.0, 0.1, 5.0)
    assert movement(samples[: round(RATE * 7 / 30)], found(samples)) is None
