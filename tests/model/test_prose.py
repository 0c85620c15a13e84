"""Which characters of a note are running words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.model.prose import line_and_column, links, running_words

MARKDOWN = st.lists(
    st.sampled_from(["R1", " ", "\n", "`", "```\n", "~~~\n", "# ", "[", "](", ")", "<b>", "<!--", "-->", "    ", "\t", "===\n", "- ", "é", "https://x/R1", "![", "]: "]),
    max_size=30,
).map("".join)  # fmt: skip


@given(MARKDOWN)
def test_every_offset_and_line_stays(text: str) -> None:
    words = running_words(text)
    assert len(words) == len(text)
    assert all(found in (kept, " ") for found, kept in zip(words, text, strict=True))
    assert [n for n, c in enumerate(words) if c == "\n"] == [n for n, c in enumerate(text) if c == "\n"]


@given(MARKDOWN)
def test_a_link_is_where_its_offset_says(text: str) -> None:
    for offset, image, target in links(text):
        assert text[offset:].startswith(f"{target}")
        assert image is (text[: text.rindex("[", 0, offset)].endswith("!")) or "[" in target


@given(MARKDOWN, st.integers(0, 40))
def test_a_line_and_column_lead_back_to_the_offset(text: str, offset: int) -> None:
    offset = min(offset, len(text))
    line, column = line_and_column(text, offset)
    before = text.split("\n")[: line - 1]
    assert sum(len(b) + 1 for b in before) + column - 1 == offset


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("plain R1", "plain R1"),
        ("- R1 in a list\n    - R2 below it", "- R1 in a list\n    - R2 below it"),
        ("| R1 | 4k7 |", "| R1 | 4k7 |"),
        ("**R1** and *R2*", "**R1** and *R2*"),
        ("> R1 quoted", "> R1 quoted"),
        ("R1 `R2` R3", "R1      R3"),
        ("R1 ``a ` R2`` R3", "R1            R3"),
        ("a lone ` R1", "a lone ` R1"),
        ("# R1\nR2", "    \nR2"),
        ("R1\n---\nR2", "  \n---\nR2"),
        ("~~~\nR1\n~~~\nR2", "   \n  \n   \nR2"),
        ("```\nR1 never closed", "   \n               "),
        ("    R1 is code\nR2", "              \nR2"),
        ("[R1](x.html) R2", "             R2"),
        ("[R1][a] R2\n\n[a]: R3", "        R2\n\n       "),
        ("<span title='R1'>R2</span>", "                 R2       "),
        ("see https://x.y/R1 R2", "see                R2"),
        ("1 < 2 and R1 > 0", "1 < 2 and R1 > 0"),
    ],
)
def test_what_is_a_running_word(text: str, kept: str) -> None:
    assert running_words(text) == kept


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('[a](check:b "title")', [(4, False, "check:b")]),
        ("[a](check:b) [c](d)", [(4, False, "check:b"), (17, False, "d")]),
        ("![a](b.jpg)", [(5, True, "b.jpg")]),
        ("`[a](b)` <!-- [c](d) -->", []),
        ("[a] (b)", []),
        ("# [a](check:b)", [(6, False, "check:b")]),
    ],
)
def test_links_with_their_place(text: str, found: list[tuple[int, bool, str]]) -> None:
    assert links(text) == found
