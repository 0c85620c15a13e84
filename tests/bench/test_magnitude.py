"""Magnitudes from a swept sine and from noise: known filters are found within their uncertainty, at many rates and noises."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bench.filters import Gain, butterworth, ladder, level_db, mirrored, poles, through, true_cutoff
from benchrecord.bench.fits import Floats
from benchrecord.bench.magnitude import Magnitude
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.response import HIGH_PASS, LOW_PASS, Figure, Response, response_of
from benchrecord.bench.sweep import exponential_sweep, swept
from benchrecord.bench.through_noise import noise_through

SPAN = (20.0, 20_000.0)
Measured = Magnitude | NotHad
FILTERS: dict[str, tuple[Gain, str]] = {
    "one pole, 2.5 kHz": (poles(1, 2500.0), LOW_PASS),
    "one pole, 300 Hz": (poles(1, 300.0), LOW_PASS),
    "Butterworth, 300 Hz": (butterworth(4, 300.0), LOW_PASS),
    "Butterworth of two poles, 1 kHz": (butterworth(2, 1000.0), LOW_PASS),
    "Butterworth, 1 kHz": (butterworth(4, 1000.0), LOW_PASS),
    "four poles, 2.5 kHz": (poles(4, 2500.0), LOW_PASS),
    "with a peak, 300 Hz": (ladder(3.0, 300.0), LOW_PASS),
    "with a peak, 2.5 kHz": (ladder(3.0, 2500.0), LOW_PASS),
    "high-pass, 300 Hz": (mirrored(butterworth(2, 300.0), 300.0), HIGH_PASS),
}


def padded(sweep: Floats, rate: int) -> Floats:
    quiet = np.zeros(rate // 4)
    return np.concatenate([quiet, sweep, quiet])


def noisy(samples: Floats, below_db: float, seed: int) -> Floats:
    """Add noise below the level that a full sweep would have in the loudest part of what is passed."""
    loudest = np.sqrt(np.convolve(samples**2, np.full(512, 1 / 512), "same").max())
    return samples + loudest * 10 ** (-below_db / 20) * np.random.default_rng(seed).normal(size=len(samples))


def by_sweep(gain: Gain, rate: int, below_db: float, seed: int) -> Measured:
    sweep = exponential_sweep(rate, 2.0, *SPAN)
    return swept(noisy(through(padded(sweep, rate), rate, gain), below_db, seed), sweep, rate, SPAN)


def by_noise(gain: Gain, rate: int, below_db: float, seed: int, *, length_s: float = 8.0) -> Measured:
    sent = np.random.default_rng(1000 + seed).normal(size=round(length_s * rate))
    return noise_through(noisy(through(sent, rate, gain), below_db, seed), sent[rate // 7 :], rate, SPAN)


def by_two_noises(gain: Gain, rate: int, below_db: float, seed: int) -> Measured:
    """What goes in and what comes out are recorded one after the other: two noises of the same kind."""
    other = np.random.default_rng(2000 + seed).normal(size=8 * rate)
    sent = np.random.default_rng(1000 + seed).normal(size=8 * rate)
    return noise_through(noisy(through(sent, rate, gain), below_db, seed), other, rate, SPAN)


def cutoff(measured: Measured, shape: str) -> Figure:
    assert isinstance(measured, Magnitude)
    own = {"level_u_db": measured.level_u_db, "shared_u_db": measured.shared_u_db}
    response = response_of(measured.hz, measured.level_db, shape=shape, **own)
    assert isinstance(response, Response)
    figure = response.minus_3_db_low_hz if shape == HIGH_PASS else response.minus_3_db_high_hz
    assert isinstance(figure, Figure)
    return figure


def tried(
    how: Callable[..., Measured], names: list[str], noises: tuple[float, ...], rates: tuple[int, ...], seeds: int
) -> Floats:
    """Return error and stated uncertainty of the cut-off, relative, (n, 2)."""
    pairs = []
    for name in names:
        gain, shape = FILTERS[name]
        truth = true_cutoff(gain, high_pass=shape == HIGH_PASS)
        for noise in noises:
            for rate in rates:
                figures = [cutoff(how(gain, rate, noise, seed), shape) for seed in range(seeds)]
                pairs += [(f.value / truth - 1, f.u / truth) for f in figures]
    return np.array(pairs)


def test_a_sweep_grows_by_as_many_octaves_in_each_second() -> None:
    sweep = exponential_sweep(48_000, 4.0, 125.0, 2000.0)
    crossings = np.flatnonzero((sweep[:-1] < 0) & (sweep[1:] >= 0)) / 48_000
    middles, hz = (crossings[:-1] + crossings[1:]) / 2, 1 / np.diff(crossings)
    assert np.log2(hz / 125.0) == pytest.approx(middles, abs=0.06)  # an octave in each second, to half a sample


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_wire_is_flat_from_end_to_end(rate: int) -> None:
    sweep = exponential_sweep(rate, 1.0, *SPAN)
    found = swept(0.5 * padded(sweep, rate), sweep, rate, SPAN)
    assert isinstance(found, Magnitude)
    assert found.level_db == pytest.approx(np.full(len(found.hz), 20 * math.log10(0.5)), abs=0.002)
    assert (found.hz[0], found.hz[-1]) == pytest.approx(SPAN, rel=0.02)


def test_distortion_is_left_out_of_a_sweep() -> None:
    """A cube adds a third harmonic of −21 dB, and a quarter of it to the tone: the magnitude stays flat."""
    sweep = exponential_sweep(48_000, 4.0, *SPAN)
    found = swept(padded(sweep + 0.4 * sweep**3, 48_000), sweep, 48_000, SPAN)
    assert isinstance(found, Magnitude)
    within = (found.hz > 50) & (found.hz < 2000)  # farther up the products of this digital cube fold back
    assert np.ptp(found.level_db[within]) < 0.3


@pytest.mark.parametrize("name", FILTERS)
def test_a_swept_filter_is_its_own(name: str) -> None:
    gain, _ = FILTERS[name]
    found = by_sweep(gain, 48_000, 80, 1)
    assert isinstance(found, Magnitude)
    wanted = level_db(gain, found.hz)
    heard = wanted > wanted.max() - 40
    assert np.all(np.abs(found.level_db - wanted)[heard] <= 0.02 + 4 * found.level_u_db[heard])


@pytest.mark.parametrize(
    ("gain", "octaves"),
    [
        (butterworth(4, 1000.0), 3.0),  # far above: next to nothing is blurred
        (poles(1, 300.0), 3.0),
        (ladder(3.0, 300.0), 3.0),
        (poles(4, 60.0), 3.0),  # slow: what comes late of it is blurred too
        (mirrored(butterworth(2, 100.0), 100.0), 2.0),  # steep where the sweep begins
    ],
)
def test_where_a_sweep_begins_a_level_is_as_unsure_as_its_window_blurs_it(gain: Gain, octaves: float) -> None:
    found = by_sweep(gain, 44_100, 120, 1)
    assert isinstance(found, Magnitude)
    low = found.hz < SPAN[0] * 2**octaves
    errors, stated = (found.level_db - level_db(gain, found.hz))[low], found.level_u_db[low]
    assert np.mean(np.abs(errors) <= 2 * stated) >= 0.95
    assert float(np.sqrt(np.mean(stated**2))) < 3 * float(np.sqrt(np.mean(errors**2)))
    assert np.all(found.shared_u_db[low] <= stated)


def test_noise_that_did_not_come_of_the_sweep_is_refused() -> None:
    sweep = exponential_sweep(48_000, 2.0, *SPAN)
    found = swept(np.random.default_rng(1).normal(size=150_000), sweep, 48_000, SPAN)
    assert found == NotHad("what is heard does not follow the sweep that went in")


def test_noise_of_one_pass_finds_what_lies_under_the_circuit_s_own_noise() -> None:
    """40 dB down in the stop band the circuit's own noise is as loud: the cross spectrum is not lifted by it."""
    gain = butterworth(2, 500.0)
    found = by_noise(gain, 48_000, 40, 1, length_s=20.0)
    assert isinstance(found, Magnitude)
    assert found.how == "noise, in and out of one pass"
    at = int(np.argmin(np.abs(found.hz - 4000)))
    assert found.level_db[at] == pytest.approx(float(level_db(gain, found.hz[at : at + 1])[0]), abs=0.5)


