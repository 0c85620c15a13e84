"""Tones. Published values of topic 04: derived from the Fourier series of ideal waves; recordings are made with known truth."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import scipy

from benchrecord.bench.estimate import Estimate, Hidden, decibels, root
from benchrecord.bench.fits import Floats
from benchrecord.bench.harmonics import steady
from benchrecord.bench.last_digit import last_digit, rounding_variance
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.shape import pulse_wave, triangle_wave
from benchrecord.bench.spectra import Complexes, frames_in
from benchrecord.bench.tones import Tone, even_harmonics_db, find_tone, power_of, thd
from reference.published import checks, rows
from sounds import noise, seconds, with_noise
from waves import phase_of, pulse_series, room, summed, triangle_series

CHECKS = checks("04")
MANY = 200_000  # harmonics that stand for all
WAVES = {"sq": pulse_wave(0.5, MANY), "tri": triangle_wave(0.5, MANY), "saw": triangle_wave(1e-9, MANY)}
WHOLE = {"square": "sq", "triangle": "tri", "sawtooth": "saw"}
THD = [name for name in CHECKS if name.startswith("thd")]
EVEN = [name for name in CHECKS if name.startswith("even")]
RATE = 48_000


def tone_of(harmonics: Complexes, *, hz: float = 0.05) -> Tone:
    """Return a tone without noise that has these harmonics."""
    nothing = np.zeros(len(harmonics))
    level = Estimate(math.sqrt(2 * float(np.sum(np.abs(harmonics) ** 2))), 0.0)
    frames = frames_in(RATE, 4096)
    course = steady(frames, hz / RATE)
    return Tone(Estimate(hz, 0.0), level, Estimate(0.0, 0.0), harmonics, nothing, nothing, 0.0, 1.0, RATE, frames, course)


def found(samples: Floats, rate: float = RATE) -> Tone:
    """Return the tone of a recording that has one."""
    tone = find_tone(samples, rate)
    assert isinstance(tone, Tone)
    return tone


def distortion_percent(tone: Tone, harmonics: int = MANY) -> float:
    own = thd(tone, (harmonics + 0.5) * tone.hz.value)
    assert isinstance(own, Estimate)
    return 100 * own.value


def worked_out(name: str) -> float:
    """Return what the bench makes of a row of the published values."""
    if match := re.fullmatch(r"thd-(sq|tri|saw)-(\d+)", name):
        return distortion_percent(tone_of(WAVES[match[1]].harmonics), int(match[2]))
    if match := re.fullmatch(r"thd-pulse-([\d.]+)", name):
        duty = 1 / 3 if match[1] == "0.3333" else float(match[1])
        return distortion_percent(tone_of(pulse_wave(duty, MANY).harmonics))
    kind, wave = name.split("-")
    own = distortion_percent(tone_of(WAVES[WHOLE[wave]].harmonics)) / 100
    return {"thd": 100 * own, "thdr": 100 * own / math.hypot(1, own), "thddb": 20 * math.log10(own)}[kind]


@pytest.mark.parametrize("name", THD)
def test_published_distortion_of_ideal_waves(name: str) -> None:
    """All harmonics are 200 000 here: what a pulse has beyond them is a hundred-thousandth of its power."""
    assert worked_out(name) == pytest.approx(float(CHECKS[name]["value"]), rel=1e-8 if re.search(r"-\d+$", name) else 2e-5)


@pytest.mark.parametrize("name", EVEN)
def test_published_second_harmonics_of_waves_that_are_not_even(name: str) -> None:
    _, wave, share = name.split("-")
    made = (pulse_wave if wave == "pulse" else triangle_wave)(float(share), 2).harmonics
    assert abs(made[1] / made[0]) == pytest.approx(float(CHECKS[name]["value"]), abs=1e-12)


@pytest.mark.parametrize("row", rows("04-harmonics.csv"), ids=lambda r: f"{r['waveform_peak_1']}-{r['harmonic']}")
def test_published_harmonics_of_ideal_waves(row: dict[str, str]) -> None:
    wave, number = row["waveform_peak_1"], int(row["harmonic"])
    share = (
        float(re.sub(r".*-d?", "", wave)) if wave[-1].isdigit() else {"square": 0.5, "triangle": 0.5, "sawtooth": 1e-9}[wave]
    )
    made = (pulse_wave if wave.startswith(("square", "pulse")) else triangle_wave)(share, number).harmonics
    assert abs(made[-1] / made[0]) == pytest.approx(float(row["relative_to_fundamental"]), abs=1e-9)


@pytest.mark.parametrize(("wave", "row"), [("sine", "rms-sine"), ("square", "rms-square"), ("triangle", "rms-triangle")])
def test_published_levels_of_ideal_waves(wave: str, row: str) -> None:
    """The level of a recorded wave of peak 1; of a square the harmonics above the band are missing: 1/(π²·16) of its power."""
    series = {
        "sine": np.array([-0.5j]),
        "square": pulse_series(0.5, room(37.3, RATE)),
        "triangle": triangle_series(0.5, room(37.3, RATE)),
    }[wave]
    tone = found(summed(series, phase_of(37.3, 2, RATE)) + noise(2, 1e-5))
    assert tone.rms.value == pytest.approx(float(CHECKS[row]["value"]), rel=5e-4)


@pytest.mark.parametrize(("hz", "length_s"), [(20.0137, 3.0), (440.0, 3.0), (9_876.5, 3.0)])
def test_frequency_is_good_to_a_hundredth_of_a_hertz_and_a_cent(hz: float, length_s: float) -> None:
    """Three seconds, noise 20 dB down; a cent at 20 Hz is 0.012 Hz."""
    tone = found(with_noise(np.sin(2 * np.pi * phase_of(hz, length_s, RATE)), 20, seed=3))
    assert tone.hz.value == pytest.approx(hz, abs=0.001)
    assert abs(tone.hz.value - hz) <= tone.hz.expanded


def test_frequency_agrees_with_a_second_witness() -> None:
    """A sine fitted by scipy's least squares, which knows where to start."""
    samples, t = with_noise(0.4 * np.sin(2 * np.pi * phase_of(97.31, 1.5, RATE)), 30), np.arange(round(1.5 * RATE)) / RATE
    fit, _ = scipy.optimize.curve_fit(
        lambda t, f, a, b: a * np.sin(2 * np.pi * f * t) + b * np.cos(2 * np.pi * f * t), t, samples, (97.3, 0.4, 0)
    )
    tone = found(samples)
    assert tone.hz.value == pytest.approx(fit[0], abs=2 * tone.hz.expanded)
    assert tone.amplitude == pytest.approx(math.hypot(fit[1], fit[2]), rel=1e-3)


