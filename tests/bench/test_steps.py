"""Steps of a recording found by their changes, and their frequencies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch_track import pitch_track
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.steps import PitchReading, Step, find_steps, frequency_of, settled_pitch
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


def heard(samples: Floats, rate: int = 48_000, *, wander: bool = False) -> PitchReading:
    found = frequency_of(samples, rate, wander=wander)
    assert isinstance(found, PitchReading), found
    return found


def test_a_tone_of_few_periods_is_counted() -> None:
    few, many = heard(with_noise(tone(20, 0.6), 40)), heard(with_noise(tone(20, 2.5), 40))
    assert (few.counted, many.counted) == (True, False)
    for one in (few, many):
        assert abs(one.hz.value - 20) <= 1.5 * one.hz.expanded


def test_noise_has_no_frequency() -> None:
    assert isinstance(frequency_of(noise(1.0, 0.1), 48_000), NotHad)


def settled(samples: Floats, rate: int = 48_000) -> PitchReading | NotHad:
    """Return the reading of the only step of a recording."""
    steps = find_steps(pitch_track([samples], rate), 1)
    assert isinstance(steps, tuple), steps
    return settled_pitch(samples[round(steps[0].start_s * rate) : round(steps[0].stop_s * rate)], rate)


def course(length_s: float, seed: int, *, glides: bool) -> Floats:
    """Return a vibrato of 5 to 40 cents, or what is left of a glide of a fifth."""
    g, t = np.random.default_rng(seed), np.arange(round(length_s * 48_000)) / 48_000
    if glides:
        return 700 * np.exp(-t / g.uniform(0.02, 0.2))
    return g.uniform(5, 40) * np.sin(2 * np.pi * g.uniform(4, 8) * t + g.uniform(0, 6))


@pytest.mark.parametrize("gap_s", [0.0, 0.05, 0.5])
def test_a_still_step_reads_true_whatever_follows_it(gap_s: float) -> None:
    """Silence behind a step, or the next one, does not reach into its steady part."""
    off = []
    for seed, base in enumerate((47.3, 83.1, 171.7)):
        hz = [base * 2**n for n in range(4)]
        samples = with_noise(stepped(hz, 1.13, kind="ramp", gap_s=gap_s), 60, seed=seed)
        steps = find_steps(pitch_track([samples], 48_000), 4)
        assert isinstance(steps, tuple), steps
        for n, (step, true) in enumerate(zip(steps, hz, strict=True)):
            assert step.stop_s <= (n + 1) * 1.13 + n * gap_s
            own = settled_pitch(samples[round(step.start_s * 48_000) : round(step.stop_s * 48_000)], 48_000)
            assert isinstance(own, PitchReading)
            off.append((own.hz.value - true) / own.hz.expanded)
    assert np.sum(np.abs(off) <= 1) >= 11


@pytest.mark.parametrize("glides", [True, False], ids=["glide", "vibrato"])
def test_what_is_left_of_a_glide_or_a_vibrato_is_in_the_uncertainty(glides: bool) -> None:  # noqa: FBT001  # a case
    off = []
    for seed in range(8):
        hz = 110 * 2 ** (course(1.6, seed, glides=glides) / 1200)
        own = settled(with_noise(np.sin(2 * np.pi * np.cumsum(hz) / 48_000), 60, seed=seed))
        if isinstance(own, PitchReading):
            off.append((own.hz.value - 110) / own.hz.expanded)
    assert len(off) >= 6
    assert np.sum(np.abs(off) > 1) <= 1


def test_a_step_that_glides_to_its_end_is_refused() -> None:
    hz = 220 * 2 ** (np.linspace(0, 60, 96_000) / 1200)
    own = settled_pitch(np.sin(2 * np.pi * np.cumsum(hz) / 48_000), 48_000)
    assert isinstance(own, NotHad)
    assert own.reason.startswith("still gliding: by +60 cents in its last 2 s")


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
