"""Words of a job that tell its reader what is private elsewhere in the folder: what ``check --edition`` warns of.

The same rule says what counts here and in the finished site.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.table import Personal, may_see
from benchrecord.editions.traces import BODY, Leaf, Trace, leaves, traces
from benchrecord.intake.beside import places
from benchrecord.intake.whereabouts import Sign, written_at, written_in_words
from benchrecord.model.job import Edition, Job
from benchrecord.problems import Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.private import public_vocabulary, told_of
from benchrecord.publish.guarding.rule import search_terms
from benchrecord.publish.guarding.search import Search

SHOWN = 40  # characters of the text that tells
REMEDY = "say it otherwise, or give what it stands in an edition: of its own"


def private_words(folder: Path, job: Job, reader: Edition, cache: Cache) -> list[Problem]:
    """Return a warning for each text that a reader sees and that holds a private value, spelt in whatever way."""
    seen = for_reader(job, reader)
    taken = (Trace(b.what, b.text, Personal.CODE) for b in places(folder, lambda path: told_of(path, cache)))
    personal = [t for t in (*traces([job], [seen], reader), *taken) if t.personal]
    search = Search(search_terms(personal, public_vocabulary([job], [seen])), cache)
    told = (p for leaf in leaves(seen) if may_see(reader, leaf.rule.least) for p in _problems(folder, leaf, search))
    return [*{(p.place, p.expected): p for p in told}.values()]  # a heading is a title too


def _problems(folder: Path, leaf: Leaf, search: Search) -> Iterator[Problem]:
    data = leaf.value.encode("utf-8", "surrogatepass")
    where = written_in_words if leaf.field == BODY else written_at
    for find in search.finds(data):
        at = len(data[: find.offset].decode("utf-8", "ignore"))
        said = leaf.value[at : at + SHOWN].split("\n")[0]
        yield Problem(
            "private-words", where(folder, leaf.place, Sign(leaf.value, at)), said, f"nothing of: {find.field}", REMEDY
        )
