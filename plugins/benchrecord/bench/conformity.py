"""Holding a reading against its limits, after JCGM 106:2012."""

from __future__ import annotations

import math
from collections.abc import Callable

import scipy  # loads its parts when they are first used

IN, OUT, TOO_CLOSE, INFORMATION = "in", "out", "too-close", "information"


def verdict(value: float, expanded_uncertainty: float | None, low: float | None, high: float | None, *, rule: str) -> str:
    """Conclude on a reading: ``in``, ``out``, ``too-close`` or, without limits, ``information``.

    ``simple``: the limits as they stand (JCGM 106:2012, 8.2). ``guarded``: in where the reading is inside by the expanded
    uncertainty or more, out where it is outside by more, too close to call between. An unknown uncertainty counts as none.

    Raises
    ------
    ValueError
        For a rule of another name, or an expanded uncertainty below zero.

    """
    if expanded_uncertainty is not None and expanded_uncertainty < 0:
        raise ValueError("an expanded uncertainty is not below zero")
    if rule not in ("simple", "guarded"):
        raise ValueError(f"{rule} is no decision rule")
    room = margin(value, low, high)
    if room is None:
        return INFORMATION
    guard = (expanded_uncertainty or 0.0) if rule == "guarded" else 0.0
    slack = _rounding(value, low, high)
    if room >= guard - slack:
        return IN
    return OUT if room < -guard - slack else TOO_CLOSE


def _rounding(value: float, low: float | None, high: float | None) -> float:
    """Return the error that binary fractions bring: a reading on its limit is inside, as it is on paper."""
    return 4 * math.ulp(max(abs(x) for x in (value, low, high) if x is not None))


def margin(value: float, low: float | None, high: float | None) -> float | None:
    """Return the distance to the nearer limit, positive inside; None without limits."""
    rooms = [*([value - low] if low is not None else []), *([high - value] if high is not None else [])]
    return min(rooms) if rooms else None


def conformance_probability(value: float, standard_uncertainty: float, low: float | None, high: float | None) -> float:
    """Return the probability that the true value lies within limits, for a normal distribution (JCGM 106:2012, 7)."""
    upper = 1.0 if high is None else float(scipy.special.ndtr((high - value) / standard_uncertainty))
    lower = 0.0 if low is None else float(scipy.special.ndtr((low - value) / standard_uncertainty))
    return upper - lower


def acceptance_limits(low: float | None, high: float | None, guard: float) -> tuple[float | None, float | None]:
    """Return limits drawn in by a guard band; low above high means that nothing can be accepted."""
    return (None if low is None else low + guard), (None if high is None else high - guard)


def false_accept_probability(guard_over_u: float, k: float = 2.0) -> float:
    """Return the highest probability of accepting what is outside one limit, with a guard band of r·U: 1 − Φ(k·r)."""
    return float(scipy.special.ndtr(-k * guard_over_u))


def uncertainty_ratio(low: float, high: float, expanded_uncertainty: float) -> float:
    """Return the half-width of a tolerance over the expanded uncertainty."""
    return (high - low) / 2 / expanded_uncertainty


def consumer_risk(density: Callable[[float], float], standard_uncertainty: float, limit: float, accept_to: float) -> float:
    """Return the share of items that lie above an upper limit and are accepted all the same (JCGM 106:2012, 9.5.4).

    The integral over the true value η above the limit of its density g(η) times Φ((A − η)/u).

    Parameters
    ----------
    density : density of the true values of the items, per unit of the limit
    standard_uncertainty : of the reading, normal, in the unit of the limit
    limit : upper tolerance limit T
    accept_to : upper acceptance limit A: readings up to it are accepted

    """

    def missed(true: float) -> float:
        return density(true) * float(scipy.special.ndtr((accept_to - true) / standard_uncertainty))

    end = max(limit, accept_to) + 12 * standard_uncertainty  # beyond it nothing is accepted
    return float(scipy.integrate.quad(missed, limit, end, epsabs=1e-13, limit=200)[0])


def acceptance_limit_for_risk(
    density: Callable[[float], float], standard_uncertainty: float, limit: float, risk: float
) -> float:
    """Return the upper acceptance limit that brings the consumer's risk down to ``risk`` (JCGM 106:2012, 9.5.4).

    Raises
    ------
    ValueError
        Where no acceptance limit within ten standard uncertainties of the limit has this risk.

    """
    span = 10 * standard_uncertainty

    def excess(accept_to: float) -> float:
        return consumer_risk(density, standard_uncertainty, limit, accept_to) - risk

    return float(scipy.optimize.brentq(excess, limit - span, limit + span, xtol=1e-12))
