"""Markdown within bounds: what would be searched in vain is escaped, what is meant stays, and the time grows with the length alone."""

from __future__ import annotations

from collections import Counter

import pytest
from markdown import Markdown

from benchrecord.publish.links import LinksExtension, Reader
from benchrecord.publish.markdown_limits import (
    MAX_EMPHASIS,
    MAX_FOOTNOTE_MARKS,
    MAX_HEADINGS_ALIKE,
    MAX_NESTED,
    bounded,
    unescaped,
)
from scaling import growing_too_fast

SLOW_ONES = ["[a](", "[a](<b", "[a](b ", '[a](b "', "![a](", "[", "[a][", "`", "``a`", "*a ", "**a ", "_a ", "***a**", "[^1]", ">", "> ", "- ", "1. ", "```a\n", "~~~\na\n", "```{a}}\n", '```hl_lines="\n']  # fmt: skip


def html(markdown: str) -> str:
    extensions = [
        "attr_list",
        "md_in_html",
        "tables",
        "footnotes",
        "toc",
        "fenced_code",
        LinksExtension(Reader(generated=True)),
    ]
    return Markdown(extensions=extensions).convert(markdown)


def plain(markdown: str) -> str:
    return Markdown(extensions=["attr_list", "md_in_html", "tables", "footnotes", "toc", "fenced_code"]).convert(markdown)


@pytest.mark.parametrize(
    "text",
    [
        "A [link](https://a.b) and `code` with *words*, **more** and ***both***.",
        'A [link](https://a.b/c_(d) "its title"), [another](<https://a.b>) and [[in brackets](https://a.b)].',
        "[named] and [words][named]\n\n[named]: https://a.b",
        "Words (in brackets) [and these] (apart), `[a](` and 3 * 4 * 5_6_7.",
        "- a\n    - b\n        - c\n\n> q\n> > r\n\n# H\n\n|a|b|\n|-|-|\n|1|2|",
        "Words\n\n```\ncode\n```\n\n~~~python\n```\n~~~\n\n``` {.a #b}\nc\n```",
        "Words\n```a\nmore``` and ```code``` in a line.\n\n```code``` first\n",
        "````\n```\ncode\n````\n\n```a b c\nwords\n```\nnever closed",
        "[words](not closed, and [a link](https://a.b) after it",
    ],
)
def test_what_is_meant_is_as_without_limits(text: str) -> None:
    assert html(text).replace("\n <code>", "\n<code>") == plain(text)  # a blank at the beginning of a line is not shown


@pytest.mark.parametrize("text", ["[", "`", "[a](", "![a](", "[a](b "])
def test_what_opens_nothing_is_shown_as_it_was_written(text: str) -> None:
    assert unescaped(bounded(text * 50, Counter())) == text * 50
    assert html(text * 50 + "b") == f"<p>{text * 50}b</p>"


def test_lists_quotes_and_emphasis_nest_only_so_deep() -> None:
    assert html("> " * (MAX_NESTED + 30) + "a").count("<blockquote>") <= MAX_NESTED + 1
    assert html("*a _b " * (MAX_EMPHASIS + 30)).count("<em>") <= MAX_EMPHASIS


def test_many_headings_alike_and_marks_of_one_footnote_have_anchors_of_their_own() -> None:
    found = html("# a\n\n" * (MAX_HEADINGS_ALIKE + 20)).split('id="')[1:]
    assert len({part.partition('"')[0] for part in found}) == MAX_HEADINGS_ALIKE + 20
    assert html("[^1] " * (MAX_FOOTNOTE_MARKS + 9) + "\n\n[^1]: b").count("<sup") == MAX_FOOTNOTE_MARKS


@pytest.mark.slow
@pytest.mark.parametrize("fragment", SLOW_ONES)
def test_four_times_as_much_takes_four_times_as_long(fragment: str) -> None:
    assert growing_too_fast(html, [(fragment, lambda length: fragment * (length // len(fragment)) + "b")], 12_000) == []
