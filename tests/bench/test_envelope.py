"""Contours read from recordings whose stages are known by construction."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from benchrecord.bench.contour_shapes import EXPONENTIAL, STRAIGHT
from benchrecord.bench.contour_sight import tone_periods_s
from benchrecord.bench.envelope import Contour, Stage, read_contour
from benchrecord.bench.fits import Floats
from benchrecord.bench.level_trail import level_trail, voltage_trail
from benchrecord.bench.reasons import NotHad
from contours import Made, tone
from sounds import RATE, noise

AT_MOST = 1.5  # of an expanded uncertainty: a single case of a hundred may lie farther out


def heard(samples: Floats, rate: int = RATE, *, repeating: bool | None = None) -> Contour | NotHad:
    periods = tone_periods_s(samples, rate)
    course = level_trail([samples], rate, len(samples), periods_s=periods)
    return read_contour(course, power=True, period_s=periods[1], repeating=repeating)


def measured(samples: Floats, rate: int = RATE) -> Contour | NotHad:
    return read_contour(voltage_trail([samples], rate, len(samples)), power=False)


def read(contour: Contour | NotHad) -> Contour:
    assert isinstance(contour, Contour), contour
    return contour


def stage(contour: Contour | NotHad, name: str) -> Stage:
    found = read(contour).stages[name]
    assert isinstance(found, Stage), found
    return found


def length(made: Made, cycles: int = 5) -> float:
    return made.start + (1.3 * made.falling(0.003) if math.isinf(made.period) else cycles * made.period)


@pytest.mark.parametrize("kind", ["sine", "ramp", "square", "pulse"])
def test_a_tone_under_a_contour_shows_its_stages(kind: str) -> None:
    made = Made(attack=0.08, plateau=0.15, decay=0.3, aim=1.2)
    found = heard(made.level(length(made)) * tone(440, length(made), kind=kind) + noise(length(made), 5e-4))
    for name, true in made.truth.items():
        own = stage(found, name)
        assert abs(own.seconds - true) <= AT_MOST * own.expanded_uncertainty < 0.02 * true
    assert isinstance(read(found).stages["period"], NotHad)


def test_a_straight_attack_is_told_from_an_exponential_decay() -> None:
    made = Made(attack=0.1, decay=0.4)
    found = heard(made.level(length(made)) * tone(440, length(made)) + noise(length(made), 5e-4))
    attack, decay = stage(found, "attack").shape, stage(found, "decay").shape
    assert attack
    assert decay
    assert (attack.name, decay.name, decay.aim) == (STRAIGHT, EXPONENTIAL, 1.0)
    assert decay.time_constant_s == pytest.approx(0.4 / math.log(9), rel=2e-3)


def test_a_contour_that_repeats_itself_has_gaps_and_a_period() -> None:
    made = Made(attack=0.05, plateau=0.05, decay=0.1, period=0.45)
    found = heard(made.level(length(made)) * tone(1000, length(made)) + noise(length(made), 5e-4))
    assert read(found).repeating
    for name, true in made.truth.items():
        own = stage(found, name)
        assert abs(own.seconds - true) <= AT_MOST * own.expanded_uncertainty < 0.02 * true
        assert own.cycles >= 4
        assert own.spread_s is not None


@pytest.mark.parametrize(("rest", "repeats"), [(0.0, True), (1.0, False)])
def test_two_cycles_repeat_themselves_unless_a_third_is_missing(rest: float, repeats: bool) -> None:  # noqa: FBT001
    made = Made(attack=0.05, plateau=0.05, decay=0.1, period=0.5)
    voltage = np.concatenate([made.level(length(made, 2)), np.zeros(round(rest * RATE))])
    assert read(measured(voltage)).repeating is repeats


def test_who_knows_better_may_say_so() -> None:
    made = Made(attack=0.05, plateau=0.05, decay=0.1, period=0.5)
    samples = made.level(length(made)) * tone(1000, length(made))
    assert not read(heard(samples, repeating=False)).repeating


def test_keys_played_by_hand_are_no_period() -> None:
    made = Made(attack=0.02, plateau=0.05, decay=0.1)
    voltage = np.concatenate([made.level(pause) for pause in (1.0, 0.8, 1.3, 0.9)])
    found = measured(voltage)
    assert (read(found).repeating, read(found).cycles) == (False, 4)
    assert stage(found, "attack").cycles == 4


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_voltage_may_rest_anywhere_and_go_either_way(sign: float) -> None:
    made = Made(attack=0.01, plateau=0.0, decay=0.2)
    found = measured(0.05 + sign * 0.7 * made.level(length(made)) + noise(length(made), 1e-4))
    for name in ("attack", "decay"):
        own = stage(found, name)
        assert abs(own.seconds - made.truth[name]) <= AT_MOST * own.expanded_uncertainty


@pytest.mark.parametrize(("attack", "decay", "period"), [(0.01, 0.2, 0.6), (0.05, 0.5, 1.0), (0.02, 0.1, 0.35)])
def test_a_voltage_that_is_struck_again_before_it_rests_falls_to_where_it_would(
    attack: float, decay: float, period: float
) -> None:
    """Taken for zero, what is left of the decay would make it too short."""
    made = Made(attack=attack, plateau=0.05, decay=decay, period=period, start=0.0)
    found = measured(made.level(6 * period) + noise(6 * period, 1e-4))
    own = stage(found, "decay")
    assert abs(own.seconds - decay) <= AT_MOST * own.expanded_uncertainty < 0.01 * decay


@pytest.mark.parametrize("rest", [-0.5, -0.2, 0.3])
def test_a_voltage_rises_from_where_it_begins(rest: float) -> None:
    found = measured(rest + 0.4 * Made().level(1.5) + noise(1.5, 1e-4))
    assert stage(found, "attack").seconds == pytest.approx(0.05, rel=0.01)
    assert stage(found, "decay").seconds == pytest.approx(0.2, rel=0.01)


def test_cycles_of_noise_close_to_each_other_are_kept_apart() -> None:
    made = Made(attack=0.02, plateau=0.08, decay=0.05, period=0.25)
    found = read(heard(made.level(length(made, 12)) * noise(length(made, 12), 0.3)))
    assert found.cycles > 8
    assert stage(found, "hold").seconds < made.period


def test_a_recording_that_begins_in_the_middle_loses_only_that_cycle() -> None:
    made = Made(attack=0.05, plateau=0.05, decay=0.1, period=0.45)
    whole = made.level(length(made, 6)) * tone(1000, length(made, 6))
    found = heard(whole[round((made.start + 0.12) * RATE) :])
    assert stage(found, "period").seconds == pytest.approx(0.45, rel=1e-3)
    assert stage(found, "attack").seconds == pytest.approx(0.05, rel=0.01)


def test_a_stage_shorter_than_a_period_of_the_tone_is_not_guessed() -> None:
    made = Made(attack=0.002, plateau=0.1, decay=0.3)
    found = read(heard(made.level(length(made)) * tone(55, length(made), kind="ramp")))
    attack = found.stages["attack"]
    assert isinstance(attack, NotHad)
    assert attack.reason == "too short to be told from the 18.2 ms over which its level is taken"
    assert stage(found, "decay").seconds == pytest.approx(0.3, rel=0.02)


def test_noise_under_a_contour_has_a_level_too() -> None:
    made = Made(attack=0.3, plateau=0.3, decay=0.6)
    found = heard(made.level(length(made)) * noise(length(made), 0.3))
    for name in ("attack", "decay"):
        own = stage(found, name)
        assert abs(own.seconds - made.truth[name]) <= AT_MOST * own.expanded_uncertainty < 0.2 * own.seconds


@pytest.mark.parametrize("samples", [np.zeros(48_000), np.zeros(0), np.full(48_000, 0.3), noise(1.0, 0.1), tone(440, 1.0)])
def test_what_is_no_contour_is_said(samples: Floats) -> None:
    for found in (heard(samples), measured(samples)):
        assert isinstance(found, NotHad) or all(isinstance(s, NotHad) for s in found.stages.values()) or found.cycles > 1


def test_the_cycle_that_is_drawn_rises_at_zero_and_peaks_at_one() -> None:
    made = Made(attack=0.05, plateau=0.05, decay=0.1, period=0.45)
    cycle = read(measured(made.level(length(made)))).cycle
    assert cycle[:, 1].max() == pytest.approx(1, abs=0.01)
    assert np.interp(0.0, cycle[:, 0], cycle[:, 1]) == pytest.approx(0.1, abs=0.01)
    assert len(cycle) <= 600


Draw = Callable[[np.random.Generator], tuple[Made, float, str]]


def slow(g: np.random.Generator) -> tuple[Made, float, str]:
    aim, straight = (math.inf, 1.2)[g.integers(2)], bool(g.integers(2))
    return Made(g.uniform(0.05, 0.3), g.uniform(0, 0.3), g.uniform(0.1, 0.5), aim, straight), g.uniform(400, 2000), "sine"


def fast(g: np.random.Generator) -> tuple[Made, float, str]:
    """Stages of three to ten periods of the tone."""
    hz, aim, straight = g.uniform(100, 1000), (math.inf, 1.2)[g.integers(2)], bool(g.integers(2))
    return (
        Made(g.uniform(3, 10) / hz, g.uniform(0, 0.3), g.uniform(3, 10) / hz, aim, straight),
        hz,
        ("sine", "ramp")[g.integers(2)],
    )


def again(g: np.random.Generator) -> tuple[Made, float, str]:
    made, hz, kind = slow(g)
    return Made(**{**vars(made), "period": made.falling(0.1) + made.decay * g.uniform(1, 2)}), hz, kind


def flat(g: np.random.Generator) -> tuple[Made, float, str]:
    """What comes again and again, and stays at its top for a while."""
    made, hz, kind = slow(g)
    made = Made(**{**vars(made), "plateau": g.uniform(0.05, 0.3)})
    return Made(**{**vars(made), "period": made.falling(0.1) + made.decay * g.uniform(1, 2)}), hz, kind


def lasting(g: np.random.Generator) -> tuple[Made, float, str]:
    """A narrow pulse under a decay of seconds."""
    return Made(g.uniform(0.02, 0.1), g.uniform(0, 0.1), g.uniform(1, 3)), g.uniform(60, 400), "pulse"


def sharp(g: np.random.Generator) -> tuple[Made, float, str]:
    """Stages from a millisecond to a second that meet in a corner, once or again and again, with a tone that has room in them."""
    attack = 10 ** g.uniform(-3, 0)
    decay = float(np.clip(attack * 10 ** g.uniform(-0.7, 0.7), 1e-3, 1))
    made = Made(attack, 0.0, decay, (math.inf, g.uniform(1.05, 2))[g.integers(2)], bool(g.integers(2)))
    if g.integers(2):
        made = Made(**{**vars(made), "period": made.falling(0.02) + decay * g.uniform(0.3, 1.5)})
    return made, 10 ** g.uniform(math.log10(min(9000, max(100, 10 / min(attack, decay)))), 4), "sine"


@pytest.mark.parametrize("voltage", [False, True])
@pytest.mark.parametrize(("least_db", "most_db"), [(20, 40), (40, 60), (60, 80)])
def test_a_sharp_peak_leaves_no_time_outside_its_uncertainty(least_db: float, most_db: float, voltage: bool) -> None:  # noqa: FBT001
    covered([(sharp, g.uniform(least_db, most_db), g) for g in map(np.random.default_rng, range(40))], voltage=voltage)


def test_a_voltage_without_noise_is_told_as_well_as_its_rounding_allows() -> None:
    """Charged towards 1.3 times its peak and let go: the corner between must lie outside of what is averaged at 90 %."""
    random, within = np.random.default_rng(5), []
    for _ in range(40):
        up_s, down_s = random.uniform(0.05, 0.5, 2)
        peak_s = up_s * math.log(1.3 / 0.3)
        t = np.arange(round((0.3 + peak_s + 8 * down_s) * RATE)) / RATE - 0.25 - random.uniform(0, 1 / RATE)
        course = np.where(t < peak_s, 1.3 * -np.expm1(-np.maximum(t, 0) / up_s), np.exp(-np.maximum(t - peak_s, 0) / down_s))
        heard = np.round(16384 * course) / 32768
        found = read_contour(voltage_trail(iter([heard]), RATE, len(heard)), power=False)
        assert isinstance(found, Contour)
        stage = found.stages["decay"]
        assert isinstance(stage, Stage)
        within.append(abs(stage.seconds - down_s * math.log(9)) <= stage.expanded_uncertainty)
    assert np.mean(within) >= 0.95


def test_a_tone_with_little_noise_is_told_as_surely_as_it_is() -> None:
    covered([(flat, 80, np.random.default_rng(seed)) for seed in range(20)], voltage=False)


@pytest.mark.slow
@pytest.mark.parametrize("voltage", [False, True])
@pytest.mark.parametrize(
    ("draw", "snr_db"),
    [
        (slow, 20),
        (lasting, 80),
        (slow, 80),
        (fast, 60),
        (again, 20),
        (again, 60),
        (sharp, 20),
        (sharp, 50),
        (sharp, 80),
    ],
)
def test_the_stated_uncertainty_covers_what_is_seen(draw: Draw, snr_db: float, voltage: bool) -> None:  # noqa: FBT001
    """Recordings of every kind."""
    covered([(draw, snr_db, np.random.default_rng(seed)) for seed in range(40)], voltage=voltage)


def covered(cases: Sequence[tuple[Draw, float, np.random.Generator]], *, voltage: bool) -> None:
    """Say that stages are within their uncertainty in 95 of 100 cases, and that of none of them it is more than three times too wide."""
    off: dict[str, list[float]] = {}
    for draw, snr_db, g in cases:
        made, hz, kind = draw(g)
        rate, long = int(g.choice([44_100, 48_000, 96_000])), length(made)
        carrier = 0.5 if voltage else tone(hz, long, kind=kind, phase=g.uniform(), rate=rate)
        samples = made.level(long, rate) * carrier + g.normal(0, 0.5 * 10 ** (-snr_db / 20), round(long * rate))
        found = (measured if voltage else heard)(samples, rate)
        for name, true in made.truth.items():
            own = found if isinstance(found, NotHad) else found.stages[name]
            if isinstance(own, Stage):
                off.setdefault(name, []).append((own.seconds - true) / own.expanded_uncertainty)
    z = np.concatenate([np.array(each) for each in off.values()])
    assert len(z) > 2 * len(cases)
    assert np.mean(np.abs(z) <= 1) >= 0.95
    for name, each in off.items():
        assert 1 / (2 * np.sqrt(np.mean(np.square(each)))) <= 3, name
