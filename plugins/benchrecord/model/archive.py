"""What the archive gathers across jobs: rows with the job that they are of, what is due when, and what it came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Generic, TypeVar

from benchrecord.model.job import DateCode, Document, Fault, Job, PartWork

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class Entry(Generic[Item]):
    """A row of a job: its number in its table, from 1, and the exact reference of the part that it names (empty for none)."""

    job: Job
    item: Item
    number: int
    key: str = ""


@dataclass(frozen=True, slots=True)
class Dated:
    """A date code with what it tells: the date as ISO 8601 writes it and in words, how sure that is, and whether it is of a later part.

    A code that cannot be read has no date, and ``words`` say why.
    """

    entry: Entry[DateCode]
    iso: str
    words: str
    sure: str = ""
    younger: bool = False


@dataclass(frozen=True, slots=True)
class Account:
    """What a job took: hours, their price and the price of the parts in its currency. None is not known; ``reason`` says why.

    ``at_least`` says that hours are missing from the notes: hours, labour and total are no less than they are here.
    """

    job: Job
    hours: float | None = None
    labour: float | None = None
    parts: float | None = None
    total: float | None = None
    reason: str = ""
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """A day or a month at which a job asks for something: the end of its warranty, or its next service."""

    job: Job
    what: str
    when: date | str  # a month alone is text, as 2031-04
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class Dues:
    """What is due by a day: services that are overdue, what comes in the twelve months from then, and what later; each by its date."""

    over: tuple[Due, ...] = ()
    coming: tuple[Due, ...] = ()
    later: tuple[Due, ...] = ()


@dataclass(frozen=True, slots=True)
class Archive:
    """All that is looked up across jobs. ``as_of`` is the day that it is told for; None where no job has a date."""

    jobs: tuple[Job, ...]
    as_of: date | None = None
    works: tuple[Entry[PartWork], ...] = ()
    faults: tuple[Entry[Fault], ...] = ()
    codes: tuple[Dated, ...] = ()
    documents: tuple[Entry[Document], ...] = ()
    accounts: Mapping[str, Account] = field(default_factory=dict)  # by the job's id
    dues: Dues = Dues()
    here: tuple[Job, ...] = ()  # received and not yet returned
