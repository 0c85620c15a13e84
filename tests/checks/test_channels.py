"""The channel of a recording that a check is about: the one that holds what it looks for, louder or not."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from benchrecord.bench.channels import alike, any_tone, broadband, level_swing, resemblance, tone_near
from benchrecord.bench.fits import Floats
from benchrecord.bench.sweep import exponential_sweep
from benchrecord.checks import all_kinds
from benchrecord.checks.channels import ANY_SOUND, RISE_AND_FALL, Choice, choose_channel, tone_target
from benchrecord.checks.recordings import Heard, listen
from contours import Made, tone
from sounds import RATE, MemorySound, check_of, noise, seconds, with_noise

LENGTH_S = 6.0


def hum(length_s: float = LENGTH_S, mains: float = 50.0) -> Floats:
    """Return mains hum, louder than all that is looked for here."""
    t = seconds(length_s)
    return sum(0.6 / n**2 * np.sin(2 * np.pi * n * mains * t + n) for n in range(1, 8)) + noise(length_s, 1e-4, seed=9)


def sine(hz: float, length_s: float = LENGTH_S) -> Floats:
    return with_noise(0.2 * np.sin(2 * np.pi * hz * seconds(length_s)), 60)


def steps() -> Floats:
    return np.concatenate([0.3 * tone(110.0 * 2**n, LENGTH_S / 3, kind="ramp") for n in range(3)])


def contour() -> Floats:
    return 0.2 * Made(period=1.5).level(LENGTH_S) * np.sin(2 * np.pi * 300 * seconds(LENGTH_S)) + noise(LENGTH_S, 1e-4)


def struck() -> Floats:
    t = seconds(LENGTH_S) - 0.5
    return 0.2 * noise(LENGTH_S, 1.0) * np.exp(-3 * np.maximum(t, 0)) * (t > 0) + noise(LENGTH_S, 1e-5, seed=1)


def sweep() -> Floats:
    return np.concatenate([0.2 * exponential_sweep(RATE, 5.0, 20, 20_000), np.zeros(RATE)]) + noise(LENGTH_S, 1e-5)


Case = tuple[str, Callable[[], Floats], dict[str, Any]]
CASES: list[Case] = [
    ("spectrum", lambda: sine(440), {"nominal_hz": 440}),
    ("spectrum", lambda: sine(55), {"nominal_hz": 55}),
    ("spectrum", lambda: sine(447), {}),
    ("spectrum", lambda: noise(LENGTH_S, 0.05), {"expect": "noise"}),
    ("spectrum", lambda: sine(600) + sine(1400), {"expect": "product", "carrier_hz": 1000.0, "signal_hz": 400.0}),
    ("response", sweep, {"sweep_s": 5.0, "sweep_hz": (20.0, 20_000.0)}),
    ("response", lambda: sine(800), {"oscillation": True}),
    ("tracking", steps, {"steps": (0.0, 1.0, 2.0)}),
    ("tracking", lambda: sine(330), {"not_tracking": True}),
    ("envelope", contour, {}),
    ("decay", struck, {}),
]


@pytest.mark.parametrize("left", [True, False], ids=["left", "right"])
@pytest.mark.parametrize(("kind", "made", "keys"), CASES, ids=lambda v: v if isinstance(v, str) else "")
def test_every_kind_chooses_the_channel_that_holds_what_it_looks_for(
    kind: str,
    made: Callable[[], Floats],
    keys: dict[str, Any],
    left: bool,  # noqa: FBT001  # a case
) -> None:
    """The other channel holds hum, three times as loud. The same check of the right channel alone has the same results."""
    own, other = made(), hum()
    both = np.column_stack([own, other] if left else [other, own])
    check, bench = check_of(kind, {"as_left": MemorySound(both)}, **keys)
    alone, quiet = check_of(kind, {"as_left": MemorySound(own)}, **keys)
    chosen, plain = (all_kinds()[kind].examine(c, b) for c, b in ((check, bench), (alone, quiet)))
    assert chosen.left
    assert plain.left
    assert chosen.left.results == plain.left.results
    side = "left" if left else "right"
    assert re.search(rf"{side} channel \(it holds [^)]+\)", f"{chosen.method} {chosen.basis}")


def choice(*channels: Floats, target: Any = ANY_SOUND) -> Choice:
    sound = MemorySound(np.column_stack(channels))
    return choose_channel(sound, 0, sound.frames, target=target)


def test_of_one_sound_the_louder_channel_is_chosen() -> None:
    own = sine(440)
    assert choice(0.3 * own, own) == Choice(1, "the louder; both hold the same sound")
    assert choice(own, -0.3 * own) == Choice(0, "the louder; both hold the same sound")
    assert choice(own, own, 0.5 * own) == Choice(0, "the loudest; all hold the same sound")


def test_a_silent_channel_and_a_direct_voltage_are_not_chosen() -> None:
    own = sine(440)
    assert choice(np.zeros(len(own)), own) == Choice(1, "the other is silent")
    assert choice(np.full(len(own), 0.9), own) == Choice(1, "the other is silent")
    assert choice(own, 1e-4 * hum(), target=tone_target()) == Choice(0, "the other is silent")


def test_two_tones_near_the_nominal_frequency_are_doubtful() -> None:
    """Two oscillators, one in each channel: nothing says which is meant, and every result hangs on it."""
    found = choice(sine(440.0), 1.5 * sine(441.0), target=tone_target(440.0))
    assert (found.channel, found.why) == (1, "the loudest of 2 that hold a tone near 440 Hz")
    (warning,) = found.warnings
    assert warning.code == "channels"
    assert warning.touches("fundamental_hz")
    assert "441 Hz and 440 Hz" in warning.message
    assert "write channel:" in warning.message


def test_one_tone_with_the_noise_of_two_inputs_is_not_doubtful() -> None:
    """The same oscillator through two inputs, a fifth of a period apart, each with hum and noise of its own."""
    t = seconds(LENGTH_S)
    one, other = (
        np.sin(2 * np.pi * (440 * t + shift)) + 0.02 * hum(mains=mains) + noise(LENGTH_S, 0.01, seed=seed)
        for shift, mains, seed in ((0.0, 50.0, 1), (0.2, 60.0, 2))
    )
    found = choice(one, 0.5 * other, target=tone_target(440.0))
    assert (found.channel, found.warnings) == (0, ())


def test_where_no_channel_holds_the_target_that_is_said() -> None:
    found = choice(hum(mains=50.0), 0.5 * hum(mains=60.0), target=tone_target())
    assert found.channel == 0
    assert found.why == "the louder; no channel holds a tone other than mains hum"


def test_two_different_contours_are_mentioned() -> None:
    found = choice(contour(), np.roll(contour(), RATE // 2), target=RISE_AND_FALL)
    (warning,) = found.warnings
    assert warning.affects == ()
    assert warning.message.startswith("The channels hold different sounds: the ")


def test_a_channel_that_is_named_is_taken() -> None:
    both = np.column_stack([sine(440), hum()])
    check, bench = check_of("spectrum", {"as_left": MemorySound(both)}, channel="right", nominal_hz=440)
    found = listen(check, bench, check.takes[0], target=tone_target(440))
    assert isinstance(found, Heard)
    assert found.words == "right channel, 0.00 s to 6.00 s of 6.00 s"


def test_scores_lie_between_nothing_and_all() -> None:
    white = noise(LENGTH_S, 0.1)
    scored = {
        "tone": [tone_near(440)(x, RATE) for x in (sine(440), sine(466.2), hum(), white)],
        "any": [any_tone(x, RATE) for x in (sine(440), hum(), hum(mains=60.1), white)],
        "noise": [broadband(x, RATE) for x in (white, sine(440), hum())],
        "swing": [level_swing(x, RATE) for x in (contour(), sine(440), hum(), white)],
        "sweep": [resemblance(sweep())(x, RATE) for x in (0.1 * sweep(), hum(), white)],
    }
    for name, (own, *others) in scored.items():
        assert 0.9 < own <= 1, name
        assert all(0 <= other < 0.55 for other in others), name


def test_very_short_and_even_channels_score_nothing() -> None:
    for score in (tone_near(440), any_tone, broadband, level_swing, resemblance(np.ones(9))):
        assert score(np.zeros(1000), RATE) == 0
        assert score(np.zeros(3), RATE) == 0
    assert alike(np.zeros(9), np.ones(9)) == 0
