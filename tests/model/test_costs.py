"""The cost of parts: a sum only where it is whole."""

from __future__ import annotations

from benchrecord.model.costs import cost_of_parts
from benchrecord.model.job import PartWork


def test_quantity_times_price_of_what_was_fitted() -> None:
    fitted, dear = PartWork("", "R1", "replaced", qty=2.0, unit_cost=0.25), PartWork("", "U1", "added", unit_cost=3.0)
    assert cost_of_parts([fitted, dear]) == (3.5, "")
    assert cost_of_parts([fitted, PartWork("", "U2", "replaced", unit_cost=9.0, status="ordered")]) == (0.5, "")


def test_no_sum_where_a_new_part_has_no_price_or_none_has() -> None:
    assert cost_of_parts([PartWork("", "R1", "replaced", unit_cost=1.0), PartWork("", "R2", "added")]) == (
        None,
        "at least 1.00; no price for 1: R2",
    )
    assert cost_of_parts([]) == (None, "no prices are given")
