"""Where files hold what is private: which field, at which byte, and never its value."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256

from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.containers import UnreadableError, inside
from benchrecord.publish.guarding.private import HEAD, Private
from benchrecord.publish.guarding.search import Search


class Leaks:
    """Looks through files for all that is private, each file by its name."""

    def __init__(self, private: Private, cache: Cache | None = None) -> None:
        """Get ready to look for it."""
        self._search = Search(private.things, cache)
        self._originals = {(size, digest): what for size, digest, what in private.files}
        self._sizes = {size for size, _, _ in private.files}

    def in_files(self, files: Iterable[tuple[str, bytes]]) -> Iterator[str]:
        """Yield all that files and their names tell."""
        names = []
        for name, data in files:
            names.append(name)
            yield from self.in_file(name, data)
        yield from self.in_names(names)

    def in_names(self, names: Sequence[str]) -> Iterator[str]:
        """Yield what the names of files tell: all are looked through as one text, and each only where that has something."""
        written = [name.encode("utf-8", "surrogateescape") for name in names]
        if self._search.finds(b"\n".join(written)):
            for name, told in zip(names, written, strict=True):
                yield from (f"{name}: the name of it tells {find.field}" for find in self._search.finds(told))

    def in_file(self, name: str, data: bytes) -> Iterator[str]:
        """Yield what a file tells, and what it holds packed."""
        try:
            for inner, content in ((name, data), *inside(name, data)):
                yield from (f"{inner}: byte {find.offset} tells {find.field}" for find in self._search.finds(content))
                if what := self._original(content):
                    yield f"{inner}: {what}, as it lies in the job folder"
        except UnreadableError as error:
            yield f"{name}: nobody can say what is in it: {error}"

    def _original(self, content: bytes) -> str:
        if len(content) not in self._sizes:
            return ""
        return self._originals.get((len(content), sha256(content[:HEAD]).hexdigest()), "")
