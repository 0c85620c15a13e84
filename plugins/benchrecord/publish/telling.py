"""Words of a job that tell its reader what is private elsewhere in the folder: what ``check --edition`` warns of.

The same rule says what counts here and in the finished site.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.table import may_see
from benchrecord.editions.traces import Leaf, Trace, leaves, traces
from benchrecord.intake.beside import places
from benchrecord.model.job import Edition, Job
from benchrecord.model.prose import line_and_column
from benchrecord.problems import Place, Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.private import told_of, used_by
from benchrecord.publish.guarding.rule import sought
from benchrecord.publish.guarding.search import Search

SHOWN = 40  # characters of the text that tells
REMEDY = "say it otherwise, or give what it stands in an edition: of its own"


def private_words(folder: Path, job: Job, reader: Edition, cache: Cache) -> list[Problem]:
    """Return a warning for each text that a reader sees and that holds a private value, spelt in whatever way."""
    seen = for_reader(job, reader)
    taken = (Trace(b.what, b.text, personal=True) for b in places(folder, lambda path: told_of(path, cache)))
    personal = [t for t in (*traces([job], [seen], reader), *taken) if t.personal]
    search = Search(sought(personal, used_by([seen], [])))
    written = {leaf.place: leaf.value for leaf in leaves(job)}
    return [p for leaf in leaves(seen) if may_see(reader, leaf.rule.least) for p in _problems(leaf, search, written)]


def _problems(leaf: Leaf, search: Search, written: dict[Place, str]) -> Iterator[Problem]:
    data = leaf.value.encode("utf-8", "surrogatepass")
    for find in search.finds(data):
        at = len(data[: find.offset].decode("utf-8", "ignore"))
        said = leaf.value[at : at + SHOWN].split("\n")[0]
        yield Problem("private-words", _place(leaf, at, written), said, f"nothing of: {find.field}", REMEDY)


def _place(leaf: Leaf, at: int, written: dict[Place, str]) -> Place:
    """Return where a text tells something: in a note by line and column as the user counts them."""
    if leaf.field != "note: body" or leaf.place.line is None:
        return leaf.place
    line, column = line_and_column(leaf.value, at)
    lines = written.get(leaf.place, leaf.value).split("\n")
    rest = leaf.value.split("\n")[line - 1][column - 1 :]
    found = lines[line - 1].find(rest[:SHOWN]) if line <= len(lines) else -1
    return Place(leaf.place.file, leaf.place.line + line - 1, (found + 1) if found >= 0 else column)