def test_noise_of_two_passes_is_told_and_compared_by_its_power() -> None:
    sent = np.random.default_rng(1).normal(size=30 * 48_000)
    other = np.random.default_rng(2).normal(size=30 * 48_000)
    found = noise_through(through(sent, 48_000, butterworth(4, 2000.0)), other, 48_000, SPAN)
    assert isinstance(found, Magnitude)
    assert found.how == "noise, in and out on their own"
    figure = cutoff(found, LOW_PASS)
    assert abs(figure.value - 2000) < 2 * figure.u
    assert figure.u < 60


def test_a_second_of_noise_is_too_short() -> None:
    found = by_noise(poles(1, 1000.0), 48_000, 60, 1, length_s=1.0)
    assert isinstance(found, NotHad)
    assert "too short" in found.reason


def held_to_its_word(pairs: Floats) -> tuple[float, float]:
    """Return the share of errors within the expanded uncertainty, and how many times what is seen that is."""
    errors, stated = pairs.T
    return float(np.mean(np.abs(errors) <= 2 * stated)), float(np.mean(stated) / np.sqrt(np.mean(errors**2)))


def test_cut_offs_lie_within_their_uncertainty_which_is_no_more_than_three_times_what_is_seen() -> None:
    for how in (by_sweep, by_noise, by_two_noises):
        within, times = held_to_its_word(tried(how, ["one pole, 2.5 kHz", "Butterworth, 300 Hz"], (40, 70), (44_100,), 3))
        assert within >= 0.95
        assert 1 / 3 < times < 3


