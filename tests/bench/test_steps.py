"""Steps of a recording found by their changes, and their frequencies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch_track import pitch_track
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.steps import Heard, Step, find_steps, frequency_of
from contours import tone
from sounds import noise, with_noise


def stepped(
    hz: Sequence[float], length_s: float = 1.0, *, kind: str = "sine", rate: int = 48_000, gap_s: float = 0.0
) -> Floats:
    pause = np.zeros(round(gap_s * rate))
    return np.concatenate([np.concatenate([tone(f, length_s, kind=kind, rate=rate), pause]) for f in hz])


def found(samples: Floats, wanted: int | None = None, rate: int = 48_000) -> tuple[Step, ...] | NotHad:
    return find_steps(pitch_track([with_noise(samples, 30.0)], rate), wanted)


@pytest.mark.parametrize("rate", [44_100, 96_000])
@pytest.mark.parametrize("snr_db", [20, 80])
@pytest.mark.parametrize(
    "hz",
    [[19.6 * 2.0**n for n in range(10)], [110 * 2 ** (n / 12) for n in range(8)], [440.0, 220.0, 880.0, 100.0]],
    ids=["octaves", "semitones", "any order"],
)
def test_every_step_is_found_with_its_pitch(hz: list[float], snr_db: float, rate: int) -> None:
    steps = find_steps(pitch_track([with_noise(stepped(hz, rate=rate), snr_db)], rate), len(hz))
    assert isinstance(steps, tuple), steps
    for n, (step, true) in enumerate(zip(steps, hz, strict=True)):
        assert abs(1200 * np.log2(step.hz / true)) < 30
        assert n <= step.start_s < step.stop_s <= n + 1.01


def test_pauses_between_notes_are_no_steps() -> None:
    steps = found(stepped([110, 220, 440], gap_s=0.4), 3)
    assert isinstance(steps, tuple)
    assert [round(s.hz) for s in steps] == [110, 220, 440]


def test_a_slip_on_the_way_to_the_next_step_does_not_count() -> None:
    samples = np.concatenate([tone(110, 3.0), tone(300, 0.6), tone(220, 3.0), tone(440, 3.0)])
    steps = found(samples, 3)
    assert isinstance(steps, tuple)
    assert [round(s.hz) for s in steps] == [110, 220, 440]


@pytest.mark.parametrize(
    ("hz", "wanted", "reason"),
    [
        ([110, 220, 440], 4, "3 steps are heard, and 4 are listed"),
        ([110, 220, 440], 2, "3 steps are heard, and 2 are listed"),
        ([110], 2, "1 step is heard, and 2 are listed"),
        ([110, 111, 220], 3, "2 steps are heard, and 3 are listed"),
    ],
)
def test_the_number_of_steps_must_agree(hz: list[float], wanted: int, reason: str) -> None:
    assert found(stepped(hz, 2.0), wanted) == NotHad(reason)


@pytest.mark.parametrize(
    "samples", [noise(2.0, 0.1), np.zeros(96_000), np.zeros(10), np.concatenate([tone(110, 0.3), tone(220, 0.3)])]
)
def test_without_a_steady_pitch_that_is_said(samples: Floats) -> None:
    assert find_steps(pitch_track([samples], 48_000), 2) == NotHad("no steady pitch is heard for half a second")


def heard(samples: Floats, rate: int = 48_000, *, wander: bool = False) -> Heard:
    found = frequency_of(samples, rate, wander=wander)
    assert isinstance(found, Heard), found
    return found


def test_a_tone_of_few_periods_is_counted() -> None:
    few, many = heard(with_noise(tone(20, 0.6), 40)), heard(with_noise(tone(20, 2.5), 40))
    assert (few.counted, many.counted) == (True, False)
    for one in (few, many):
        assert abs(one.hz.value - 20) <= 1.5 * one.hz.expanded


def test_noise_has_no_frequency() -> None:
    assert isinstance(frequency_of(noise(1.0, 0.1), 48_000), NotHad)


def test_a_tone_that_is_pulled_tells_how_it_wanders() -> None:
    """Ten seconds that go up and down by 10 cents, once in eight seconds: a standard deviation of about 7 cents."""
    t = np.arange(48_000 * 16) / 48_000
    cents = 10 * np.sin(2 * np.pi * t / 8)
    samples = np.sin(2 * np.pi * np.cumsum(440 * 2 ** (cents / 1200)) / 48_000)
    wander = heard(samples, wander=True).wander_cents
    assert isinstance(wander, Estimate)
    assert wander.value == pytest.approx(10 / np.sqrt(2), rel=0.1)
    still = heard(tone(440, 5.0), wander=True).wander_cents
    assert isinstance(still, Estimate)
    assert still.value < 0.01
    assert isinstance(heard(tone(440, 2.0), wander=True).wander_cents, NotHad)


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("snr_db", [20, 50, 80])
def test_the_stated_uncertainty_of_a_step_covers_what_is_seen(snr_db: float, rate: int) -> None:
    """Steps from 20 Hz to 10 kHz: inside in 95 of 100 cases, and stated no more than three times too wide."""
    z = []
    for seed in range(4):
        g = np.random.default_rng(1000 * rate + seed)
        hz = np.geomspace(20, 10_000, 12) * 2 ** g.uniform(-0.02, 0.02, 12)
        parts = [
            tone(f, g.uniform(1.2, 2.0), kind="sine" if f < 200 else ("sine", "square")[seed % 2], phase=g.uniform(), rate=rate)
            for f in hz
        ]
        samples = with_noise(np.concatenate(parts), snr_db, seed=seed)
        steps = find_steps(pitch_track([samples], rate), len(hz))
        assert isinstance(steps, tuple), steps
        for step, true in zip(steps, hz, strict=True):
            own = heard(samples[round(step.start_s * rate) : round(step.stop_s * rate)], rate)
            z.append((own.hz.value - true) / own.hz.expanded)
    assert np.mean(np.abs(z) <= 1) >= 0.95
    assert 1 / (2 * np.sqrt(np.mean(np.square(z)))) <= 3
