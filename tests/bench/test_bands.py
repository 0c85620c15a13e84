"""Topic 05: bands and weightings. Sources: IEC 61260-1:2014 and IEC 61672-1:2013, with the class that each row states."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from benchrecord.bench import bands as b
from benchrecord.bench.reasons import NotHad
from reference.published import checks, rows

CHECKS = checks("05")
BANDS = rows("05-bands.csv")
WEIGHTS = rows("05-weighting.csv")
TABLE_DB = 0.06  # the table is rounded to a tenth
# Least and most attenuation of class 1 at powers of G from the middle of an octave. Source: IEC 61260-1:2014, table 1, as restated
# in the public repository thefirecode/Acoustics.jl (bands.jl); the standard itself was not readable.
CLASS_1 = {0.0: (-0.4, 0.4), 1 / 8: (-0.4, 0.5), 1 / 4: (-0.4, 0.7), 3 / 8: (-0.4, 1.4), 1: (16.6, np.inf), 2: (40.5, np.inf)}
FAR = {3: (60.0, np.inf), 4: (70.0, np.inf)}
ALL_OCTAVES = b.bands(b.OCTAVE, 31.5, 16000)


@pytest.mark.parametrize("row", BANDS, ids=[f"{r['fraction']}-{r['nominal_hz']}" for r in BANDS])
def test_published_band(row: dict[str, str]) -> None:
    nominal = float(row["nominal_hz"])
    (band,) = b.bands(int(row["fraction"]), nominal, nominal)
    wanted = [float(row[name]) for name in ("exact_mid_hz", "lower_edge_hz", "upper_edge_hz")]
    assert [band.middle_hz, band.low_hz, band.high_hz] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("row", WEIGHTS, ids=[r["nominal_hz"] for r in WEIGHTS])
def test_published_weighting(row: dict[str, str]) -> None:
    hz = b.REFERENCE_HZ * 10 ** (round(10 * np.log10(float(row["exact_hz"]) / b.REFERENCE_HZ)) / 10)
    for letter, weighting in (("A", b.a_weighting_db), ("C", b.c_weighting_db)):
        assert weighting(hz) == pytest.approx(float(row[f"{letter}_formula_dB"]), abs=2e-6)
        assert weighting(hz) == pytest.approx(float(row[f"{letter}_table_dB"]), abs=TABLE_DB)


def test_published_constants() -> None:
    poles = (b.F1, b.F2, b.F3, b.F4)
    assert poles == pytest.approx([float(CHECKS[f"a-pole-{n}"]["value"]) for n in (1, 2, 3, 4)], rel=1e-9)
    assert float(CHECKS["G"]["value"]) == pytest.approx(b.G)
    at = np.array(b.REFERENCE_HZ)
    assert -b._a_level(at) == pytest.approx(float(CHECKS["a1000"]["value"]), abs=1e-8)
    assert -b._c_level(at) == pytest.approx(float(CHECKS["c1000"]["value"]), abs=1e-8)


@given(st.sampled_from([b.OCTAVE, b.THIRD_OCTAVE]))
def test_bands_lie_side_by_side(per_octave: int) -> None:
    found = b.bands(per_octave, 10, 25000)
    assert [x.high_hz for x in found[:-1]] == pytest.approx([x.low_hz for x in found[1:]])


def attenuation_db(sections: np.ndarray, hz: float, rate: float) -> float:
    return float(-20 * np.log10(np.abs(signal.sosfreqz(sections, [hz], fs=rate)[1][0]) + 1e-30))


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("per_octave", [b.OCTAVE, b.THIRD_OCTAVE])
def test_a_filter_keeps_within_class_1_at_every_rate_it_is_used_at(per_octave: int, rate: int) -> None:
    """The breakpoints of a part of an octave: 1 + (G^(1/(2b)) − 1)/(G^(1/2) − 1)·(Ω − 1) (IEC 61260-1:2014, eq. (9))."""
    narrower = (b.G ** (1 / (2 * per_octave)) - 1) / (b.G**0.5 - 1)
    for band, _, own in b.filtered(np.zeros(8), rate, b.bands(per_octave, 31.5, 16000)):
        sections = b.band_filter(band, own)
        assert not isinstance(sections, NotHad)
        for power, (least, most) in {**CLASS_1, **FAR}.items():
            ratio = 1 + narrower * (b.G**power - 1)
            for hz in (band.middle_hz * ratio, band.middle_hz / ratio):
                if hz < own / 2:
                    assert least <= attenuation_db(sections, hz, own) <= most, (band.nominal_hz, power)


@pytest.mark.parametrize("nominal", [63, 1000, 8000])
def test_what_halving_the_rate_folds_back_is_as_far_down_as_class_1_asks(nominal: float) -> None:
    (band,) = b.bands(b.OCTAVE, nominal, nominal)
    time_s = np.arange(2 * 96_000) / 96_000
    for hz in (1500.0, 3000.0, 6000.0, 11_000.0, 23_000.0, 40_000.0):
        if hz < 4 * band.middle_hz:
            continue
        ((_, heard, _),) = b.filtered(np.sin(2 * np.pi * hz * time_s), 96_000, (band,))
        steady = heard[len(heard) // 2 :]
        assert 20 * np.log10(np.std(steady) * np.sqrt(2)) < -40.5, (nominal, hz)


@given(st.sampled_from(ALL_OCTAVES[:-1]), st.sampled_from([44_100, 48_000, 96_000, 192_000]))
def test_a_tone_in_the_middle_of_a_band_keeps_its_level(band: b.Band, rate: int) -> None:
    tone = np.sin(2 * np.pi * band.middle_hz * np.arange(rate) / rate)
    ((_, heard, _),) = b.filtered(tone, rate, (band,))
    assert 20 * np.log10(np.std(heard[len(heard) // 2 :]) * np.sqrt(2)) == pytest.approx(0, abs=0.1)


def test_a_band_beyond_the_rate_is_left_out() -> None:
    assert [band.nominal_hz for band, _, _ in b.filtered(np.zeros(8), 44_100, ALL_OCTAVES)] == [
        8000, 4000, 2000, 1000, 500, 250, 125, 63, 31.5,
    ]  # fmt: skip
    assert isinstance(b.band_filter(ALL_OCTAVES[-1], 44_100), NotHad)
