"""Where a value stands on the scale of its own limits."""

from __future__ import annotations

import math

from benchrecord.bench.conformity import margin

BEYOND = 3.0  # where a chart shows a value whose limits leave no width to scale it by
FAR_INSIDE = -0.9  # of a single limit: what lies farther inside stays in the band


def width(low: float | None, high: float | None) -> float:
    """Return half the width that two limits leave; of a single limit its size."""
    if low is not None and high is not None:
        return (high - low) / 2
    return abs(low if low is not None else high or 0.0)


def room(value: float | None, low: float | None, high: float | None) -> float | None:
    """Return the margin of a value as a share of what its limits allow; None where either is missing."""
    left = None if value is None else margin(value, low, high)
    return None if left is None else left / (width(low, high) or 1.0)


def place(value: float | None, low: float | None, high: float | None) -> float | None:
    """Return where a value lies: -1 at its low limit, 1 at its high one.

    Of a single limit the distance counts in its own size, so that a reading of zero stands in the middle.
    """
    left = room(value, low, high)
    if value is None or left is None:
        return None
    if not width(low, high):
        left = 1.0 if left > 0 else 0.0 if left == 0 else 1.0 - BEYOND
    if low is not None and high is not None:
        return math.copysign(1 - left, value - (low + high) / 2)
    return (1.0 if low is None else -1.0) * max(1 - left, FAR_INSIDE)
