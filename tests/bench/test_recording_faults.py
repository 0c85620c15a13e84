"""What can be wrong with a recording is told; what is not wrong is not."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import clipping, hum, silence, sounding
from benchrecord.bench.steady import level_and_mean
from sounds import noise, seconds, with_noise
from waves import phase_of, pulse_series, summed

RATE = 48_000


def sine(hz: float = 440.0, *, peak: float = 0.5, length_s: float = 3.0, rate: int = RATE) -> Floats:
    return np.asarray(peak * np.sin(2 * np.pi * hz * seconds(length_s, rate) + 1))


FAR_S = 10


def test_silence_has_a_reason() -> None:
    assert silence(np.full(1000, 0.1)) == NotHad("the recording is silent: all its samples are the same")
    assert silence(noise(1, 1e-5)) == NotHad("the recording is silent: −97 dBFS is no more than a recorder's noise")
    assert silence(np.zeros(0)) == NotHad("the recording is silent: all its samples are the same")
    assert silence(0.3 + sine(peak=1e-3)) is None


def test_a_recording_without_pauses_is_heard_in_full() -> None:
    for samples in (sine(), noise(3, 0.1), 0.4 * summed(pulse_series(0.05, 1000), phase_of(2, 3, RATE))):
        assert sounding(samples, RATE) == (slice(0, len(samples)), "")


def test_the_longest_stretch_between_pauses_is_heard() -> None:
    samples = sine()
    samples[:RATE] = 1e-5
    samples[RATE + RATE // 2 : RATE + RATE // 2 + 4800] = 0
    within, told = sounding(samples, RATE)
    assert (within.start, within.stop) == (RATE + RATE // 2 + 4800 + 2400, 3 * RATE)
    assert told == "It pauses for 1.1 s of 3 s: only its longest stretch without a pause is analysed."


def test_a_pause_that_is_hardly_there_is_not_worth_a_word() -> None:
    samples = sine()
    samples[:2400] = 0
    within, told = sounding(samples, RATE)
    assert (within.start, told) == (4800, "")
    assert sounding(samples[:100], RATE)[0] == slice(0, 100)


@pytest.mark.parametrize("hz", [20.0, 50.3, 440.0, 1000.0])
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_sine_that_is_cut_off_is_told_from_a_whole_one(hz: float, rate: int) -> None:
    samples = sine(hz, rate=rate)
    assert clipping(samples, period=rate / hz) == ""
    assert clipping(samples * 2, period=rate / hz) == ""
    assert clipping(np.clip(samples, -0.45, 0.45), period=rate / hz) == (
        "It is cut off at its top and bottom, 6.9 dB below full scale: its samples run level at its largest value. The instrument may do"
        " that, or anything up to the recorder. Record it again with less gain: a fault of the recorder is gone then."
    )
    assert clipping(np.clip(samples, -1, 0.45), period=rate / hz).startswith("It is cut off at its top, 6.0 dB")
    assert "the recorder was overdriven" in clipping(np.clip(samples * 2.5, -1, 1), period=rate / hz)


def test_a_wave_of_few_samples_shows_no_top() -> None:
    assert clipping(sine(9600, peak=1.0), period=5) == ""


def rounded(samples: Floats, bits: int) -> Floats:
    """Return samples as a recorder of so many bits keeps them, cut off at full scale."""
    steps = 2.0 ** (bits - 1)
    return np.asarray(np.clip(np.rint(samples * steps), -steps, steps - 1) / steps)


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("over", [1.005, 1.02, 1.1])
@pytest.mark.parametrize(("hz", "rate"), [(20.0, 192_000), (440.0, 44_100), (480.0, 48_000), (1731.3, 48_000)])
def test_a_recorder_that_cuts_off_a_little_is_told_too(hz: float, rate: int, over: float, bits: int) -> None:
    wave = sine(hz, peak=over, rate=rate, length_s=1.0)
    for samples in (wave, with_noise(wave, 90)):
        assert "at full scale: most likely the recorder was overdriven" in clipping(rounded(samples, bits), period=rate / hz)
        assert clipping(rounded(samples / over * 0.99, bits), period=rate / hz) == ""


def whole_waves(hz: float, rate: int) -> dict[str, Floats]:
    """Return waves between −1 and 1 that nothing has cut off."""
    phase = phase_of(hz, 1.0, rate, 0.31)
    made = {
        "triangle": 2 * np.abs(2 * (phase % 1) - 1) - 1,
        "ramp": 2 * (phase % 1) - 1,
        "two harmonics": np.sin(2 * np.pi * phase) + 0.3 * np.sin(4 * np.pi * phase + 1),
        "product": np.sin(2 * np.pi * phase) * np.sin(4.54 * np.pi * phase + 1),
        "soft": np.tanh(np.sin(2 * np.pi * phase)),
        "staircase": np.rint(3.5 * np.sin(2 * np.pi * phase)),
    }
    return {name: wave / float(np.abs(wave).max()) for name, wave in made.items()}


@pytest.mark.parametrize("bits", [0, 16, 24])
@pytest.mark.parametrize(("hz", "rate"), [(20.0, 192_000), (55.1, 48_000), (480.0, 48_000), (997.0, 44_100)])
def test_whole_waves_are_not_cut_off_however_loud_faint_or_coarse(hz: float, rate: int, bits: int) -> None:
    for name, wave in whole_waves(hz, rate).items():
        for peak in (1.0, 0.5, 0.01, 0.0005):
            samples = rounded(peak * 0.99997 * wave, bits) if bits else peak * wave
            period = None if name == "product" else rate / hz
            assert clipping(samples, period=period) == "", (name, peak)


def test_one_peak_at_full_scale_is_no_cut() -> None:
    samples = noise(3, 0.2)
    assert clipping(samples / float(np.abs(samples).max())) == ""
    assert clipping(rounded(samples / float(np.abs(samples).max()), 16)) == ""


def test_noise_that_is_cut_off_is_told() -> None:
    samples = noise(3, 0.2)
    assert clipping(samples) == ""
    assert "top and bottom" in clipping(np.clip(samples, -0.5, 0.5))


def test_pulses_are_cut_off_at_full_scale_alone() -> None:
    samples = with_noise(0.4 * summed(pulse_series(0.3, 100), phase_of(220, 2, RATE)), 60)
    assert clipping(samples, flat=True) == ""
    assert clipping(np.where(samples > 0, 0.5, -0.5), flat=True) == ""
    assert "at full scale: most likely the recorder was overdriven" in clipping(np.clip(samples * 3, -1, 1), flat=True)


def test_hum_is_told_with_its_level() -> None:
    t = seconds(3)
    mains = 0.005 * np.sin(2 * np.pi * 50 * t) + 0.002 * np.sin(2 * np.pi * 150 * t)
    assert (
        hum(sine() + mains, RATE, harmonics_of_hz=440)
        == "Mains hum at 50 Hz and its multiples lies in it, 39 dB below the sound."
    )
    assert hum(sine() + 0.01 * np.sin(2 * np.pi * 60.1 * t), RATE, harmonics_of_hz=440).startswith("Mains hum at 60 Hz")
    assert "as loud as" in hum(sine(peak=0.005) + mains, RATE, harmonics_of_hz=440)
    assert "dB above" in hum(sine(peak=0.001) + mains, RATE, harmonics_of_hz=440)
    assert hum(mains, RATE) == "Mains hum at 50 Hz and its multiples lies in it, and little else."


def test_a_mode_at_the_mains_frequency_that_dies_away_is_no_hum() -> None:
    t = seconds(6)
    struck = np.exp(-3 * t) * (np.sin(2 * np.pi * 60 * t) + np.sin(2 * np.pi * 433 * t)) + noise(6, 1e-4)
    assert hum(struck, RATE) == ""
    assert hum(struck + 0.01 * np.sin(2 * np.pi * 50 * t), RATE).startswith("Mains hum at 50 Hz")


@pytest.mark.parametrize("hz", [50.0, 60.0, 100.0, 120.0])
@pytest.mark.parametrize(("fades_s", "length_s"), [(0.08, 3), (0.25, 3), (1.0, 3), (0.25, 10), (4.0, 10)])
def test_a_drum_at_a_multiple_of_the_mains_is_no_hum(hz: float, fades_s: float, length_s: float) -> None:
    t = seconds(length_s)
    drum = np.where(t > 0.5, np.exp((0.5 - t) / fades_s), 0) * np.sin(2 * np.pi * hz * t) + noise(length_s, 2e-4)
    assert hum(drum, RATE) == ""
    if length_s < FAR_S:  # too few seconds to tell hum from the skirt of a drum 10 Hz beside it
        return
    mains = 50 if hz % 50 else 60
    humming = drum + 0.02 * np.sin(2 * np.pi * mains * t) + 0.01 * np.sin(6 * np.pi * mains * t)
    assert hum(humming, RATE).startswith(f"Mains hum at {mains} Hz")


@pytest.mark.parametrize("hz", 65.41 * 2 ** (np.arange(6) * 1.002))
@pytest.mark.parametrize("length_s", [1.0, 1.6, 5.0])
def test_what_folds_back_of_a_saw_is_no_hum(hz: float, length_s: float) -> None:
    """Sampled without a filter, 732 harmonics on: 119.9 Hz beside a tone of 65.41 Hz."""
    for detune in np.linspace(0.98, 1.02, 5):
        saw = 0.35 * (2 * np.mod(hz * detune * seconds(length_s), 1) - 1) + noise(length_s, 5e-4)
        assert hum(saw, RATE, harmonics_of_hz=hz * detune) == "", detune


def test_hum_behind_a_rectifier_is_more_than_one_line() -> None:
    t = seconds(3)
    assert hum(sine() + 0.01 * np.sin(2 * np.pi * 120 * t), RATE, harmonics_of_hz=440) == ""
    buzz = sum(0.01 / n * np.sin(2 * np.pi * 120 * n * t) for n in (1, 2, 3))
    assert hum(sine(443) + buzz, RATE, harmonics_of_hz=443).startswith("Mains hum at 60 Hz")


def test_what_is_no_hum_is_not_told() -> None:
    t = seconds(3)
    assert hum(sine() + noise(3, 1e-3), RATE, harmonics_of_hz=440) == ""
    assert hum(sine(100), RATE, harmonics_of_hz=100) == ""
    assert hum(sine(50), RATE, beside_hz=[50]) == ""
    assert hum(sine() + 1e-5 * np.sin(2 * np.pi * 50 * t), RATE, harmonics_of_hz=440) == ""  # 94 dB down
    assert hum(sine() + 0.01 * np.sin(2 * np.pi * 250 * t), RATE, harmonics_of_hz=440) == ""  # no multiple alone
    assert hum(sine()[:4000], RATE, harmonics_of_hz=440) == ""  # too short to tell


def test_level_and_mean_of_noise_lie_within_their_uncertainty() -> None:
    off = []
    for n in range(300):
        rms, mean = level_and_mean(0.2 + noise(0.2, 0.1, seed=n))
        off.append(((rms.value - 0.1) / rms.expanded, (mean.value - 0.2) / mean.expanded))
    assert np.all(np.mean(np.abs(off) <= 1, axis=0) >= 0.93)
    assert level_and_mean(np.zeros(1600))[0].value == 0
