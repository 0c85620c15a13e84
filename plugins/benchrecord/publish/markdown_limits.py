"""Keeps Markdown's time and depth within bounds: what can be no link, code or list is escaped before it is looked at in vain.

Python-Markdown searches to the end of a paragraph from each bracket, and goes one call deeper for each list in a list.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.preprocessors import Preprocessor
from markdown.treeprocessors import Treeprocessor
from markdown.util import ETX, STX, AtomicString

from benchrecord.model.markdown_links import Link, links_of
from benchrecord.model.prose import next_alike

BEFORE_FENCES = 28  # fenced code is put aside at 25, line ends are made alike at 30
AFTER_RAW_HTML, BEFORE_INLINE = 10, 30  # raw HTML is put aside at 20, and inline patterns run at 20
MAX_NESTED = 20  # lists and quotes in each other
MAX_INDENT = 4 * MAX_NESTED  # columns
MAX_LINKS_IN_LINK = 4
MAX_EMPHASIS = 30  # open at once
MAX_FOOTNOTE_MARKS = 100  # of one footnote: each is given an id of its own by trying one number after the other
MAX_HEADINGS_ALIKE = 100  # likewise
HEADINGS = frozenset({"h1", "h2", "h3", "h4", "h5", "h6"})
_MARKERS = re.compile(rf"^((?:[ \t]*+(?:[-*+>]|\d{{1,9}}[.)])(?=[ \t>])){{{MAX_NESTED}}}[ \t]*+)(?=\S)")
_DEEP = re.compile(rf"^([ \t]{{{MAX_INDENT},}}+)(?=[-*+>]|\d{{1,9}}[.)]|[!?]{{3}}|:)")
_FENCE = re.compile(
    r"(?P<run>`{3,}+|~{3,}+) *+(?P<head>\{[^{}]*\}|\.?[\w#.+-]*+ *+(?:hl_lines=(?P<quote>[\"'])[^\"']*(?P=quote) *+)?)"
)
_TOKEN = re.compile(r"\\(?s:.)|(?P<ticks>`++)|\[\^(?P<footnote>[^\[\]\n]++)\]|(?P<bracket>\[)|(?P<emphasis>\*++|_++)")
_CODE = re.compile(r"\\(?s:.)|`++")
_ESCAPED = re.compile(rf"{STX}(\d+){ETX}")
_IN_TARGET = re.compile(r"[\"'()\[\]\\`<>*_]")
_NOT_IN_A_SLUG = re.compile(r"[\W_]+")
Replacement = tuple[int, int, str]  # from where to where, and by what


def register(md: Markdown) -> None:
    """Hang the limits into a converter."""
    md.preprocessors.register(Fences(md), "benchrecord-fences", BEFORE_FENCES)
    md.preprocessors.register(Nesting(md), "benchrecord-nesting", AFTER_RAW_HTML)
    md.treeprocessors.register(Inline(md), "benchrecord-inline", BEFORE_INLINE)


def unescaped(text: str) -> str:
    """Return a text of the tree with the characters that its escapes stand for."""
    return _ESCAPED.sub(lambda m: chr(int(m[1])), text)


class Fences(Preprocessor):
    """Indents by one space each line that looks like the beginning of fenced code whose end Markdown would look for in vain."""

    def run(self, lines: list[str]) -> list[str]:
        """Return the lines; a line within fenced code stays as it is."""
        last_end = {line.rstrip(" "): number for number, line in enumerate(lines) if line.startswith(("```", "~~~"))}
        made, opened = list[str](), ""
        for number, line in enumerate(lines):
            fence = line.startswith(("```", "~~~"))
            if opened:
                opened = "" if fence and line.rstrip(" ") == opened else opened
            elif fence:
                match = _FENCE.fullmatch(line)
                opened = match["run"] if match and last_end.get(match["run"], 0) > number else ""
                line = line if opened else f" {line}"  # noqa: PLW2901  # the line as it is to be read
            made.append(line)
        return made


class Nesting(Preprocessor):
    """Escapes markers of lists and quotes that would nest deeper than anybody reads."""

    def run(self, lines: list[str]) -> list[str]:
        """Return the lines, with a backslash before a marker that is too deep."""
        return [_DEEP.sub(r"\1\\", _MARKERS.sub(r"\1\\", line)) if len(line) > MAX_NESTED else line for line in lines]


class Inline(Treeprocessor):
    """Escapes what is no link, no code and no emphasis in the text of each element, before inline patterns run."""

    def run(self, root: Element) -> None:
        """Go through a page's tree, whose texts are as they were written."""
        marks: Counter[str] = Counter()
        for element in root.iter():
            if element.text and not isinstance(element.text, AtomicString):
                element.text = bounded(element.text, marks)
            if element.tail and not isinstance(element.tail, AtomicString):
                element.tail = bounded(element.tail, marks)
        _name_headings(root)


