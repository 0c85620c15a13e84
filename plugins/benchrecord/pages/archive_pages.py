"""The archive's own pages: what was wrong, what was fitted, what is open and what it took, across all jobs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from benchrecord.model.archive import Account, Archive, Entry
from benchrecord.model.costs import AT_LEAST
from benchrecord.model.job import Document, Edition, Job, PartWork
from benchrecord.pages import addresses
from benchrecord.pages.archive_index import (
    Designator,
    LetterClass,
    Line,
    Model,
    Named,
    Symptom,
    folded,
    grouped,
    labels,
    letter_classes,
    models,
    pieces,
    spent,
    substitutes,
    suppliers,
    symptoms,
)
from benchrecord.pages.render import Page, render
from benchrecord.pages.story import in_limits, matters
from benchrecord.pages.view import View
from benchrecord.pages.words import READERS, instrument_name, natural

INDEX = "archive/index.md"
MOST = 700  # lines of a page: more are parted
Block = TypeVar("Block")


@dataclass(frozen=True)
class Shelf:
    """All that the archive's pages are written from."""

    archive: Archive
    views: tuple[View, ...]

    @cached_property
    def labels(self) -> Mapping[str, str]:
        """What each job is called."""
        return labels(self.archive.jobs)

    @cached_property
    def models(self) -> Sequence[Model]:
        """The models, by maker and name."""
        return models(self.archive)

    @cached_property
    def classes(self) -> Sequence[LetterClass]:
        """The parts that were worked on, by letters and value."""
        return letter_classes(self.archive.works, self.archive.jobs)

    @cached_property
    def symptoms(self) -> Sequence[Symptom]:
        """The faults, by what was noticed."""
        return symptoms(self.archive.faults)

    @cached_property
    def suppliers(self) -> Sequence[Named]:
        """Who sold what."""
        return suppliers(self.archive.works)

    @cached_property
    def substitutes(self) -> Sequence[Named]:
        """What took the place of parts that are no longer made."""
        return substitutes(self.archive.works)

    @cached_property
    def open(self) -> Sequence[tuple[Job, Sequence[Mapping[str, str]]]]:
        """What is still not right, by job."""
        return [(v.job, found) for v in self.views if (found := matters(v))]

    @cached_property
    def contents(self) -> Sequence[tuple[str, str, int]]:
        """The pages that have something to show: name, title, and how much."""
        archive = self.archive
        counts = {
            "open": (
                "Open matters",
                sum(len(found) for _, found in self.open) + len(archive.dues.over) + len(archive.dues.coming),
            ),
            "models": ("Makers and models", len(self.models)),
            "faults": ("Faults", len(self.symptoms)),
            "parts": ("Parts by value", sum(len(c.values) for c in self.classes)),
            "designators": ("Designators", len({d.key.rpartition(":")[2] for d in self.designators})),
            "substitutes": ("No longer made", len(self.substitutes)),
            "suppliers": ("Suppliers", len(self.suppliers)),
            "date-codes": ("Date codes", len(archive.codes)),
            "hours-and-cost": ("Hours and cost", len(archive.jobs)),
            "documents": ("Documents", len(archive.documents)),
        }
        return [(name, title, count) for name, (title, count) in counts.items() if count or name == "open"]

    @cached_property
    def designators(self) -> Sequence[Designator]:
        """Every part of every model that something happened to."""
        return [d for m in self.models for own in m.boards.values() for d in own]


def archive_pages(archive: Archive, views: Sequence[View]) -> list[Page]:
    """Write every page of the archive."""
    shelf = Shelf(archive, tuple(views))
    makers: tuple[Callable[[Shelf], Iterator[Page]], ...] = (
        index, open_matters, makers_and_models, faults, parts, designators, substitute_parts, who_sold, date_codes, hours_and_cost, documents,
    )  # fmt: skip
    return [page for make in makers for page in make(shelf)] if archive.jobs else []


