"""Results that cannot be negative: one whose uncertainty is larger than itself has no value, only an upper bound."""

from __future__ import annotations

import math

from benchrecord.model.findings import Value
from benchrecord.model.numbers import shown

TOO_UNCERTAIN = "its uncertainty is larger than itself"


def upper_bound(value: Value) -> Value | None:
    """Return the most that a non-negative result can be (k = 2) where its uncertainty is larger than itself; else None."""
    number, u = value.value, value.uncertainty
    if not isinstance(number, float) or u is None or not math.isfinite(u) or u <= number:
        return None
    return Value(number + u, value.unit, decimals=max(0, 1 - math.floor(math.log10(u))))  # two digits of the uncertainty


def non_negative(value: Value, *, bounded: bool = True) -> Value:
    """Return a result that cannot be negative; no value, with a reason, where its uncertainty is larger than itself.

    The reason names the upper bound, unless ``bounded`` is false: a quotient has none where its divisor may be zero.
    """
    most = upper_bound(value)
    if most is None:
        return value
    return Value(None, value.unit, reason=f"{TOO_UNCERTAIN}: it is {shown(most)} at most" if bounded else TOO_UNCERTAIN)
