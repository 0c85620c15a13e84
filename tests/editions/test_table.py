"""The table of editions has a row for each field of a job, and what it says is what is done."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest

from benchrecord.editions import for_reader
from benchrecord.editions.table import CALLED, ORDER, TABLE, UNSAID, Rule, Way, least_reader, may_see, rows
from benchrecord.model import job as model
from benchrecord.model.job import Costs, Edition, Fault, Instrument, Job, Note, Owner, PartWork, Technician

PARTS_OF_A_JOB = [c for c in vars(model).values() if is_dataclass(c) and getattr(c, "__module__", "") == model.__name__]
FILLED: dict[str, Any] = {"str": "MARKED-7", "float | None": 7.0625}


@pytest.mark.parametrize("kind", PARTS_OF_A_JOB, ids=lambda c: c.__name__)
def test_each_field_has_a_row_and_each_row_a_field(kind: type) -> None:
    assert set(TABLE[kind]) == {f.name for f in fields(kind)}


def test_no_row_is_of_anything_else() -> None:
    assert set(TABLE) == set(CALLED) == set(PARTS_OF_A_JOB)
    assert len(PARTS_OF_A_JOB) > 20


def restricted() -> Iterator[tuple[type, str, Rule]]:
    yield from (row for row in rows() if row[2].least is not Edition.PORTFOLIO)


def holding(kind: type, name: str, value: object) -> Job:
    """Return a job in which one field of one part says something."""
    job, more = Job("j", "T"), {name: value}
    if kind is PartWork:
        return replace(job, parts=(replace(PartWork("", "R1", "cleaned"), **more),))
    if kind is Fault:
        return replace(job, faults=(replace(Fault("hum"), **more),))
    if kind is Note:
        return replace(job, notes=(replace(Note("n", "notes/n.md", "N", "words"), **more),))
    whole = {Instrument: "instrument", Owner: "owner", Technician: "technician", Costs: "costs"}[kind]
    return replace(job, **{whole: replace(kind(), **more)})


@pytest.mark.parametrize(("kind", "name", "rule"), [*restricted()], ids=lambda v: getattr(v, "__name__", None))
def test_a_field_is_there_for_those_who_may_see_it_and_for_nobody_else(kind: type, name: str, rule: Rule) -> None:
    value = next(FILLED[str(f.type)] for f in fields(kind) if f.name == name)
    job = holding(kind, name, value)
    shown = [repr(value) in repr(for_reader(job, reader)) for reader in ORDER]
    summed = rule.way is Way.SUMMED  # the sum of one price is that price, and it is the owner's to know
    assert shown == [may_see(reader, Edition.OWNER if summed else rule.least) for reader in ORDER]


def test_an_item_may_be_for_fewer_and_what_is_the_technicians_stays_theirs() -> None:
    part = PartWork("", "R1", "replaced", supplier="Quayside")
    assert least_reader(part) is None
    assert [for_reader(Job("j", "T", parts=(part,)), e).parts[0].supplier for e in ORDER] == ["", "", "Quayside"]
    assert set(UNSAID) == {model.Document}
    assert not any(f.name == "edition" for kind in (Owner, Costs, Instrument, PartWork) for f in fields(kind))