def test_harmonics_agree_with_a_second_witness() -> None:
    """A whole number of periods, transformed by scipy without a window."""
    series = triangle_series(0.3, 40)
    samples = summed(series, phase_of(500, 2, RATE))
    exact = np.abs(scipy.fft.rfft(samples))[1000:40_001:1000] / len(samples)
    assert np.abs(found(samples).harmonics[:40]) == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_the_stated_uncertainty_of_a_frequency_is_honest(rate: int) -> None:
    """Sines and pulses from 20 Hz to 10 kHz, noise 20 to 80 dB down: 95 of 100 within U, and U no more than three times what is seen."""
    random, off = np.random.default_rng(rate), []
    for n in range(100):
        hz, start = 20 * 500 ** random.random(), random.random()
        series = np.array([-0.5j]) if n % 2 else pulse_series(random.uniform(0.05, 0.95), min(room(hz, rate), 60))
        samples = with_noise(0.4 * summed(series, phase_of(hz, 1.5, rate, start)), random.uniform(20, 80), seed=n)
        tone = found(samples, rate)
        off.append((tone.hz.value - hz) / tone.hz.expanded)
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6  # U = 2·rms would make it a half


def test_the_stated_uncertainty_of_a_distortion_is_honest() -> None:
    """Distortion of 0.01 to 10 %, noise 30 to 80 dB down: 95 of 100 within U, and U no more than three times what is seen."""
    random, off = np.random.default_rng(8), []
    for n in range(100):
        hz, true = 50 * 60 ** random.random(), 10 ** random.uniform(-4, -1)
        size = random.dirichlet(np.ones(3)) ** 0.5 * true
        series = 0.5 * np.concatenate(([1.0], size)) * np.exp(2j * np.pi * random.random(4))
        tone = found(with_noise(0.4 * summed(series, phase_of(hz, 1.5, RATE)), random.uniform(30, 80), seed=n))
        own = thd(tone)
        assert isinstance(own, Estimate)
        off.append((own.value - true) / own.expanded)
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


