"""What counts as a find: how a private value is looked for, by how much it tells.

* Of **eight letters and digits or more**: anywhere, in any spelling, split by whatever is no letter.
* **Shorter**, or a **number**, or one word of several: as a word of its own.
* **Very short** (three or fewer), a short number, or a **word that is in use** by what the reader sees anyhow (up to three of them, where
  they are nobody's own): as a word of its own, and only directly beside a word that says what it is.
* A text that was left out counts where its words stand in a row, as do the readings of a check, and by its rare words (of six letters
  or more): those that nothing else uses that went into the site. What the reader sees anyhow does not count, unless it is of a person
  or of the trade: the table of editions says which fields are, and of those a word is only common where the look or this program uses it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from benchrecord.editions.traces import Trace
from benchrecord.publish.guarding.spellings import plain, windows, words_of

SURE, SHORT, RARE = 8, 4, 6  # letters and digits
FEWEST, FIGURES = 2, 6  # of a number that is looked for at all, and without a word beside it
SENTENCE, IN_A_ROW, FEW = 20, 6, 3  # letters, words, and words in use that say nothing together
PLACE_OF_A_PICTURE = "place of a picture"  # its value: latitude and longitude in degrees
NUMBER = re.compile(r"[\d\s.,:/()+-]+")


class Reach(StrEnum):
    """How a value is looked for."""

    ANYWHERE = "anywhere, in any spelling"
    WHOLE = "as a word of its own"
    BESIDE = "as a word of its own beside one that says what it is"
    PLACE = "as latitude and longitude near each other"
    EXACT = "as it is written"
    DIGITS = "as digits in this order, with nothing but separators between them"


@dataclass(frozen=True, slots=True)
class Sought:
    """A value to look for, the field that a find is told by, and how it is looked for."""

    field: str
    value: str
    reach: Reach
    beside: tuple[str, ...] = ()
    personal: bool = False  # of a person or of the trade

    @property
    def is_telling(self) -> bool:
        """Say whether it tells something in a text of others too, where any word may stand: six words in a row do."""
        return self.personal or len(words_of(self.value)) >= IN_A_ROW


@dataclass(frozen=True, slots=True)
class InUse:
    """What went into a site: the words that anything public uses, and all that a reader sees of the jobs, letters and digits alone.

    ``elsewhere`` are the words of the look and of this program alone: only these make a word common that is of a person or of the trade.
    """

    words: frozenset[str] = frozenset()
    text: str = ""
    elsewhere: frozenset[str] = frozenset()


def in_use(texts: Iterable[str], elsewhere: frozenset[str] = frozenset()) -> InUse:
    """Return what texts that a reader sees have in use, and words of elsewhere."""
    kept = list(texts)
    words = {part for text in kept for word in words_of(text) for part in _alike(word)}
    return InUse(elsewhere | words, "\0".join(plain(t) for t in kept), elsewhere)


def sought(traces: Iterable[Trace], used: InUse) -> tuple[Sought, ...]:
    """Return what to look for, each once."""
    return tuple(dict.fromkeys(replace(s, personal=trace.personal) for trace in traces for s in _of(trace, used)))


def words_alone(field: str, text: str, used: InUse) -> Iterator[Sought]:
    """Yield the rare words of a text whose sentences are nothing by themselves, such as the source of a table."""
    yield from (Sought(field, w, Reach.WHOLE) for word in dict.fromkeys(words_of(text)) for w in _rare(word, used))


def _of(trace: Trace, used: InUse) -> Iterator[Sought]:
    if trace.field == PLACE_OF_A_PICTURE:
        yield Sought(trace.field, trace.value, Reach.PLACE)
        return
    whole = plain(trace.value)
    if not whole or (not trace.personal and whole in used.text):
        return
    if trace.personal:
        used = InUse(used.elsewhere, "", used.elsewhere)
    words = words_of(trace.value)
    if len(whole) < SENTENCE and NUMBER.fullmatch(trace.value):
        yield from _number(trace)
    elif len(words) <= IN_A_ROW and len(trace.value) <= 4 * SENTENCE:
        yield _value(trace, trace.value, used)
    else:
        runs = (run for line in trace.value.splitlines() for run in windows(words_of(line), IN_A_ROW, SENTENCE))
        yield from (
            Sought(trace.field, r, Reach.ANYWHERE) for r in runs if len(plain(r)) >= SENTENCE and plain(r) not in used.text
        )
    if len(words) > 1:
        yield from (Sought(trace.field, w, Reach.WHOLE, trace.beside) for word in words for w in _rare(word, used))


def _number(trace: Trace) -> Iterator[Sought]:
    digits = sum(c.isdigit() for c in trace.value)
    if digits >= FEWEST:
        reach = Reach.DIGITS if digits >= FIGURES else Reach.BESIDE
        yield Sought(trace.field, trace.value.strip(), reach, trace.beside)


def _value(trace: Trace, value: str, used: InUse) -> Sought:
    words, length = words_of(value), len(plain(value))
    common = " " not in value and value.lower() in used.words
    if not trace.personal:  # "from above" is said by anybody
        common = common or (len(words) <= FEW and all(word.lower() in used.words for word in words))
    if length < SHORT or common:
        return Sought(trace.field, value, Reach.BESIDE, trace.beside)
    return Sought(trace.field, value, Reach.ANYWHERE if length >= SURE else Reach.WHOLE, trace.beside)


def _rare(word: str, used: InUse) -> Iterator[str]:
    """Yield the parts of a word that nothing else uses; with figures in it, the word as a whole."""
    parts = [*_alike(word)]
    unused = [p for p in parts[1:] or parts if p not in used.words]
    told = parts if unused and any(c.isdigit() for c in word) else unused
    yield from (p for p in told if len(plain(p)) >= RARE and not plain(p).isdigit() and p not in used.words)


def _alike(word: str) -> Iterator[str]:
    """Yield a word and its parts as they are compared, in lower case."""
    low = word.lower()
    yield low
    yield from (part for part in re.split(r"[^\w]+|_", low) if part and part != low)
