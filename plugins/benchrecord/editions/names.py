"""The names of what is left out of a job: they stand in other parts of it too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchrecord.model.job import Check, Job


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What a reader's job has no more: photos and recordings by file, checks and meters by id."""

    photos: frozenset[str]
    checks: frozenset[str]
    meters: frozenset[str]
    recordings: frozenset[str]


def names_left_out(job: Job, whole: Job) -> LeftOut:
    """Return the names of what the whole job has and a reader's job has not, and of what only such checks use."""
    checks = frozenset(c.id for c in whole.checks) - {c.id for c in job.checks}
    unseen = [c for c in whole.checks if c.id in checks]
    played = {p.recording for p in job.patches}
    return LeftOut(
        photos=frozenset(p.file for p in whole.photos) - {p.file for p in job.photos},
        checks=checks,
        meters=frozenset(c.meter for c in unseen) - {c.meter for c in job.checks},
        recordings=_heard(unseen) - _heard(job.checks) - played,
    )


def _heard(checks: Iterable[Check]) -> frozenset[str]:
    """The files that checks hear: as found and as left, and as what went in."""
    return frozenset(
        name for c in checks for name in (*(t.file for t in c.takes), *(v for v in c.keys.values() if isinstance(v, str)))
    )
