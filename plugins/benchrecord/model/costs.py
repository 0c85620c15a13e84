"""What the parts of a job cost together."""

from __future__ import annotations

from collections.abc import Iterable

from benchrecord.model.job import PartWork

AT_LEAST = "at least "


def cost_of_parts(parts: Iterable[PartWork], currency: str = "") -> tuple[float | None, str]:
    """Sum quantity times unit cost of what was fitted, in the currency of the costs; None with a reason where that is not known.

    There is no sum where a new part has no price, since it would look whole: the reason says what it is at least, and what it lacks.
    """
    fitted = [p for p in parts if p.status == "fitted"]
    priced = [p.qty * p.unit_cost for p in fitted if p.unit_cost is not None]
    if not priced:
        return None, "no prices are given"
    without = [p.ref for p in fitted if p.unit_cost is None and p.action in ("replaced", "added")]
    if not without:
        return sum(priced), ""
    least = f"{sum(priced):.2f} {currency}".strip()
    return None, f"{AT_LEAST}{least}; no price for {len(without)}: {', '.join(without)}"
