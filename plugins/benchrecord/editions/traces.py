"""What of a job a reader must not come upon: every value that the whole job has and the reader's job has not."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from benchrecord.editions.comments import uncommented
from benchrecord.editions.table import TABLE, Personal, Rule, called, may_see
from benchrecord.model.job import NOWHERE, Check, Edition, Job, Note
from benchrecord.model.prose import without_comments
from benchrecord.model.quantity import Quantity
from benchrecord.model.table import Table
from benchrecord.problems import Place

BODY, READINGS = called(Note, "body"), called(Check, "table")
A_NUMBER = re.compile(r"[+−-]?[\d.,]+")


@dataclass(frozen=True, slots=True)
class Trace:
    """A private value: the field that holds it, the value, and of which kind it is where it is private wherever it stands.

    ``keywords`` are the words that say what a value is.
    """

    field: str
    value: str
    personal: Personal | None = None
    keywords: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Leaf:
    """One value of a job, the field that holds it, its rule, and where it was written."""

    field: str
    value: str
    rule: Rule
    place: Place


def traces(jobs: Iterable[Job], shown: Iterable[Job], reader: Edition) -> tuple[Trace, ...]:
    """Return what a reader of some jobs (``shown``, as that reader sees them) must not come upon, of all jobs that there are."""
    known = [leaf for job in shown for leaf in every(job)]
    seen = {(leaf.field, leaf.value) for leaf in known}
    own = {leaf.value for leaf in known if leaf.rule.personal and _open_to(reader, leaf)}  # the sum of one price is that price
    hidden = [leaf for job in jobs for leaf in every(job) if (leaf.field, leaf.value) not in seen or not _open_to(reader, leaf)]
    found = {
        Trace(leaf.field, leaf.value, None if _open_to(reader, leaf) else leaf.rule.personal, leaf.rule.keywords)
        for leaf in hidden
        if leaf.value not in own and not _is_one_reading(leaf)
    }
    return tuple(sorted(found, key=lambda t: (t.field, t.value)))


def _is_one_reading(leaf: Leaf) -> bool:
    """Say whether a value is a single reading, which tells nothing: what another check finds may well be the same."""
    return leaf.field == READINGS and A_NUMBER.fullmatch(leaf.value) is not None


def _open_to(reader: Edition, leaf: Leaf) -> bool:
    return may_see(reader, leaf.rule.least)


def every(job: Job) -> Iterator[Leaf]:
    """Yield each value of a job, and the readings of each check as they stand in its table, one after the other."""
    yield from leaves(job)
    for check in job.checks:
        if check.table:
            cells = (uncommented(cell.text).strip() for row in check.table.rows for cell in row.cells.values())
            yield Leaf(READINGS, " ".join(filter(None, cells)), TABLE[Check]["table"], check.place)


def leaves(part: object, place: Place = NOWHERE) -> Iterator[Leaf]:
    """Yield each text and each number of a part of a job that is not empty, with the field that holds it."""
    own = getattr(part, "place", place)
    for name, rule in TABLE[type(part)].items():
        field, held = called(type(part), name), getattr(part, name)
        if isinstance(held, Table):
            cells = (c for row in held.rows for c in row.cells.values())
            yield from (Leaf(field, said, rule, c.place) for c in cells if (said := uncommented(c.text).strip()))
        for value in _values(held):
            if type(value) in TABLE:
                yield from leaves(value, own)
            elif isinstance(value, str):
                said = without_comments(value) if field == BODY else uncommented(value)  # comments are in no edition
                if said:
                    yield Leaf(field, said, rule, _at(part, name, own))
            elif rule.least is not Edition.PORTFOLIO:
                yield Leaf(field, f"{value:.12g}", rule, _at(part, name, own))


def _at(part: object, name: str, own: Place) -> Place:
    """Return where a field was written: the first line of a note's words, the place that its file tells, or its column."""
    if isinstance(part, Note) and name == "body":
        return Place(part.file, part.body_line)
    named: Any = getattr(part, "at", {})
    return named[name] if isinstance(named, Mapping) and name in named else Place(own.file, own.line, name)


def _values(value: Any) -> Iterator[Any]:
    """Yield what a field holds, one by one: parts of a job, texts, numbers."""
    if (
        type(value) in TABLE
        or (isinstance(value, str) and value)
        or isinstance(value, float)
        or (isinstance(value, int) and not isinstance(value, bool))
    ):
        yield value
    elif isinstance(value, tuple | list):
        for inner in value:
            yield from _values(inner)
    elif isinstance(value, Mapping):
        yield from (v for inner in value.items() for v in _values(inner))
    elif isinstance(value, Quantity):
        yield value.text