@pytest.mark.parametrize(
    ("how", "name", "below_db"),
    [
        (by_noise, "Butterworth, 1 kHz", 70),  # little noise: what averages over a bend are off counts
        (by_two_noises, "one pole, 300 Hz", 70),  # by chance it looks flat where it falls already
    ],
)
def test_noise_is_held_to_its_word_where_one_cause_alone_leaves_it_uncertain(
    how: Callable[..., Measured], name: str, below_db: float
) -> None:
    within, times = held_to_its_word(tried(how, [name], (below_db,), (44_100,), 4))
    assert within == 1
    assert 1 / 2 < times < 3


@pytest.mark.parametrize(
    ("how", "gain", "below_db"),
    [
        (by_sweep, poles(4, 300.0), 70),  # a pass band that is taken too low shifts the part that is fitted
        (by_noise, butterworth(4, 1000.0), 25),  # what does not belong together never quite averages out
        (by_two_noises, ladder(3.0, 1000.0), 40),  # it flattens into the circuit's own noise
    ],
)
def test_a_slope_lies_within_its_uncertainty(how: Callable[..., Measured], gain: Gain, below_db: float) -> None:
    for seed in range(3):
        measured = how(gain, 44_100, below_db, seed)
        assert isinstance(measured, Magnitude)
        own = {"level_u_db": measured.level_u_db, "shared_u_db": measured.shared_u_db}
        levels = measured.level_db, level_db(gain, measured.hz)
        responses = [response_of(measured.hz, level, shape=LOW_PASS, **own) for level in levels]
        found, true = (r.slope_high for r in responses if isinstance(r, Response))
        assert isinstance(found, Figure)
        assert isinstance(true, Figure)
        assert abs(found.value - true.value) <= 2 * found.u


