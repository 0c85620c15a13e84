"""Words of a job that tell its reader what is private elsewhere in the folder: what ``check --edition`` warns of.

The same rule says what counts here and in the finished site.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.table import Personal, may_see
from benchrecord.editions.traces import BODY, Leaf, Trace, leaves, traces
from benchrecord.intake.beside import places
from benchrecord.intake.whereabouts import Sign, written_at, written_in_words
from benchrecord.model.job import Edition, Job
from benchrecord.problems import Place, Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.private import public_vocabulary, told_of
from benchrecord.publish.guarding.rule import search_terms
from benchrecord.publish.guarding.search import Search

SHOWN = 40  # characters of the text that tells
MAX_PLACES, MAX_SEARCHED = 200, 400_000  # that are shown of one text; characters of a part that are searched over and over
SHORT, LONG = 500, 16_000  # characters of a part that is not cut in two, and of one that is cut before it is searched
GAP = re.compile(r"[^\w\n]*+\w*+[^\w\n]*+|\s*+")  # one word on the line at most, or a line break
WORD = re.compile(r"\W*\w*")
REMEDY = "say it otherwise, or give what it stands in an edition: of its own"


@dataclass(frozen=True, slots=True)
class Occurrence:
    """Where a text holds the value of a private field: from ``start`` to ``end``, in characters."""

    field: str
    start: int
    end: int


def private_words(folder: Path, job: Job, reader: Edition, cache: Cache) -> list[Problem]:
    """Return a warning for each place of a text that a reader sees and that holds a private value, spelt in whatever way."""
    seen = for_reader(job, reader)
    search = personal_search(folder, job, reader, cache)
    found = (p for leaf in leaves(seen) if may_see(reader, leaf.rule.least) for p in _problems(folder, leaf, search))
    return [*{(p.place, p.expected): p for p in found}.values()]  # a heading is a title too


def personal_search(folder: Path, job: Job, reader: Edition, cache: Cache) -> Search:
    """Return what searches a text for all that is personal in a folder and private to a reader, by the rule of the finished site."""
    seen = for_reader(job, reader)
    taken = (Trace(b.what, b.text, Personal.CODE) for b in places(folder, lambda path: told_of(path, cache)))
    personal = [t for t in (*traces([job], [seen], reader), *taken) if t.personal]
    return Search(search_terms(personal, public_vocabulary([job], [seen])), cache)


def occurrences(search: Search, text: str) -> list[Occurrence]:
    """Return the places of a text that hold a private value, up to a bound; words of one field side by side are one place."""
    found = set[Occurrence]()
    _search_halves(search, text, 0, found)
    return _joined(sorted(found, key=lambda o: (o.field, o.start)), text)


def _search_halves(search: Search, text: str, begin: int, found: set[Occurrence]) -> None:
    """Add what a text holds that begins at a place of a longer one: a search returns one place of each field, so halves are searched in turn."""
    cut = _middle(text) if len(text) > SHORT else 0
    here = [] if cut and len(text) > LONG else _found_in(search, text, begin)
    found.update(here)
    if len(found) >= MAX_PLACES or not (here or len(text) > LONG):
        return
    if cut:
        _search_halves(search, text[:cut], begin, found)
        _search_halves(search, text[cut:], begin + cut, found)
    else:
        _search_on(search, text, begin, found)


def _search_on(search: Search, text: str, begin: int, found: set[Occurrence]) -> None:
    """Add what else a short text holds: each word that was found is overwritten by one that says nothing, and it is searched again."""
    for _ in range(max(1, min(MAX_PLACES, MAX_SEARCHED // len(text)))):
        here = _found_in(search, text, begin)
        found.update(here)
        if not here:
            return
        for one in here:
            start, end = one.start - begin, one.end - begin
            text = text[:start] + "x" * (end - start) + text[end:]


def _middle(text: str) -> int:
    """Return where a text is best cut in two: behind the blank line, else the line end, that is nearest to its middle; 0 for nowhere."""
    half = len(text) // 2
    for line_end in ("\n\n", "\n"):
        cuts = [at + len(line_end) for at in (text.rfind(line_end, 0, half), text.find(line_end, half)) if at >= 0]
        if kept := [cut for cut in cuts if cut < len(text)]:
            return min(kept, key=lambda cut: abs(cut - half))
    return 0


def _found_in(search: Search, text: str, begin: int) -> list[Occurrence]:
    """Return the words in which the finds of a text begin, counted from the beginning of a longer one."""
    data, found = text.encode("utf-8", "surrogatepass"), []
    for find in search.finds(data):
        start = len(data[: find.offset].decode("utf-8", "ignore"))
        end = max(start + 1, WORD.match(text, start).end())  # type: ignore[union-attr]  # it always does
        found.append(Occurrence(find.field, begin + start, begin + end))
    return found


def _joined(found: Iterable[Occurrence], text: str) -> list[Occurrence]:
    """Return places, joined with those of its field that are next to them, in the order of the text."""
    kept: list[Occurrence] = []
    for one in found:
        before = kept[-1] if kept and kept[-1].field == one.field else None
        if before and GAP.fullmatch(text[before.end : one.start]):
            kept[-1] = replace(before, end=max(before.end, one.end))
        else:
            kept.append(one)
    return sorted(kept, key=lambda o: o.start)


def _problems(folder: Path, leaf: Leaf, search: Search) -> Iterator[Problem]:
    for one in occurrences(search, leaf.value):
        shown = leaf.value[one.start : one.start + SHOWN].split("\n")[0]
        yield Problem("private-words", place_of(folder, leaf, one.start), shown, f"nothing of: {one.field}", REMEDY)


def place_of(folder: Path, leaf: Leaf, at: int) -> Place:
    """Return where in its file a character of a text stands."""
    where = written_in_words if leaf.field == BODY else written_at
    return where(folder, leaf.place, Sign(leaf.value, at))
