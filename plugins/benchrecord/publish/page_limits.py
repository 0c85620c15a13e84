"""Hand-written pages that Markdown would take too long over, or go too deep in: raw HTML that is not closed, definitions in one run."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from mkdocs.structure.files import Files

from benchrecord.intake.crosscheck_notes import long_definition_lists
from benchrecord.model.prose import line_and_column, without_code
from benchrecord.problems import Place, Problem

MAX_UNCLOSED = 100  # of a page: the rest of it is searched from each
_UNCLOSED = re.compile(r"<[A-Za-z][^<>]*+(?=<|\Z)|<!\[CDATA\[(?:(?!\]\]>)[^<])*+(?=<|\Z)")


def too_long_for_markdown(files: Files, docs: Path) -> Iterator[Problem]:
    """Yield a problem for each hand-written page among the sources of a site, ``docs``, that cannot be read in a bounded time."""
    for page in files.documentation_pages():
        if page.abs_src_path and page.src_dir == str(docs):
            text = Path(page.abs_src_path).read_text("utf-8-sig", "replace")
            yield from page_problems(text, f"{docs.name}/{page.src_uri}")


def page_problems(text: str, file: str) -> Iterator[Problem]:
    """Yield what is too much of a page: tags that are begun and not closed, definitions without a blank line."""
    code_free = without_code(text)
    yield from long_definition_lists(code_free, file, 1)
    unclosed = [match.start() for match in _UNCLOSED.finditer(code_free)]
    if len(unclosed) > MAX_UNCLOSED:
        place = Place(file, *line_and_column(code_free, unclosed[MAX_UNCLOSED]))
        got = f"{len(unclosed)} tags that are not closed"
        yield Problem(
            "unclosed-tags", place, got, f"at most {MAX_UNCLOSED}", "close each tag with >, or write &lt; for a less-than sign"
        )
