"""The shape of a stage: straight, or part of an exponential, told by how early it is half done."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.time_constants import rise_s

STRAIGHT, EXPONENTIAL, BENT = "straight", "exponential", "bent"
LEVELS = (0.1, 0.3, 0.5, 0.7, 0.9)
# Shares of the time at which an exponential that aims at k times its span has come from 10 % to 50 %, by 1/k.
_INVERSE_AIMS = np.linspace(0.0, 1.0, 2001)[1:]
_HALF_DONE = np.array([rise_s(1.0, 0.1, 0.5, aim=1 / x) / rise_s(1.0, aim=1 / x) for x in _INVERSE_AIMS])
SLACK = 0.02  # of the time: what still counts as straight, or as exponential (common practice, no source)
OF_SHARE = 1.25  # √(1 + (1 − h)² + h²): of a share h of two differences, at most, by that of each passing
SETTLES = 0.002  # so close to the share of one that just arrives, an exponential is taken to do so


@dataclass(frozen=True, slots=True)
class Shape:
    """The shape of a stage; an exponential has a time constant in s, with its expanded uncertainty, and an ``aim``.

    The aim is what it would reach if nothing stopped it, as a multiple of its whole span: 1 for one that just arrives.
    """

    name: str
    time_constant_s: float | None = None
    expanded_uncertainty: float | None = None
    aim: float | None = None


def aim_of(half_done: float) -> float:
    """Return the aim of an exponential from the share of its 10–90 % time at which it is half done; infinite for a straight one.

    The share is ln((k − 0.1)/(k − 0.5))/ln((k − 0.1)/(k − 0.9)): 0.2675 for an aim k = 1, 0.5 for k → ∞ (class derived, from
    v = k·(1 − e^(−t/τ))). What is half done earlier still is taken as k = 1.
    """
    if half_done >= _HALF_DONE[0]:
        return math.inf
    return float(1 / np.interp(half_done, _HALF_DONE[::-1], _INVERSE_AIMS[::-1]))


def slopes(seconds: float, half_done: float) -> tuple[float, float]:
    """Return how fast a stage goes where it has done 10 % and 90 % of its span, in spans a second."""
    aim = aim_of(half_done)
    if math.isinf(aim):
        return 0.8 / seconds, 0.8 / seconds
    tau = seconds / rise_s(1.0, aim=aim)
    return (aim - 0.1) / tau, (aim - 0.9) / tau


def shape_of(passed: Sequence[float], standard_uncertainty: float, *, seconds_u: float = 0.0) -> Shape:
    """Tell the shape of a stage.

    Parameters
    ----------
    passed : (5,) s at which it has done 10, 30, 50, 70 and 90 % of its span
    standard_uncertainty : of each of them, s
    seconds_u : expanded uncertainty of the whole time, s

    """
    seconds = passed[4] - passed[0]
    shares, u = [(t - passed[0]) / seconds for t in passed], OF_SHARE * standard_uncertainty / seconds
    aim, slack = aim_of(shares[2]), max(SLACK, 3 * u)
    if shares[2] > 0.5 + slack:
        return Shape(BENT)
    if abs(shares[2] - 0.5) <= slack:
        expected, aim = [(level - 0.1) / 0.8 for level in LEVELS], math.inf
    else:
        aim = 1.0 if shares[2] <= _HALF_DONE[-1] + max(SETTLES, 2 * u) else aim
        expected = [rise_s(1.0, 0.1, level, aim=aim) / rise_s(1.0, aim=aim) for level in LEVELS]
    if any(abs(seen - wanted) > slack for seen, wanted in zip(shares, expected, strict=True)):
        return Shape(BENT)
    if math.isinf(aim):
        return Shape(STRAIGHT)
    tau, moved = (seconds / rise_s(1.0, aim=k) for k in (aim, aim_of(shares[2] + max(SETTLES, u))))
    of_aim = 2 * abs(moved - tau) if aim > 1 else 0.0
    return Shape(EXPONENTIAL, tau, math.hypot(seconds_u / rise_s(1.0, aim=aim), of_aim), aim)
