"""Least squares and summaries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchrecord.bench.reasons import NotHad

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """A least-squares fit: coefficients from the constant up, with their standard errors.

    ``r_squared`` is centred where the model has a constant and 1 − SSE/Σy² where it has none (as NIST StRD prints it).
    """

    coefficients: tuple[float, ...]
    standard_errors: tuple[float, ...]
    residual_sd: float
    r_squared: float
    degrees_of_freedom: int


@dataclass(frozen=True, slots=True)
class Summary:
    """Mean, sample standard deviation and standard uncertainty of the mean (JCGM 100:2008, 4.2)."""

    n: int
    mean: float
    sd: float
    standard_uncertainty: float


def linear_fit(design: ArrayLike, y: ArrayLike, *, centred: bool = True) -> Fit | NotHad:
    """Fit ``y = design @ b`` by QR of the column-scaled design, refined once.

    Parameters
    ----------
    design : (n, p) array
    y : (n,) array
    centred : whether the model has a constant (tells which R² is meant)

    """
    a, b = np.asarray(design, float), np.asarray(y, float)
    n, p = a.shape
    scale = np.linalg.norm(a, axis=0)
    if n < p or not np.all(scale > 0):
        return NotHad("fewer readings than unknowns")
    q, r = np.linalg.qr(a / scale)
    if np.min(np.abs(np.diag(r))) <= n * np.finfo(float).eps:  # columns have unit length: this is rank, not size
        return NotHad("the readings do not tell the unknowns apart")
    solved = np.linalg.solve(r, q.T @ b)
    solved += np.linalg.solve(r, q.T @ (b - (a / scale) @ solved))
    residuals = b - (a / scale) @ solved
    inverse = np.linalg.inv(r)
    return _result(solved / scale, np.sqrt(np.sum(inverse**2, axis=1)) / scale, residuals, b, centred=centred)


def polynomial_fit(x: ArrayLike, y: ArrayLike, degree: int, *, intercept: bool = True) -> Fit | NotHad:
    """Fit a polynomial; the coefficients are those of plain powers of ``x``.

    The sum is done in Legendre polynomials on the range of ``x`` (well conditioned, also for high degrees) and then expanded.
    """
    xs, ys = np.asarray(x, float), np.asarray(y, float)
    if not intercept:
        return linear_fit(np.vander(xs, degree + 1, increasing=True)[:, 1:], ys, centred=False)
    if len(xs) <= degree or np.ptp(xs) == 0:
        return NotHad("fewer readings than unknowns")
    middle, half = (xs.max() + xs.min()) / 2, np.ptp(xs) / 2
    fitted = linear_fit(np.polynomial.legendre.legvander((xs - middle) / half, degree), ys)
    if isinstance(fitted, NotHad):
        return fitted
    back = _expansion(degree, middle, half)
    design = np.polynomial.legendre.legvander((xs - middle) / half, degree)
    r_inverse = np.linalg.inv(np.linalg.qr(design)[1])
    errors = fitted.residual_sd * np.linalg.norm(back @ r_inverse, axis=1)
    coefficients = back @ np.asarray(fitted.coefficients)
    return replace(fitted, coefficients=tuple(coefficients.tolist()), standard_errors=tuple(errors.tolist()))


def _expansion(degree: int, middle: float, half: float) -> Floats:
    """Return the matrix from Legendre coefficients on the scaled range to coefficients of plain powers."""
    domain = [middle - half, middle + half]
    bases = [np.polynomial.Legendre.basis(k, domain) for k in range(degree + 1)]
    columns = [b.convert(kind=np.polynomial.Polynomial).coef for b in bases]
    return np.array([np.pad(c, (0, degree + 1 - len(c))) for c in columns]).T


def _result(coefficients: Floats, unit_errors: Floats, residuals: Floats, y: Floats, *, centred: bool) -> Fit:
    freedom = len(y) - len(coefficients)
    sse = float(residuals @ residuals)
    total = float(np.sum((y - y.mean()) ** 2)) if centred else float(y @ y)
    sd = (sse / freedom) ** 0.5 if freedom else 0.0
    r_squared = 1 - sse / total if total else 1.0
    return Fit(tuple(coefficients.tolist()), tuple((sd * unit_errors).tolist()), sd, r_squared, freedom)


def summary(values: Sequence[float]) -> Summary | NotHad:
    """Return mean and spread of readings of one quantity; the standard uncertainty of the mean is s/√n."""
    if len(values) < 2:  # noqa: PLR2004  # no spread from one reading
        return NotHad("fewer than two readings")
    data = np.asarray(values, float)
    sd = float(np.std(data, ddof=1))
    return Summary(len(values), float(data.mean()), sd, sd / len(values) ** 0.5)
