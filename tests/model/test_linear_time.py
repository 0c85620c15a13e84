"""Reading the words of a note takes time in proportion to their length, whatever they are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from benchrecord.bench.parts import ratings
from benchrecord.editions.personal_data import finds
from benchrecord.editions.words import without_links
from benchrecord.intake.note_file import parse_note
from benchrecord.model.prose import links, running_words, with_blank_comments, without_comments, without_tags
from benchrecord.model.references import Index, mentions, parts_in_note
from benchrecord.publish.markdown_limits import bounded
from scaling import adversarial, growing_too_fast

KINDS = ("board", "module", "check", "trim", "photo", "note", "patch", "recording")
ALL = Index({"R1": frozenset(["psu"])}, {kind: frozenset(["a", "b", "psu"]) for kind in KINDS})
NONE = Index({}, {kind: frozenset() for kind in KINDS})
WORK: dict[str, Callable[[str], object]] = {
    "ratings": ratings,
    "read": lambda text: parse_note(text, "notes/10-a.md", []),
    "words": running_words,
    "links": links,
    "comments": lambda text: (without_comments(text), with_blank_comments(text)),
    "tags": without_tags,
    "mentions": lambda text: [*mentions(text)],
    "narrowed": lambda text: without_links(text, "", NONE, ALL),
    "parts": lambda text: parts_in_note(text, ALL, ""),
    "converted": lambda text: bounded(text, Counter()),
    "searched": lambda text: [*finds(text, frozenset())],
}


@pytest.mark.slow
@pytest.mark.parametrize("work", WORK.values(), ids=[*WORK])
def test_four_times_as_much_takes_four_times_as_long(work: Callable[[str], object]) -> None:
    assert growing_too_fast(work, adversarial(), 20_000) == []
