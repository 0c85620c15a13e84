"""Words that all kinds share."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.model.findings import CheckFinding, DataTable, Item, ResultWarning, Side, Value, Verdict, worst_of
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import factor, powers_of_thousand

SAID = {Verdict.IN: "within limits", Verdict.OUT: "out of limits", Verdict.TOO_CLOSE: "too close to call"}
JUDGED = (Verdict.OUT, Verdict.TOO_CLOSE, Verdict.IN)  # the worst first
NOT_YET = "Not measured yet."


def judged(side: Side | None) -> tuple[Item, ...]:
    """Return the items of a side that were held against a limit."""
    return tuple(i for i in side.items if i.verdict in JUDGED) if side else ()


def found_and_left(found: Side | None, left: Side | None, what: str) -> str:
    """Compare both sides by their items: ``As left, 6 of 6 readings are within limits; as found it was 2 of 6``."""
    if not found and not left:
        return NOT_YET
    if len((left or found or Side(Verdict.NOT_MEASURED)).items) == 1:
        return _of_one(found, left)
    before, now = judged(found), judged(left)
    if now:
        return f"As left, {_are_within(now, what)}{_compared(before, now)}."
    if before:
        return f"As found, {_are_within(before, what)}; none of them is measured as left yet."
    return f"These {what} are for information: there is no limit to hold them against."


def _compared(before: Sequence[Item], now: Sequence[Item]) -> str:
    """Count both stages over the items that were measured both times: ``; as found it was 0 of 2``."""
    both = {(i.item, i.ref) for i in before} & {(i.item, i.ref) for i in now}
    was, are = ([i for i in items if (i.item, i.ref) in both] for items in (before, now))
    if not both:
        return ""
    if len(are) == len(now):
        return f"; as found it was {_count(was)}"
    inside, before_it = (sum(i.verdict is Verdict.IN for i in items) for items in (are, was))
    now_in, was_in = f"{inside} {'is' if inside == 1 else 'are'}", f"{before_it} {'was' if before_it == 1 else 'were'}"
    return f"; of the {len(are)} measured both times, {now_in}, and {was_in} as found"


def _count(items: Sequence[Item]) -> str:
    return f"{sum(i.verdict is Verdict.IN for i in items)} of {len(items)}"


def _are_within(items: Sequence[Item], what: str) -> str:
    """Word how many items are within their limits, and how many nobody can tell of: ``5 of 6 readings are within limits``."""
    inside, close = (sum(i.verdict is v for i in items) for v in (Verdict.IN, Verdict.TOO_CLOSE))
    named = what.removesuffix("s") if len(items) == 1 else what
    said = f"{_count(items)} {named} {'is' if inside == 1 else 'are'} within limits"
    return f"{said} and {close} {'is' if close == 1 else 'are'} too close to call" if close else said


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


def worst_item(items: Sequence[Item], rooms: Sequence[float | None]) -> Item | None:
    """Return the item that stands worst: by verdict, then by the room to its limit as a share of what its limits allow."""
    order = [
        (JUDGED.index(i.verdict), r or 0.0, n) for n, (i, r) in enumerate(zip(items, rooms, strict=True)) if i.verdict in JUDGED
    ]
    return items[min(order)[2]] if order else None


def against_limit(item: Item) -> str:
    """Word how far a judged item is from its limit: ``0.13 V inside its limit``."""
    room, u = item.results["margin"], item.results["expanded_uncertainty"]
    number = float(room.value or 0.0)  # type: ignore[arg-type]  # a judged item has a number
    distance = shown(Value(abs(number), room.unit, room.uncertainty, room.decimals))
    said = "just on its limit" if is_nothing(distance) else f"{distance} {'inside' if number >= 0 else 'beyond'} its limit"
    if item.verdict is not Verdict.TOO_CLOSE:
        return said
    if isinstance(u.value, float) and abs(number) > u.value:
        return f"{said}, too close to call for what is doubtful about it"
    return f"{said}, too close to call with an uncertainty of {shown(Value(u.value, u.unit, u.uncertainty or _number(u)))}"


def not_left(left: Side | None) -> str:
    """Say that nothing is known as left: that nothing was recorded, or that a recording gave no result."""
    return "it could not be worked out as left" if left else "it is not measured as left yet"


def unit_slip(value: float, reference: float | None, *results: str) -> tuple[ResultWarning, ...]:
    """Warn of a value that is a power of a thousand away from what it is compared with."""
    power = powers_of_thousand(value, reference) if reference else 0
    if not power:
        return ()
    message = (
        f"It is a factor of {factor(power)} from the value it is compared with: most likely one of the two has another unit."
    )
    return (ResultWarning("unit-slip", message, results),)


def is_nothing(words: str) -> bool:
    """Say whether a number as it is shown has only noughts."""
    return not any(digit in words for digit in "123456789")


def change(value: Value) -> str:
    """Show by how much something changes, with its sign; ``less than 0.05 dB`` where that is nothing beside its uncertainty."""
    said = shown(value, sign=True)
    if value.uncertainty and is_nothing(said.removesuffix(value.unit)):
        return f"less than {shown(Value(value.uncertainty, value.unit, value.uncertainty))}"
    return said


def _number(value: Value) -> float | None:
    return value.value if isinstance(value.value, float) else None


def nearest(finding: CheckFinding) -> str:
    """Caption a chart with the item that stands worst: ``Nearest to its limit as left: …``."""
    worst = finding.worst_said("Nearest to its limit")
    return f"{finding.plain} {worst}" if worst else finding.plain


def listed(lines: DataTable, most: int) -> tuple[DataTable, DataTable | None]:
    """Return the first lines, which a page lists, and all of them where there are more."""
    return DataTable(lines.columns, lines.rows[:most]), lines if len(lines.rows) > most else None


def sides_said(finding: CheckFinding) -> str:
    """Name the sides that were measured: ``as found and as left``."""
    return " and ".join(name for name, side in (("as found", finding.found), ("as left", finding.left)) if side)


def counted(number: int, one: str) -> str:
    """Write ``1 reading``, ``2 readings``."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def with_sign(value: Value) -> str:
    """Show a value with its sign."""
    return shown(value, sign=True)