COURSES = {
    "tremolo": lambda t, depth: 1 + depth * np.sin(2 * np.pi * 5.3 * t),
    "slow tremolo": lambda t, depth: 1 + depth * np.sin(2 * np.pi * 0.7 * t),
    "gated": lambda t, depth: 1 - depth * (np.sin(2 * np.pi * 4 * t) > 0),
    "fading": lambda t, depth: np.exp(-2 * depth * t),
}


@pytest.mark.parametrize("course", COURSES)
def test_a_level_that_goes_up_and_down_does_not_spoil_a_distortion(course: str) -> None:
    """Amplitude modulation: all harmonics grow and fade alike. Nine of ten uncertainties are less than a tenth of the distortion."""
    random, off, wide = np.random.default_rng(4), [], []
    for n in range(20):
        second, third, hz = *(10 ** random.uniform(-3, -1.5, 2)), 150 * 10 ** random.random()
        series = np.array([-0.5j, second / 2 * np.exp(1j * n), third / 2 * np.exp(2j * n)])
        samples = (
            0.3 * COURSES[course](np.arange(2 * RATE) / RATE, random.uniform(0.1, 0.7)) * summed(series, phase_of(hz, 2, RATE))
        )
        own = thd(found(with_noise(samples, random.uniform(50, 80), seed=n)))
        assert isinstance(own, Estimate)
        truth = math.hypot(second, third)
        off.append(abs(own.value - truth) / own.expanded)
        wide.append(own.expanded / truth)
    assert np.mean(np.array(off) <= 1) >= (0.9 if course == "gated" else 0.95)  # of 150 that are gated 95 in 100
    assert np.quantile(wide, 0.9) < (0.5 if course == "gated" else 0.1)


def test_how_far_a_level_swings_is_told() -> None:
    t = np.arange(2 * RATE) / RATE
    wave = 0.3 * np.sin(2 * np.pi * 440 * t)
    assert found(with_noise(wave, 40)).swing == 0
    own = found(with_noise((1 + 0.3 * np.sin(2 * np.pi * 3 * t)) * wave, 40)).swing
    assert own == pytest.approx(0.3 / math.sqrt(2), rel=0.1)


def test_distortion_counts_harmonics_below_20_khz_alone() -> None:
    """1.5 kHz at 96 kHz has 13 below and 18 above; a ramp of 13 has Σ 1/n² of the power."""
    tone = found(summed(triangle_series(1.0, 31), phase_of(1500.3, 2, 96_000)), 96_000)
    assert tone.below() == 13
    own = thd(tone)
    assert isinstance(own, Estimate)
    assert own.value == pytest.approx(math.sqrt(sum(1 / n**2 for n in range(2, 14))), rel=1e-6)


def test_a_harmonic_at_20_khz_is_not_below_it() -> None:
    tone = found(summed(triangle_series(1.0, 23), phase_of(1000, 2, RATE)))
    assert (tone.below(), len(tone.harmonics)) == (19, 23)
    assert thd(found(0.5 * np.sin(2 * np.pi * phase_of(15_000, 1, RATE)))) == NotHad(
        "no harmonic of 1.5e+04 Hz lies below 20000 Hz"
    )


def test_even_harmonics_of_a_symmetric_wave_are_hidden_by_noise() -> None:
    tone = found(with_noise(summed(pulse_series(0.5, 50), phase_of(440.1, 2, RATE)), 60))
    own = even_harmonics_db(tone)
    assert isinstance(own, Hidden)
    assert -110 < own.most_db < -70
    assert own.reason == f"the noise hides it: it is below −{-own.most_db:.1f} dB"


def test_even_harmonics_of_a_pulse_follow_its_width() -> None:
    """Power of sin(πn·d)/n over all even n below 20 kHz, relative to the fundamental."""
    tone = found(summed(pulse_series(0.45, 45), phase_of(440.1, 2, RATE)))
    own, even = even_harmonics_db(tone), range(2, 46, 2)
    assert isinstance(own, Estimate)
    power = sum((math.sin(math.pi * n * 0.45) / n / math.sin(math.pi * 0.45)) ** 2 for n in even)
    assert own.value == pytest.approx(10 * math.log10(power), abs=1e-3)


def test_the_mean_and_the_level_are_told_apart() -> None:
    tone = found(0.25 + with_noise(0.5 * np.sin(2 * np.pi * phase_of(333.3, 2, RATE)), 50))
    assert tone.dc.value == pytest.approx(0.25, abs=tone.dc.expanded)
    assert tone.dc.expanded < 1e-5
    assert tone.rms.value == pytest.approx(0.5 / math.sqrt(2), abs=tone.rms.expanded)


