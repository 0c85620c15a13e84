"""Who may see what: the job as one reader may see it.

What a reader may not see is taken out here, before anything is worked out or drawn.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

from benchrecord.model.job import Board, Costs, Document, Edition, Job, Owner

# Readers from the one who sees least to the one who sees all.
ORDER = (Edition.PORTFOLIO, Edition.OWNER, Edition.ARCHIVE)
Item = TypeVar("Item")


def may_see(reader: Edition, least: Edition | None) -> bool:
    """Say whether a reader sees what is meant for ``least`` and those above; None is for everyone."""
    return least is None or ORDER.index(reader) >= ORDER.index(least)


def for_reader(job: Job, reader: Edition) -> Job:
    """Return the job with nothing in it that the reader may not see."""
    seen = replace(
        job,
        notes=_seen(job.notes, reader),
        photos=_seen(job.photos, reader),
        checks=_seen(job.checks, reader),
        documents=tuple(d for d in job.documents if may_see(reader, _document_reader(d))),
    )
    job = _without_unseen_pictures(_without_traces_of_checks(seen, whole=job))
    if reader is Edition.ARCHIVE:
        return job
    job = _without_trade_matters(job)
    return job if reader is Edition.OWNER else _without_private_matters(job)


def published(jobs: Iterable[Job], reader: Edition) -> tuple[Job, ...]:
    """Return the jobs that a reader is shown: the portfolio has only those marked for publication."""
    return tuple(j for j in jobs if j.publish or reader is not Edition.PORTFOLIO)


def _seen(items: Iterable[Item], reader: Edition) -> tuple[Item, ...]:
    return tuple(i for i in items if may_see(reader, getattr(i, "edition", None)))


def _document_reader(document: Document) -> Edition:
    return document.edition or Edition.ARCHIVE


def _without_traces_of_checks(job: Job, *, whole: Job) -> Job:
    """Take out what names an unseen check: the trims that it tells of, the checks held against it, and its recordings."""
    unseen = {c.id for c in whole.checks} - {c.id for c in job.checks}
    heard = {*(t.file for c in job.checks for t in c.takes), *(p.recording for p in job.patches)}
    silent = {t.file for c in whole.checks if c.id in unseen for t in c.takes} - heard
    return replace(
        job,
        trims=tuple(replace(t, check="") if t.check in unseen else t for t in job.trims),
        checks=tuple(
            replace(c, keys={n: v for n, v in c.keys.items() if n != "tracks_with" or v not in unseen}) for c in job.checks
        ),
        recordings=tuple(r for r in job.recordings if r.file not in silent),
    )


def _board_with(board: Board, files: set[str]) -> Board:
    """Leave a board the pictures that are seen: none where its places are percent of a first one that is not."""
    lost = board.frame == "percent" and bool(board.photos) and board.photos[0].file not in files
    return replace(board, photos=() if lost else tuple(p for p in board.photos if p.file in files))


def _without_unseen_pictures(job: Job) -> Job:
    files = {p.file for p in job.photos}
    boards = tuple(_board_with(b, files) for b in job.boards)
    marks = tuple(m for m in job.marks if m.photo in files)
    return replace(job, boards=boards, marks=marks, cover=job.cover if job.cover in files else "")


def _without_trade_matters(job: Job) -> Job:
    """Suppliers, order codes, hours and the hourly rate are the technician's own."""
    return replace(
        job,
        costs=replace(job.costs, hourly_rate=None),
        notes=tuple(replace(n, hours=None) for n in job.notes),
        faults=tuple(replace(f, hours=None) for f in job.faults),
        parts=tuple(replace(p, supplier="", order_code="", note="") for p in job.parts),
    )


def _without_private_matters(job: Job) -> Job:
    """Serial number, owner and prices are the owner's."""
    return replace(
        job,
        owner=Owner(),
        costs=Costs(),
        instrument=replace(job.instrument, serial=""),
        parts=tuple(replace(p, unit_cost=None) for p in job.parts),
    )
