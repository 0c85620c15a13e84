"""Byte patterns, all of them looked for in one pass, in either case."""

from __future__ import annotations

import re
from collections.abc import Iterable
from importlib.metadata import version
from threading import Lock
from typing import Generic, TypeVar

import hyperscan

from benchrecord.publish.cache import Cache

Owner = TypeVar("Owner")
BYTE_BY_BYTE = hyperscan.HS_FLAG_CASELESS | hyperscan.HS_FLAG_DOTALL
# Of each match both ends, its end alone (it then begins at 0), or of each pattern whether it matches.
BEGINNING, END, WHETHER = hyperscan.HS_FLAG_SOM_LEFTMOST, 0, hyperscan.HS_FLAG_SINGLEMATCH
NOT_PLAIN = re.compile(rb"[^0-9A-Za-z]")


class Patterns(Generic[Owner]):
    """Patterns, each with what it belongs to, compiled into one automaton."""

    def __init__(self, owned: Iterable[tuple[bytes, Owner]], *, told: int = BEGINNING, cache: Cache | None = None) -> None:
        """Compile the patterns, or take them from a cache; what is told of matches takes time."""
        patterns, self.owners = [], []
        for pattern, owner in owned:
            patterns.append(pattern)
            self.owners.append(owner)
        self._in_use = Lock()  # an automaton has one scratch space, and builds may share a process
        self.database = _database(patterns, BYTE_BY_BYTE | told, cache) if patterns else None

    def matches(self, data: bytes) -> list[tuple[int, int, Owner]]:
        """Return (start, end, what it belongs to) of each match."""
        found: list[tuple[int, int, int]] = []
        if self.database and data:
            with self._in_use:
                self.database.scan(data, match_event_handler=lambda number, start, end, *_: found.append((number, start, end)))
        return [(start, end, self.owners[number]) for number, start, end in found]

    def there(self, data: bytes) -> list[Owner]:
        """Return what belongs to each pattern that matches."""
        return [owner for _, _, owner in self.matches(data)]


def _database(patterns: list[bytes], flags: int, cache: Cache | None) -> hyperscan.Database:
    key: tuple[str | bytes, ...] = ("patterns", version("hyperscan"), str(flags), *patterns)
    kept = cache.get(*key) if cache else None
    try:
        if kept is not None:
            database = hyperscan.loadb(kept, hyperscan.HS_MODE_BLOCK)
            database.scratch = hyperscan.Scratch(database)
            return database
    except hyperscan.error:
        pass  # compiled for another processor, where several machines share a cache
    database = hyperscan.Database(mode=hyperscan.HS_MODE_BLOCK)
    count = len(patterns)
    database.compile(expressions=patterns, ids=list(range(count)), elements=count, flags=[flags] * count)
    if cache:
        cache.put(*key, content=hyperscan.dumpb(database))
    return database


def as_it_is(word: bytes) -> bytes:
    """Return a pattern of the very bytes."""
    return NOT_PLAIN.sub(lambda m: b"\\x%02x" % m[0][0], word)