def test_what_noise_adds_to_a_level_is_covered_where_few_harmonics_tell_the_noise() -> None:
    """A sine whose second harmonic is the last below half the rate, noise 20 dB down: nobody knows how much of it is noise."""
    off = []
    for seed in range(60):
        g = np.random.default_rng(seed)
        hz, length_s = g.uniform(9000, 10_000), g.uniform(1, 1.5)
        wave = 0.4 * np.sin(2 * np.pi * phase_of(hz, length_s, 44_100, g.random()))
        own = found(with_noise(wave, 20, seed=seed), 44_100).rms
        off.append((own.value - float(np.sqrt(0.08))) / own.expanded)
    assert np.mean(np.abs(off) <= 1) >= 0.95
    assert np.sqrt(np.mean(np.square(off))) >= 1 / 6


def test_an_oscillator_that_wanders_keeps_its_harmonics() -> None:
    """It drifts by 5 cents in three seconds; its frequency is the mean, and no harmonic is lost."""
    t = np.arange(3 * RATE) / RATE
    phase = 110.0 * (t + 0.5 * (2 ** (5 / 1200) - 1) * t**2 / 3)
    tone = found(with_noise(summed(triangle_series(1.0, 180), phase), 60))
    assert tone.hz.value == pytest.approx(110 * (1 + (2 ** (5 / 1200) - 1) / 2), abs=tone.hz.expanded)
    assert np.abs(tone.harmonics[:150]) * np.arange(1, 151) == pytest.approx([1 / math.pi] * 150, rel=0.02)


def test_hum_is_no_harmonic() -> None:
    clean = 0.4 * summed(np.array([-0.5j, 0.005]), phase_of(443.7, 3, RATE))
    hum = 0.05 * np.sin(2 * np.pi * 50 * np.arange(3 * RATE) / RATE)
    assert distortion_percent(found(clean + hum + noise(3, 1e-5)), 40) == pytest.approx(1.0, abs=0.001)


def test_the_fundamental_is_found_below_stronger_harmonics() -> None:
    tone = found(summed(np.array([0.05, 0.3, 0.2, 0.1]), phase_of(61.3, 2, RATE)) + noise(2, 1e-3))
    assert tone.hz.value == pytest.approx(61.3, abs=0.01)


def test_lines_that_fold_back_do_not_pass_for_a_fundamental() -> None:
    """A pulse of 10 kHz that a program sampled without a filter has lines at 2, 4, 6 … kHz."""
    assert found(np.where(phase_of(10_000, 1, RATE, 0.013) % 1 < 0.3, 0.5, -0.5)).hz.value == pytest.approx(10_000, abs=0.01)


@pytest.mark.parametrize("samples", [noise(2, 0.1), np.zeros(96_000)])
def test_noise_and_silence_have_no_tone(samples: Floats) -> None:
    assert find_tone(samples, RATE) == NotHad("no tone stands out of it")


@pytest.mark.parametrize("hz", [110.0, 440.0, 1000.0])
@pytest.mark.parametrize("number", [2, 3, 5])
@pytest.mark.parametrize("off", [-0.003, 0.0005, 0.003, 0.02])
def test_a_partial_that_is_no_whole_multiple_is_found_and_moves_no_frequency(hz: float, number: int, off: float) -> None:
    t = seconds(3)
    partial = 0.3 * np.sin(2 * np.pi * (number + off) * hz * t + 1)
    own = found(0.5 * np.sin(2 * np.pi * hz * t) + partial + noise(3, 1e-4))
    assert own.hz.value == pytest.approx(hz, rel=1e-5)
    assert own.partial == number
    assert own.partial_offset_hz == pytest.approx(off * hz, rel=0.05, abs=2e-3)


def test_the_harmonics_of_a_wave_are_whole_multiples_whether_it_is_steady_or_wanders() -> None:
    for seed in range(6):
        hz = 60 * 30 ** np.random.default_rng(seed).random()
        for cents in (0.0, 10.0, 40.0):
            turns = np.cumsum(hz * 2 ** (cents * np.sin(2 * np.pi * 3 * seconds(3)) / 1200)) / RATE
            wave = summed(triangle_series(1.0, min(60, room(1.05 * hz, RATE))), turns)
            assert found(with_noise(wave, 40 + 5 * seed, seed=seed)).partial == 0, (seed, cents)


