"""Steps that were played in another order than they are listed, or one more or one less of them: what is written about that."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.bench.misreading import in_another_order, without_one

MOST_NAMED = 8  # pitches in a sentence


def other_order(steps: Sequence[float | str], octaves: Sequence[float], hz: Sequence[float]) -> str:
    """Say that steps were played in another order than they are listed, and how to list them; empty where they were not.

    Parameters
    ----------
    steps : as they are listed
    octaves : the nominal octaves of each
    hz : the pitches, in the order they were played

    """
    played = in_another_order(octaves, hz)
    if played is None:
        return ""
    order = ", ".join(_written(steps[n]) for n in played)
    return f"the steps fit the scale sorted by pitch, and not in the order they are listed: write steps: [{order}], as they were played"


def miscounted(reason: str, steps: Sequence[float | str], octaves: Sequence[float], hz: Sequence[float]) -> str:
    """Add to the reason which pitches there are, and which one is too many or which step is missing."""
    listed = ", ".join(f"{f:.5g}" for f in hz[:MOST_NAMED])
    pitches = f"{reason} (at {listed}{' …' if len(hz) > MOST_NAMED else ''} Hz)"
    odd = without_one(octaves, hz)
    if odd is None:
        return pitches
    which = f"the one at {hz[odd]:.5g} Hz" if len(hz) > len(octaves) else f"step {_written(steps[odd])}"
    return f"{pitches}; without {which} they fit"


def _written(step: float | str) -> str:
    return step if isinstance(step, str) else f"{step:g}"
