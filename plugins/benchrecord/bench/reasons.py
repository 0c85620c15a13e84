"""A result that cannot be had."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NotHad:
    """Stands in the place of a result, and says why there is none."""

    reason: str

    def __bool__(self) -> bool:
        """Count as nothing."""
        return False