@pytest.mark.parametrize("hz", [220.3, 440.308, 1000.7])
@pytest.mark.parametrize("duty", [0.1, 0.25, 0.5])
def test_neither_what_folds_back_nor_a_width_that_moves_is_a_partial(hz: float, duty: float) -> None:
    moving = 0.5 + 0.1 * np.sin(2 * np.pi * 1.1 * seconds(5))
    for width in (duty, 1 - duty, moving):
        samples = 0.4 * np.where(phase_of(hz, 5, RATE) % 1 < width, 1.0, -1.0) + noise(5, 1e-3)
        assert found(samples).partial == 0


@pytest.mark.parametrize(
    "samples", [np.cumsum(noise(2, 0.01)), np.sin(2 * np.pi * 0.3 * seconds(6)), np.sin(2 * np.pi * seconds(6))]
)
def test_what_repeats_too_seldom_is_neither_a_tone_nor_called_noise(samples: Floats) -> None:
    own = find_tone(samples, RATE)
    assert isinstance(own, NotHad)
    assert own.reason.startswith("too slow: what is strongest in it repeats fewer than 8 times")


@pytest.mark.parametrize("hz", [1.3, 2.1, 3.2, 4.1, 4.9])
@pytest.mark.parametrize("rise", [0.5, 0.46, None])
def test_a_slow_wave_of_enough_periods_is_read_as_any_other(hz: float, rise: float | None) -> None:
    """Too few of its periods lie in the seconds that a tone is first looked for in."""
    series = np.array([-0.5j]) if rise is None else triangle_series(rise, 400)
    own = found(
        0.4 * summed(series, phase_of(hz, 24 / hz, 8000, 0.1)) + 0.01 * np.sin(2 * np.pi * 50 * seconds(24 / hz, 8000)), 8000
    )
    assert own.hz.value == pytest.approx(hz, rel=1e-4)


def test_a_faint_tone_in_noise_is_no_steady_tone() -> None:
    own = find_tone(np.sin(2 * np.pi * phase_of(440, 3, RATE)) * 0.05 + noise(3, 0.2), RATE)
    assert isinstance(own, NotHad)
    assert own.reason == "no steady tone: only 2.9 % of its power is in the harmonics of 440 Hz"


def test_too_few_periods_are_told() -> None:
    own = find_tone(np.sin(2 * np.pi * phase_of(40, 0.4, RATE)), RATE)
    assert own == NotHad("too short: it holds 16.0 periods of 40 Hz, and 22 are needed")


def test_the_steps_of_a_recording_are_seen() -> None:
    samples = np.rint(0.3 * np.sin(2 * np.pi * phase_of(100, 1, RATE)) * 32768) / 32768
    assert last_digit(samples) == 2**-15
    assert last_digit(samples + 2**-23) == 2**-23
    assert last_digit(samples * 0.77) == 0


def test_rounding_without_noise_is_counted_and_with_noise_is_noise() -> None:
    """The variance of rounding is q²/12 (JCGM 100:2008, F.2.2.1)."""
    assert rounding_variance(2**-15, 2**-15 / math.sqrt(12)) == pytest.approx(2**-30 / 12)
    assert rounding_variance(2**-15, 2**-15) < 1e-9 * 2**-30
    faint = 0.3 * summed(np.array([-0.5j, 0.00105]), phase_of(1000, 2, RATE))
    own = thd(found(np.rint(faint * 32768) / 32768))
    assert isinstance(own, Estimate)
    assert own.value == pytest.approx(0.0021, abs=own.expanded)
    assert own.expanded > 1e-6


def test_a_power_below_zero_is_nothing() -> None:
    assert root(Estimate(-1.0, 2.0)) == Estimate(0.0, 1.0)
    assert root(Estimate(9.0, 1.0)) == Estimate(3.0, pytest.approx((3 - math.sqrt(7)) / 2))
    level = decibels(Estimate(1.0, 0.01))
    assert isinstance(level, Estimate)
    assert (level.value, level.u) == (0.0, pytest.approx(-5 * math.log10(0.98)))


def test_powers_of_noise_alone_scatter_about_nothing() -> None:
    """The third to the twentieth harmonic of a sine are noise: their power is within its uncertainty of nothing, however often."""
    powers = [
        power_of(found(with_noise(np.sin(2 * np.pi * phase_of(997, 1, RATE)), 40, seed=n)), range(3, 20)) for n in range(40)
    ]
    assert np.mean([abs(p.value) <= 2 * p.u for p in powers]) >= 0.9
    assert abs(np.mean([p.value for p in powers])) < np.mean([p.u for p in powers])
