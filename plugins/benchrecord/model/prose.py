"""Which characters of a Markdown text are running words: not code, headings, links, images or HTML."""

from __future__ import annotations

import re

# Order matters: what comes first masks what comes later.
MASKED = (
    re.compile(r"^(?: {4}|\t)(?! *(?:[-*+]|\d+\.) )[^\n]*", re.MULTILINE),
    re.compile(r"^(?P<fence>`{3,}|~{3,})[^\n]*\n.*?(?:^(?P=fence)[`~]*[ \t]*$|\Z)", re.MULTILINE | re.DOTALL),
    re.compile(r"<!--.*?-->", re.DOTALL),
    re.compile(r"(?<!`)(?P<tick>`+)(?!`).+?(?<!`)(?P=tick)(?!`)", re.DOTALL),
    re.compile(r"^ {0,3}#{1,6}[^\n]*", re.MULTILINE),
    re.compile(r"^[^\n]+\n(?=(?:=+|-+)[ \t]*$)", re.MULTILINE),
    re.compile(r"!?\[[^\]\n]*\](?:\([^)\n]*\)|\[[^\]\n]*\])"),
    re.compile(r"^ {0,3}\[[^\]\n]+\]:[^\n]*", re.MULTILINE),
    re.compile(r"<[a-zA-Z/][^>]*>"),
    re.compile(r"\bhttps?://\S+"),
)
OPENING = "\ue03c"  # stands for < where Markdown must not see one; the letter is nobody's
_CODE_OR_COMMENT = re.compile(rf"(?P<code>{MASKED[1].pattern}|{MASKED[3].pattern})|<!--.*?-->", re.MULTILINE | re.DOTALL)
_NO_ADDRESS = re.compile(r"<(?!(?:https?://|mailto:)[^\s<>\"']*>)")
LINK = re.compile(r"(?P<image>!?)\[(?P<words>[^\]\n]*)\]\((?P<target>[^)\s]+)(?:\s+\"[^\"]*\")?\)")


def running_words(markdown: str) -> str:
    """Return the text with everything that is not running words blanked; offsets and lines stay."""
    for pattern in MASKED:
        markdown = pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), markdown)
    return markdown


def without_comments(markdown: str) -> str:
    """Return the text without its comments, which are for nobody to read; lines stay where they are."""
    return _CODE_OR_COMMENT.sub(lambda m: m[0] if m["code"] else "\n" * m[0].count("\n"), markdown)


def with_blank_comments(markdown: str) -> str:
    """Return the text with spaces for its comments; every other sign stays where it is."""
    return _CODE_OR_COMMENT.sub(lambda m: m[0] if m["code"] else re.sub(r"[^\n]", " ", m[0]), markdown)


def without_tags(markdown: str) -> str:
    """Return the text so that Markdown finds no HTML in it: addresses in angle brackets stay, any other bracket is ``OPENING``."""
    return _NO_ADDRESS.sub(OPENING, markdown)


def links(markdown: str) -> list[tuple[int, bool, str]]:
    """Return (offset, whether an image, target) of each inline link outside of code."""
    blanked = markdown
    for pattern in (*MASKED[:4],):
        blanked = pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), blanked)
    return [(m.start("target"), bool(m["image"]), m["target"]) for m in LINK.finditer(blanked)]


def line_and_column(text: str, offset: int) -> tuple[int, int]:
    """Return the line and column (both from 1) of an offset."""
    return text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1


def lower_first(text: str) -> str:
    """Begin a title in the middle of a sentence, unless its second letter says that it is an abbreviation or a designator."""
    return text if len(text) > 1 and not text[1].islower() else text[:1].lower() + text[1:]
