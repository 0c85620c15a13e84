"""References in notes: designators and links, with the line and column they stand at."""

from __future__ import annotations

from collections.abc import Iterator

from benchrecord.model.job import Job, Note
from benchrecord.model.prose import line_and_column, links, running_words
from benchrecord.model.references import Ambiguous, Index, is_reference, looks_forgotten, mentions, part_key
from benchrecord.problems import Place, Problem, nearest

WORDS_ALONE = "write the words alone, without a link"
SHOWN = 8  # of the names that would have led somewhere
GIVE_BOARD = ", or give the note a board:"


def note_problems(job: Job, index: Index) -> Iterator[Problem]:
    """Yield what is wrong with the references of every note."""
    for note in job.notes:
        yield from _designators(note, index)
        yield from _links(note, index)


def _at(note: Note, offset: int) -> Place:
    line, column = line_and_column(note.body, offset)
    return Place(note.file, line + note.body_line - 1, column)


def _designators(note: Note, index: Index) -> Iterator[Problem]:
    for mention in mentions(running_words(note.body)):
        text = part_key(mention.board, mention.ref)
        found = index.part(text, note.board)
        place = _at(note, mention.start)
        if isinstance(found, Ambiguous):
            yield ambiguous(place, text, found, or_else=GIVE_BOARD)
        elif found is None and mention.board in index.ids["board"]:
            yield Problem(
                "dead-reference",
                place,
                text,
                f"a part of the board {mention.board}",
                f"add {mention.ref} to boards/{mention.board}.csv, or mend it",
            )
        elif found is None and mention.board and (board := nearest(mention.board, index.ids["board"])):
            known = ", ".join(sorted(index.ids["board"])[:SHOWN])
            yield Problem("dead-reference", place, text, f"a part of a board: {known}", f"write {board}:{mention.ref}")
        elif found is None and not mention.board and looks_forgotten(mention.ref):
            yield Problem(
                "unknown-designator",
                place,
                text,
                "a designator that a table of the job has",
                "mend it, add it to a table, or leave it as words",
            )


def ambiguous(place: Place, ref: str, found: Ambiguous, *, or_else: str = "") -> Problem:
    """Word the problem of a designator that several boards have."""
    exact = " or ".join(f"{board}:{ref}" for board in found.boards)
    expected = f"one board's part; {', '.join(found.boards)} have a {ref}"
    return Problem("ambiguous-reference", place, ref, expected, f"write {exact}{or_else}")


def _links(note: Note, index: Index) -> Iterator[Problem]:
    for offset, _, target in links(note.body):
        if not is_reference(target, index.ids["board"]):
            continue
        found, place = index.link(target, note.board), _at(note, offset)
        if isinstance(found, Ambiguous):
            yield ambiguous(place, target.partition(":")[2], found, or_else=GIVE_BOARD)
        elif found is None:
            kind, _, rest = target.partition(":")
            known = _known(kind, index)
            words = f"a {kind} of this job" + (
                f": {', '.join(known[:SHOWN])}{' …' if len(known) > SHOWN else ''}" if known else "; it has none"
            )  # a line
            guess = nearest(rest, known)
            exact = guess if guess and ":" in guess else f"{kind}:{guess}"
            yield Problem("dead-reference", place, target, words, f"write {exact}" if guess else WORDS_ALONE)


def _known(kind: str, index: Index) -> list[str]:
    if kind in index.ids:
        return sorted(index.ids[kind])
    return sorted(
        f"{board}:{ref}" if board else ref
        for ref, boards in index.boards_of.items()
        for board in boards
        if kind in ("part", board)
    )
