"""Following a pitch: tones whose frequency is known."""

from __future__ import annotations

import numpy as np
import pytest

from benchrecord.bench.pitch_track import period_of, pitch_track
from contours import tone
from sounds import noise, with_noise


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    ("hz", "kind"),
    [
        (20.0, "sine"),
        (110.0, "ramp"),
        (110.0, "pulse"),
        *((f, k) for f in (1000.0, 3520.0, 8372.0) for k in ("sine", "ramp", "pulse")),
    ],
)
def test_every_frame_has_the_pitch_within_a_sixth_of_a_semitone(hz: float, kind: str, rate: int) -> None:
    """With noise 20 dB below; steps of a pitch are told from it by half a semitone or more."""
    track = pitch_track([with_noise(tone(hz, 1.0, kind=kind, rate=rate), 20.0)], rate)
    assert len(track.hz) == 9
    assert np.abs(1200 * np.log2(track.hz / hz)).max() < 16
    assert track.clear.min() > 0.8


def test_noise_is_not_clear_and_silence_has_no_pitch() -> None:
    track = pitch_track([noise(1.0, 0.1), np.zeros(48_000)], 48_000)
    assert track.clear.max() < 0.2
    assert list(track.hz[10:]) == [0.0] * len(track.hz[10:])
    assert track.level[3] == pytest.approx(0.1, rel=0.05)


def test_blocks_may_be_cut_anywhere() -> None:
    samples = with_noise(tone(440, 2.0), 40)
    whole, cut = pitch_track([samples], 48_000), pitch_track(np.split(samples, [7, 5000, 20_001, 70_000]), 48_000)
    assert cut.hz == pytest.approx(whole.hz)
    assert cut.level == pytest.approx(whole.level)


def test_a_pitch_that_changes_is_followed() -> None:
    track = pitch_track([tone(110, 1.0), tone(220, 1.0)], 48_000)
    assert track.hz[:8] == pytest.approx(110, rel=1e-3)
    assert track.hz[11:] == pytest.approx(220, rel=1e-3)


def test_the_period_of_a_short_piece() -> None:
    period, clear = period_of(tone(440, 0.05), 48_000)
    assert period == pytest.approx(1 / 440, rel=1e-3)
    assert clear > 0.99
    assert period_of(np.zeros(100), 48_000) == (0.0, 0.0)
    assert period_of(np.ones(4), 48_000) == (0.0, 0.0)
