"""What counts as a find: how each private value is searched for; the guide says the same in one paragraph."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from functools import partial

from benchrecord.editions.table import Personal
from benchrecord.editions.traces import Trace
from benchrecord.publish.guarding.spellings import LONG, TWO_LETTERS, pieces, plain, size, windows, words_of
from benchrecord.publish.guarding.vocabulary import SHORTEST, Vocabulary, word_and_parts

RARE = 6  # letters and digits of a word that a text alone has
FIGURES = range(
    6, 21
)  # of a number that counts without a keyword; of more each would have to be parted from the next to be found
SENTENCE, IN_A_ROW, FEW = 20, 6, 3  # letters, words, and public words that say nothing together
PLACE_OF_A_PICTURE = "place of a picture"  # its value: latitude and longitude in degrees
NUMBER = re.compile(r"[\s.,:/()+-]*\d[\d\s.,:/()+-]*")
ADDRESS_PARTS = re.compile(r"[,;\n]")


class Match(StrEnum):
    """How a value is searched for."""

    ANYWHERE = "anywhere, in any spelling"
    WORD = "as a word of its own"
    CAPITALS = "as a word of its own, with its capitals and accents, or beside a keyword"
    KEYWORD = "as a word of its own, beside a keyword"
    DIGITS = "as digits in this order, with nothing but separators between them"
    AMOUNT = "as an amount of money"
    PLACE = "as latitude and longitude near each other"
    PATH = "as a path, with separators of any system"


@dataclass(frozen=True, slots=True)
class SearchTerm:
    """A value to search for, the field that a find is reported by, and how it is searched for."""

    field: str
    value: str
    match: Match
    keywords: tuple[str, ...] = ()
    personal: bool = False  # of a person or of the trade

    @property
    def is_distinctive(self) -> bool:
        """Say whether it tells something in a text of others too, where any word may stand: six words in a row do."""
        return self.personal or len(words_of(self.value)) >= IN_A_ROW


def search_terms(traces: Iterable[Trace], known: Vocabulary) -> tuple[SearchTerm, ...]:
    """Return what to search for, each once."""
    return tuple(dict.fromkeys(term for trace in traces for term in _of(trace, known)))


def rare_words(field: str, text: str, known: Vocabulary) -> Iterator[SearchTerm]:
    """Yield the rare words of a text: those that nothing public has."""
    for word in dict.fromkeys(words_of(text)):
        yield from (SearchTerm(field, rare, Match.WORD) for rare in _rare(word, known))


def _of(trace: Trace, known: Vocabulary) -> Iterator[SearchTerm]:
    term = partial(SearchTerm, trace.field, keywords=trace.keywords, personal=bool(trace.personal))
    if trace.field == PLACE_OF_A_PICTURE:
        yield term(trace.value, Match.PLACE)
    elif trace.personal is Personal.AMOUNT:
        yield term(trace.value, Match.AMOUNT)
        if _figures(trace.value) in FIGURES:
            yield term(trace.value, Match.DIGITS)
    elif trace.personal:
        phrases = _phrases(trace.value, known) if trace.personal is Personal.NAME else _as_said(trace.value)
        yield from (term(phrase, match) for phrase in phrases if (match := _match(phrase, trace.personal, known)))
    else:
        yield from _of_a_text(trace, known)


def _phrases(name: str, known: Vocabulary) -> Iterator[str]:
    """Yield a name or an address, its parts between commas, each without its numbers, and each word: in the genitive and with *oe* for *ö* too."""
    yield name
    for part in ADDRESS_PARTS.split(name):
        yield part.strip()
        yield " ".join(word for word in part.split() if not any(map(str.isdigit, word)))
    for word in pieces(name):
        if not any(map(str.isdigit, word)):
            yield from (word,) if known.is_ordinary(word) else (word, f"{word}s", word.translate(TWO_LETTERS))


def _as_said(code: str) -> tuple[str, ...]:
    return code, code.replace("@", " at ")


def _match(phrase: str, kind: Personal, known: Vocabulary) -> Match | None:
    """Return how a phrase is searched for; None where it tells nothing."""
    words = pieces(phrase)
    if size(phrase) < SHORTEST or plain(phrase) in known.known or all(plain(word) in known.known for word in words):
        return None
    if NUMBER.fullmatch(phrase):
        figures = _figures(phrase)
        return Match.DIGITS if figures in FIGURES else Match.KEYWORD if figures < FIGURES.start else _whole(phrase)
    if all(map(known.is_ordinary, words)) and (kind is Personal.NAME or phrase.isalpha()):
        return (Match.CAPITALS if len(words) > 1 else Match.KEYWORD) if _is_name(words) else None
    if kind is Personal.NAME and all(known.is_ordinary(word) or known.is_like_ordinary(word) for word in words):
        return Match.CAPITALS
    return _whole(phrase)


def _figures(text: str) -> int:
    return sum(map(str.isdigit, text))


def _whole(phrase: str) -> Match:
    return Match.ANYWHERE if size(phrase) >= LONG and len(pieces(phrase)) > 1 else Match.WORD


def _is_name(words: Iterable[str]) -> bool:
    """Say whether ordinary words are written as a name is: "Audio Parts", and not "Own stock"."""
    return all(not word[0].islower() for word in words if len(word) >= SHORTEST)


def _of_a_text(trace: Trace, known: Vocabulary) -> Iterator[SearchTerm]:
    """Yield what to search for of a text that was left out: it counts by its words in a row, and by its rare words."""
    if plain(trace.value) in known.text:
        return
    words = words_of(trace.value)
    if len(words) <= IN_A_ROW and len(trace.value) <= 4 * SENTENCE:
        if match := _of_a_few_words(trace.value, words, known):
            yield SearchTerm(trace.field, trace.value, match)
    else:
        runs = (run for line in trace.value.splitlines() for run in windows(words_of(line), IN_A_ROW, SENTENCE))
        told = (run for run in runs if len(plain(run)) >= SENTENCE and plain(run) not in known.text)
        yield from (SearchTerm(trace.field, run, Match.ANYWHERE) for run in told)
    if len(words) > 1:
        yield from (SearchTerm(trace.field, rare, Match.WORD) for word in words for rare in _rare(word, known))


def _of_a_few_words(value: str, words: list[str], known: Vocabulary) -> Match | None:
    if NUMBER.fullmatch(value) and _figures(value) < FIGURES.stop:
        return Match.DIGITS if _figures(value) in FIGURES else None
    is_public = value.lower() in known.public or (len(words) <= FEW and all(word.lower() in known.public for word in words))
    if size(value) < SHORTEST or is_public:
        return None  # "from above" is said by anybody
    return _whole(value)


def _rare(word: str, known: Vocabulary) -> Iterator[str]:
    """Yield the parts of a word that nothing public has; with figures in it, the word as a whole."""
    parts = [*word_and_parts(word)]
    unused = [p for p in parts[1:] or parts if p not in known.public]
    told = parts if unused and any(c.isdigit() for c in word) else unused
    yield from (p for p in told if len(plain(p)) >= RARE and not plain(p).isdigit() and p not in known.public)
