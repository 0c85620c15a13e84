"""Words that all kinds share."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.model.findings import Item, Side, Value, Verdict, worst_of
from benchrecord.model.numbers import shown

SAID = {
    Verdict.IN: "within limits",
    Verdict.OUT: "out of limits",
    Verdict.TOO_CLOSE: "too close to call",
    Verdict.INFORMATION: "for information, no limit is set",
    Verdict.NOT_MEASURED: "not measured",
}


def count_in(side: Side) -> str:
    """Word how many items of a side are within their limits: ``5 of 6``."""
    judged = [i for i in side.items if i.verdict in (Verdict.IN, Verdict.OUT, Verdict.TOO_CLOSE)]
    return f"{sum(i.verdict is Verdict.IN for i in judged)} of {len(judged)}"


def found_and_left(found: Side | None, left: Side | None, what: str) -> str:
    """Compare both sides by their items: ``As left, 6 of 6 readings are within limits; as found it was 2 of 6``."""
    if len((left or found or Side(Verdict.NOT_MEASURED)).items) == 1:
        return _of_one(found, left)
    judged = [
        s
        for s in (found, left)
        if s and worst_of(i.verdict for i in s.items) not in (Verdict.INFORMATION, Verdict.NOT_MEASURED)
    ]
    if not judged:
        return f"These {what} are for information: no limit is set."
    if left in judged and left:
        before = f"; as found it was {count_in(found)}" if found and found in judged else ""
        return f"As left, {count_in(left)} {what} are within limits{before}."
    return f"As found, {count_in(judged[0])} {what} are within limits; the work is not finished." if found else ""


def _of_one(found: Side | None, left: Side | None) -> str:
    """Tell of the only item of a check: ``Noise out reads 1.02 V as left; it was 0.31 V as found``."""
    said = [f"{shown(s.items[0].results['value'])} {when}" for s, when in ((left, "as left"), (found, "as found")) if s]
    name = (left or found or Side(Verdict.NOT_MEASURED)).items[0].item
    before = f"; it was {said[1]}" if len(said) > 1 else ""
    return f"{name[:1].upper()}{name[1:]} reads {said[0]}{before}."


def side_of(items: Sequence[Item], worst: str) -> Side | None:
    """Make a side of its items; None where nothing at all was measured."""
    verdict = worst_of(i.verdict for i in items)
    return Side(verdict, {}, tuple(items), worst) if verdict is not Verdict.NOT_MEASURED else None


def nearest_limit_first(items: Sequence[Item]) -> list[Item]:
    """Order items by how badly they stand: by verdict, then by margin as a share of the nominal value."""
    order = (Verdict.OUT, Verdict.TOO_CLOSE, Verdict.IN)
    return sorted((i for i in items if i.verdict in order), key=lambda i: (order.index(i.verdict), _relative_margin(i)))


def _relative_margin(item: Item) -> float:
    margin, value = item.results["margin"].value, item.results["value"].value
    return float(margin or 0.0) / (abs(float(value or 0.0)) or 1.0)  # type: ignore[arg-type]  # both are numbers here


def with_sign(value: Value) -> str:
    """Show a value with its sign."""
    return shown(value, sign=True)
