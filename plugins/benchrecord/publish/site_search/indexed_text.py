"""What the search indexes of a page: its words, each apart from its neighbour, and none of its drawings."""

from __future__ import annotations

import re
from collections.abc import MutableMapping
from typing import Any

# Between words: escaped signs, all of ASCII but letters, digits and # * . (C#4; the theme adds a * to what it looks for; 4.7k), and beyond
# ASCII the signs, dashes, quotation marks, currencies, arrows and shapes. Python and JavaScript read it alike.
SEPARATOR = (
    r"(?:&(?:amp|lt|gt);|[\s\x00-\x22\x24-\x29\x2b-\x2d\x2f\x3a-\x40\x5b-\x60\x7b-\xa9\xab-\xb1\xb4\xb6-\xb8\xbb\xbf\xd7\xf7"
    r"\u2000-\u206f\u20a0-\u20cf\u2190-\u245f\u2500-\u2bff\u3000-\u3004\u3008-\u301f\ufeff])+|\.(?!\d)"
)
PIPELINE: tuple[str, ...] = ()  # no stop words: "off" and "can" are words of the bench
SEARCH = "material/search"  # the theme's search among the plugins

# What starts a line or is a cell of its own: HTML Standard, 15.3 "Non-replaced elements" of "Rendering".
_BLOCK = (
    "address|article|aside|blockquote|caption|center|col|colgroup|dd|details|dialog|dir|div|dl|dt|fieldset|figcaption|figure|footer|form"
    "|h[1-6]|header|hgroup|legend|li|main|menu|nav|ol|optgroup|option|p|pre|search|section|summary|table|tbody|td|tfoot|th|thead|tr|ul"
)
_BEFORE_BLOCK = re.compile(rf"<(?<!\s<)(?:{_BLOCK}|br|hr)\b")
_AFTER_BLOCK = re.compile(rf"</(?:{_BLOCK})\s*>(?=[^\s<]|</?(?!(?:{_BLOCK})\b)[a-z])")
_DRAWING = re.compile(r"<svg\b[^<>]*>(?=\S)")
_DRAWN_WORDS = re.compile(r"<(text|title|desc|metadata)\b(?=[\s/>])")


def index_all_words(settings: MutableMapping[str, Any]) -> None:
    """Set separator and pipeline of the theme's search where ``mkdocs.yml`` sets none; it reads them in ``on_config``."""
    for key, value in (("separator", SEPARATOR), ("pipeline", list(PIPELINE))):
        if settings[key] is None:
            settings[key] = value


def prepare_for_index(html: str) -> str:
    """Return a page's content as the theme's indexer should read it; a reader sees no difference.

    The indexer joins words that have only tags between them, so there is a blank before and after each block, and inside of each
    drawing. The words of drawings are marked one by one as not to be indexed, since the indexer ends a mark on a drawing at the first
    drawing inside of it.
    """
    apart = _AFTER_BLOCK.sub(r"\g<0> ", _BEFORE_BLOCK.sub(r" \g<0>", _DRAWING.sub(r"\g<0> ", html)))
    return _DRAWN_WORDS.sub(r'<\1 data-search-exclude="drawing"', apart)
