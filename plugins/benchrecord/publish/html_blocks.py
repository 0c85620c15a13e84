"""HTML of generated pages, kept away from Markdown: it would read every table and drawing only to leave them as they are."""

from __future__ import annotations

import re
from collections.abc import Sequence

from benchrecord.model.prose import OPENING

WORDS_BEGIN, WORDS_END = "<!-- words -->", "<!-- end of words -->"  # between them a page holds a user's Markdown
_KEPT = re.compile(rf"^#{{1,6}} [^\n]*$|^{WORDS_BEGIN}$.*^{WORDS_END}$", re.MULTILINE | re.DOTALL)
_PLACE = re.compile(r"<!-- html (\d+) -->")


def set_aside(markdown: str) -> tuple[str, list[str]]:
    """Return a page with a placeholder for each run of HTML between its headings and its Markdown, and the runs."""
    kept: list[str] = []
    blocks: list[str] = []
    end = 0
    for match in _KEPT.finditer(markdown):
        kept += [_place(markdown[end : match.start()], blocks), match[0]]
        end = match.end()
    return "\n\n".join([*kept, _place(markdown[end:], blocks)]), blocks


def put_back(html: str, blocks: Sequence[str]) -> str:
    """Return a page's content with its HTML in place; a placeholder that is none of ours is a user's comment and stays."""
    html = _PLACE.sub(lambda m: blocks[int(m[1])] if int(m[1]) < len(blocks) else m[0], html)
    return html.replace(WORDS_BEGIN, "").replace(WORDS_END, "").replace(OPENING, "&lt;")


def _place(block: str, blocks: list[str]) -> str:
    if not block.strip():
        return ""
    blocks.append(block.strip())
    return f"<!-- html {len(blocks) - 1} -->"
