"""A note's words without links to what its reader does not have."""

from __future__ import annotations

import re

from benchrecord.model.prose import LINK
from benchrecord.model.references import Index, Target, is_reference

DEFINED = re.compile(r"^ {0,3}\[(?P<name>[^\]\n]+)\]:[ \t]*<?(?P<target>[^\s>]+)>?[^\n]*$", re.MULTILINE)
BY_NAME = re.compile(r"(?P<image>!?)\[(?P<words>[^\]\n]*)\](?:\[(?P<name>[^\]\n]*)\])?(?!\()")


def without_links(markdown: str, board: str, index: Index, whole: Index) -> str:
    """Return Markdown in which a link to what only the whole job has is its words alone; such a picture is left out.

    ``board`` is the note's own, ``index`` what the reader's job has a name for. Lines stay where they are.
    """

    def lost(target: str) -> bool:
        named = is_reference(target, whole.ids["board"]) and isinstance(whole.link(target, board), Target)
        return named and not isinstance(index.link(target, board), Target)

    names = {m["name"].lower() for m in DEFINED.finditer(markdown) if lost(m["target"])}
    if names:
        markdown = DEFINED.sub(lambda m: "" if m["name"].lower() in names else m[0], markdown)
        markdown = BY_NAME.sub(lambda m: _words(m) if (m["name"] or m["words"]).lower() in names else m[0], markdown)
    return LINK.sub(lambda m: _words(m) if lost(m["target"]) else m[0], markdown)


def _words(link: re.Match[str]) -> str:
    return "" if link["image"] else link["words"]
