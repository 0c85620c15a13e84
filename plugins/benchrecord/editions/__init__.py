"""Who may see what: the job as one reader may see it.

What a reader may not see is taken out here, by the table of fields, before anything is worked out or drawn.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from benchrecord.editions.comments import without_comments_anywhere
from benchrecord.editions.names import names_left_out
from benchrecord.editions.table import TABLE, Rule, Way, least_reader, may_see
from benchrecord.editions.words import without_links
from benchrecord.model.costs import cost_of_parts
from benchrecord.model.job import Board, Check, Edition, Job, Note
from benchrecord.model.prose import without_comments
from benchrecord.model.references import Index, index_of

Part = TypeVar("Part")
ORDERING = re.compile(r"^\d+[a-z]?(?:[-_. ]+|$)")

# The rows that may change a part: fields that not everyone sees, and what holds items.
LOOKED_AT: Mapping[type, Mapping[str, Rule]] = {
    kind: {n: r for n, r in rules.items() if r.least is not Edition.PORTFOLIO or r.way in (Way.ITEMS, Way.UNUSED, Way.USED)}
    for kind, rules in TABLE.items()
}


def for_reader(job: Job, reader: Edition) -> Job:
    """Return the job with nothing in it that the reader may not see, and no comment; of prices that are left out, the sum where it may be seen."""
    job = without_comments_anywhere(job)
    if reader is Edition.ARCHIVE:
        return job
    left = replace(job, costs=replace(job.costs, **_sum_of_parts(job)))
    return _addressed(_without_names(_seen(left, reader), whole=job, reader=reader))


def published(jobs: Iterable[Job], reader: Edition) -> tuple[Job, ...]:
    """Return the jobs that a reader is shown: the portfolio has only those marked for publication."""
    return tuple(j for j in jobs if j.publish or reader is not Edition.PORTFOLIO)


def _sum_of_parts(job: Job) -> dict[str, Any]:
    if job.costs.parts is not None or job.costs.parts_reason:
        return {}
    cost, reason = cost_of_parts(job.parts, job.costs.currency)
    return {"parts": cost, "parts_reason": reason}


def _seen(part: Part, reader: Edition) -> Part:
    """Return a part of a job by its rows of the table: fields emptied, and items left out."""
    changed, kind = {}, part.__class__
    for name, rule in LOOKED_AT[kind].items():
        value = getattr(part, name)
        if not may_see(reader, rule.least):
            changed[name] = _emptied(kind, name)
        elif isinstance(value, tuple):
            changed[name] = tuple(_seen(item, reader) for item in value if may_see(reader, least_reader(item)))
        elif type(value) in TABLE:
            changed[name] = _seen(value, reader)
    return replace(part, **changed) if changed else part  # type: ignore[type-var]  # every part of a job is a dataclass


def _emptied(kind: type, name: str) -> Any:
    return next(f.default for f in fields(kind) if f.name == name)


def _without_names(job: Job, *, whole: Job, reader: Edition) -> Job:
    """Take out what names something that is left out: names alone, items that hang on it, links in words."""
    gone = names_left_out(job, whole, reader)
    index, all_of_it = index_of(job), index_of(whole)
    return replace(
        job,
        cover="" if job.cover in gone.photos else job.cover,
        boards=tuple(_board_without(b, gone.photos) for b in job.boards),
        marks=tuple(m for m in job.marks if m.photo not in gone.photos),
        notes=tuple(_note_without(n, index, all_of_it) for n in job.notes),
        trims=tuple(replace(t, check="") if t.check in gone.checks else t for t in job.trims),
        checks=tuple(_check_without(c, gone.checks) for c in job.checks),
        meters=tuple(m for m in job.meters if m.id not in gone.meters),
        recordings=tuple(r for r in job.recordings if r.file not in gone.recordings),
    )


def _board_without(board: Board, gone: frozenset[str]) -> Board:
    """Leave a board the pictures that are seen: none where its places are percent of a first one that is not."""
    lost = board.frame == "percent" and bool(board.photos) and board.photos[0].file in gone
    return replace(board, photos=() if lost else tuple(p for p in board.photos if p.file not in gone))


def _note_without(note: Note, index: Index, whole: Index) -> Note:
    return replace(note, body=without_links(without_comments(note.body), note.board, index, whole))


def _check_without(check: Check, gone: frozenset[str]) -> Check:
    return replace(check, keys={n: v for n, v in check.keys.items() if n != "tracks_with" or v not in gone})


def _addressed(job: Job) -> Job:
    """Give each note an address without the number that orders it: a gap between two would tell of what is left out."""
    given: set[str] = set()
    notes = []
    for number, note in enumerate(job.notes, 1):
        name = ORDERING.sub("", note.id) or f"note-{number}"
        name = name if name.lower() not in given else f"{name}-{number}"
        given.add(name.lower())
        notes.append(replace(note, address=name))
    return replace(job, notes=tuple(notes))
