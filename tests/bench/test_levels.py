"""Topic 05, its levels: class derived from a milliwatt in 600 Ω; 0 VU from IEC 60268-17 (read in encyclopaedias)."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat, umath

from benchrecord.bench import levels
from benchrecord.bench.reasons import NotHad
from reference.published import checks

CHECKS = checks("05")


def db(found: float | NotHad) -> float:
    assert isinstance(found, float)
    return found


SINGLE: dict[str, Callable[[], float]] = {
    "dbu-ref": lambda: levels.DBU_REFERENCE_V,
    "dbv-dbu": lambda: db(levels.dbu(1.0)),
    "m10dbv": lambda: levels.volts_of_dbv(-10.0),
    "m10dbv-dbu": lambda: db(levels.dbu(levels.volts_of_dbv(-10.0))),
    "p4-m10": lambda: db(levels.ratio_db(levels.volts_of_dbu(4.0), levels.volts_of_dbv(-10.0))),
    "dbm-50": lambda: levels.volts_of_dbm(0.0, 50.0),
    "dbm-75": lambda: levels.volts_of_dbm(0.0, 75.0),
    "dbm-600": lambda: levels.volts_of_dbm(0.0, 600.0),
    "vu-ref": lambda: levels.ZERO_VU_DBU,
    "ratio-2-1": lambda: db(levels.ratio_db(2.0, 1.0)),
    "ratio-10-1": lambda: db(levels.ratio_db(10.0, 1.0)),
    "ratio-1.55-0.775": lambda: db(levels.ratio_db(1.55, 0.775)),
}
SINGLE |= {f"dbu-{x}": lambda x=x: levels.volts_of_dbu(float(x)) for x in (-20, -10, 0, 4, 10, 20)}  # type: ignore[misc]


@pytest.mark.parametrize("name", SINGLE)
def test_published(name: str) -> None:
    assert SINGLE[name]() == pytest.approx(float(CHECKS[name]["value"]), rel=2e-9)


@given(st.floats(-200, 100))
def test_a_level_and_its_voltage_tell_the_same(level: float) -> None:
    assert db(levels.dbu(levels.volts_of_dbu(level))) == pytest.approx(level, abs=1e-9)
    assert db(levels.dbv(levels.amplitude_of(level, "dBV"))) == pytest.approx(level, abs=1e-9)
    assert levels.amplitude_of(level, "dBu") == levels.volts_of_dbu(level)
    assert levels.amplitude_of(level, "V") == level


def test_a_sine_that_just_reaches_full_scale_is_0_dbfs() -> None:
    """AES17, from memory: its rms is 1/√2 of full scale; a square of full scale lies 3 dB above."""
    assert db(levels.dbfs(0.5**0.5)) == 0
    assert db(levels.dbfs(1.0)) == pytest.approx(3.0103, abs=1e-4)


def test_nothing_has_no_level() -> None:
    for found in (levels.dbu(0.0), levels.dbfs(0.0), levels.ratio_db(1.0, 0.0)):
        assert isinstance(found, NotHad)


@given(st.lists(st.floats(-120, 20), min_size=1, max_size=6))
def test_powers_together_are_no_less_than_the_loudest(powers: list[float]) -> None:
    together = levels.power_sum_db(*powers)
    assert max(powers) <= together <= max(powers) + 10
    assert levels.power_sum_db(*powers, *powers) == pytest.approx(together + 3.0103, abs=1e-4)


@given(st.floats(1e-6, 100), st.floats(1e-4, 0.1))
def test_the_uncertainty_of_a_level_as_a_second_witness_has_it(volts: float, part: float) -> None:
    """The library `uncertainties` propagates to first order too (JCGM 100:2008, 5.1.3)."""
    witness = 20 * umath.log10(ufloat(volts, part * volts))
    u_db = levels.db_uncertainty(part * volts, volts)
    assert u_db == pytest.approx(witness.s, rel=1e-9)
    assert levels.amplitude_uncertainty(u_db, volts) == pytest.approx(part * volts, rel=1e-9)
