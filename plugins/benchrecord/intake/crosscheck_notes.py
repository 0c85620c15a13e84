"""References in notes: designators and links, with the line and column they stand at."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from functools import cache
from itertools import groupby
from posixpath import normpath
from unicodedata import normalize

from benchrecord.model.job import Job, Note
from benchrecord.model.prose import LineIndex, links, running_words, without_code
from benchrecord.model.references import (
    LINKED,
    Ambiguous,
    Index,
    Mention,
    is_reference,
    looks_forgotten,
    mentions,
    part_key,
)
from benchrecord.problems import Place, Problem, nearest

WORDS_ALONE = "write the words alone, without a link"
SHOWN = 8  # of the names that would have led somewhere
MAX_GUESSES = 20  # of what dead links of a note were meant to be: each is compared with every name
GIVE_BOARD = ", or give the note a board:"
PAGES = (".html", "/")  # ends of addresses of pages
PAGES_OF = {"boards": "board", "modules": "module", "notes": "note"}  # folders of a job's pages, one for each thing of a kind
SINGLE_PAGES = {
    "checks": "check",
    "photos": "photo",
    "trims": "trim",
}  # of which a job has one where it has something of a kind
ALWAYS_OR_UNKNOWN = frozenset({"index", "notes", "parts", "numbers", "patches"})
WEB = frozenset({"http", "https", "mailto", "tel"})
PARTS_HERE = "spoken"  # the anchor that a note's page has of its own
_HEADING = re.compile(r"^ {0,3}#{1,6}([^#\n][^\n]*)$|^([^\n]+)\n(?:=++|-++)[ \t]*+$", re.MULTILINE)
_GIVEN = re.compile(r"\{[^{}\n]*?#([\w-]+)")
_NOT_IN_ANCHOR, _BETWEEN, _TWICE = re.compile(r"[^\w\s-]"), re.compile(r"[-\s]+"), re.compile(r"_\d+$")
_NOT_IN_PAGE_NAME, _ORDERING = re.compile(r"[^\w.-]+"), re.compile(r"^\d+[a-z]?(?:[-_. ]+|$)")
_NUMBERED = re.compile(r"-\d+$")  # the second of two notes with the same name
OUTSIDE = "an address that begins with https://, or a thing of this job, such as photo:front.jpg"
MAX_PARAGRAPH_LINES, MAX_PARAGRAPH_CHARACTERS = 1_000, 50_000  # Markdown's time grows with the square of either
MAX_DEFINITIONS = 100  # without a blank line between them
_DEFINITION = re.compile(r" {0,3}:[ \t]")
BLANK_LINE = "put a blank line in between, or move a table to a file of its own"
Known = Callable[[str], Sequence[str]]  # the names that links of a kind may have


def note_problems(job: Job, index: Index) -> Iterator[Problem]:
    """Yield what is wrong with the references of every note."""
    known: Known = cache(lambda kind: _known(kind, index))
    for note in job.notes:
        yield from _long_paragraphs(note)
        yield from long_definition_lists(without_code(note.body), note.file, note.body_line)
        yield from _designators(note, index)
        yield from _links(note, index, known)


def _places(note: Note) -> Callable[[int], Place]:
    """Return what finds the place of an offset in a note's words."""
    lines = LineIndex(note.body)

    def at(offset: int) -> Place:
        line, column = lines(offset)
        return Place(note.file, line + note.body_line - 1, column)

    return at


def _long_paragraphs(note: Note) -> Iterator[Problem]:
    """Yield each run of lines outside of code, without a blank one, that Markdown would take too long over."""
    lines = without_code(note.body).split("\n")
    number = note.body_line
    for has_words, group in groupby(lines, key=lambda line: bool(line.strip())):
        run = [*group]
        characters = sum(len(line) + 1 for line in run)
        if has_words and (len(run) > MAX_PARAGRAPH_LINES or characters > MAX_PARAGRAPH_CHARACTERS):
            got = f"{len(run)} lines of {characters} characters without a blank line"
            expected = f"at most {MAX_PARAGRAPH_LINES} lines and {MAX_PARAGRAPH_CHARACTERS} characters"
            yield Problem("long-paragraph", Place(note.file, number), got, expected, BLANK_LINE)
        number += len(run)


def long_definition_lists(text: str, file: str, first_line: int) -> Iterator[Problem]:
    """Yield each run of lines without a blank one that holds more definitions than Markdown reads: it goes one call deeper for each."""
    number = first_line
    for has_words, group in groupby(text.split("\n"), key=lambda line: bool(line.strip())):
        run = [*group]
        count = sum(bool(_DEFINITION.match(line)) for line in run) if has_words else 0
        if count > MAX_DEFINITIONS:
            got = f"{count} definitions without a blank line"
            yield Problem("long-paragraph", Place(file, number), got, f"at most {MAX_DEFINITIONS} definitions", BLANK_LINE)
        number += len(run)


def _designators(note: Note, index: Index) -> Iterator[Problem]:
    at = _places(note)
    for mention in mentions(running_words(note.body)):
        found = index.part(part_key(mention.board, mention.ref), note.board)
        if isinstance(found, Ambiguous):
            yield ambiguous(at(mention.start), part_key(mention.board, mention.ref), found, or_else=GIVE_BOARD)
        elif found is None:
            yield from _no_part(mention, at(mention.start), index)


def _no_part(mention: Mention, place: Place, index: Index) -> Iterator[Problem]:
    text, boards = part_key(mention.board, mention.ref), index.ids["board"]
    if mention.board in boards:
        remedy = f"add {mention.ref} to boards/{mention.board}.csv, or mend it"
        yield Problem("dead-reference", place, text, f"a part of the board {mention.board}", remedy)
    elif mention.board and (board := nearest(mention.board, boards)):
        known = ", ".join(sorted(boards)[:SHOWN])
        yield Problem("dead-reference", place, text, f"a part of a board: {known}", f"write {board}:{mention.ref}")
    elif not mention.board and looks_forgotten(mention.ref):
        expected, remedy = "a designator that a table of the job has", "mend it, add it to a table, or leave it as words"
        yield Problem("unknown-designator", place, text, expected, remedy)


