"""What the parts of a job cost together."""

from __future__ import annotations

from collections.abc import Iterable

from benchrecord.model.job import PartWork


def cost_of_parts(parts: Iterable[PartWork]) -> tuple[float | None, str]:
    """Sum quantity times unit cost of what was fitted, in the currency of the costs; None with a reason where that cannot be told.

    There is no sum where a new part has no price: it would look whole.
    """
    fitted = [p for p in parts if p.status == "fitted"]
    priced = [p.qty * p.unit_cost for p in fitted if p.unit_cost is not None]
    if not priced:
        return None, "no prices are given"
    without = [p.ref for p in fitted if p.unit_cost is None and p.action in ("replaced", "added")]
    return (None, f"no price is given for {', '.join(without)}") if without else (sum(priced), "")
