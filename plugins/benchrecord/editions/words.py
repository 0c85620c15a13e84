"""A note's words without links to what its reader does not have."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from benchrecord.model.markdown_links import Link, definitions_of, links_of
from benchrecord.model.references import Index, Target, is_reference


def without_links(markdown: str, board: str, index: Index, whole: Index) -> str:
    """Return Markdown in which a link to what only the whole job has is its words alone; such a picture is left out.

    ``board`` is the note's own, ``index`` what the reader's job has a name for. Lines stay where they are.
    """

    def lost(target: str) -> bool:
        named = is_reference(target, whole.ids["board"]) and isinstance(whole.link(target, board), Target)
        return named and not isinstance(index.link(target, board), Target)

    gone = [definition for definition in definitions_of(markdown) if lost(definition.target)]
    names = {definition.name for definition in gone}
    cuts = [(definition.start, definition.end) for definition in gone]
    cuts += _cuts(markdown, lambda link: link.name in names if link.name else lost(link.target))
    return _without(markdown, sorted(cuts))


def _cuts(markdown: str, lost: Callable[[Link], bool]) -> Iterator[tuple[int, int]]:
    """Yield what is cut out: all of a picture, and of a link what is around its words."""
    for link in links_of(markdown):
        if lost(link):
            yield from [(link.start, link.end)] if link.image else [(link.start, link.opened), (link.closed, link.end)]


def _without(text: str, cuts: list[tuple[int, int]]) -> str:
    """Return a text without spans that are in order and may hold one another; line ends within them stay."""
    pieces, end = list[str](), 0
    for start, stop in cuts:
        if stop > end:
            pieces += (text[end : max(start, end)], "\n" * text.count("\n", max(start, end), stop))
            end = stop
    return "".join([*pieces, text[end:]])
