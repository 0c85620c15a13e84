"""Byte patterns, all of them looked for in one pass, in either case."""

from __future__ import annotations

import re
from collections.abc import Iterable
from threading import Lock
from typing import Generic, TypeVar

import hyperscan

Owner = TypeVar("Owner")
BYTE_BY_BYTE = hyperscan.HS_FLAG_CASELESS | hyperscan.HS_FLAG_DOTALL
# Of each match both ends, its end alone (it then begins at 0), or of each pattern whether it matches.
BEGINNING, END, WHETHER = hyperscan.HS_FLAG_SOM_LEFTMOST, 0, hyperscan.HS_FLAG_SINGLEMATCH
NOT_PLAIN = re.compile(rb"[^0-9A-Za-z]")


class Patterns(Generic[Owner]):
    """Patterns, each with what it belongs to, compiled into one automaton."""

    def __init__(self, owned: Iterable[tuple[bytes, Owner]], *, told: int = BEGINNING) -> None:
        """Compile the patterns; what is told of matches takes time."""
        patterns, self.owners = [], []
        for pattern, owner in owned:
            patterns.append(pattern)
            self.owners.append(owner)
        self._in_use = Lock()  # an automaton has one scratch space, and builds may share a process
        self.database = hyperscan.Database(mode=hyperscan.HS_MODE_BLOCK) if patterns else None
        if self.database:
            count = len(patterns)
            self.database.compile(
                expressions=patterns, ids=list(range(count)), elements=count, flags=[BYTE_BY_BYTE | told] * count
            )

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


def as_it_is(word: bytes) -> bytes:
    """Return a pattern of the very bytes."""
    return NOT_PLAIN.sub(lambda m: b"\\x%02x" % m[0][0], word)
