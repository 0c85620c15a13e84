"""Contacts: which of them are open or high, and what the others have."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Contacts:
    """What a field of contacts comes to; numbers of contacts count in the order of the readings.

    ``worst`` and ``median_ohm`` are of the contacts that close, and None where none does.
    """

    open: tuple[int, ...]
    high: tuple[int, ...]
    worst: int | None
    median_ohm: float | None


def sort_out(ohms: Sequence[float | None], *, open_above: float | None = None, high_above: float | None = None) -> Contacts:
    """Sort contacts by their resistance.

    Open is what has no reading, or one above ``open_above``; high is what closes, with more than ``high_above``.

    Parameters
    ----------
    ohms : (n,) resistance of each closed contact in Ω, None where nothing could be read

    """
    closed = {n: ohm for n, ohm in enumerate(ohms) if ohm is not None and (open_above is None or ohm <= open_above)}
    return Contacts(
        open=tuple(n for n in range(len(ohms)) if n not in closed),
        high=tuple(n for n, ohm in closed.items() if high_above is not None and ohm > high_above),
        worst=max(closed, key=lambda n: closed[n], default=None),
        median_ohm=2 * statistics.median(ohm / 2 for ohm in closed.values()) if closed else None,  # two halves never overflow
    )
