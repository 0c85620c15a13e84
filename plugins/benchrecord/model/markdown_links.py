"""Links of a Markdown text: where each is, its words and its target, in time that grows with the text's length alone."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

MAX_NAME = 200  # characters of the name of a link that is defined elsewhere
_TOKEN = re.compile(r"\\[\\\[\]]|[\[\]]|\n[ \t]*+(?=\n)")
# What follows the words: <target> or target, with one level of brackets, and a title. A scan ends at the next bracket of its kind.
_QUOTED = r"(?:\"[^\"\n]*+\"|'[^'\n]*+')"
_INLINE = re.compile(
    rf"\(\s*+(?:<(?P<angled>[^<>\n]*+)>(?:\s*+(?P<title>{_QUOTED}))?\s*+\)"
    rf"|(?P<inner>(?:(?:[ \t]|\n(?![ \t]*\n))++(?:{_QUOTED}(?=\s*+\)))?|[^()\s\\]++|\\[()]?|\((?:[^()\n\\]|\\[()]?)*+\))*+)\))"
)
_NAME = re.compile(r"[ \n]?\[(?P<name>[^\[\]\n]*+)\]")
_DEFINITION = re.compile(
    rf"^ {{0,3}}\[(?P<name>[^\[\]\n^][^\[\]\n]*+)\]:[ \t]*+(?:<(?P<angled>[^<>\n]*+)>|(?P<target>\S++))"
    rf"[ \t]*+(?:{_QUOTED}|\([^()\n]*+\))?[ \t]*+$",
    re.MULTILINE,
)
_LONE_IMAGE = re.compile(r"^ {0,3}(?P<image>!\[[^\n]*\))[ \t]*$", re.MULTILINE)
_ESCAPED = re.compile(r"\\([\\`*_{}\[\]()>#+.!-])")


@dataclass(frozen=True, slots=True)
class Link:
    """A link or an image from ``start`` to ``end``, with words from ``opened`` to ``closed`` (offsets in the text).

    ``target`` begins at ``at``. Where the target is defined elsewhere, ``name`` is what it is called and ``target`` is empty.
    """

    start: int
    opened: int
    closed: int
    end: int
    target: str = ""
    at: int = 0
    title: str = ""
    name: str = ""

    @property
    def image(self) -> bool:
        """Whether it is an image: ``![`` has one character more than ``[``."""
        return self.opened - self.start > 1


@dataclass(frozen=True, slots=True)
class Definition:
    """What a name of links leads to: ``[name]: target``, the target beginning at ``at``."""

    start: int
    end: int
    name: str
    target: str
    at: int


def links_of(text: str) -> Iterator[Link]:
    """Yield every link, those within the words of another before that one. Code is not told from other text."""
    opened, end = list[int](), 0
    for token in _TOKEN.finditer(text):
        at = token.start()
        if at < end or token[0].startswith("\\"):
            continue
        if token[0] == "[":
            opened.append(at)
        elif token[0] != "]":
            opened.clear()  # a blank line ends whatever was open
        elif opened and (link := _link(text, opened.pop(), at)):
            end = link.end
            yield link


def lone_images(text: str) -> Iterator[tuple[tuple[int, int], str, str]]:
    """Yield (where its line is, words, target) of each image that has a line of its own."""
    for match in _LONE_IMAGE.finditer(text):
        image = match["image"]
        whole = (link for link in links_of(image) if (link.start, link.end) == (0, len(image)))
        yield from ((match.span(), image[link.opened : link.closed], link.target) for link in whole)


def definitions_of(text: str) -> Iterator[Definition]:
    """Yield every definition of a name that links have."""
    for match in _DEFINITION.finditer(text):
        group = "target" if match["angled"] is None else "angled"
        yield Definition(match.start(), match.end(), match["name"].lower(), _plain(match[group]), match.start(group))


def _link(text: str, bracket: int, closed: int) -> Link | None:
    start = bracket - 1 if text[max(bracket - 1, 0)] == "!" else bracket
    if match := _INLINE.match(text, closed + 1):
        inner, title = (match["angled"], match["title"] or "") if match["inner"] is None else _split(match["inner"])
        at = match.start("angled" if match["inner"] is None else "inner")
        return Link(start, bracket + 1, closed, match.end(), _plain(inner), at, title[1:-1])
    match = _NAME.match(text, closed + 1)
    name = (match["name"] if match else "") or text[bracket + 1 : min(closed, bracket + 2 + MAX_NAME)]
    if len(name) > MAX_NAME or "[" in name:
        return None
    return Link(start, bracket + 1, closed, match.end() if match else closed + 1, name=name.lower())


def _split(inner: str) -> tuple[str, str]:
    """Part a target from the title behind it."""
    inner = inner.rstrip()
    quote = inner[-1:]
    before = inner.rfind(quote, 0, -1) if quote in ("'", '"') and len(inner) > 1 else -1
    if before > 0 and inner[before - 1].isspace():
        return inner[:before].rstrip(), inner[before:]
    return inner, ""


def _plain(target: str) -> str:
    return _ESCAPED.sub(r"\1", target.strip())
