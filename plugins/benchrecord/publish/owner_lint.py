"""Warnings of a job for anyone to read: that it does not say whose data are to be withheld, and what looks like personal data in it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.personal_data import Personal, finds
from benchrecord.editions.table import may_see
from benchrecord.editions.traces import leaves
from benchrecord.model.job import NO_OWNER, Edition, Job
from benchrecord.problems import Place, Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.telling import occurrences, personal_search, place_of

MAX_FINDS = 100  # that are shown of one job
MAX_SHOWN = 60  # characters of what was found
WHAT = {
    Personal.PHONE: "a telephone number",
    Personal.EMAIL: "an e-mail address",
    Personal.ADDRESS: "a postal address",
    Personal.NAME: "a person's name",
}
_WORD = re.compile(r"\w+")


def personal_data(folder: Path, job: Job, cache: Cache) -> Iterator[Problem]:
    """Yield warnings for a job that is published: that nothing is searched for, and what looks personal and is searched for by nobody."""
    if not job.publish:
        return
    missing = {kind for kind in Personal if not _WORD.search(getattr(job.owner, kind))}  # … alone is no value
    if NO_OWNER not in job.at and len(missing) == len(Personal):
        place = job.at.get("publish", Place("job.yml", 1))
        expected = "owner: with a name, so that the site is searched for it before anyone reads it"
        yield Problem("no-owner", place, "publish: yes, and no owner", expected, "add owner: {name: …}, or owner: none")
    yield from islice(_unsearched(folder, job, cache), MAX_FINDS)


def _unsearched(folder: Path, job: Job, cache: Cache) -> Iterator[Problem]:
    """Yield what looks personal in texts that anyone reads, but for what no site is published with, and what is the technician's own."""
    seen = for_reader(job, Edition.PORTFOLIO)
    own = {value for kind in Personal if (value := getattr(job.technician, kind))}
    known, shown = _vocabulary(job), set[tuple[Place, Personal]]()
    search: Search | None = None
    for leaf in leaves(seen):
        found = [*finds(leaf.value, known)] if may_see(Edition.PORTFOLIO, leaf.rule.least) else []
        search = search or (personal_search(folder, job, Edition.PORTFOLIO, cache) if found else None)
        refused = occurrences(search, leaf.value) if search and found else []
        for find in found:
            words = leaf.value[find.start : find.end].split("\n")[0]
            is_known = any(find.start < one.end and one.start < find.end for one in refused)
            place = place_of(folder, leaf, find.start)
            if not (is_known or any(words in value or value in words for value in own) or (place, find.kind) in shown):
                shown.add((place, find.kind))  # a heading is a title too
                yield _problem(place, find.kind, words, job)


def _problem(place: Place, kind: Personal, words: str, job: Job) -> Problem:
    is_named = _WORD.search(getattr(job.owner, kind))
    its_field = "" if is_named or NO_OWNER in job.at else f", or write owner: {{{kind}: …}} in job.yml"
    remedy = f"take it out, or give what it is in an edition: of its own{its_field}"
    return Problem("personal-data", place, words[:MAX_SHOWN], f"nothing that looks like {WHAT[kind]}", remedy)


def _vocabulary(job: Job) -> frozenset[str]:
    """Return the words that name the instrument and its parts, in lower case: they begin with capitals and are nobody's name."""
    titles = [job.instrument.maker, job.instrument.model, job.instrument.kind]
    titles += [text for m in job.modules for text in (m.id, m.title)] + [text for b in job.boards for text in (b.id, b.title)]
    titles += [text for c in job.checks for text in (c.id, c.title)]
    return frozenset(word.lower() for title in titles for word in _WORD.findall(title))
