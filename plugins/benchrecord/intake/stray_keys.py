"""Front matter that is not read: keys of a note that are not between its two lines of ``---``."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet

from benchrecord.model.job import Edition
from benchrecord.problems import Place, Problem, nearest

TOP_LINES = 15  # lines with text, below the front matter, in which a key is taken for front matter
MAX_WORDS = 4  # of a value; more are a sentence that begins with a word and a colon
EDITION = "edition"  # withholds a note from readers: looked for in the whole note
EXPECTED = "the facts of a note in its first lines, between two lines of ---"
NO_HEAD = "begin the note with a line ---, write {key} below it, and close with another line ---"
IN_HEAD = "begin the line with {key}, exactly below the other keys"
BELOW_HEAD = "move {key} up between the two lines of ---, or word the line otherwise"
_MARK = r"(?:[^\w\n]|_)"  # of a list, a quote, bold words, a comment, another form of front matter
_KEY = re.compile(rf"(?:^|[{{,]){_MARK}{{0,20}}(?P<key>[A-Za-z]{{1,20}}){_MARK}{{0,6}}?[:=：](?P<value>[^\n,}}]*)")
_ROW = re.compile(rf"^{_MARK}{{0,20}}(?P<key>edition){_MARK}{{1,6}}(?P<value>portfolio|owner|archive){_MARK}{{0,20}}$", re.IGNORECASE)  # fmt: skip
_WORD = re.compile(r"[^\W_]+")
_EDITIONS = frozenset(Edition)


def stray_keys(text: str, file: str, known: Sequence[str], *, head: range, read: AbstractSet[int]) -> Iterator[Problem]:
    """Yield an error for each of the ``known`` keys that a note has and that was not read.

    Parameters
    ----------
    head
        The lines of the note's front matter, those of ``---`` among them; empty where it has none.
    read
        The lines of the keys that were read.
    """
    texts = 0
    for number, line in enumerate(text.split("\n"), 1):
        texts += number not in head and bool(line.strip())
        if number in read or (number in head and line.lstrip().startswith("#")):
            continue
        remedy = IN_HEAD if number in head else BELOW_HEAD if head else NO_HEAD
        for key, column in _keys_of(line, known, near_top=texts <= TOP_LINES):
            yield Problem(
                "front-matter", Place(file, number, column), line.strip()[:80], EXPECTED, remedy.format(key=f"{key}:")
            )


def _keys_of(line: str, known: Sequence[str], *, near_top: bool) -> Iterator[tuple[str, int]]:
    """Yield the keys of a line, each with its column; several where the line is a mapping in braces."""
    row = _ROW.match(line)
    found = [row] if row else _KEY.finditer(line) if line.lstrip().startswith("{") else [m for m in [_KEY.match(line)] if m]
    for match in found:
        words = [w.lower() for w in _WORD.findall(match["value"][:200])]
        key = match["key"].lower()
        if words and words[0] in _EDITIONS and nearest(key, [EDITION]):
            yield EDITION, match.start("key") + 1
        elif near_top and key in known and _is_value(key, words, heading="#" in line[: match.start("key")]):
            yield key, match.start("key") + 1


def _is_value(key: str, words: Sequence[str], *, heading: bool) -> bool:
    """Say whether the words behind a key are a value of it, and no sentence that begins like one."""
    return key == EDITION or (not heading and bool(words) and (key == "title" or len(words) <= MAX_WORDS))
