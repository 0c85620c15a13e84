"""How an oscillator follows its control voltage."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats, polynomial_fit
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, beats_hz, cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.uncertainty import TWO_SIGMA, K, coverage_factor

MOST_VOLTS, MOST_HZ = 1e6, 1e60  # far beyond what can be, and far from what a sum cannot take
NO_OSCILLATOR = "voltages or frequencies that no oscillator has"
LINE, PARABOLA = 1, 2  # degrees
BEYOND = 2.58  # times what the readings can be wrong by: one case in a hundred, whichever of them is the least sure


@dataclass(frozen=True, slots=True)
class Tracking:
    """An exponential oscillator against its nominal scale; tuples are in the order of the readings.

    What ends in ``_u`` is a standard uncertainty, enlarged where it rests on few readings, so that k = 2 holds.
    """

    volts_per_octave: float
    volts_per_octave_u: float | None
    scale_error_percent: float
    errors_cents: tuple[float, ...]
    errors_u_cents: tuple[float, ...] | None
    octaves: tuple[float, ...]
    worst_cents: float
    worst_signed_cents: float
    worst_at_volts: float
    rms_cents: float
    curvature_cents_per_octave2: float | None
    curvature_u: float | None
    reference_volts: float
    reference_hz: float


@dataclass(frozen=True, slots=True)
class Beat:
    """Two oscillators at one control voltage: how often they beat, and the second's interval from the first."""

    volts: float
    hz: float
    cents: float


@dataclass(frozen=True, slots=True)
class LinearTracking:
    """An oscillator whose frequency is proportional to its control voltage."""

    hertz_per_volt: float
    worst_percent: float
    errors_percent: tuple[float, ...]


def exponential_tracking(
    volts: Sequence[float],
    hz: Sequence[float],
    *,
    nominal_volts_per_octave: float = 1.0,
    reference_volts: float | None = None,
    hz_uncertainty: Sequence[float] | None = None,
) -> Tracking | NotHad:
    """Work out scale, errors and curvature.

    The scale is the inverse of the least-squares slope of log2(f) on V. The error of a reading is
    1200·(log2(f/f_ref) − (V − V_ref)/nominal), in cents; the reference is the reading at ``reference_volts``, else the lowest.
    The curvature is the second-order coefficient of the least-squares parabola of the errors on octaves above the reference.

    Parameters
    ----------
    volts, hz : (n,) control voltage and frequency, n ≥ 2
    hz_uncertainty : (n,) standard uncertainty of each frequency, Hz

    Raises
    ------
    ValueError
        Where the two are not of one length.

    """
    if len(volts) != len(hz):
        raise ValueError("a frequency belongs to each voltage")
    if not all(h > 0 for h in hz):
        return NotHad("a frequency of zero or below has no pitch")
    if not of_an_oscillator(volts, hz):
        return NotHad(NO_OSCILLATOR)
    v, f = np.asarray(volts, float), np.asarray(hz, float)
    own = None if hz_uncertainty is None else np.asarray(hz_uncertainty, float) / f / math.log(2)  # octaves
    line = polynomial_fit(v, np.log2(f), LINE)
    if isinstance(line, NotHad) or line.coefficients[1] == 0:
        return NotHad("fewer than two readings at different voltages")
    at = _reference(volts, reference_volts)
    if at is None:
        return NotHad(f"no reading at the reference voltage {reference_volts:g} V")
    octaves = (v - v[at]) / nominal_volts_per_octave
    errors = CENTS_PER_OCTAVE * (np.log2(f / f[at]) - octaves)
    scale, worst = 1 / line.coefficients[1], int(np.argmax(np.abs(errors)))
    return Tracking(
        volts_per_octave=scale,
        volts_per_octave_u=_times(_coefficient_u(v, np.log2(f), LINE, own), scale**2),
        scale_error_percent=100 * (scale / nominal_volts_per_octave - 1),
        errors_cents=tuple(errors.tolist()),
        errors_u_cents=None if own is None else _errors_u(own, at),
        octaves=tuple(octaves.tolist()),
        worst_cents=float(abs(errors[worst])),
        worst_signed_cents=float(errors[worst]),
        worst_at_volts=float(v[worst]),
        rms_cents=float(np.sqrt(np.mean(errors**2))),
        curvature_cents_per_octave2=_curvature(octaves, errors),
        curvature_u=_times(_coefficient_u(octaves, np.log2(f), PARABOLA, own), CENTS_PER_OCTAVE),
        reference_volts=float(v[at]),
        reference_hz=float(f[at]),
    )


def of_an_oscillator(volts: Sequence[float], hz: Sequence[float]) -> bool:
    """Say whether numbers can be control voltages and frequencies at all, and not slips of the pen that no sum can take."""
    return all(abs(v) < MOST_VOLTS and (v == 0 or abs(v) > 1 / MOST_VOLTS) for v in volts) and all(
        1 / MOST_HZ < abs(f) < MOST_HZ for f in hz
    )


