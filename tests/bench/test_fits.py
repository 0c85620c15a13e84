"""Topic 03: least squares. Source: NIST/ITL Statistical Reference Datasets, linear regression (class source)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.fits import Fit, Summary, linear_fit, polynomial_fit, summary
from benchrecord.bench.reasons import NotHad
from reference.published import FOLDER, checks, data

CERTIFIED: dict[str, Any] = data("03-nist/certified.json")["datasets"]
DEGREES = {"Norris": 1, "Pontius": 2, "NoInt1": 1, "NoInt2": 1, "Filip": 10, "Wampler1": 5}
# Digits that must agree: coefficients, their standard errors, residual sd, R². About half a digit below what is reached:
# Norris 13.3 13.9 14.0 15, Pontius 12.7 13.9 14.0 15, NoInt1 14.7 14.9 15 15, NoInt2 15 15 15 15,
# Longley 11.2 12.7 13.2 15, Filip 14.3 14.5 15 15, Wampler1 9.6 (certified sd 0: absolute 9.7, 9.7) 15.
DIGITS = {
    "Norris": (12, 13, 13, 14),
    "Pontius": (12, 13, 13, 14),
    "NoInt1": (14, 14, 14, 14),
    "NoInt2": (14, 14, 14, 14),
    "Longley": (10, 11, 12, 14),
    "Filip": (12.5, 13, 14, 14),
    "Wampler1": (9, 9, 9, 14),
}


def fitted(name: str) -> Fit:
    table = np.loadtxt(FOLDER / "03-nist" / f"{name.lower()}.csv", delimiter=",", skiprows=1)
    if name == "Longley":
        fit = linear_fit(np.column_stack([np.ones(len(table)), table[:, 1:]]), table[:, 0])
    else:
        fit = polynomial_fit(table[:, 1], table[:, 0], DEGREES[name], intercept=not name.startswith("NoInt"))
    assert isinstance(fit, Fit)
    return fit


def digits(got: float, certified: str) -> float:
    wanted = float(certified)
    error = abs(got - wanted) / (abs(wanted) or 1.0)
    return 15.0 if error == 0 else min(15.0, -math.log10(error))


def test_every_data_set_is_used() -> None:
    assert CERTIFIED.keys() == DIGITS.keys()


@pytest.mark.parametrize("name", CERTIFIED)
def test_nist(name: str) -> None:
    fit, certified, needed = fitted(name), CERTIFIED[name], DIGITS[name]
    pairs = zip(fit.coefficients, fit.standard_errors, certified["parameters"], strict=True)
    for coefficient, error, parameter in pairs:
        assert digits(coefficient, parameter["estimate"]) >= needed[0]
        assert digits(error, parameter["sd"]) >= needed[1]
    assert digits(fit.residual_sd, certified["residual_sd"]) >= needed[2]
    assert digits(fit.r_squared, certified["r_squared"]) >= needed[3]
    assert fit.degrees_of_freedom == int(certified["anova"][-1]["df"])


@pytest.mark.parametrize("row", checks("03").values(), ids=checks("03"))
def test_single_checks(row: dict[str, str]) -> None:
    name, what = row["id"].split("-")
    fit = fitted(name)
    first = 1 if name.startswith("NoInt") else 0
    got = {"rsd": fit.residual_sd, "r2": fit.r_squared} | {f"B{n + first}": c for n, c in enumerate(fit.coefficients)}
    assert got[what] == pytest.approx(float(row["value"]), rel=1e-12)


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=5))
def test_an_exact_polynomial_is_found(wanted: list[float]) -> None:
    x = np.linspace(-1, 3, 12)
    fit = polynomial_fit(x, np.polynomial.polynomial.polyval(x, wanted), len(wanted) - 1)
    assert isinstance(fit, Fit)
    assert fit.coefficients == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(
    ("x", "y", "degree"), [([1.0], [1.0], 1), ([2.0, 2.0, 2.0], [1.0, 2.0, 3.0], 1), ([1.0, 2.0, 1.0], [1.0, 2.0, 1.0], 2)]
)
def test_too_little_is_said(x: list[float], y: list[float], degree: int) -> None:
    fit = polynomial_fit(x, y, degree)
    assert isinstance(fit, NotHad)
    assert fit.reason


def test_columns_that_say_the_same_are_not_told_apart() -> None:
    assert isinstance(linear_fit([[1, 2], [2, 4], [3, 6]], [1, 2, 3]), NotHad)


def test_type_a() -> None:
    """Topic 10, check typea, class derived: s/√n."""
    mean, u = (float(v) for v in checks("10")["typea"]["value"].split(","))
    got = summary([10.01, 10.03, 9.99, 10.02, 10.00])
    assert isinstance(got, Summary)
    assert got.mean == pytest.approx(mean, abs=1e-12)
    assert got.standard_uncertainty == pytest.approx(u, rel=1e-6)
    assert isinstance(summary([1.0]), NotHad)


@given(st.lists(st.integers(-1000, 1000), min_size=2, max_size=30), st.integers(-(10**6), 10**6))
def test_a_shift_moves_the_mean_alone(values: list[int], shift: int) -> None:
    here, there = summary(values), summary([v + shift for v in values])
    assert isinstance(here, Summary)
    assert isinstance(there, Summary)
    assert there.mean == pytest.approx(here.mean + shift, abs=1e-8)
    assert there.sd == pytest.approx(here.sd, abs=1e-8)
