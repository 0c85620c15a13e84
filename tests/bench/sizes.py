"""How much a benchmark measures: what its command line says, as much as is usual, or hardly anything."""

from __future__ import annotations

import sys

TINY = "--tiny" in sys.argv  # only whether it runs: no figure of it tells anything


def sizes(*usual: int, tiny: tuple[int, ...]) -> list[int]:
    """Return the numbers of the command line, filled up with the usual ones, or those of ``--tiny``."""
    given = [int(word) for word in sys.argv[1:] if word.isdigit()]
    return list(tiny) if TINY else [*given, *usual[len(given) :]]
