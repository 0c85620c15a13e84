"""Sums over parts that were replaced."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

# Prefixes of units, where two ratings of one unit are written with different ones.
PREFIXES = {"": 1.0, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "u": 1e-6, "µ": 1e-6, "μ": 1e-6}
_RATING = re.compile(
    r"(?<!\d)(?P<number>\d++(?:[.,]\d++)?)(?:\s*+/\s*+(?P<below>[1-9]\d*+))?\s*+(?P<prefix>[mkKMuµμ]?)(?P<unit>[A-Za-z°Ω]+)"
)


def ratings(text: str) -> dict[str, float]:
    """Return each rating of a text by its unit: ``1/2 W 350 V`` gives W 0.5 and V 350; of two with one unit, the lower."""
    found: dict[str, float] = {}
    for match in _RATING.finditer(text):
        value = float(match["number"].replace(",", ".")) / float(match["below"] or 1) * PREFIXES[match["prefix"]]
        found[match["unit"]] = min(value, found.get(match["unit"], value))
    return found


def rating_lowered(was: str, now: str) -> bool:
    """Say whether any rating that both texts give is lower than it was."""
    before, after = ratings(was), ratings(now)
    return any(after[unit] < before[unit] for unit in before.keys() & after.keys())


def counts_by_reason(counted: Iterable[tuple[str, int]]) -> dict[str, int]:
    """Return how many parts were replaced for each reason, the most frequent first, then by name.

    Parameters
    ----------
    counted : reason and quantity of each row

    """
    counts: Counter[str] = Counter()
    for reason, quantity in counted:
        counts[reason] += quantity
    return dict(sorted(counts.items(), key=lambda c: (-c[1], c[0])))