def bounded(text: str, marks: Counter[str]) -> str:
    """Return inline Markdown in which all is escaped that Markdown would look for an end of in vain.

    ``marks`` counts the marks of each footnote of the page so far.
    """
    masked = _blanked(text, _code(text))
    links = [*links_of(masked)]
    targets = [(link.closed + 1, link.end, _target(link)) for link in links if _is_inline(link)]
    unclosed = [(at, at + 1, _escape("(")) for link in links if link.name and masked[(at := link.closed + 1) : at + 1] == "("]
    masked = _blanked(masked, sorted([*_names(links), *((start, end) for start, end, _ in targets)]))
    rewritten = [target for target in targets if _IN_TARGET.search(text[target[0] + 1 : target[1] - 1])]
    pieces, end = list[str](), 0
    for start, stop, replacement in sorted([*_escapes(masked, _brackets(links), marks), *rewritten, *unclosed]):
        pieces += (text[end:start], replacement)
        end = stop
    return "".join([*pieces, text[end:]])


def _escapes(masked: str, brackets: frozenset[int], marks: Counter[str]) -> Iterator[Replacement]:
    """Yield what is escaped: backticks without code, brackets that open no link, emphasis in emphasis in emphasis."""
    depth = 0
    for token in _TOKEN.finditer(masked):
        start, said = token.start(), token[0]
        if token["footnote"]:
            marks[said] += 1
        if token["ticks"]:
            yield start, token.end(), _escape(said)
        elif (token["bracket"] and start not in brackets) or marks[said] > MAX_FOOTNOTE_MARKS:
            yield start, start + 1, _escape("[")
        elif token["emphasis"]:
            depth = _depth(masked, token, depth)
            if depth > MAX_EMPHASIS:
                depth -= 1
                yield start, token.end(), _escape(said)


def _depth(masked: str, token: re.Match[str], depth: int) -> int:
    """Return how many emphases are open after a run of asterisks or underscores."""
    before, after = masked[token.start() - 1 : token.start()], masked[token.end() : token.end() + 1]
    if before.strip() and depth:
        return depth - 1
    return depth + bool(after.strip())


def _brackets(links: list[Link]) -> frozenset[int]:
    """Return where brackets open links that do not hold too many links themselves; ``links`` are in the order of their ends."""
    found, around = list[int](), list[tuple[int, int]]()  # of those not within another yet: where it begins, how many it holds
    for link in links:
        inside = 1
        while around and around[-1][0] > link.start:
            inside += around.pop()[1]
        around.append((link.start, inside))
        found += [link.opened - 1] if inside <= MAX_LINKS_IN_LINK else []
    return frozenset(found)


def _names(links: list[Link]) -> Iterator[tuple[int, int]]:
    """Yield where names of links stand in brackets of their own; a mark of a footnote is none."""
    named = (link for link in links if link.name and not link.name.startswith("^"))
    return ((link.closed + 1, link.end) for link in named if link.end > link.closed + 1)


def _is_inline(link: Link) -> bool:
    return not link.name and link.end > link.closed + 1


def _target(link: Link) -> str:
    """Return a target and its title as Markdown reads them without looking for quotes and brackets in pairs."""
    title = f' "{_escape_some(link.title)}"' if link.title else ""
    return f"({_escape_some(link.target)}{title})"


def _escape_some(text: str) -> str:
    return _IN_TARGET.sub(lambda m: _escape(m[0]), text)


def _escape(text: str) -> str:
    return "".join(f"{STX}{ord(char)}{ETX}" for char in text)


def _code(text: str) -> Iterator[tuple[int, int]]:
    """Yield code between two runs of equally many backticks, the first of them without a backslash before it."""
    closed_by, end = next_alike(text), 0
    for token in _CODE.finditer(text):
        start = token.start()
        if start >= end and (close := closed_by.get(start, 0)):
            end = close
            yield start, end


def _blanked(text: str, spans: Iterable[tuple[int, int]]) -> str:
    pieces, end = list[str](), 0
    for start, stop in spans:
        if start >= end:
            pieces += (text[end:start], " " * (stop - start))
            end = stop
    return "".join([*pieces, text[end:]])


def _name_headings(root: Element) -> None:
    """Give those of many headings with the same words an anchor."""
    seen: Counter[str] = Counter()
    for number, heading in enumerate(e for e in root.iter() if e.tag in HEADINGS and "id" not in e.attrib):
        words = _NOT_IN_A_SLUG.sub("-", "".join(heading.itertext()).lower())
        seen[words] += 1
        if seen[words] > MAX_HEADINGS_ALIKE:
            heading.set("id", f"heading-{number}")
