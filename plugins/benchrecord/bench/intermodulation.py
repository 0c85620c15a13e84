"""What harmonics of two tones make with each other: which of it falls on lines that are to be read, and which tones are free of that."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchrecord.bench.fits import Floats

HIGHEST = 9  # harmonics of either tone,
SWITCHED = 99  # or of one with the other once at most: those of a square are strong far up
FARTHEST, STEP_HZ = 0.3, 1.0  # of a signal, that another one is looked for in its place, and in what steps
MOVED = (1.0, 1.05, 0.95, 1.2, 1.5, 2.0, 3.0)  # times a carrier, and the signal with it: high tones have more room


@dataclass(frozen=True, slots=True)
class Coincidence:
    """A line a·carrier ± b·signal that falls on another: how it is made, its order a + b, which line it falls on, and where its twin lies, Hz.

    The twin a·carrier ∓ b·signal is made in the same way; what is heard of it tells how strong both are.
    """

    name: str
    on: str
    twin_hz: float
    order: int


def main_lines(carrier_hz: float, signal_hz: float) -> dict[str, float]:
    """Return the lines of a product by name: both tones, their sum and their difference, Hz."""
    return {
        "carrier": carrier_hz,
        "signal": signal_hz,
        "sum": carrier_hz + signal_hz,
        "difference": abs(carrier_hz - signal_hz),
    }


def coincidences(carrier_hz: float, signal_hz: float, apart_hz: float) -> tuple[Coincidence, ...]:
    """Return what falls on a main line, or closer to one than can be told apart: the lowest harmonics first."""
    lines = main_lines(carrier_hz, signal_hz)
    off = np.abs(_made(carrier_hz, signal_hz)[:, None] - [*lines.values()])
    return tuple(
        Coincidence(_name(a, b), [*lines][nearest], abs(a * carrier_hz - b * signal_hz), a + abs(b))
        for (a, b), nearest, gap in zip(_ORDERS.tolist(), off.argmin(axis=1).tolist(), off.min(axis=1), strict=True)
        if gap < apart_hz
    )


def free_tones(
    carrier_hz: float, signal_hz: float, *, apart_hz: float, lines_apart_hz: float, top_hz: float
) -> tuple[float, float] | None:
    """Return tones near two others of which nothing falls together: the carrier as it is, or else both moved; None where there are none.

    All lines lie below ``top_hz``, ``lines_apart_hz`` or more from each other and ``apart_hz`` or more from what harmonics make.
    """
    for times in MOVED:
        carrier = float(round(carrier_hz * times))
        steps = np.arange(0.0, FARTHEST * signal_hz * times, STEP_HZ)
        for signal in np.rint(signal_hz * times + np.stack([steps, -steps], axis=1).ravel()):
            lines = np.array(sorted(main_lines(carrier, float(signal)).values()))
            gaps = np.diff(np.concatenate(([0.0], lines)))
            if lines[-1] <= top_hz and gaps.min() >= lines_apart_hz and _is_free(carrier, float(signal), lines, apart_hz):
                return carrier, float(signal)
    return None


def _orders() -> Iterator[tuple[int, int]]:
    """Yield how many times each tone counts, the signal's below nothing where it is taken off, of all that is no main line."""
    both = itertools.product(range(SWITCHED + 1), range(SWITCHED + 1))
    for a, b in both:
        low, high = sorted((a, b))
        if a + b > 1 and (a, b) != (1, 1) and (high <= HIGHEST or low <= 1):
            yield from ((a, b), (a, -b)) if low else ((a, b),)


_ORDERS = np.array(sorted(_orders(), key=lambda order: (order[0] + abs(order[1]), order)))


def _made(carrier_hz: float, signal_hz: float) -> Floats:
    """Return where each of the orders lies, (n,) Hz."""
    return np.asarray(np.abs(_ORDERS @ np.array([carrier_hz, signal_hz])))


def _name(a: int, b: int) -> str:
    parts = [f"{'' if n == 1 else f'{n}·'}{what}" for n, what in ((a, "carrier"), (abs(b), "signal")) if n]
    return (" + " if b > 0 else " − ").join(parts)


def _is_free(carrier_hz: float, signal_hz: float, lines: Floats, apart_hz: float) -> bool:
    return bool(np.abs(_made(carrier_hz, signal_hz)[:, None] - lines).min() >= apart_hz)