def ambiguous(place: Place, ref: str, found: Ambiguous, *, or_else: str = "") -> Problem:
    """Word the problem of a designator that several boards have."""
    exact = " or ".join(f"{board}:{ref}" for board in found.boards)
    expected = f"one board's part; {', '.join(found.boards)} have a {ref}"
    return Problem("ambiguous-reference", place, ref, expected, f"write {exact}{or_else}")


def _links(note: Note, index: Index, known: Known) -> Iterator[Problem]:
    at, guesses, anchors = _places(note), 0, cache(lambda: _anchors(note))
    for offset, _, target in links(note.body):
        if not is_reference(target, index.ids["board"]):
            yield from _no_address(target, at(offset), anchors)
            yield from _no_page(target, at(offset), index)
            continue
        found = index.link(target, note.board)
        if isinstance(found, Ambiguous):
            yield ambiguous(at(offset), target.partition(":")[2], found, or_else=GIVE_BOARD)
        elif found is None:
            guesses += 1
            yield _dead(target, at(offset), known, guess=guesses <= MAX_GUESSES)


def _dead(target: str, place: Place, known: Known, *, guess: bool) -> Problem:
    kind, _, rest = target.partition(":")
    names = known(kind)
    listed = f": {', '.join(names[:SHOWN])}{' …' * (len(names) > SHOWN)}" if names else "; it has none"
    meant = nearest(rest, names) if guess else None
    exact = meant if meant and ":" in meant else f"{kind}:{meant}"
    return Problem("dead-reference", place, target, f"a {kind} of this job{listed}", _write(exact) if meant else WORDS_ALONE)


def _write(target: str) -> str:
    """Word a remedy: a target with blanks goes into angle brackets."""
    return f"write <{target}>" if " " in target else f"write {target}"


def _no_address(target: str, place: Place, anchors: Callable[[], AbstractSet[str]]) -> Iterator[Problem]:
    """Complain of a target that is neither an address nor a thing of the job: a file of the folder, a kind or a heading misspelt."""
    kind, colon, rest = target.partition(":")
    if colon and kind.lower() not in WEB and (meant := nearest(kind, LINKED)):
        yield Problem("dead-reference", place, target, f"a link to one of: {', '.join(LINKED)}", _write(f"{meant}:{rest}"))
    elif target.startswith("#") and _TWICE.sub("", target[1:]) not in anchors():
        guess = nearest(target[1:], anchors())
        listed = ", ".join(f"#{name}" for name in sorted(anchors())[:SHOWN]) or "it has none"
        yield Problem(
            "dead-reference", place, target, f"a heading of this note: {listed}", f"write #{guess}" if guess else WORDS_ALONE
        )
    elif not colon and not target.startswith(("#", "//")) and not target.partition("#")[0].endswith(PAGES):
        folder, _, name = target.rpartition("/")
        own = "note" if name.endswith(".md") else next((k for k in ("photo", "recording") if folder == f"{k}s"), None)
        remedy = _write(f"{own}:{name.removesuffix('.md')}") if own else WORDS_ALONE
        yield Problem("dead-reference", place, target, OUTSIDE, remedy)


def _no_page(target: str, place: Place, index: Index) -> Iterator[Problem]:
    """Complain of a relative address of a page that the job cannot have; of pages outside the job nothing is known here."""
    path = target.partition("#")[0]
    if ":" in path or path.startswith("//") or not path.endswith(".html"):
        return
    page = normpath(f"notes/{path}").removesuffix(".html")
    folder, _, name = page.rpartition("/")
    if page.startswith("../") or page in ALWAYS_OR_UNKNOWN or index.ids.get(SINGLE_PAGES.get(page, "")):
        return
    kind = "" if path.startswith("/") else PAGES_OF.get(folder, "")
    known = {_page_name(i, kind): i for i in index.ids.get(kind, frozenset())}
    if name not in known and not (kind == "note" and _NUMBERED.sub("", name) in known):
        meant = nearest(name, known)
        listed = f"a page of this job: {', '.join(f'{kind}:{i}' for i in sorted(known.values())[:SHOWN])}" if known else OUTSIDE
        yield Problem("dead-reference", place, target, listed, _write(f"{kind}:{known[meant]}") if meant else WORDS_ALONE)


def _page_name(name: str, kind: str) -> str:
    """Return what a page is called: a note's goes without the number that orders it."""
    return _NOT_IN_PAGE_NAME.sub("-", (_ORDERING.sub("", name) or "note") if kind == "note" else name).strip("-.")


def _anchors(note: Note) -> frozenset[str]:
    """Return the anchors of a note's headings, as Markdown names them: letters, digits and hyphens in lower case."""
    text = without_code(note.body)
    headings = [note.title, *(words for match in _HEADING.finditer(text) for words in match.groups() if words)]
    plain = (normalize("NFKD", words).encode("ascii", "ignore").decode() for words in headings)
    made = (_BETWEEN.sub("-", _NOT_IN_ANCHOR.sub("", words).strip().lower()) for words in plain)
    return frozenset([*made, *_GIVEN.findall(text), PARTS_HERE])


def _known(kind: str, index: Index) -> list[str]:
    if kind in index.ids:
        return sorted(index.ids[kind])
    return sorted(
        f"{board}:{ref}" if board else ref
        for ref, boards in index.boards_of.items()
        for board in boards
        if kind in ("part", board)
    )
