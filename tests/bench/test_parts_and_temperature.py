"""Topic 12: derating (end points source, line practice), life (practice), copper, Pt100 (IEC 60751, source); and parts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import parts
from benchrecord.bench import resistors as r
from benchrecord.bench import temperature as t
from benchrecord.bench.reasons import NotHad
from reference.published import checks, rows

CHECKS = checks("12")
SINGLE: dict[str, Callable[[], float]] = {
    "der-ex": lambda: r.allowed_w(0.25, 100.0),
    "der-v": lambda: r.highest_volts(100e3, 0.25, 250.0),
    "cu-a": lambda: t.copper_ohm(1.0, 21.0) - 1.0,
    "cu-rho": lambda: t.copper_conductor_ohm(1.0, 1.0),
    "cu-100": lambda: t.copper_ohm(10.0, 60.0),
    "cu-rise": lambda: t.winding_rise_k(10.0, 11.6, 20.0, 25.0),
    "tc-drift": lambda: r.change_by_temperature_ohm(100e3, 50.0, 15.0),
    "oct-tc": lambda: t.converter_drift_ppm_per_k(25.0),
}


def computed(name: str) -> float:
    if name in SINGLE:
        return SINGLE[name]()
    kind, celsius = name.split("-", 1)
    if kind == "pt":
        return round(t.pt100_ohm(float(celsius)), 2)  # the table has two decimals
    return r.derating_fraction(float(celsius)) if kind == "der" else r.capacitor_life_h(2000.0, 105.0, float(celsius))


# ipc: a track's current (class memory) has no place in a job folder, so there is no such sum.
@pytest.mark.parametrize("name", [i for i in CHECKS if i != "ipc"])
def test_published(name: str) -> None:
    assert computed(name) == pytest.approx(float(CHECKS[name]["value"]), rel=2e-7, abs=1e-12)


@pytest.mark.parametrize("row", rows("12-pt100.csv"), ids=lambda row: row["celsius"])
def test_pt100_table(row: dict[str, str]) -> None:
    assert t.pt100_ohm(float(row["celsius"])) == pytest.approx(float(row["ohm"]), abs=6e-7)


def test_drift_dissipation_and_load() -> None:
    """Definitions, class derived."""
    assert r.drift_percent(100e3, 103e3) == pytest.approx(3.0)
    assert r.dissipation_w(10.0, 1e3) == pytest.approx(0.1)
    assert r.load_percent(0.1, 0.25) == pytest.approx(40.0)
    assert r.load_percent(0.1, 0.25, 112.5) == pytest.approx(80.0)


@pytest.mark.parametrize(("rating", "ambient"), [(0.25, 155.0), (0.25, 200.0), (0.0, 25.0)])
def test_no_load_where_nothing_is_allowed(rating: float, ambient: float) -> None:
    load = r.load_percent(0.1, rating, ambient)
    assert isinstance(load, NotHad)
    assert not load
    assert load.reason


@given(st.floats(-50, 300), st.floats(0, 100))
def test_hotter_never_allows_more(ambient: float, rise: float) -> None:
    assert 0 <= r.derating_fraction(ambient + rise) <= r.derating_fraction(ambient) <= 1


def test_the_rule_of_voltage_and_power() -> None:
    assert r.highest_volts(1e6, 0.25, 250.0) == 250.0


@pytest.mark.parametrize(
    ("was", "now", "lowered"),
    [
        ("50 V", "63 V", False),
        ("63 V", "50 V", True),
        ("0.5 W 350 V", "0,6 W 250 V", True),
        ("1/4 W", "1/2 W", False),
        ("1/2 W", "1/4 W", True),
        ("1 kV", "630 V", True),
        ("630 V", "1kV", False),
        ("500 mA", "0.5 A", False),
        ("105 °C", "85 °C", True),
        ("T 2 A 250 V", "T1A 250V", True),
        ("50 V", "1 W", False),
        ("", "50 V", False),
        ("none", "as before", False),
    ],
)
def test_rating_lowered(was: str, now: str, lowered: bool) -> None:  # noqa: FBT001  # the wanted answer
    assert parts.rating_lowered(was, now) is lowered


def test_counts() -> None:
    counts = parts.counts_by_reason([("leaking", 1), ("worn", 3), ("leaking", 1), ("burnt", 2)])
    assert list(counts.items()) == [("worn", 3), ("burnt", 2), ("leaking", 2)]
