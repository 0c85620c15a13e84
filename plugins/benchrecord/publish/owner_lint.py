"""Warnings of a job for anyone to read that does not say whose data are to be withheld."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.personal_data import Find, Personal, finds
from benchrecord.editions.table import may_see
from benchrecord.editions.traces import BODY, Leaf, leaves
from benchrecord.intake.whereabouts import Sign, written_at, written_in_words
from benchrecord.model.job import NO_OWNER, Edition, Job
from benchrecord.problems import Place, Problem

MAX_FINDS = 100  # that are shown of one job
MAX_SHOWN = 60  # characters of what was found
WHAT = {
    Personal.PHONE: "a telephone number",
    Personal.EMAIL: "an e-mail address",
    Personal.ADDRESS: "a postal address",
    Personal.NAME: "a person's name",
}
_WORD = re.compile(r"\w+")


def unnamed_owner(folder: Path, job: Job) -> Iterator[Problem]:
    """Yield warnings for a job that is published without the data of its owner: that nothing is searched for, and what looks personal."""
    missing = {kind for kind in Personal if not _WORD.search(getattr(job.owner, kind))}  # … alone is no value
    if not job.publish or NO_OWNER in job.at or not missing:
        return
    if len(missing) == len(Personal):
        place = job.at.get("publish", Place("job.yml", 1))
        expected = "owner: with a name, so that the site is searched for it before anyone reads it"
        yield Problem("no-owner", place, "publish: yes, and no owner", expected, "add owner: {name: …}, or owner: none")
    yield from islice(_personal(folder, job, missing), MAX_FINDS)


def _personal(folder: Path, job: Job, missing: set[Personal]) -> Iterator[Problem]:
    """Yield what looks personal in texts that anyone reads, of the kinds that the owner's own fields do not name."""
    seen = for_reader(job, Edition.PORTFOLIO)
    own = {value for kind in Personal if (value := getattr(job.technician, kind))}
    known, told = _vocabulary(job), set[tuple[Place, Personal]]()
    for leaf in leaves(seen):
        for find in finds(leaf.value, known) if may_see(Edition.PORTFOLIO, leaf.rule.least) else ():
            said = leaf.value[find.start : find.end].split("\n")[0]
            if find.kind in missing and not any(said in value or value in said for value in own):
                place = _place(folder, leaf, find)
                if (place, find.kind) not in told:  # a heading is a title too
                    told.add((place, find.kind))
                    yield _problem(place, find.kind, said)


def _problem(place: Place, kind: Personal, said: str) -> Problem:
    remedy = f"take it out, give what it is in an edition: of its own, or write owner: {{{kind}: …}} in job.yml"
    return Problem("personal-data", place, said[:MAX_SHOWN], f"nothing that looks like {WHAT[kind]}", remedy)


def _place(folder: Path, leaf: Leaf, find: Find) -> Place:
    where = written_in_words if leaf.field == BODY else written_at
    return where(folder, leaf.place, Sign(leaf.value, find.start))


def _vocabulary(job: Job) -> frozenset[str]:
    """Return the words that name the instrument and its parts, in lower case: they begin with capitals and are nobody's name."""
    titles = [job.instrument.maker, job.instrument.model, job.instrument.kind]
    titles += [text for m in job.modules for text in (m.id, m.title)] + [text for b in job.boards for text in (b.id, b.title)]
    titles += [text for c in job.checks for text in (c.id, c.title)]
    return frozenset(word.lower() for title in titles for word in _WORD.findall(title))
