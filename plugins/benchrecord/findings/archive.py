"""The archive's sums: rows of all jobs with their parts, what each job took, and what is due in the twelve months from a day."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import MAXYEAR, date
from typing import TypeVar

from benchrecord.bench.date_codes import Sure, read_code
from benchrecord.bench.reasons import NotHad
from benchrecord.model.archive import Account, Archive, Dated, Due, Dues, Entry
from benchrecord.model.costs import cost_of_parts
from benchrecord.model.job import DateCode, Fault, Job, PartRow, PartWork
from benchrecord.model.references import Target, index_of, part_key

Row = TypeVar("Row", PartWork, Fault, DateCode)
WARRANTY, SERVICE = "warranty ends", "service due"
MONTH = re.compile(r"(\d{4})-(\d{2})")


def gather(jobs: Sequence[Job], as_of: date | None = None) -> Archive:
    """Gather all that the archive looks up across jobs, as of a day: without one, the latest that the jobs themselves tell of."""
    day = as_of or latest_day(jobs)
    return Archive(
        jobs=tuple(jobs),
        as_of=day,
        works=tuple(e for j in jobs for e in _entries(j, j.parts)),
        faults=tuple(e for j in jobs for e in _entries(j, j.faults)),
        codes=tuple(d for j in jobs for d in _dated(j)),
        documents=tuple(Entry(j, d, n) for j in jobs for n, d in enumerate(j.documents, 1)),
        accounts={j.id: account(j) for j in jobs},
        dues=dues(jobs, day) if day else Dues(),
        here=tuple(j for j in jobs if j.dates.received and not j.dates.returned),
    )


def latest_day(jobs: Iterable[Job]) -> date | None:
    """Return the latest day on which something was done, as people wrote it; a camera's clock and what is yet to come do not count."""
    days = (d for j in jobs for d in _days(j))
    return max((d for d in days if d), default=None)


def _days(job: Job) -> Iterator[date | None]:
    yield from (job.dates.received, job.dates.finished, job.dates.returned)
    yield from (note.date for note in job.notes)
    yield from (photo.date for photo in job.photos if photo.dated is None)


def _entries(job: Job, rows: Sequence[Row]) -> list[Entry[Row]]:
    index = index_of(job)

    def key(row: PartRow) -> str:
        found = index.part(row.ref, row.board) if row.ref else None
        return found.id if isinstance(found, Target) else part_key(row.board, row.ref)

    return [Entry(job, row, n, key(row) if row.ref else "") for n, row in enumerate(rows, 1)]


def _dated(job: Job) -> list[Dated]:
    return [_read(entry, job.instrument.year) for entry in _entries(job, job.date_codes)]


def _read(entry: Entry[DateCode], year: int | None) -> Dated:
    read = read_code(entry.item.code, year)
    if isinstance(read, NotHad):
        return Dated(entry, "", read.reason)
    others = " or ".join(made.words for made in (read.made, *read.others))
    words = others if read.sure is Sure.OPEN else read.made.words
    younger = year is not None and read.sure is not Sure.OPEN and read.made.year > year
    return Dated(entry, read.made.iso, words, read.sure.value, younger)


def account(job: Job) -> Account:
    """Return what a job took; the total is known where every share of it is.

    Hours are those of the notes, and at least that where a note gives none. Without parts that were fitted, parts cost nothing; without an hourly rate, nobody knows what hours cost.
    """
    given = [n.hours for n in job.notes if n.hours is not None]
    hours = sum(given) if given else None
    rate = job.costs.hourly_rate
    labour = hours * rate if hours is not None and rate is not None else None
    bought = [p for p in job.parts if p.status == "fitted" and (p.unit_cost is not None or p.action in ("replaced", "added"))]
    parts, why = cost_of_parts(job.parts, job.costs.currency) if bought else (0.0, "")
    without = len(job.notes) - len(given) if given else 0
    missing = [
        why,
        "no hours are given" if hours is None else "",
        f"no hours in {without} of {len(job.notes)} notes" if without else "",
        "no hourly rate is given" if rate is None else "",
    ]
    total = labour + parts if labour is not None and parts is not None else None
    return Account(job, hours, labour, parts, total, "; ".join(m for m in missing if m), at_least=without > 0)


def dues(jobs: Sequence[Job], as_of: date) -> Dues:
    """Sort what the jobs ask for by whether it is overdue, comes in the twelve months from ``as_of``, or later.

    A month is over once its last day is. A warranty that has ended asks for nothing, and a service for nothing either once the
    instrument came again.
    """
    found = sorted((due for job in jobs for due in _dues(job, jobs)), key=lambda due: (due.first, due.last))
    end = in_a_year(as_of)
    return Dues(
        over=tuple(d for d in found if d.last < as_of and d.what == SERVICE),
        coming=tuple(d for d in found if d.last >= as_of and d.first <= end),
        later=tuple(d for d in found if d.first > end),
    )


def in_a_year(day: date) -> date:
    """Return the same day of the next year; of 29 February, the 28th."""
    if day.year == MAXYEAR:
        return date.max
    return day.replace(year=day.year + 1, day=min(day.day, calendar.monthrange(day.year + 1, day.month)[1]))


def _dues(job: Job, jobs: Iterable[Job]) -> Iterator[Due]:
    if until := job.dates.warranty_until:
        yield Due(job, WARRANTY, until, until, until)
    service = job.dates.next_service
    if not service or any(_came_again(job, other) for other in jobs):
        return
    if month := MONTH.fullmatch(service):
        first = date(int(month[1]), int(month[2]), 1)
        yield Due(job, SERVICE, service, first, first.replace(day=calendar.monthrange(first.year, first.month)[1]))
    else:
        day = date.fromisoformat(service)
        yield Due(job, SERVICE, day, day, day)


def _came_again(job: Job, other: Job) -> bool:
    """Say whether another job is a later one on the same instrument, as its serial number tells."""
    one, two = job.instrument, other.instrument
    same = bool(one.serial) and (one.maker, one.model, one.serial) == (two.maker, two.model, two.serial)
    came, before = other.dates.received, job.dates.received
    return same and came is not None and before is not None and came > before