def _reference(volts: Sequence[float], wanted: float | None) -> int | None:
    if wanted is None:
        return min(range(len(volts)), key=lambda n: volts[n])
    return next((n for n, v in enumerate(volts) if math.isclose(v, wanted, abs_tol=1e-9)), None)


def _curvature(octaves: Floats, errors: Floats) -> float | None:
    if len(set(octaves.tolist())) < 3:  # noqa: PLR2004  # a parabola has three unknowns
        return None
    bent = polynomial_fit(octaves, errors, PARABOLA)
    return None if isinstance(bent, NotHad) else bent.coefficients[PARABOLA]


def _coefficient_u(x: Floats, y: Floats, degree: int, own: Floats | None) -> float | None:
    """Return the standard uncertainty of the highest coefficient of a polynomial; None where nothing tells it.

    What the readings are uncertain by goes into it as least squares weighs them (JCGM 100:2008, 5.1.2). Where they depart from a
    parabola by more than that, something is uncertain that nobody stated, as voltages are that were set by hand: then their scatter
    counts too. A bend is no scatter but a result of its own. Where nobody knows what the readings are uncertain by, how they scatter
    about the polynomial is all that tells it.

    Parameters
    ----------
    x, y : (n,)
    own : (n,) standard uncertainty of each y, where it is known

    """
    weights, left, freedom = _least_squares(x, degree)
    if not weights.any():
        return None
    if own is None:
        return _scatter_u(left @ y, freedom) * float(np.linalg.norm(weights)) if freedom else None
    of_readings = float(np.linalg.norm(weights * own))
    _, left, freedom = _least_squares(x, PARABOLA)
    if not freedom or np.linalg.norm(left @ y) <= BEYOND * np.linalg.norm(left * own):
        return of_readings
    return math.hypot(of_readings, _scatter_u(left @ y, freedom) * float(np.linalg.norm(weights)))


def _least_squares(x: Floats, degree: int) -> tuple[Floats, Floats, int]:
    """Return what each y weighs in the highest coefficient of a polynomial, what is left of each y, (n, n), and the degrees of freedom."""
    half = float(np.ptp(x)) / 2
    design = np.vander((x - x.mean()) / half, degree + 1, increasing=True)
    inverse, rank = np.linalg.pinv(design), int(np.linalg.matrix_rank(design))
    weights = inverse[degree] / half**degree if rank > degree else np.zeros(len(x))
    return weights, np.eye(len(x)) - design @ inverse, len(x) - rank


def _scatter_u(left: Floats, freedom: int) -> float:
    """Return how readings scatter by what a fit leaves of them, widened by Student's t over 2 as they are few (JCGM 100:2008, G.3)."""
    return coverage_factor(TWO_SIGMA, freedom) / K * float(np.linalg.norm(left)) / math.sqrt(freedom)


def _times(u: float | None, factor: float) -> float | None:
    return None if u is None else u * factor


def _errors_u(own: Floats, at: int) -> tuple[float, ...]:
    """Return the standard uncertainty of each error in cents: its own reading and the reference, both in octaves."""
    both = CENTS_PER_OCTAVE * np.hypot(own, own[at])
    both[at] = 0.0
    return tuple(both.tolist())


def linear_tracking(volts: Sequence[float], hz: Sequence[float], *, nominal_hertz_per_volt: float) -> LinearTracking | NotHad:
    """Work out hertz per volt by least squares through zero, and each reading's error in percent of nominal."""
    if not of_an_oscillator(volts, hz):
        return NotHad(NO_OSCILLATOR)
    line = polynomial_fit(volts, hz, 1, intercept=False)
    if isinstance(line, NotHad) or any(v == 0 for v in volts):
        return NotHad("no readings, or one at zero volts")
    errors = tuple(100 * (f / (nominal_hertz_per_volt * v) - 1) for v, f in zip(volts, hz, strict=True))
    return LinearTracking(line.coefficients[0], max(abs(e) for e in errors), errors)


def oscillator_beats(
    volts_a: Sequence[float], hz_a: Sequence[float], volts_b: Sequence[float], hz_b: Sequence[float]
) -> tuple[Beat, ...] | NotHad:
    """Return the beats of two oscillators at the voltages that both were read at, from the lowest.

    Parameters
    ----------
    volts_a, hz_a : (n,) readings of the first oscillator
    volts_b, hz_b : (m,) readings of the second

    """
    second = {round(v, 9): f for v, f in zip(volts_b, hz_b, strict=True)}
    pairs = sorted((v, f, second[round(v, 9)]) for v, f in zip(volts_a, hz_a, strict=True) if round(v, 9) in second)
    if not pairs:
        return NotHad("no control voltage at which both oscillators were read")
    if not all(a > 0 and b > 0 for _, a, b in pairs):
        return NotHad("a frequency of zero or below has no pitch")
    return tuple(Beat(v, beats_hz(a, b), cents(b, a)) for v, a, b in pairs)
