"""How the archive's rows are brought together: by value, by supplier, by symptom, by model and designator."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from benchrecord.model.archive import Archive, Dated, Entry
from benchrecord.model.job import BoardPart, Fault, Job, PartWork
from benchrecord.model.notation import parse_quantity
from benchrecord.model.quantity import dimension
from benchrecord.model.references import part_key
from benchrecord.pages.addresses import slug
from benchrecord.pages.words import instrument_name, natural

Item = TypeVar("Item")
Key = TypeVar("Key")
LETTERS = re.compile(r"[A-Z]+")
KINDS_NAMED = 4


@dataclass(frozen=True, slots=True)
class Line:
    """The same thing done with the same part, wherever it was."""

    entries: tuple[Entry[PartWork], ...]

    @property
    def work(self) -> PartWork:
        """What all of them say."""
        return self.entries[0].item


@dataclass(frozen=True, slots=True)
class Named:
    """What has one name: a value, a supplier, an obsolete part; ``piece`` counts from 1 where it has too many lines for a page."""

    name: str
    anchor: str
    lines: tuple[Line, ...]
    piece: int = 1


@dataclass(frozen=True, slots=True)
class LetterClass:
    """The parts whose designators begin with the same letters; ``kinds`` are what board tables call most of them."""

    letters: str
    kinds: tuple[str, ...]
    values: tuple[Named, ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause with its remedy, and the faults that had both."""

    cause: str
    remedy: str
    entries: tuple[Entry[Fault], ...]


@dataclass(frozen=True, slots=True)
class Symptom:
    """What was noticed, and all that was behind it."""

    words: str
    anchor: str
    causes: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Designator:
    """A part of a model: what it is, and all that happened to it in any job."""

    key: str
    anchor: str
    what: BoardPart | None
    works: tuple[Entry[PartWork], ...] = ()
    faults: tuple[Entry[Fault], ...] = ()
    codes: tuple[Dated, ...] = ()


@dataclass(frozen=True, slots=True)
class Model:
    """A maker's model, or jobs without one that have the same title; ``page`` is its page in the archive."""

    name: str
    maker: str
    page: str
    jobs: tuple[Job, ...]
    boards: Mapping[str, tuple[Designator, ...]]  # by title


def grouped(items: Iterable[Item], key: Callable[[Item], Key]) -> dict[Key, list[Item]]:
    """Group items by a key, in the order in which the keys come."""
    found: dict[Key, list[Item]] = {}
    for item in items:
        found.setdefault(key(item), []).append(item)
    return found


def folded(text: str) -> str:
    """Return a text as it is compared: without regard to case and blanks."""
    return " ".join(text.casefold().split())


def anchors(prefix: str, names: Iterable[str]) -> list[str]:
    """Return an anchor for each name, each of its own."""
    taken: Counter[str] = Counter()
    made = []
    for name in names:
        anchor = f"{prefix}{slug(name)}"
        taken[anchor] += 1
        made.append(anchor if taken[anchor] == 1 else f"{anchor}--{taken[anchor]}")
    return made


def labels(jobs: Sequence[Job]) -> dict[str, str]:
    """Return what each job is called among all: model and year of the work, and where that is not enough, its serial number or id."""
    short = {j.id: f"{j.instrument.model or instrument_name(j)}{_year(j)}" for j in jobs}
    times = Counter(short.values())
    long = {j.id: f"{short[j.id]} ({j.instrument.serial or j.id})" if times[short[j.id]] > 1 else short[j.id] for j in jobs}
    again = Counter(long.values())
    return {j.id: f"{short[j.id]} ({j.id})" if again[long[j.id]] > 1 else long[j.id] for j in jobs}


def _year(job: Job) -> str:
    day = job.dates.received or job.dates.finished or job.dates.returned
    return f", {day.year}" if day else ""


def value_order(text: str) -> tuple[object, ...]:
    """Return how a value is ordered and compared: ``4k7`` as ``4.7 kΩ``, quantities by size before words."""
    found = parse_quantity(text)
    if found is None:
        return (1, "", 0.0, natural(folded(text)))
    return (0, dimension(found.unit) or "", float(f"{found.in_base():.9g}"), ())


def letter_classes(works: Iterable[Entry[PartWork]], jobs: Iterable[Job]) -> list[LetterClass]:
    """Bring works together by the letters of their designators, then by value."""
    kinds: dict[str, Counter[str]] = {}
    for part in (p for job in jobs for board in job.boards for p in board.parts if p.kind):
        kinds.setdefault(_letters(part.ref), Counter())[part.kind] += 1
    return [
        LetterClass(letters, tuple(k for k, _ in kinds.get(letters, Counter()).most_common(KINDS_NAMED)), _values(letters, own))
        for letters, own in sorted(grouped(works, lambda e: _letters(e.item.ref)).items())
    ]


def _letters(ref: str) -> str:
    match = LETTERS.match(ref)
    return match[0] if match else ref


def _values(letters: str, works: Iterable[Entry[PartWork]]) -> tuple[Named, ...]:
    by_value = grouped(works, lambda e: value_order(e.item.was or e.item.now))
    ordered = [by_value[k] for k in sorted(by_value)]
    names = [_usual(e.item.was or e.item.now or "no value given" for e in own) for own in ordered]
    found = zip(names, anchors(f"value-{letters}-", names), ordered, strict=True)
    return tuple(Named(name, anchor, lines(own)) for name, anchor, own in found)


def _usual(spellings: Iterable[str]) -> str:
    return Counter(spellings).most_common(1)[0][0]


def lines(works: Iterable[Entry[PartWork]]) -> tuple[Line, ...]:
    """Merge works of which the part, what went in, and the purchase are the same."""
    return tuple(Line(tuple(own)) for own in grouped(works, _same).values())


