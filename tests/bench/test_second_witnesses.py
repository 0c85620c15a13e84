"""Octave bands and decays against libraries that others keep, on the same samples.

Sources: PyOctaveBand 2 (``octavefilter``, Butterworth after IEC 61260-1) and pyroomacoustics 0.10 (``measure_rt60``, Schroeder's integration).
"""

from __future__ import annotations

import numpy as np
import pytest
from pyoctaveband import octavefilter
from pyroomacoustics.experimental.rt60 import measure_rt60

from bench.decays import Parts, ringing
from benchrecord.bench import bands as b
from benchrecord.bench.decay import Decay, DecayTime
from benchrecord.bench.fits import Floats
from benchrecord.bench.struck import struck
from sounds import noise

RATE = 48_000
LEAD_S = 0.2
QUIET_DB = -120  # the library takes no noise off
DIFFERENT_SLOPES_DB = 0.1  # both are 3 dB down at the edges; of their slopes class 1 leaves more open


def level_db(samples: Floats) -> float:
    return float(10 * np.log10(np.mean(np.square(samples))))


@pytest.mark.parametrize("per_octave", [b.OCTAVE, b.THIRD_OCTAVE])
def test_bands_of_noise_have_the_levels_that_another_filter_bank_gives(per_octave: int) -> None:
    heard = noise(5.0, 0.1)
    levels, middles = octavefilter(heard, RATE, per_octave, order=b.ORDER, limits=[100.0, 12_000.0])
    theirs = dict(zip(np.round(middles, 3), levels - np.mean(levels), strict=True))  # they are told against 20 µPa
    ours = {
        round(band.middle_hz, 3): level_db(own) for band, own, _ in b.filtered(heard, RATE, b.bands(per_octave, 125, 10_000))
    }
    both = sorted(set(ours) & set(theirs))
    assert len(both) >= 6 * per_octave
    apart = np.array([ours[hz] - theirs[hz] for hz in both])
    assert np.ptp(apart) < DIFFERENT_SLOPES_DB


@pytest.mark.parametrize("parts", [[(1, 0.4)], [(1, 1.5)], [(1, 0.5), (0.02, 2.0)], [(1, 0.4), (0.1, 1.0)]])
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_a_struck_tank_dies_away_as_fast_as_another_integration_says(parts: Parts, rate: int) -> None:
    length_s = 1.5 * max(t for _, t in parts)
    made = ringing(parts, rate, length_s, floor_db=QUIET_DB, seed=rate, lead_s=LEAD_S)
    (strike,) = struck(made, rate)
    assert isinstance(strike.decay, Decay)
    dying = made[round(LEAD_S * rate) :]
    for time, range_db in ((strike.decay.t20, 20), (strike.decay.t30, 30)):
        assert isinstance(time, DecayTime)
        assert time.seconds == pytest.approx(measure_rt60(dying, rate, range_db), rel=2e-3)
