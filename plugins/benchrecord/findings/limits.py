"""Limits that nothing is held against: a reader would take them for kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from benchrecord.checks.kind import Kind
from benchrecord.model.job import Job
from benchrecord.problems import Problem


def unused_limits(job: Job, kinds: Mapping[str, Kind]) -> Iterator[Problem]:
    """Yield a problem for each check whose limit nothing is held against, by its keys and its table."""
    for check in job.checks:
        kind = kinds.get(check.kind)
        needed = kind.unused_limit(check) if kind else ""
        if needed:
            place = check.at.get("limit", check.place)
            remedy = "write what the limit is held against, or take it out"
            yield Problem("unused-limit", place, f"limit: {check.limit_text}, and nothing to hold against it", needed, remedy)
