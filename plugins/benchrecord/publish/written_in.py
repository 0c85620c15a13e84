"""Where the sources of a refused site hold what is private: file, line and column, and the command that lists them with a fix."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from pathlib import Path

from benchrecord.editions import for_reader
from benchrecord.editions.table import may_see
from benchrecord.editions.traces import leaves
from benchrecord.model.job import Edition, Job
from benchrecord.model.prose import line_and_column
from benchrecord.problems import Place, as_command
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.rule import Match, SearchTerm
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.telling import occurrences, place_of

MAX_PLACES = 40


def written_in(
    jobs: Sequence[tuple[Path, Job]],
    reader: Edition,
    terms: Iterable[SearchTerm],
    *,
    cache: Cache,
    pages: Mapping[Path, str] | None = None,
) -> list[str]:
    """Return lines that name each place of texts that a reader sees and that hold a private value, and how to list them.

    ``jobs`` are those that become pages, as they were read; ``pages`` are the hand-written pages of the site. Empty where
    none of these texts holds one.
    """
    search = Search([term for term in terms if term.match is not Match.PATH], cache)
    by_folder = {folder: [*_in_job(folder, for_reader(job, reader), reader, search)] for folder, job in jobs}
    in_pages = (place for path, text in (pages or {}).items() for place in _in_page(path, text, search))
    lines = [*dict.fromkeys((*chain(*by_folder.values()), *in_pages))]
    if not lines:
        return []
    more = [f"and {len(lines) - MAX_PLACES} more"] if len(lines) > MAX_PLACES else []
    commands = [
        as_command(["benchrecord", "check", "--edition", reader.value, _short(f)]) for f, its in by_folder.items() if its
    ]
    listed = ["To list these places with a fix for each:", *(f"  {c}" for c in commands)] if commands else []
    return ["It is written in:", *(f"  {line}" for line in (*lines[:MAX_PLACES], *more)), *listed]


def _in_job(folder: Path, seen: Job, reader: Edition, search: Search) -> Iterator[str]:
    for leaf in leaves(seen):
        for one in occurrences(search, leaf.value) if may_see(reader, leaf.rule.least) else ():
            place = place_of(folder, leaf, one.start)
            yield _line(Path(folder) / place.file, place, one.field)


def _in_page(path: Path, text: str, search: Search) -> Iterator[str]:
    for one in occurrences(search, text):
        yield _line(path, Place(path.name, *line_and_column(text, one.start)), one.field)


def _line(path: Path, place: Place, field: str) -> str:
    column = f", column {place.column}" if place.column else ""
    return f"{_short(path)}{f', line {place.line}' if place.line else ''}{column}: {field}"


def _short(path: Path) -> str:
    """Return a path from the current folder, where it is below it."""
    path = path.resolve()
    return os.path.relpath(path) if path.is_relative_to(Path.cwd()) else str(path)
