"""The keys that a kind of check has of its own, read by what each may hold."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchrecord.intake.tables import read_value
from benchrecord.intake.yaml_file import YES, Facts, Node, plain
from benchrecord.model.notation import LETTER_ALONE, parse_quantity, prefix_meant
from benchrecord.model.quantity import convert, dimension, in_unit
from benchrecord.model.table import Column, Holds
from benchrecord.problems import Problem

SHORT = 80


def read_keys(facts: Facts, columns: Sequence[Column], report: list[Problem]) -> dict[str, Any]:
    """Return the keys that are written and can be read; each that cannot is a problem."""
    given = {c.name: _key(facts, c, report) for c in columns if facts.get(c.name) is not None}
    return {name: value for name, value in given.items() if value is not None}


def _key(facts: Facts, column: Column, report: list[Problem]) -> Any:
    readers: dict[Holds, Callable[[Facts, Column, list[Problem]], Any]] = {
        Holds.NUMBER: _number, Holds.QUANTITY: _number, Holds.PAIR: _pair, Holds.PAIRS: _pairs, Holds.STEPS: _steps,
        Holds.NUMBER_OR_YES: _number_or_yes, Holds.RECORDING: _recording,
    }  # fmt: skip
    if column.holds in readers:
        return readers[column.holds](facts, column, report)
    if column.holds is Holds.ANY:
        node = facts.get(column.name)
        return plain(node) if node else None
    text = facts.text(column.name)
    value, wrong = read_value(column, text)
    if wrong:
        report.append(Problem(wrong[0], facts.at(column.name), text[:SHORT], wrong[1], wrong[2]))
    return value


def _number(facts: Facts, column: Column, report: list[Problem]) -> float | None:
    found, at = facts.quantity(column.name), facts.at(column.name)
    if found is None:
        return None
    if column.unit and found.unit and dimension(found.unit) != dimension(column.unit):
        meant = prefix_meant(found.text, column.unit)
        remedy = f"write {column.name}: {meant or f'and a number in {column.unit}'}"
        report.append(Problem("wrong-unit", at, found.text, f"a value in {column.unit}{LETTER_ALONE * bool(meant)}", remedy))
        return None
    value = convert(found.value, found.unit, column.unit) if column.unit and found.unit else found.value
    if column.positive and value <= 0:
        report.append(
            Problem("not-positive", at, found.text, "more than zero", f"write {column.name}: and a number above zero")
        )
        return None
    return value


def _number_or_yes(facts: Facts, column: Column, report: list[Problem]) -> float | bool | None:
    """Return a number, or yes where somebody wants to know without a number in mind."""
    return True if facts.text(column.name).lower() in YES else _number(facts, column, report)


def _recording(facts: Facts, column: Column, _report: list[Problem]) -> str | None:
    return facts.path(column.name, "recordings") or None


def _pair(facts: Facts, column: Column, report: list[Problem]) -> tuple[float, float] | None:
    found = facts.pair(column.name, column.unit)
    return _rising(found, facts.get(column.name), column, report) if found else None


def _rising(pair: tuple[float, float], node: Node | None, column: Column, report: list[Problem]) -> tuple[float, float] | None:
    """Return two numbers of which the second is the larger."""
    low, high = pair
    if node is None or (low < high and (low > 0 or not column.positive)):
        return pair
    code, expected = ("limits-reversed", "the smaller number first") if low >= high else ("not-positive", "more than zero")
    report.append(Problem(code, node.place, node.said()[:SHORT], expected, f"write {column.name}: [10, 20]"))
    return None


def _pairs(facts: Facts, column: Column, report: list[Problem]) -> dict[str, tuple[float, float]] | None:
    """Return two numbers for each of several names, such as the range wanted of each stage."""
    node, known = facts.get(column.name), column.choice
    if node is None or node.keys is None:
        example = f"write {column.name}: {{{known[0] if known else 'name'}: [0.002, 2]}}"
        report.append(
            Problem(
                "wrong-type", facts.at(column.name), node.said()[:SHORT] if node else "", "two numbers for each name", example
            )
        )
        return None
    own = Facts.of(node, node.place, report, known or [*node.keys])
    found: dict[str, tuple[float, float]] = {}
    for name in node.keys:
        pair = own.pair(name, column.unit) if not known or name in known else None
        if pair and (rising := _rising(pair, own.get(name), column, report)):
            found[name] = rising
    return found


def _steps(facts: Facts, column: Column, report: list[Problem]) -> tuple[float | str, ...] | None:
    """Return a list of numbers in a unit, or of notes."""
    steps = [_step(node, column, report) for node in facts.nodes(column.name)]
    return tuple(s for s in steps if s is not None) if steps and None not in steps else None


def _step(node: Node, column: Column, report: list[Problem]) -> float | str | None:
    text = node.text or ""
    quantity = parse_quantity(text)
    value = in_unit(quantity, column.unit) if quantity else None
    if value is not None:
        return value
    note, wrong = read_value(Column(column.name, Holds.NOTE), text)
    if quantity or wrong or not text:
        expected = f"a number in {column.unit}, or a note" if column.unit else "a number, or a note"
        report.append(
            Problem("not-a-number", node.place, node.said()[:SHORT], expected, f"write {column.name}: [0, 1, 2] or [C2, C3]")
        )
        return None
    return str(note)
