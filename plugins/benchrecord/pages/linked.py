"""Words of a job in which every designator that it has leads to its part."""

from __future__ import annotations

from markupsafe import Markup, escape

from benchrecord.model.job import Check
from benchrecord.model.references import Target, mentions
from benchrecord.pages import addresses
from benchrecord.pages.view import View


def linked(view: View, text: str, board: str = "") -> Markup:
    """Return a text as HTML with its designators linked; those of ``board`` come first, as in a note of that board."""
    made, end = list[str](), 0
    for mention in mentions(text):
        target = view.index.part(f"{mention.board}:{mention.ref}" if mention.board else mention.ref, board)
        if isinstance(target, Target):
            address, words = addresses.of(view.job, target), text[mention.start : mention.end]
            link = Markup('<a class="br-ref" href="{}">{}</a>').format(address, words)
            made += (escape(text[end : mention.start]), link)
            end = mention.end
    return Markup().join([*made, escape(text[end:])])


def board_of(view: View, check: Check) -> str:
    """Return the board that a check is about: its own, or the only one of its module."""
    boards = next((m.boards for m in view.job.modules if m.id == check.module), ())
    return check.board or (boards[0] if len(boards) == 1 else "")
