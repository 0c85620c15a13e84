"""Looking for private values in bytes: all at once, whatever their spelling and encoding."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from typing import TypeAlias

from benchrecord.publish.guarding.patterns import Patterns, as_it_is
from benchrecord.publish.guarding.rule import SURE, Reach, Sought
from benchrecord.publish.guarding.spellings import ENCODINGS, codes, letters, plain, span_of, squeezed, stored, whole
from benchrecord.publish.guarding.unfolding import LETTERS, Reading, View, offset_of, readings

NEAR, MARKED_UP = 64, 256  # bytes in which a word says what the value beside it is, without tags and with them
BETWEEN = (
    rb"[^0-9a-z]{0,12}(?:(?:an?|of|is|per|was|the|at|for|eur)[^0-9a-z]{1,4})?"  # a number and the word that says what it is
)
OR_TAGS = rb"(?:<[^<>]*>|[^0-9a-z<]){1,12}(?:(?:an?|of|is|was|the|at|for)[^0-9a-z]{1,4})?"  # the same of words
OF_ANY_SENTENCE = frozenset({"from", "for", "by", "bought", "ordered", "number", "no", "call", "lives"})
SAME_SENTENCE = rb"(?![.!?][\sa-z])"  # in "it was 2 of 14. Each number can be traced" the word says nothing of the number
SEPARATORS = rb"[ \xa0\t./()\-]{0,4}"
READABLE, SPELLS_NOTHING = 12, 1024  # characters of text in which a word stands; bytes in which chance spells no word
TEXT_BEFORE, TEXT_AFTER = re.compile(r"[^\0-\x08\x0b\x0e-\x1f\x7f\ufffd]*$"), re.compile(r"[^\0-\x08\x0b\x0e-\x1f\x7f\ufffd]*")
A_NUMBER = re.compile(rb"\d+(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class Find:
    """A private value that was come upon: at which byte, and which field holds it."""

    offset: int
    field: str


# Says of a match, from start to end, which of the things that it may be count, and where each begins.
Judge: TypeAlias = Callable[[bytes, int, int, Iterable[Sought]], Iterator[tuple[int, Sought]]]
Spelt: TypeAlias = Iterator[tuple[Judge, Iterable[bytes]]]


class Search:
    """Everything that is looked for: among letters and digits alone, and among words."""

    def __init__(self, things: Iterable[Sought]) -> None:
        """Spell out what is looked for."""
        kept = list(things)
        among_letters = _owned(kept, _as_letters)
        self.letters, self.words = Patterns(among_letters), Patterns(_owned(kept, _as_words))
        self.ascii_alone = all(pattern.isalnum() and len(pattern) >= LETTERS for pattern, _ in among_letters)

    def finds(self, data: bytes) -> list[Find]:
        """Return what was come upon in bytes, each field once, the first first."""
        found: dict[str, tuple[int, View]] = {}
        for reading in readings(data, ascii_alone=self.ascii_alone):
            for view, position, thing in chain(self._among_letters(reading), self._among_words(reading)):
                found.setdefault(thing.field, (position, view))
        return sorted((Find(offset_of(data, view, p), field) for field, (p, view) in found.items()), key=lambda f: f.offset)

    def _among_letters(self, reading: Reading) -> Iterator[tuple[View, int, Sought]]:
        for start, end, (judge, things) in self.letters.matches(squeezed(reading.shown)) if reading.letters else ():
            yield from ((_composed(reading.view), at, thing) for at, thing in judge(reading.shown, start, end, things))

    def _among_words(self, reading: Reading) -> Iterator[tuple[View, int, Sought]]:
        for start, end, (judge, things) in self.words.matches(reading.shown) if reading.words else ():
            if not (reading.text or _can_be_read(reading.shown, start, end)):
                continue
            yield from ((reading.view, at, thing) for at, thing in judge(reading.shown, start, end, things))


def _composed(view: View) -> View:
    return lambda data: squeezed(view(data))


def _owned(
    things: Iterable[Sought], spelling: Callable[[Sought], Spelt]
) -> list[tuple[bytes, tuple[Judge, tuple[Sought, ...]]]]:
    """Return each pattern once, with who judges its matches and all things that it may be."""
    found: dict[tuple[bytes, Judge], dict[Sought, None]] = defaultdict(dict)
    for thing in things:
        for judge, patterns in spelling(thing):
            for pattern in sorted({*patterns} - {b""}):
                found[pattern, judge][thing] = None
    return [(pattern, (judge, tuple(own))) for (pattern, judge), own in found.items()]


def _as_letters(thing: Sought) -> Spelt:
    """Yield what to look for among letters and digits alone."""
    if thing.reach is Reach.ANYWHERE:
        yield _anywhere, map(as_it_is, letters(thing.value) | codes(thing.value))
    elif thing.reach is Reach.WHOLE and len(plain(thing.value)) >= SURE:
        yield _split_word, map(as_it_is, letters(thing.value))
        yield _anywhere, map(as_it_is, codes(thing.value))


def _as_words(thing: Sought) -> Spelt:
    """Yield what to look for among words and figures."""
    beside = thing.reach is Reach.BESIDE
    if thing.reach is Reach.ANYWHERE or (beside and not thing.beside):
        return
    if thing.reach is Reach.EXACT:
        yield _anywhere, [as_it_is(thing.value.encode("utf-8", "surrogateescape"))]
    elif thing.reach is Reach.PLACE:
        yield _place, map(as_it_is, _places(thing.value))
    elif _is_number(thing.value):
        yield (_number_beside, _labels(thing.beside)) if beside else (_word, [_figures(thing.value)])
    else:
        yield _word, map(as_it_is, _words(thing.value))


def _is_number(value: str) -> bool:
    return re.fullmatch(r"[\d\s.,:/()+-]+", value) is not None


def _words(value: str) -> Iterator[bytes]:
    for form in whole(value):
        yield from (stored(c, e).replace(b"\0", b"") for c in (form, form.upper()) for e in ENCODINGS)


def _labels(words: Iterable[str]) -> Iterator[bytes]:
    """Yield patterns of a word that says what a number is, with a figure beside it."""
    for label in (as_it_is(word.encode()) for word in words):
        yield label + BETWEEN + rb"\d"
        yield rb"\d" + BETWEEN + label


def _figures(value: str) -> bytes:
    """Return a pattern of a number in any of its spellings, or of figures with whatever separates them."""
    if match := re.fullmatch(r"(\d+)(?:\.(\d+))?", value):
        return match[1].encode() + (rb"[.,]" + match[2].encode() + b"0*" if match[2] else rb"(?:[.,]0+)?")
    return SEPARATORS.join(d.encode() for d in value if d.isdigit())


def _places(value: str) -> Iterator[bytes]:
    """Yield how a latitude or a longitude begins: in decimals, or with its degrees."""
    for number in (abs(float(v)) for v in value.split()):
        thousandths = f"{int(number % 1 * 1000):03d}".encode()
        marks = (b"." + thousandths, b"," + thousandths, "°".encode(), "°".encode("cp1252"), b" deg")
        yield from (b"%d" % number + mark for mark in marks)


def _anywhere(_shown: bytes, start: int, _end: int, things: Iterable[Sought]) -> Iterator[tuple[int, Sought]]:
    yield from ((start, thing) for thing in things)


def _split_word(shown: bytes, start: int, end: int, things: Iterable[Sought]) -> Iterator[tuple[int, Sought]]:
    """Judge a match among letters and digits alone by what stands on either side of it in the bytes."""
    if _stands_alone(shown, *span_of(shown, start, end)):
        yield from ((start, thing) for thing in things)


def _word(shown: bytes, start: int, end: int, things: Iterable[Sought]) -> Iterator[tuple[int, Sought]]:
    if _stands_alone(shown, start, end):
        yield from ((start, t) for t in things if t.reach is not Reach.BESIDE or _is_said(shown, start, end, t))


def _place(shown: bytes, start: int, end: int, things: Iterable[Sought]) -> Iterator[tuple[int, Sought]]:
    around = shown[max(0, start - NEAR) : end + NEAR]
    yield from ((start, thing) for thing in things if _is_placed(around, thing.value))


def _number_beside(shown: bytes, start: int, end: int, things: Iterable[Sought]) -> Iterator[tuple[int, Sought]]:
    begin, around = max(0, start - NEAR), shown[max(0, start - NEAR) : end + NEAR]
    there = {_number(m[0]) for m in A_NUMBER.finditer(around)}
    near = (thing for thing in things if _number(thing.value.encode()) in there)
    yield from ((begin + at, thing) for thing in near if (at := _beside_a_word(around, thing)) is not None)


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
    figures = _figures(value)
    after_it = rb"(?<![a-z])" + _any_of(words) + BETWEEN + b"(?P<after>" + figures + b")"
    before_it = b"(?P<before>" + figures + b")" + SAME_SENTENCE + BETWEEN + _any_of(_labels_of(words)) + rb"(?![a-z])"
    return re.compile(after_it + b"|" + before_it, re.DOTALL)


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


def _can_be_read(data: bytes, start: int, end: int) -> bool:
    """Say whether there is text about a place, or little else at all: a hundred megabytes of pixels spell any four letters."""
    if len(data) <= SPELLS_NOTHING:
        return True
    before = data[max(0, start - READABLE) : start].decode("utf-8", "replace")
    after = data[end : end + READABLE].decode("utf-8", "replace")
    around = f"{TEXT_BEFORE.search(before)[0]}{TEXT_AFTER.match(after)[0]}"  # type: ignore[index]  # nothing matches as well
    return len(around) + end - start >= READABLE


def _is_said(data: bytes, start: int, end: int, thing: Sought) -> bool:
    """Say whether a word stands directly beside one that says what it is, and with a capital if that is a word of any sentence."""
    before, after = data[max(0, start - MARKED_UP) : start].lower(), data[end : end + MARKED_UP].lower()
    said = [
        m["word"].decode() for m in (_word_before(thing.beside).search(before), _word_after(thing.beside).match(after)) if m
    ]
    return any(word not in OF_ANY_SENTENCE for word in said) or (bool(said) and _is_capital(data, start, thing))


def _is_capital(data: bytes, start: int, thing: Sought) -> bool:
    return not (thing.value[0].isupper() and data[start : start + 1].islower())


@lru_cache(maxsize=4096)
def _word_before(words: tuple[str, ...]) -> re.Pattern[bytes]:
    return re.compile(rb"(?<![a-z])(?P<word>" + _any_of(words) + b")" + OR_TAGS + rb"$", re.DOTALL)


@lru_cache(maxsize=4096)
def _word_after(words: tuple[str, ...]) -> re.Pattern[bytes]:
    told = rb"(?P<word>" + _any_of(_labels_of(words)) + b")"
    return re.compile(SAME_SENTENCE + rb"(?=[^0-9a-z]*[^\s0-9a-z])" + OR_TAGS + told + rb"(?![a-z])", re.DOTALL)


def _labels_of(words: Iterable[str]) -> list[str]:
    """Return the words that say what something is on either side of it: "44, no" says nothing of 44."""
    return [word for word in words if word not in OF_ANY_SENTENCE]


def _any_of(words: Iterable[str]) -> bytes:
    """Return a pattern of any of some words; of none, one that matches nothing."""
    return rb"(?:" + (b"|".join(re.escape(w.encode()) for w in words) or rb"(?!)") + rb")"
