"""Looking for private values in bytes: all at once, whatever their spelling and encoding."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain

import hyperscan

from benchrecord.publish.guarding.rule import SURE, Reach, Sought
from benchrecord.publish.guarding.spellings import ENCODINGS, codes, letters, plain, squeezed, stored, whole
from benchrecord.publish.guarding.unfolding import View, is_text, offset_of, views

NEAR = 64  # bytes in which a word says what the value beside it is
BETWEEN = (
    rb"[^0-9a-z]{0,12}(?:(?:an?|of|is|per|was|the|at|for|eur)[^0-9a-z]{1,4})?"  # a number and the word that says what it is
)
SEPARATORS = rb"[ \xa0\t./()\-]{0,4}"
A_NUMBER = re.compile(rb"\d+(?:[.,]\d+)?")
TEXT_INSIDE = rb"[\t\n\r -~]{8}(?:%[0-9a-f]{2}|&#?[a-z0-9]{2,8};|\\\\[ux0-3][0-9a-f]{2})"


@dataclass(frozen=True, slots=True)
class Find:
    """A private value that was come upon: at which byte, and which field holds it."""

    offset: int
    field: str


class Patterns:
    """Byte patterns, each with what it belongs to, compiled into one automaton."""

    def __init__(self, owners: Mapping[bytes, frozenset[Sought]], *, literal: bool) -> None:
        """Compile the patterns, which are looked for in either case."""
        self.patterns, self.owners = list(owners), list(owners.values())
        self.literal = literal
        self.database = hyperscan.Database(mode=hyperscan.HS_MODE_BLOCK) if self.patterns else None
        if self.database:
            flags = hyperscan.HS_FLAG_CASELESS | (0 if literal else hyperscan.HS_FLAG_SOM_LEFTMOST | hyperscan.HS_FLAG_DOTALL)
            count = len(self.patterns)
            self.database.compile(
                expressions=self.patterns, ids=list(range(count)), elements=count, flags=[flags] * count, literal=literal
            )

    def matches(self, data: bytes) -> Iterator[tuple[int, int, frozenset[Sought]]]:
        """Yield (start, end, what it belongs to) of each match."""
        found: list[tuple[int, int, int]] = []
        if self.database and data:
            self.database.scan(data, match_event_handler=lambda number, start, end, *_: found.append((number, start, end)))
        for number, start, end in found:
            yield (end - len(self.patterns[number]) if self.literal else start), end, self.owners[number]


class Search:
    """Everything that is looked for."""

    def __init__(self, things: Iterable[Sought]) -> None:
        """Spell out what is looked for."""
        names = ("letters", "split", "words", "labels", "figures")
        found: dict[str, dict[bytes, set[Sought]]] = {name: defaultdict(set) for name in names}
        for thing in things:
            for name, patterns in _spelt(thing):
                for pattern in filter(None, patterns):
                    found[name][pattern].add(thing)
        frozen = {name: {p: frozenset(own[p]) for p in sorted(own)} for name, own in found.items()}
        self.letters, self.split, self.words = (Patterns(frozen[n], literal=True) for n in ("letters", "split", "words"))
        self.labels = Patterns(frozen["labels"], literal=True)
        self.figures = Patterns(frozen["figures"], literal=False)
        self.telling = Patterns({TEXT_INSIDE: frozenset()}, literal=False)

    def finds(self, data: bytes) -> list[Find]:
        """Return what was come upon in bytes, a field once at each place, the first of each field first."""
        text = is_text(data)
        telling = text or next(self.telling.matches(data), None) is not None
        found: dict[str, tuple[int, View]] = {}
        for view, shown in views(data, text=text, telling=telling):
            for position, squeeze, thing in chain(self._in_letters(shown), self._in_words(shown)):
                found.setdefault(thing.field, (position, _composed(view) if squeeze else view))
        return sorted((Find(offset_of(data, view, p), field) for field, (p, view) in found.items()), key=lambda f: f.offset)

    def _in_letters(self, shown: bytes) -> Iterator[tuple[int, bool, Sought]]:
        if not (self.letters.database or self.split.database):
            return
        bare = squeezed(shown)
        yield from ((start, True, t) for start, _, things in self.letters.matches(bare) for t in things)
        for start, end, things in self.split.matches(bare):
            first, last = (offset_of(shown, squeezed, at) for at in (start, end - 1))
            if _stands_alone(shown, first, last + 1):
                yield from ((start, True, t) for t in things)

    def _in_words(self, shown: bytes) -> Iterator[tuple[int, bool, Sought]]:
        for start, end, things in chain(self.words.matches(shown), self.figures.matches(shown)):
            yield from ((start, False, t) for t in things if _counts(shown, start, end, t))
        for start, end, things in self.labels.matches(shown):
            begin, around = max(0, start - NEAR), shown[max(0, start - NEAR) : end + NEAR]
            there = {_number(m[0]) for m in A_NUMBER.finditer(around)}
            near = [t for t in things if _number(t.value.encode()) in there]
            yield from ((begin + at, False, t) for t in near if (at := _beside_a_word(around, t)) is not None)


def _composed(view: View) -> View:
    return lambda data: squeezed(view(data))


def _spelt(thing: Sought) -> Iterator[tuple[str, Iterable[bytes]]]:
    """Yield what to look for, and where: among letters and digits alone, split or not, among words, among figures."""
    if thing.reach is Reach.ANYWHERE:
        yield "letters", letters(thing.value) | codes(thing.value)
    elif thing.reach is not Reach.BESIDE or thing.beside:
        yield _place_of(thing), _as_words(thing)
        if thing.reach is Reach.WHOLE and len(plain(thing.value)) >= SURE:
            yield "split", letters(thing.value)
            yield "letters", codes(thing.value)


def _place_of(thing: Sought) -> str:
    if not _is_number(thing.value) or thing.reach is Reach.PLACE:
        return "words"
    return "labels" if thing.reach is Reach.BESIDE else "figures"


def _is_number(value: str) -> bool:
    return re.fullmatch(r"[\d\s.,:/()+-]+", value) is not None


def _as_words(thing: Sought) -> Iterator[bytes]:
    if thing.reach is Reach.EXACT:
        yield thing.value.encode("utf-8", "surrogateescape")
        return
    if thing.reach is Reach.PLACE:
        yield from _place(thing.value)
        return
    if _is_number(thing.value):
        yield from [w.encode() for w in thing.beside] if thing.reach is Reach.BESIDE else [_figures(thing.value)]
        return
    for form in whole(thing.value):
        yield from (stored(c, e).replace(b"\0", b"") for c in (form, form.upper()) for e in ENCODINGS)


def _figures(value: str) -> bytes:
    """Return a pattern of a number in any of its spellings, or of figures with whatever separates them."""
    if match := re.fullmatch(r"(\d+)(?:\.(\d+))?", value):
        return match[1].encode() + (rb"[.,]" + match[2].encode() + b"0*" if match[2] else rb"(?:[.,]0+)?")
    return SEPARATORS.join(d.encode() for d in value if d.isdigit())


def _place(value: str) -> Iterator[bytes]:
    """Yield how a latitude or a longitude begins: in decimals, or with its degrees."""
    for number in (abs(float(v)) for v in value.split()):
        thousandths = f"{int(number % 1 * 1000):03d}".encode()
        marks = (b"." + thousandths, b"," + thousandths, "°".encode(), "°".encode("cp1252"), b" deg")
        yield from (b"%d" % number + mark for mark in marks)


def _counts(data: bytes, start: int, end: int, thing: Sought) -> bool:
    if thing.reach is Reach.EXACT:
        return True
    if thing.reach is Reach.PLACE:
        return _is_placed(data[max(0, start - NEAR) : end + NEAR], thing.value)
    return _stands_alone(data, start, end) and (thing.reach is not Reach.BESIDE or _is_said(data, start, end, thing))


@lru_cache(maxsize=4096)
def _number(written: bytes) -> float | None:
    try:
        return float(written.replace(b",", b"."))
    except ValueError:
        return None


def _beside_a_word(around: bytes, thing: Sought) -> int | None:
    """Return where a number stands directly beside a word that says what it is; None where it does not."""
    found = (m for m in _numbers_beside(thing.value, thing.beside).finditer(around.lower()))
    alone = (m for m in found if _stands_alone(around, *m.span("after" if m["after"] else "before")))
    return next((m.start() for m in alone), None)


@lru_cache(maxsize=4096)
def _numbers_beside(value: str, words: tuple[str, ...]) -> re.Pattern[bytes]:
    figures, told = _figures(value), b"(?:" + b"|".join(re.escape(w.encode()) for w in words) + b")"
    after, before = b"(?P<after>" + figures + b")", b"(?P<before>" + figures + b")"
    return re.compile(rb"(?<![a-z])" + told + BETWEEN + after + b"|" + before + BETWEEN + told + b"(?![a-z])", re.DOTALL)


def _is_placed(around: bytes, value: str) -> bool:
    """Say whether latitude and longitude stand near each other, in decimals or in degrees and minutes."""
    pair = [abs(float(v)) for v in value.split()]
    decimal = [rb"(?<!\d)%d[.,]%03d" % (v, int(v % 1 * 1000)) for v in pair]
    minutes = [rb"(?<!\d)%d\D{1,9}%d\D" % (v, int(v % 1 * 60)) for v in pair]
    return any(all(re.search(p, around) for p in patterns) for patterns in (decimal, minutes))


def _stands_alone(data: bytes, start: int, end: int) -> bool:
    """Say whether no letter and no digit stands on either side (and no figure beyond a decimal sign)."""
    before, after = data[max(0, start - 4) : start], data[end : end + 4]
    if before.decode("utf-8", "ignore")[-1:].isalnum() or after.decode("utf-8", "ignore")[:1].isalnum():
        return False
    figures = data[start : start + 1].isdigit() and data[end - 1 : end].isdigit()
    return not (figures and (re.search(rb"\d[.,]$", before) or re.match(rb"[.,]\d", after)))


def _is_said(data: bytes, start: int, end: int, thing: Sought) -> bool:
    around = data[max(0, start - NEAR) : end + NEAR].lower()
    return any(re.search(rb"(?<![a-z])" + re.escape(word.encode()) + rb"(?![a-z])", around) for word in thing.beside)