def test_what_averages_leave_out_of_a_narrow_peak_counts() -> None:
    """A peak a fifth of an octave wide, averaged over sixths, is a decibel too low."""
    gain, errors = ladder(3.0, 5600.0), []
    hz = np.geomspace(20, 20_000, 20_001)
    true = float(np.max(level_db(gain, hz) - level_db(gain, hz[:1])))
    for seed in range(3):
        measured = by_two_noises(gain, 44_100, 60, seed)
        assert isinstance(measured, Magnitude)
        found = response_of(measured.hz, measured.level_db, shape=LOW_PASS, level_u_db=measured.level_u_db)
        assert isinstance(found, Response)
        errors.append((found.peak_db.value - true, found.peak_db.u))
    within, times = held_to_its_word(np.array(errors))
    assert within == 1
    assert 0.7 < times < 3 / 2


def test_two_noises_are_compared_without_what_few_averages_add_to_a_ratio() -> None:
    """Of two noises alike: the mean of ratios of twenty averages each is 0.2 dB too high."""
    found = by_two_noises(lambda f: np.ones(len(f), complex), 44_100, 70, 1)
    assert isinstance(found, Magnitude)
    high = found.hz > 2000
    assert float(np.mean(found.level_db[high])) == pytest.approx(0, abs=0.08)


@pytest.mark.slow
@pytest.mark.parametrize(("how", "noises"), [(by_sweep, (40, 70)), (by_noise, (40, 70)), (by_two_noises, (55,))])
def test_over_the_whole_grid(how: Callable[..., Measured], noises: tuple[float, ...]) -> None:
    within, times = held_to_its_word(tried(how, list(FILTERS), noises, (44_100, 96_000), 2))
    assert within >= 0.95
    assert 1 / 2 < times < 3


def asymmetric(samples: Floats) -> Floats:
    return np.where(samples > 0, np.tanh(samples), samples / (1 + np.abs(samples)))


def hard(samples: Floats) -> Floats:
    return np.clip(samples, -1, 1)


def test_a_cut_off_lies_within_its_uncertainty_however_hard_the_circuit_is_driven() -> None:
    """Curves of three kinds, before and after filters of one, two and four poles."""
    off, sweep = [], exponential_sweep(48_000, 2.0, *SPAN)
    sent = padded(sweep, 48_000)
    for seed in range(36):
        random, drive = np.random.default_rng(seed), (0.3, 1.0, 3.0)[seed % 3]
        bent, hz = (np.tanh, hard, asymmetric)[seed // 3 % 3], 10 ** random.uniform(2.5, 3.5)
        gain = poles((1, 2, 4)[seed // 9 % 3], hz)
        first = seed >= 18  # half of them
        heard = through(bent(drive * sent), 48_000, gain) if first else bent(drive * through(sent, 48_000, gain))
        found = swept(noisy(heard / drive, 70, seed), sweep, 48_000, SPAN)
        own = cutoff(found, LOW_PASS)
        off.append(abs(own.value / true_cutoff(gain, high_pass=False) - 1) * own.value / (2 * own.u))
    assert np.mean(np.array(off) <= 1) >= 0.95
    assert np.median(off) > 0.1


@pytest.mark.parametrize(("drive", "share"), [(0.02, 0.0), (1.0, 0.05)])
def test_the_third_harmonic_of_a_sweep_is_that_of_a_sine(drive: float, share: float) -> None:
    """From a sine through the same curve; a share that leaves the levels as they are is none."""
    sweep, turn = exponential_sweep(48_000, 2.0, *SPAN), 2 * np.pi * np.arange(4800) / 4800
    lines = np.abs(np.fft.rfft(np.tanh(drive * np.sin(turn))))
    found = swept(noisy(np.tanh(drive * padded(sweep, 48_000)), 80, 1), sweep, 48_000, SPAN)
    assert isinstance(found, Magnitude)
    assert found.third == pytest.approx(lines[3] / lines[1] if share else 0.0, rel=0.1)
    assert found.third == pytest.approx(share, abs=0.02)
