"""The record as one document to be printed: the same words, tables and pictures as the pages, in the order of a catalogue."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html.parser import HTMLParser

from benchrecord.model.findings import CheckFinding
from benchrecord.model.job import Job, Note
from benchrecord.model.prose import OPENING
from benchrecord.pages import addresses, cautions, words
from benchrecord.pages.job_pages import (
    cost_words,
    cover,
    dates_of,
    facts_of,
    front_pair,
    pairs,
    part_entry,
    photo_sections,
    trim_limits,
    trim_number,
    with_pictures,
    worked_parts,
)
from benchrecord.pages.render import environment
from benchrecord.pages.story import alarms, check_matter, matters, story
from benchrecord.pages.view import View
from benchrecord.pages.words import natural

MOST_ROWS = 60  # of a table of readings: what is longer is attached
LINK = re.compile(r'<a\b([^>]*?)href="br:/([^"]*)"([^>]*)>(.*?)</a>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Beside:
    """What is told of a record besides its job: its day, the files that are attached, and the record that it follows."""

    day: date | None = None
    attached: Sequence[tuple[str, str]] = ()
    follows: str = ""


@dataclass(frozen=True, slots=True)
class Chapter:
    """An entry of the table of contents, with those below it."""

    id: str
    title: str
    parts: tuple[tuple[str, str], ...]


def note_for_print(view: View, note: Note) -> str:
    """Return a note's Markdown with the pictures it asks for, as they are printed."""
    return with_pictures(view, note, "book_asked.html.j2", place=place)


def book(view: View, notes: Mapping[str, str], beside: Beside) -> str:
    """Return the document as HTML; ``notes`` are the notes as HTML by their id. Pictures are ``br:/`` and ``drawing:`` addresses."""
    job = view.job
    watch = [(f, m) for f in view.findings.checks if (m := check_matter(view, f))]
    watched = [m for _, m in watch]
    context = {
        "cover": cover(view), "imprint": _imprint(job), "story": story(view), "facts": facts_of(job), "pair": front_pair(view), "alarms": alarms(view),
        "cautions_of": cautions.for_job(job), "dates": dates_of(job), "watch": watch,
        "undone": [m for m in matters(view) if m not in watched], "groups": worked_parts(view), "cost": cost_words(view),
        "entries": {b.id: _entries(view, b.id) for b in job.boards}, "checks": _by_module(view), "pictures": [(t, pairs(g)) for t, g in photo_sections(view)],
        "most": MOST_ROWS, "number": trim_number, "limits": trim_limits, "range_words": words.range_words, "place": place, "notes": {name: text.replace(OPENING, "&lt;") for name, text in notes.items()},
        "day": beside.day, "attached": beside.attached, "follows": beside.follows,
    }  # fmt: skip
    template = environment().get_template("book.html.j2")
    chapters = contents(template.render(view=view, chapters=(), **context))
    return inside(template.render(view=view, chapters=chapters, **context))


def place(reference: str) -> str:
    """Return the anchor in the document of what stands at an address of the site: ``br:/jobs/x/boards/psu.md#R4`` is ``boards-psu--R4``."""
    path, _, anchor = reference.removeprefix(addresses.SCHEME).partition("#")
    page = path.split("/", 2)[-1].removesuffix(".md")
    anchor = anchor.removeprefix("part-").removeprefix("pinned-")
    return addresses.slug(f"{page}--{anchor}" if anchor else page).replace("/", "-")


def inside(html: str) -> str:
    """Turn links to pages into links within the document; what it does not have becomes plain words."""
    known = set(re.findall(r'\bid="([^"]+)"', html))

    def link(match: re.Match[str]) -> str:
        before, target, after, said = match.groups()
        exact, page = place(target), place(target.partition("#")[0])
        found = next((p for p in (exact, page) if p in known), "")
        return f'<a{before}href="#{found}"{after}>{said}</a>' if found else f"<span>{said}</span>"

    return LINK.sub(link, html)


def contents(html: str) -> tuple[Chapter, ...]:
    """Return the chapters of a document: its headings of the first and second level that have an anchor."""
    reader = _Headings()
    reader.feed(html)
    made: list[Chapter] = []
    for level, anchor, title in reader.found:
        if level == "h1":
            made.append(Chapter(anchor, title, ()))
        elif made:
            made[-1] = Chapter(made[-1].id, made[-1].title, (*made[-1].parts, (anchor, title)))
    return tuple(made)


class _Headings(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, str]] = []
        self._open = ("", "")
        self._said = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        anchor = dict(attrs).get("id")
        if tag in ("h1", "h2") and anchor:
            self._open, self._said = (tag, anchor), ""

    def handle_data(self, data: str) -> None:
        self._said += data

    def handle_endtag(self, tag: str) -> None:
        if tag == self._open[0]:
            self.found.append((*self._open, self._said.strip()))
            self._open = ("", "")


def _imprint(job: Job) -> list[tuple[str, str]]:
    told = (("Serial number", job.instrument.serial), ("Owner", job.owner.name), ("Work by", job.technician.name))
    return [(what, said) for what, said in told if said]


def _entries(view: View, board: str) -> list[dict[str, object]]:
    """What is known of each part of a board, and of those that it has no place for."""
    placed = next(b for b in view.job.boards if b.id == board).parts
    named = {f"{board}:{p.ref}": (p.kind, p.value, p.function) for p in placed}
    keys = [*named, *(k for k in view.unplaced if k.startswith(f"{board}:"))]
    return [part_entry(view, key, named.get(key, ("", "", ""))) for key in sorted(keys, key=natural)]


def _by_module(view: View) -> list[tuple[str, str, list[CheckFinding]]]:
    """Return the checks of each module with its title and anchor, then those of none."""
    known = {m.id for m in view.job.modules}
    groups = [
        (m.title, place(addresses.to_page(view.job.id, f"modules/{addresses.slug(m.id)}")), m.id) for m in view.job.modules
    ]
    made = [(title, anchor, [f for f in view.findings.checks if f.check.module == name]) for title, anchor, name in groups]
    rest = [f for f in view.findings.checks if f.check.module not in known]
    return [
        *((t, a, found) for t, a, found in made if found),
        *([("The whole instrument", "checks-whole", rest)] if rest else []),
    ]