def _page(shelf: Shelf, name: str, template: str, **context: object) -> Page:
    helpers = {
        "job_href": job_href, "row_href": row_href, "by_job": by_job, "money": money, "label": shelf.labels.get, "sum_of": sum_of, "readers": readers,
    }  # fmt: skip
    return render(f"archive/{name}.md", f"archive/{template}.md.j2", shelf=shelf, **helpers, **context)


def index(shelf: Shelf) -> Iterator[Page]:
    """The first page: what can be looked up, and what wants doing next."""
    yield _page(shelf, "index", "index")


def open_matters(shelf: Shelf) -> Iterator[Page]:
    """What is not repaired, too close to call, on order, or due."""
    yield _page(shelf, "open", "open")


def makers_and_models(shelf: Shelf) -> Iterator[Page]:
    """Jobs by maker and model, and by kind of instrument; a page for each model."""
    kinds = grouped(shelf.archive.jobs, lambda j: folded(j.instrument.kind))
    by_kind = [(own[0].instrument.kind or "No kind named", own) for _, own in sorted(kinds.items())]
    limits = {v.job.id: in_limits(v) for v in shelf.views}
    yield _page(shelf, "models", "models", makers=grouped(shelf.models, lambda m: m.maker), by_kind=by_kind)
    for model in shelf.models:
        own = {j.id for j in model.jobs}
        found = [e for e in shelf.archive.faults if e.job.id in own]
        name = model.page.removeprefix("archive/")
        yield _page(shelf, name, "model", model=model, faults=found, limits=limits, accounts=shelf.archive.accounts)


def faults(shelf: Shelf) -> Iterator[Page]:
    """Symptom, cause, remedy."""
    parted = _parted(shelf.symptoms, lambda s: len(s.causes))
    initials = [(_initial(s.words), at(n, "faults") + s.anchor) for n, own in enumerate(parted, 1) for s in own]
    for n, own in enumerate(parted, 1):
        yield _page(
            shelf, numbered(n, "faults"), "faults", symptoms=own, initials=dict(reversed(initials)), page=n, pages=len(parted)
        )


def parts(shelf: Shelf) -> Iterator[Page]:
    """What was fitted for what, by letters and value."""
    blocks = [(c, piece) for c in shelf.classes for v in c.values for piece in pieces(v, MOST)]
    parted = _parted(blocks, lambda b: len(b[1].lines))
    places = [(c.letters, v.name, at(n, "parts") + v.anchor) for n, own in enumerate(parted, 1) for c, v in own if v.piece == 1]
    values = grouped(places, lambda p: p[0])
    for n, own in enumerate(parted, 1):
        classes = list(grouped(own, lambda b: b[0].letters).values())
        yield _page(shelf, numbered(n, "parts"), "parts", classes=classes, values=values, page=n, pages=len(parted))


def designators(shelf: Shelf) -> Iterator[Page]:
    """Every designator with the models that something happened to it in."""
    found = [(d, m) for m in shelf.models for own in m.boards.values() for d in own]
    by_ref = grouped(found, lambda f: f[0].key.rpartition(":")[2])
    if by_ref:
        yield _page(shelf, "designators", "designators", refs=[(ref, by_ref[ref]) for ref in sorted(by_ref, key=natural)])


def substitute_parts(shelf: Shelf) -> Iterator[Page]:
    """Parts that are no longer made, and what took their place."""
    if shelf.substitutes:
        yield _page(shelf, "substitutes", "substitutes")


def who_sold(shelf: Shelf) -> Iterator[Page]:
    """Who sold what, for how much."""
    parted = _parted([piece for s in shelf.suppliers for piece in pieces(s, MOST)], lambda s: len(s.lines))
    places = [(s.name, at(n, "suppliers") + s.anchor) for n, own in enumerate(parted, 1) for s in own if s.piece == 1]
    paid = {s.anchor: spent(s) for s in shelf.suppliers}
    for n, own in enumerate(parted, 1):
        name = numbered(n, "suppliers")
        yield _page(shelf, name, "suppliers", suppliers=own, places_of=places, paid=paid, page=n, pages=len(parted))


