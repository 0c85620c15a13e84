"""Which characters of a Markdown text are running words: not code, headings, links, images or HTML.

All of it takes time that grows with the text's length alone: no search goes twice over what it has passed.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator

from benchrecord.model.markdown_links import definitions_of, links_of

Span = tuple[int, int]
OPENING = "\ue03c"  # stands for < where Markdown must not see one; the letter is nobody's
_FENCE = re.compile(r"^(?P<fence>`{3,}+|~{3,}+)[^\n]*+\n", re.MULTILINE)
_FENCE_END = re.compile(r"^(?P<run>[`~]++)[ \t]*+$", re.MULTILINE)
_TICKS = re.compile(r"`++")
_CODE_OR_COMMENT = re.compile(rf"(?P<opened>{_FENCE.pattern})|(?P<ticks>`++)|<!--", re.MULTILINE)
_NOT_A_LINE_END = re.compile(r"[^\n]")
_NEEDS_ESCAPE = re.compile(r"[\\()\[\]]")
_NO_ADDRESS = re.compile(r"<(?!(?:https?://|mailto:)[^\s<>\"']*>)")


def running_words(markdown: str) -> str:
    """Return the text with everything that is not running words blanked; offsets and lines stay."""
    for spans in _MASKED:
        markdown = _blanked(markdown, spans(markdown))
    return markdown


def without_comments(markdown: str) -> str:
    """Return the text without its comments, which are for nobody to read; lines stay where they are."""
    return _replaced(markdown, _comments_outside_code(markdown), lambda start, end: "\n" * markdown.count("\n", start, end))


def with_blank_comments(markdown: str) -> str:
    """Return the text with spaces for its comments; every other sign stays where it is."""
    return _blanked(markdown, _comments_outside_code(markdown))


def without_tags(markdown: str) -> str:
    """Return the text so that Markdown finds no HTML in it: addresses in angle brackets stay, any other bracket is ``OPENING``.

    A target of a link that is in such brackets, since it has blanks, comes without them, where it is defined by a name too.
    """
    outside = without_code(markdown)
    defined = [d for d in definitions_of(outside) if markdown[d.at - 1] == "<"]
    named = {d.name: d.target for d in defined}
    links = [link for link in links_of(outside) if link.name in named or (link.target and markdown[link.at - 1] == "<")]
    made = {(link.closed + 1, link.end): _inline(link.target or named[link.name], link.title) for link in links}
    made |= {(d.start, d.end): "" for d in defined}
    plain = _replaced(markdown, sorted(made), lambda start, end: made[start, end])
    return _NO_ADDRESS.sub(OPENING, plain)


def without_code(markdown: str) -> str:
    """Return the text with blanks for its code and comments."""
    for spans in _CODE:
        markdown = _blanked(markdown, spans(markdown))
    return markdown


def links(markdown: str) -> list[tuple[int, bool, str]]:
    """Return (offset, whether an image, target) of each link outside of code, and of each definition of what links are called."""
    outside = without_code(markdown)
    inline = [(link.at, link.image, link.target) for link in links_of(outside) if link.target]
    return sorted([*inline, *((named.at, False, named.target) for named in definitions_of(outside))])


def comments(text: str) -> Iterator[Span]:
    """Yield where comments are, from ``<!--`` to ``-->``; one that is never closed is none."""
    start = text.find("<!--")
    while start >= 0 and (end := text.find("-->", start + 4)) >= 0:
        yield start, end + 3
        start = text.find("<!--", end + 3)


class LineIndex:
    """Finds the line and column of any offset of a text."""

    def __init__(self, text: str) -> None:
        self._starts = [0, *(match.end() for match in re.finditer("\n", text))]

    def __call__(self, offset: int) -> tuple[int, int]:
        """Return the line and column (both from 1) of an offset."""
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1


def line_and_column(text: str, offset: int) -> tuple[int, int]:
    """Return the line and column (both from 1) of one offset; ``LineIndex`` is for many."""
    return text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1


def lower_first(text: str) -> str:
    """Begin a title in the middle of a sentence, unless its second letter says that it is an abbreviation or a designator."""
    return text if len(text) > 1 and not text[1].islower() else text[:1].lower() + text[1:]


def _matches(pattern: str) -> Callable[[str], Iterator[Span]]:
    compiled = re.compile(pattern, re.MULTILINE)
    return lambda text: (match.span() for match in compiled.finditer(text))


def _fences(text: str) -> Iterator[Span]:
    end = 0
    while opened := _FENCE.search(text, end):
        end = _end_of_fence(text, opened["fence"], opened.end())
        yield opened.start(), end


def _end_of_fence(text: str, fence: str, start: int) -> int:
    """Return where a fence is closed by as many signs or more; the end of the text where it never is."""
    closing = (match.end() for match in _FENCE_END.finditer(text, start) if match["run"].startswith(fence))
    return next(closing, len(text))


def _code_spans(text: str) -> Iterator[Span]:
    """Yield code between two runs of equally many backticks."""
    closed_by, end = next_alike(text), 0
    for start, close in closed_by.items():
        if start >= end and close:
            end = close
            yield start, end


def next_alike(text: str) -> dict[int, int]:
    """Return, for the start of each run of backticks, the end of the next run of the same length; 0 where there is none."""
    last: dict[int, int] = {}
    found = {}
    for start, end in reversed([match.span() for match in _TICKS.finditer(text)]):
        found[start] = last.get(end - start, 0)
        last[end - start] = end
    return dict(reversed(found.items()))


def _comments_outside_code(text: str) -> Iterator[Span]:
    """Yield the comments of a text, whichever of comment, code span and fence comes first taking what it holds."""
    closed_by, end, closed = next_alike(text), 0, True
    while token := _CODE_OR_COMMENT.search(text, end):
        end = token.end()
        if token["opened"]:
            end = _end_of_fence(text, token["fence"], end)
        elif token["ticks"]:
            end = closed_by[token.start()] or end
        elif closed and (close := text.find("-->", end)) >= 0:
            end = close + 3
            yield token.start(), end
        else:
            closed = False  # no later one is closed either


def _link_spans(text: str) -> Iterator[Span]:
    """Yield where links with a target or a name of their own are; brackets alone are words."""
    found = sorted((link.start, link.end) for link in links_of(text) if link.end > link.closed + 1)
    end = 0
    for span in found:
        if span[0] >= end:  # else it is among the words of the one before
            end = span[1]
            yield span


def _inline(target: str, title: str) -> str:
    target = _NEEDS_ESCAPE.sub(r"\\\g<0>", target)
    return f'({target} "{title}")' if title else f"({target})"


def _blanked(text: str, spans: Iterable[Span]) -> str:
    return _replaced(text, spans, lambda start, end: _NOT_A_LINE_END.sub(" ", text[start:end]))


def _replaced(text: str, spans: Iterable[Span], replacement: Callable[[int, int], str]) -> str:
    """Return a text with something else in place of spans, which are in order; one within another counts for nothing."""
    pieces, end = list[str](), 0
    for start, stop in spans:
        if start >= end:
            pieces += (text[end:start], replacement(start, stop))
            end = stop
    return "".join([*pieces, text[end:]])


# Order matters: what comes first masks what comes later.
_CODE = (_matches(r"^(?: {4}|\t)(?! *+(?:[-*+]|\d+\.) )[^\n]*"), _fences, comments, _code_spans)
_MASKED = (
    *_CODE,
    _matches(r"^ {0,3}#{1,6}[^\n]*"),
    _matches(r"^[^\n]+\n(?=(?:=++|-++)[ \t]*+$)"),
    _link_spans,
    _matches(r"^ {0,3}\[[^\[\]\n]++\]:[^\n]*"),
    _matches(r"<[a-zA-Z/][^<>]*+>"),
    _matches(r"\bhttps?://\S+"),
)
