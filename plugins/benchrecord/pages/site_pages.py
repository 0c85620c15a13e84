"""Pages across jobs: the index of jobs, and the cards that the home page shows."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.model.job import Edition
from benchrecord.pages import addresses
from benchrecord.pages.job_pages import cover
from benchrecord.pages.render import Page, render
from benchrecord.pages.story import in_limits
from benchrecord.pages.view import View

CARDS_HERE = "<!-- jobs -->"


def jobs_index(views: Sequence[View]) -> Page:
    """Write the index of all jobs."""
    return render("jobs/index.md", "jobs.md.j2", cards=_cards(views), archive=any(v.edition is Edition.ARCHIVE for v in views))


def job_cards(views: Sequence[View]) -> str:
    """Return the cards of all jobs, to stand in a page."""
    return render("", "cards.html.j2", cards=_cards(views)).markdown


def home(views: Sequence[View]) -> Page:
    """Write the home page of a site that has no hand-written one: the only job's overview is one click away."""
    return Page("index.md", jobs_index(views).markdown.replace("All jobs", "Bench record", 2))


def _cards(views: Sequence[View]) -> list[tuple[View, object, str]]:
    return [(v, cover(v), " · ".join(x for x in (v.job.title, v.job.instrument.kind, in_limits(v)) if x)) for v in views]


__all__ = ["CARDS_HERE", "addresses", "home", "job_cards", "jobs_index"]