def date_codes(shelf: Shelf) -> Iterator[Page]:
    """Every date code, from the oldest on."""
    if shelf.archive.codes:
        ordered = sorted(shelf.archive.codes, key=lambda c: (c.iso[:4] or "~", c.iso, natural(c.entry.item.code)))
        years = grouped(ordered, lambda c: c.iso[:4])
        yield _page(shelf, "date-codes", "date_codes", years=years)


def hours_and_cost(shelf: Shelf) -> Iterator[Page]:
    """What each job took, and each kind of instrument."""
    accounts = sorted(
        shelf.archive.accounts.values(), key=lambda a: (a.job.dates.received is None, a.job.dates.received or 0, a.job.id)
    )
    kinds = grouped(accounts, lambda a: (folded(a.job.instrument.kind), a.job.costs.currency))
    sums = [_sums(own) for _, own in sorted(kinds.items())]
    yield _page(shelf, "hours-and-cost", "hours_and_cost", accounts=accounts, sums=sums)


def documents(shelf: Shelf) -> Iterator[Page]:
    """Schematics and service notes, by model."""
    if shelf.archive.documents:
        by_model = grouped(shelf.archive.documents, lambda e: instrument_name(e.job))
        yield _page(shelf, "documents", "documents", by_model=sorted(by_model.items(), key=lambda m: folded(m[0])))


def _sums(accounts: Sequence[Account]) -> dict[str, Any]:
    """Add up what jobs of one kind and currency took: each sum with the number of jobs that it is of."""
    job = accounts[0].job
    known = {
        name: [a for x in accounts if (a := getattr(x, name)) is not None] for name in ("hours", "labour", "parts", "total")
    }
    sums = {name: (sum(values) if values else None, len(values)) for name, values in known.items()}
    return {
        "at_least": any(a.at_least for a in accounts),
        "kind": job.instrument.kind or "No kind named",
        "currency": job.costs.currency,
        "jobs": len(accounts),
        **sums,
    }


def _initial(text: str) -> str:
    letter = next((c for c in text if c.isalnum()), "#").upper()
    return letter if letter.isalpha() else "#"


def _parted(blocks: Sequence[Block], lines: Callable[[Block], int]) -> list[list[Block]]:
    """Part blocks into pages, each of no more lines than a page should have, or of one block."""
    pages: list[list[Block]] = []
    room = 0
    for block in blocks:
        if not pages or lines(block) > room:
            pages.append([])
            room = MOST
        pages[-1].append(block)
        room -= lines(block)
    return pages


def numbered(page: int, name: str) -> str:
    """Return the name of one of the pages that something is parted into."""
    return name if page == 1 else f"{name}-{page}"


def at(page: int, name: str) -> str:
    """Return the reference to one of these pages, up to its anchor."""
    return f"{addresses.SCHEME}archive/{numbered(page, name)}.md#"


def job_href(job: Job) -> str:
    """Return the reference to a job's first page."""
    return addresses.to_page(job.id, "index")


def row_href(entry: Entry[PartWork]) -> str:
    """Return the reference to the row of a work."""
    return addresses.to_page(entry.job.id, "parts", f"row-{addresses.slug(entry.key)}")


def by_job(line: Line) -> list[tuple[Job, list[Entry[PartWork]]]]:
    """Return the entries of a line, job by job."""
    return [(own[0].job, own) for own in grouped(line.entries, lambda e: e.job.id).values()]


def money(amount: float | None, currency: str, *, at_least: bool = False) -> str:
    """Write an amount with its currency; empty for none."""
    return "" if amount is None else f"{AT_LEAST if at_least else ''}{amount:.2f} {currency}".strip()


def sum_of(sums: Mapping[str, Any], name: str) -> str:
    """Write a sum of several jobs, and of how many it is where that is not all of them."""
    amount, count = sums[name]
    if amount is None:
        return ""
    text = f"{amount:g}" if name == "hours" else money(amount, sums["currency"])
    text = f"{AT_LEAST}{text}" if sums["at_least"] and name != "parts" else text
    return text if count == sums["jobs"] else f"{text} (of {count})"


def readers(document: Document) -> str:
    """Say whose a document may be."""
    return READERS[document.edition or Edition.ARCHIVE]