def _same(entry: Entry[PartWork]) -> tuple[object, ...]:
    p = entry.item
    words = (p.was, p.was_rating, p.now, p.now_rating, p.supplier, p.order_code)
    return (p.action, p.status, p.obsolete, p.unit_cost, entry.job.costs.currency, *map(folded, words))


def pieces(named: Named, most: int) -> list[Named]:
    """Part what has more lines than a page should have."""
    parted = [named.lines[start : start + most] for start in range(0, len(named.lines), most)]
    return [
        Named(named.name, f"{named.anchor}--piece-{n}" if n > 1 else named.anchor, own, n) for n, own in enumerate(parted, 1)
    ]


def suppliers(works: Iterable[Entry[PartWork]]) -> list[Named]:
    """Bring works together by who sold the part, in the order of order codes."""
    bought = grouped((e for e in works if e.item.supplier), lambda e: folded(e.item.supplier))
    by_name = sorted(bought.values(), key=lambda own: folded(own[0].item.supplier))
    names = [own[0].item.supplier for own in by_name]
    return [
        Named(name, anchor, lines(sorted(own, key=lambda e: (natural(e.item.order_code), natural(e.item.now or e.item.was)))))
        for name, anchor, own in zip(names, anchors("supplier-", names), by_name, strict=True)
    ]


def substitutes(works: Iterable[Entry[PartWork]]) -> list[Named]:
    """Bring works on parts that are no longer made together by the part."""
    obsolete = grouped((e for e in works if e.item.obsolete), lambda e: folded(e.item.was or e.item.now))
    names = {key: own[0].item.was or own[0].item.now or own[0].item.ref for key, own in obsolete.items()}
    ordered = sorted(obsolete, key=natural)
    found = zip(ordered, anchors("obsolete-", (names[k] for k in ordered)), strict=True)
    return [Named(names[key], anchor, lines(obsolete[key])) for key, anchor in found]


def spent(named: Named) -> dict[str, float]:
    """Return what was paid for the parts that were fitted, by currency."""
    sums: dict[str, float] = {}
    for entry in (e for line in named.lines for e in line.entries):
        if entry.item.unit_cost is not None and entry.item.status == "fitted":
            currency = entry.job.costs.currency
            sums[currency] = sums.get(currency, 0.0) + entry.item.qty * entry.item.unit_cost
    return sums


def symptoms(faults: Iterable[Entry[Fault]]) -> list[Symptom]:
    """Bring faults together by what was noticed, then by cause and remedy: what happened most comes first."""
    by_symptom = grouped(faults, lambda e: folded(e.item.symptom))
    ordered = [by_symptom[k] for k in sorted(by_symptom)]
    words = [own[0].item.symptom for own in ordered]
    return [Symptom(w, anchor, _causes(own)) for w, anchor, own in zip(words, anchors("symptom-", words), ordered, strict=True)]


def _causes(faults: Iterable[Entry[Fault]]) -> tuple[Cause, ...]:
    same = grouped(faults, lambda e: (folded(e.item.cause), folded(e.item.remedy)))
    found = [Cause(own[0].item.cause, own[0].item.remedy, tuple(own)) for own in same.values()]
    return tuple(sorted(found, key=lambda cause: -len(cause.entries)))


def models(archive: Archive) -> list[Model]:
    """Bring jobs together by maker and model, and within a model by board and designator."""
    by_model = grouped(archive.jobs, lambda j: (folded(j.instrument.maker), folded(instrument_name(j))))
    ordered = [by_model[k] for k in sorted(by_model)]
    names = [instrument_name(own[0]) for own in ordered]
    pages = anchors("archive/models/", (n.casefold() for n in names))
    of_job = grouped(_histories(archive), lambda h: h[0].id)
    return [
        Model(name, own[0].instrument.maker, page, tuple(own), _boards(own, [h for j in own for h in of_job.get(j.id, ())]))
        for name, page, own in zip(names, pages, ordered, strict=True)
    ]


History = tuple[Job, str, Designator]


def _histories(archive: Archive) -> Iterator[History]:
    """Yield what happened to a part in one job, one thing at a time."""
    for work in archive.works:
        yield work.job, work.key, Designator(work.key, "", None, works=(work,))
    for fault in (f for f in archive.faults if f.key):
        yield fault.job, fault.key, Designator(fault.key, "", None, faults=(fault,))
    for code in archive.codes:
        yield code.entry.job, code.entry.key, Designator(code.entry.key, "", None, codes=(code,))


def _boards(jobs: Sequence[Job], histories: Sequence[History]) -> dict[str, tuple[Designator, ...]]:
    titles = {b.id: b.title for job in reversed(jobs) for b in job.boards}
    placed = {part_key(b.id, p.ref): p for job in reversed(jobs) for b in job.boards for p in b.parts}
    by_key = grouped(histories, lambda h: h[1])
    keys = sorted(by_key, key=lambda k: natural(k.rpartition(":")[2]))
    made = [
        Designator(
            key,
            anchor,
            placed.get(key),
            tuple(w for _, _, d in by_key[key] for w in d.works),
            tuple(f for _, _, d in by_key[key] for f in d.faults),
            tuple(c for _, _, d in by_key[key] for c in d.codes),
        )
        for key, anchor in zip(keys, anchors("", keys), strict=True)
    ]
    by_board = grouped(made, lambda d: d.key.rpartition(":")[0])
    order = [*(b for b in titles if b in by_board), *sorted(b for b in by_board if b not in titles)]
    return {titles.get(b, b or "Elsewhere in the instrument"): tuple(by_board[b]) for b in order}
