"""Topic 10: uncertainty. JCGM 100:2008 H.1 to H.3, table G.2, JCGM 101:2008 9.2 (class source); divisors derived."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench import uncertainty as u
from benchrecord.bench.fits import Fit, Summary, polynomial_fit, summary
from reference.published import checks, data, rows

CHECKS = checks("10")
EXAMPLES = data("10-gum-examples.json")

SINGLE: dict[str, Callable[[], float]] = {
    "div-rectangular": lambda: u.DIVISORS["rectangular"],
    "div-triangular": lambda: u.DIVISORS["triangular"],
    "div-U-shaped": lambda: u.DIVISORS["u-shaped"],
    "div-digital": lambda: 1 / u.resolution_uncertainty(1.0),
    "div-trapezoid": lambda: u.trapezoid_divisor(0.5),
    "dmm": lambda: u.meter_uncertainty(10.0, reading_percent=0.05, counts=3, resolution=0.001),
    "ws": lambda: u.effective_degrees_of_freedom([1.0] * 4, [10.0] * 4),
}


@pytest.mark.parametrize("name", SINGLE)
def test_published(name: str) -> None:
    assert SINGLE[name]() == pytest.approx(float(CHECKS[name]["value"]), rel=1e-6)


@pytest.mark.parametrize("row", rows("10-t-factors.csv"), ids=lambda r: r["degrees_of_freedom"])
@pytest.mark.parametrize("percent", ["68.27", "90", "95", "95.45", "99", "99.73"])
def test_coverage_factor(row: dict[str, str], percent: str) -> None:
    """JCGM 100:2008 table G.2; it prints 1.70 at 90 % for 35 degrees of freedom where the exact value is 1.690."""
    k = u.coverage_factor(float(percent) / 100, float(row["degrees_of_freedom"]))
    # The columns "68.27" and so on are the normal distribution's 1, 2, 3 sigma, rounded in the heading.
    exact = {"68.27": 1, "95.45": 2, "99.73": 3}.get(percent)
    if exact:
        k = u.coverage_factor(math.erf(exact / math.sqrt(2)), float(row["degrees_of_freedom"]))
    assert k == pytest.approx(float(row[f"exact_{percent}"]), rel=1e-8, abs=1e-8)
    places = len(row[f"printed_{percent}"].partition(".")[2])
    slack = 0.011 if (row["degrees_of_freedom"], percent) == ("35", "90") else 0.5 * 10**-places * 1.02
    assert k == pytest.approx(float(row[f"printed_{percent}"]), abs=slack)


def test_gum_h1_end_gauge() -> None:
    """JCGM 100:2008 H.1: sensitivities by hand, then combination, degrees of freedom and coverage."""
    example = EXAMPLES["H1_end_gauge"]
    value = {i["name"]: i["value"] for i in example["inputs"]}
    sensitivity = {
        "l_S": 1.0,
        "d": 1.0,
        "alpha_S": -value["l_S"] * value["delta_theta"],
        "theta": -value["l_S"] * value["delta_alpha"],
        "delta_alpha": -value["l_S"] * value["theta"],
        "delta_theta": -value["l_S"] * value["alpha_S"],
    }
    parts = [abs(sensitivity[i["name"]]) * i["u"] for i in example["inputs"]]
    assert parts == pytest.approx(example["published"]["contributions_nm"], abs=0.05)
    combined = u.combine(*parts)
    assert combined == pytest.approx(example["recomputed"]["uc_nm"], rel=1e-6)
    assert round(combined) == int(CHECKS["h1-u_c"]["value"])
    freedom = u.effective_degrees_of_freedom(parts, [i["dof"] or math.inf for i in example["inputs"]])
    assert freedom == pytest.approx(example["recomputed"]["veff"], rel=1e-5)
    k = u.coverage_factor(0.99, math.floor(freedom))
    assert k == pytest.approx(example["recomputed"]["k99_at_16"], rel=1e-7)
    assert round(u.expanded(combined, k)) == int(CHECKS["h1-U_99"]["value"])
    assert value["l_S"] + value["d"] == int(CHECKS["h1-l"]["value"])


H2 = EXAMPLES["H2_resistance_reactance"]


def h2_quantities() -> tuple[list[float], list[float], np.ndarray]:
    """Return means, standard uncertainties and correlations of volts, amperes and radians."""
    seen = H2["observations"]
    columns = [seen["V_volt"], [i / 1000 for i in seen["I_milliampere"]], seen["phi_rad"]]
    sums = [s for s in map(summary, columns) if isinstance(s, Summary)]
    return [s.mean for s in sums], [s.standard_uncertainty for s in sums], np.corrcoef(columns)


@pytest.mark.parametrize("what", ["R", "X", "Z"])
def test_gum_h2_correlated_inputs(what: str) -> None:
    """JCGM 100:2008 H.2, correlations from the observations; u(X) is 0.2956 where 0.295 is printed, so 0.001 ohm of slack."""
    (volts, amps, phi), (uv, ui, up), correlation = h2_quantities()
    z = volts / amps
    turned, slope = {"R": (math.cos(phi), -math.sin(phi)), "X": (math.sin(phi), math.cos(phi)), "Z": (1.0, 0.0)}[what]
    got = u.combine_correlated([turned / amps * uv, -z * turned / amps * ui, z * slope * up], correlation.tolist())
    assert z * turned == pytest.approx(float(CHECKS[f"h2-{what}"]["value"]), abs=0.0006)
    assert got == pytest.approx(H2["published"][f"u{what}"], abs=0.001)
    assert got == pytest.approx(H2["recomputed"][f"u{what}"], rel=1e-8)


def test_gum_h3_calibration_line() -> None:
    """JCGM 100:2008 H.3: a line fitted about 20 °C, then its value at 30 °C."""
    example = EXAMPLES["H3_thermometer_line"]
    celsius, wanted = np.array(example["t_celsius"]), example["recomputed"]
    at_20, at_30 = (polynomial_fit(celsius - t, example["b_celsius"], 1) for t in (20, 30))
    assert isinstance(at_20, Fit)
    assert isinstance(at_30, Fit)
    assert at_20.coefficients == pytest.approx([wanted["y1"], wanted["y2"]], rel=1e-9)
    assert at_20.standard_errors == pytest.approx([wanted["u_y1"], wanted["u_y2"]], rel=1e-9)
    assert at_20.residual_sd == pytest.approx(wanted["s"], rel=1e-9)
    assert (at_30.coefficients[0], at_30.standard_errors[0]) == pytest.approx((wanted["b30"], wanted["u_b30"]), rel=1e-9)
    intercept, slope = (float(v) for v in CHECKS["h3-line"]["value"].split(","))
    assert at_20.coefficients == pytest.approx([intercept, slope], abs=5e-5)
    assert at_30.coefficients[0] == pytest.approx(float(CHECKS["h3-b30"]["value"]), abs=5e-5)


def test_gum_s1_four_normal_inputs() -> None:
    """JCGM 101:2008 9.2 (source): four normal inputs of u = 1. (Its rectangular case needs a distribution, not this room.)"""
    published = EXAMPLES["GUM_S1_9_2"]["published"]
    combined = u.combine(1.0, 1.0, 1.0, 1.0)
    assert combined == published["uc"]
    assert u.expanded(combined, u.coverage_factor(0.95)) == pytest.approx(published["gaussian_95"], abs=0.005)


@given(st.lists(st.floats(0, 1e3), min_size=1, max_size=6))
def test_uncorrelated_is_the_root_of_squares_and_fully_correlated_the_sum(parts: list[float]) -> None:
    n = len(parts)
    assert u.combine_correlated(parts, np.eye(n).tolist()) == pytest.approx(u.combine(*parts), abs=1e-9)
    assert u.combine_correlated(parts, np.ones((n, n)).tolist()) == pytest.approx(sum(parts), abs=1e-9)


@given(st.floats(-1e3, 1e3), st.floats(0, 5), st.floats(0, 100), st.floats(0, 1))
def test_a_meter_is_as_unsure_below_zero(reading: float, percent: float, counts: float, step: float) -> None:
    here = u.meter_uncertainty(reading, reading_percent=percent, counts=counts, resolution=step)
    assert here == u.meter_uncertainty(-reading, reading_percent=percent, counts=counts, resolution=step) >= 0


def test_nothing_unsure_has_endless_freedom() -> None:
    assert math.isinf(u.effective_degrees_of_freedom([1.0], [math.inf]))


def test_the_mean_of_readings_carries_spread_and_meter() -> None:
    """Worked by hand from JCGM 100:2008, 4.2 and G.4: s = 0.015811, s/√5 = 0.0070711, t for 4 degrees of freedom 2.8693."""
    spread = summary([10.01, 10.03, 9.99, 10.02, 10.00])
    assert isinstance(spread, Summary)
    assert u.uncertainty_of_mean(spread, 0.0) == pytest.approx(2.8693 * 0.0070711, rel=1e-4)
    assert u.uncertainty_of_mean(spread, 0.1) == pytest.approx(2 * math.hypot(0.1, 0.0070711), rel=1e-3)


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=9), st.floats(0, 5))
def test_a_mean_is_never_surer_than_its_meter(values: list[float], of_meter: float) -> None:
    spread = summary(values)
    assert isinstance(spread, Summary)
    assert u.uncertainty_of_mean(spread, of_meter) >= 2 * of_meter
