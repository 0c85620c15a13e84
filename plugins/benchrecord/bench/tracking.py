"""How an oscillator follows its control voltage."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats, polynomial_fit
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, beats_hz, cents
from benchrecord.bench.reasons import NotHad

MOST_VOLTS, MOST_HZ = 1e6, 1e60  # far beyond what can be, and far from what a sum cannot take
NO_OSCILLATOR = "voltages or frequencies that no oscillator has"


@dataclass(frozen=True, slots=True)
class Tracking:
    """An exponential oscillator against its nominal scale; tuples are in the order of the readings."""

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
    line = polynomial_fit(v, np.log2(f), 1)
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
        volts_per_octave_u=line.standard_errors[1] * scale**2 if line.degrees_of_freedom else None,
        scale_error_percent=100 * (scale / nominal_volts_per_octave - 1),
        errors_cents=tuple(errors.tolist()),
        errors_u_cents=None if hz_uncertainty is None else _errors_u(f, np.asarray(hz_uncertainty, float), at),
        octaves=tuple(octaves.tolist()),
        worst_cents=float(abs(errors[worst])),
        worst_signed_cents=float(errors[worst]),
        worst_at_volts=float(v[worst]),
        rms_cents=float(np.sqrt(np.mean(errors**2))),
        curvature_cents_per_octave2=_curvature(octaves, errors),
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
    bent = polynomial_fit(octaves, errors, 2)
    return None if isinstance(bent, NotHad) else bent.coefficients[2]


def _errors_u(f: Floats, u: Floats, at: int) -> tuple[float, ...]:
    """Return the standard uncertainty of each error: its own reading and the reference, 1200/ln 2 · u/f each."""
    own = CENTS_PER_OCTAVE / math.log(2) * u / f
    both = np.hypot(own, own[at])
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
