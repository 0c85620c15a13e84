"""Searching bytes for private values: all at once, whatever their spelling and encoding."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias
from unicodedata import normalize

from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.money import amounts
from benchrecord.publish.guarding.patterns import Patterns, as_it_is
from benchrecord.publish.guarding.rule import Match, SearchTerm
from benchrecord.publish.guarding.spellings import (
    APART,
    LONG,
    as_digits,
    as_letters,
    as_path,
    as_words,
    codes,
    is_wide,
    pieces,
    size,
    span_of,
    squeezed,
    without_accents,
)
from benchrecord.publish.guarding.unfolding import LETTERS, Reading, View, offset_of, readings

NEAR, MARKED_UP = 64, 256  # bytes in which a word says what the value beside it is, without tags and with them
# Between a keyword and its value: tags, signs, and words that tell nothing.
BETWEEN = rb"(?:<[^<>]*>|[^0-9a-z<]){0,12}(?:(?:an?|of|is|was|the|at|for|no|nr|number|name)[^0-9a-z]{1,6}){0,2}"
CODES_BEFORE = re.compile(rb"(?:\+|0(?!\.))(?:" + APART + rb"\d){0,7}" + APART + rb"$")  # of a country, of a town
TITLE = re.compile(rb"(?<![a-z])mrs?\W{1,2}$")  # "ms field" may be one of 10 ms
PREPOSITIONS = frozenset({"for", "from", "by", "at"})  # of any sentence
READABLE, SPELLS_NOTHING = 12, 1024  # characters of text in which a word stands; bytes in which chance spells no word
TEXT_BEFORE, TEXT_AFTER = re.compile(r"[^\0-\x08\x0b\x0e-\x1f\x7f\ufffd]*$"), re.compile(r"[^\0-\x08\x0b\x0e-\x1f\x7f\ufffd]*")


@dataclass(frozen=True, slots=True)
class Find:
    """A private value that was come upon: at which byte, and which field holds it."""

    offset: int
    field: str


# Says of a match, from start to end, which of the terms that it may be count, and where each begins.
Judge: TypeAlias = Callable[[bytes, int, int, Iterable[SearchTerm]], Iterator[tuple[int, SearchTerm]]]
Spelt: TypeAlias = Iterator[tuple[Judge, Iterable[bytes]]]


class Search:
    """Everything that is searched for: among letters and digits alone, and among words."""

    def __init__(self, terms: Iterable[SearchTerm], cache: Cache | None = None) -> None:
        """Spell out what is searched for; compiling it takes half a second where no cache has it."""
        kept = list(terms)
        among_letters = _owned(kept, _as_letters)
        self.letters, self.words = Patterns(among_letters, cache=cache), Patterns(_owned(kept, _as_words), cache=cache)
        self.paths = Patterns(_owned(kept, _as_paths))  # others at each build, where it builds in a temporary folder
        self.amounts: dict[float, list[SearchTerm]] = defaultdict(list)
        for term in kept:
            if term.match is Match.AMOUNT:
                self.amounts[float(term.value)].append(term)
        owners = {term for _, (_, own) in among_letters for term in own}
        self.ascii_alone = LETTERS <= LONG and all(term.value.isascii() for term in owners)

    def finds(self, data: bytes) -> list[Find]:
        """Return what was come upon in bytes, each field once, the first first."""
        found: dict[str, tuple[int, View]] = {}
        for reading in readings(data, ascii_alone=self.ascii_alone):
            for search in (self._among_letters, self._among_words, self._among_amounts):
                for view, position, term in search(reading):
                    found.setdefault(term.field, (position, view))
        return sorted((Find(offset_of(data, view, p), field) for field, (p, view) in found.items()), key=lambda f: f.offset)

    def _among_letters(self, reading: Reading) -> Iterator[tuple[View, int, SearchTerm]]:
        for start, end, (judge, terms) in self.letters.matches(squeezed(reading.shown)) if reading.letters else ():
            yield from ((_composed(reading.view), at, term) for at, term in judge(reading.shown, start, end, terms))

    def _among_words(self, reading: Reading) -> Iterator[tuple[View, int, SearchTerm]]:
        for patterns in (self.words, self.paths) if reading.words else ():
            for start, end, (judge, terms) in patterns.matches(reading.shown):
                if reading.text or _can_be_read(reading.shown, start, end):
                    yield from ((reading.view, at, term) for at, term in judge(reading.shown, start, end, terms))

    def _among_amounts(self, reading: Reading) -> Iterator[tuple[View, int, SearchTerm]]:
        for at, values in amounts(reading.shown) if self.amounts and reading.text and reading.words else ():
            yield from ((reading.view, at, term) for value in values for term in self.amounts.get(value, ()))


def _composed(view: View) -> View:
    return lambda data: squeezed(view(data))


def _owned(
    terms: Iterable[SearchTerm], spelling: Callable[[SearchTerm], Spelt]
) -> list[tuple[bytes, tuple[Judge, tuple[SearchTerm, ...]]]]:
    """Return each pattern once, with who judges its matches and all terms that it may be."""
    found: dict[tuple[bytes, Judge], dict[SearchTerm, None]] = defaultdict(dict)
    for term in terms:
        for judge, patterns in spelling(term):
            for pattern in sorted(patterns):
                found[pattern, judge][term] = None
    return [(pattern, (judge, tuple(own))) for (pattern, judge), own in found.items()]


def _as_letters(term: SearchTerm) -> Spelt:
    """Yield what to look for among letters and digits alone."""
    if term.match in (Match.ANYWHERE, Match.WORD) and size(term.value) >= LONG:
        yield (_anywhere if term.match is Match.ANYWHERE else _split_word), as_letters(term.value, parted=term.personal)
        yield _anywhere, codes(term.value)


def _as_words(term: SearchTerm) -> Spelt:
    """Yield what to look for among words and figures."""
    if term.match is Match.PLACE:
        yield _place, map(as_it_is, _places(term.value))
    elif term.match is Match.DIGITS:
        yield _digits, as_digits(term.value)
    elif term.match not in (Match.ANYWHERE, Match.AMOUNT, Match.PATH):
        yield _word, as_words(term.value)


def _as_paths(term: SearchTerm) -> Spelt:
    if term.match is Match.PATH:
        yield _path, [as_path(term.value)]


def _places(value: str) -> Iterator[bytes]:
    """Yield how a latitude or a longitude begins: in decimals, or with its degrees."""
    for number in (abs(float(v)) for v in value.split()):
        thousandths = f"{int(number % 1 * 1000):03d}".encode()
        marks = (b"." + thousandths, b"," + thousandths, "°".encode(), "°".encode("cp1252"), b" deg")
        yield from (b"%d" % number + mark for mark in marks)


def _anywhere(_shown: bytes, start: int, _end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    yield from ((start, term) for term in terms)


def _split_word(shown: bytes, start: int, end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    """Judge a match among letters and digits alone by what stands on either side of it in the bytes."""
    if _stands_alone(shown, *span_of(shown, start, end)):
        yield from ((start, term) for term in terms)


def _word(shown: bytes, start: int, end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    alone = _stands_alone(shown, start, end)
    capitals = shown[start:end] if alone else b""
    for term in terms:
        if term.match is Match.WORD:
            counts = alone
        else:
            counts = (term.match is Match.CAPITALS and _has_capitals(capitals, term)) or _is_keyed(shown, start, end, term)
        if counts:
            yield start, term


def _digits(shown: bytes, start: int, end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    """Judge digits: none stands on either side, but for the codes of a telephone number; a decimal number is no other value."""
    codes_before = CODES_BEFORE.search(shown[max(0, start - NEAR) : start])
    written = shown[start:end]
    is_decimal = b"." in written and (written.count(b".") == 1 or b" " in written)
    if _stands_alone(shown, start - len(codes_before[0]) if codes_before else start, end):
        yield from ((start, term) for term in terms if codes_before or not is_decimal or "." in term.value)


def _path(shown: bytes, start: int, _end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    """Judge a path: "../home/" is another one than "/home/"."""
    if not re.search(rb"[\w.-]$", shown[max(0, start - 1) : start]):
        yield from ((start, term) for term in terms)


def _place(shown: bytes, start: int, end: int, terms: Iterable[SearchTerm]) -> Iterator[tuple[int, SearchTerm]]:
    around = shown[max(0, start - NEAR) : end + NEAR]
    yield from ((start, term) for term in terms if _is_placed(around, term.value))


def _is_placed(around: bytes, value: str) -> bool:
    """Say whether latitude and longitude stand near each other, in decimals or in degrees and minutes."""
    pair = [abs(float(v)) for v in value.split()]
    decimal = [rb"(?<!\d)%d[.,]%03d" % (v, int(v % 1 * 1000)) for v in pair]
    minutes = [rb"(?<!\d)%d\D{1,9}%d\D" % (v, int(v % 1 * 60)) for v in pair]
    return any(all(re.search(p, around) for p in patterns) for patterns in (decimal, minutes))


def _stands_alone(data: bytes, start: int, end: int) -> bool:
    """Say whether no letter and no digit stands on either side (and no figure beyond a decimal sign); wide ones are words by themselves."""
    before, after = data[max(0, start - 4) : start], data[end : end + 4]
    sides = before.decode("utf-8", "ignore")[-1:] + after.decode("utf-8", "ignore")[:1]
    if any(side.isalnum() and not is_wide(side) for side in sides):
        return False
    figures = data[start : start + 1].isdigit() and data[end - 1 : end].isdigit()
    return not (figures and (re.search(rb"\d[.,]$", before) or re.match(rb"[.,]\d", after)))


def _can_be_read(data: bytes, start: int, end: int) -> bool:
    """Say whether there is text about a place, or little else at all: a hundred megabytes of pixels spell any four letters."""
    if len(data) <= SPELLS_NOTHING:
        return True
    before = data[max(0, start - READABLE) : start].decode("utf-8", "replace")
    after = data[end : end + READABLE].decode("utf-8", "replace")
    around = f"{TEXT_BEFORE.search(before)[0]}{TEXT_AFTER.match(after)[0]}"  # type: ignore[index]  # nothing matches as well
    return len(around) + end - start >= READABLE


def _has_capitals(written: bytes, term: SearchTerm) -> bool:
    """Say whether words have the capitals of a name, or nothing but capitals; a single one has its accents too, which make up for them."""
    form = normalize if len(pieces(term.value)) == 1 else lambda _, text: without_accents(text)
    letters, wanted = ("".join(pieces(form("NFC", text))) for text in (written.decode("utf-8", "ignore"), term.value))
    return letters in (wanted, wanted.upper(), *(() if wanted.isascii() else (wanted.lower(),)))


def _is_keyed(data: bytes, start: int, end: int, term: SearchTerm) -> bool:
    """Say whether a keyword stands directly before a value, or a comma and a keyword behind it; a name has its capital there."""
    if not term.keywords or not _stands_alone(data[start : end + 4], 0, end - start):
        return False
    before, behind = data[max(0, start - MARKED_UP) : start].lower(), data[end : end + NEAR].lower()
    if term.value[0].isupper() and data[start : start + 1].islower():
        return TITLE.search(before) is not None
    is_word = term.value[0].isalpha()
    return bool(_keyword_before(term.keywords).search(before) or (is_word and _keyword_behind(term.keywords).match(behind)))


@lru_cache(maxsize=64)
def _keyword_before(keywords: tuple[str, ...]) -> re.Pattern[bytes]:
    own, prepositions = (_any_of(k for k in keywords if (k in PREPOSITIONS) is those) for those in (False, True))
    return re.compile(
        rb"(?<![a-z0-9&])(?:" + own + rb"(?:(?:'|\xe2\x80\x99)s)?" + BETWEEN + rb"|" + prepositions + rb"\s{1,3})$"
    )


@lru_cache(maxsize=64)
def _keyword_behind(keywords: tuple[str, ...]) -> re.Pattern[bytes]:
    return re.compile(
        rb"\s?[,(]\s?(?:(?:the|our|its|an?)\s)?" + _any_of(k for k in keywords if k not in PREPOSITIONS) + rb"(?![a-z])"
    )


def _any_of(words: Iterable[str]) -> bytes:
    """Return a pattern of any of some words; of none, one that matches nothing."""
    return rb"(?:" + (b"|".join(re.escape(w.encode()) for w in words) or rb"(?!)") + rb")"
