"""The names of what is left out of a job: they stand in other parts of it too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchrecord.model.job import Check, Edition, Job
from benchrecord.model.markdown_links import definitions_of
from benchrecord.model.prose import links, without_comments
from benchrecord.model.references import Target, index_of


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What a reader's job has no more: photos and recordings by file, checks and meters by id."""

    photos: frozenset[str]
    checks: frozenset[str]
    meters: frozenset[str]
    recordings: frozenset[str]


def names_left_out(job: Job, whole: Job, reader: Edition) -> LeftOut:
    """Return the names of what the whole job has and a reader's job has not, and of what only such checks use.

    A recording is listed for everyone only where something that everyone sees uses it: its name may tell of anything.
    """
    checks = frozenset(c.id for c in whole.checks) - {c.id for c in job.checks}
    unseen = [c for c in whole.checks if c.id in checks]
    used = _used(job)
    unused = (frozenset(r.file for r in whole.recordings) if reader is Edition.PORTFOLIO else _used(whole)) - used
    return LeftOut(
        photos=frozenset(p.file for p in whole.photos) - {p.file for p in job.photos},
        checks=checks,
        meters=frozenset(c.meter for c in unseen) - {c.meter for c in job.checks},
        recordings=unused,
    )


def _heard(checks: Iterable[Check]) -> frozenset[str]:
    """The files that checks hear: as found and as left, and as what went in."""
    return frozenset(
        name for c in checks for name in (*(t.file for t in c.takes), *(v for v in c.keys.values() if isinstance(v, str)))
    )


def _used(job: Job) -> frozenset[str]:
    """The recordings that something of a job names: its checks, its patches, the links of its notes."""
    index, notes = index_of(job), [without_comments(note.body) for note in job.notes]
    inline, by_name = (t for n in notes for _, _, t in links(n)), (d.target for n in notes for d in definitions_of(n))
    linked = (index.link(text) for text in (*inline, *by_name) if text.startswith("recording:"))
    named = {f"recordings/{target.id}" for target in linked if isinstance(target, Target)}
    return _heard(job.checks) | {p.recording for p in job.patches} | named
