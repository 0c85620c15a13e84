"""Words that tell nothing by themselves: ordinary English, this program's own, and what a reader sees or knows anyhow."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from pathlib import Path

from benchrecord.publish.guarding.spellings import plain, size, without_accents, words_of

ENGLISH = Path(__file__).with_name("english.lst")
SHORTEST = 4  # letters and digits of what is searched for at all
WORD = re.compile(r"\w{3,}", re.ASCII)
WRITTEN = {".py", ".j2", ".html", ".js", ".css", ".yml", ".md", ".svg", ".map", ".txt"}
ICONS = ".icons"  # of the theme: thousands of drawings, named by what they show


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What tells nothing: ``public``, every word (lower case) that a reader sees, and ``text``, all of it by letters and digits alone.

    Of a name only two things tell nothing: what its reader may know (``known``, letters and digits of values and of their words), and
    the ordinary words of English and of this program, ``own``, as the program writes them.
    """

    public: frozenset[str] = frozenset()
    text: str = ""
    known: frozenset[str] = frozenset()
    own: frozenset[str] = frozenset()

    def is_ordinary(self, word: str) -> bool:
        """Say whether any text may have a word, also with a capital: at the beginning of a sentence, in a heading."""
        return size(word) < SHORTEST or word.isdecimal() or word.lower() in english() or word.capitalize() in self.own

    def is_like_ordinary(self, word: str) -> bool:
        """Say whether a word is ordinary but for its capital or its accents: *Lang* is no ``lang`` of HTML, *Löwer* is not *lower*."""
        return not self.is_ordinary(word) and (word.lower() in self.own or self.is_ordinary(without_accents(word)))


def vocabulary(
    shown: Iterable[str], known: Iterable[str] = (), own: frozenset[str] = frozenset(), look: frozenset[str] = frozenset()
) -> Vocabulary:
    """Return the vocabulary of what a reader sees, of values that they may know, of this program and of a look."""
    texts = list(shown)
    public = {part for text in texts for word in words_of(text) for part in word_and_parts(word)}
    lower = {word.lower() for word in own | look}
    of_values = {plain(w) for value in known for w in (value, *words_of(value))}
    return Vocabulary(frozenset(public | lower), "\0".join(map(plain, texts)), frozenset(of_values), own)


@lru_cache(maxsize=1)
def english() -> frozenset[str]:
    """Return the ordinary words of English, months and days among them, in lower case."""
    lines = ENGLISH.read_text("ascii").splitlines()
    return frozenset(word for line in lines if not line.startswith("#") for word in line.split())


@lru_cache(maxsize=4)
def words_in(folders: tuple[Path, ...]) -> frozenset[str]:
    """Return every word that the files of some folders have, as it is written; drawings of icons are left out."""
    found: set[str] = set()
    for folder, inner, files in chain.from_iterable(map(os.walk, folders)):
        inner[:] = set(inner) - {ICONS}  # not walked into
        for path in (Path(folder, name) for name in files):
            if path.suffix in WRITTEN:
                found.update(WORD.findall(path.read_text("utf-8", "replace")))
    return frozenset(found)


def word_and_parts(word: str) -> Iterator[str]:
    """Yield a word and its parts as they are compared, in lower case."""
    low = word.lower()
    yield low
    yield from (part for part in re.split(r"[^\w]+|_", low) if part and part != low)
