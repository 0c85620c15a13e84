"""Links of a Markdown text: what Python-Markdown takes for one is found, with its words, its target and its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown import Markdown

from benchrecord.model.markdown_links import definitions_of, links_of, lone_images

INLINE = [
    ("[a](b)", "a", "b", ""),
    ("[a](<b c>)", "a", "b c", ""),
    ("[a](b c)", "a", "b c", ""),
    ("[a]( b )", "a", "b", ""),
    ('[a](b "t")', "a", "b", "t"),
    ("[a](b 't u')", "a", "b", "t u"),
    ('[a](<b c> "t (u)")', "a", "b c", "t (u)"),
    ('[a](b "t (u")', "a", "b", "t (u"),
    ("[a](b(c))", "a", "b(c)", ""),
    (r"[a](b\(c)", "a", "b(c", ""),
    ("[a](it's)", "a", "it's", ""),
    ("[a [b] c](d)", "a [b] c", "d", ""),
    (r"[a \] c](d)", r"a \] c", "d", ""),
    ("[a\nb](c)", "a\nb", "c", ""),
    ('[a](b\n"t")', "a", "b", "t"),
    (r"[a](b\_c)", "a", "b_c", ""),
]


@pytest.mark.parametrize(("text", "words", "target", "title"), INLINE)
@pytest.mark.parametrize("bang", ["", "!"])
def test_an_inline_link_and_image(text: str, words: str, target: str, title: str, bang: str) -> None:
    whole = f"x {bang}{text} y"
    (link,) = (link for link in links_of(whole) if not link.name)  # brackets alone may have a name
    assert (whole[link.opened : link.closed], link.target, link.title) == (words, target, title)
    assert (whole[link.start : link.end], link.image) == (bang + text, bool(bang))
    assert whole[link.at :].lstrip().startswith(target[:2].rstrip("_("))


@pytest.mark.parametrize(("text", "words", "target", "title"), INLINE)
def test_markdown_sees_the_same(text: str, words: str, target: str, title: str) -> None:  # noqa: ARG001  # one table for both
    html = Markdown().convert(f"x {text} y")
    assert f'href="{target}"' in html
    assert (f'title="{title}"' in html) == bool(title)


@pytest.mark.parametrize("text", ["[a] (b)", "[a]\n\n(b)", "[a(b)", "a](b)", "[a](b", "[a\n\nb](c)", r"\[a](b)", "[a](b\n\nc)"])
def test_what_is_no_inline_link(text: str) -> None:
    assert [link for link in links_of(text) if link.target] == []


def test_a_link_around_an_image_comes_after_it() -> None:
    text = "[![a](b.jpg)](c)"
    inner, outer = links_of(text)
    assert (inner.target, inner.image, inner.start) == ("b.jpg", True, 1)
    assert (outer.target, outer.image, outer.start, outer.end) == ("c", False, 0, len(text))


@pytest.mark.parametrize(
    ("text", "name"), [("[a][B c]", "b c"), ("[A][]", "a"), ("[a] [b]", "b"), ("[A b]", "a b"), ("![a][b]", "b")]
)
def test_a_link_by_a_name(text: str, name: str) -> None:
    (link,) = (link for link in links_of(text) if link.start == 0)
    assert (link.name, link.target) == (name, "")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("[a]: b", [("a", "b")]),
        ("  [A b]: <c d> 'title'", [("a b", "c d")]),
        ('[a]: check:rails "The rails"', [("a", "check:rails")]),
        ("[^1]: a footnote", []),
        ("[R1]: was replaced", []),
        ("x [a]: b", []),
        ("    [a]: b", []),
    ],
)
def test_what_a_name_leads_to(text: str, found: list[tuple[str, str]]) -> None:
    assert [(d.name, d.target) for d in definitions_of(text)] == found
    assert all(text[d.at :].startswith(d.target) for d in definitions_of(text))


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("![a](board:psu)", ("a", "board:psu")),
        ("   ![](<photo:a b (1).jpg>)  ", ("", "photo:a b (1).jpg")),
        ("x ![a](b)", None),
        ("![a](b) x", None),
        ("![a](b) ![c](d)", None),
        ("    ![a](b)", None),
    ],
)
def test_an_image_on_a_line_of_its_own(line: str, found: tuple[str, str] | None) -> None:
    text = f"Words.\n{line}\nWords."
    assert [(words, target) for _, words, target in lone_images(text)] == ([found] if found else [])
    assert [text[start:end] for (start, end), _, _ in lone_images(text)] == ([line] if found else [])


PIECES = ["[", "]", "(", ")", "![", "](", "a", " ", "\n", "\n\n", '"', "'", "<", ">", "\\", "[a](b)", "]: ", "[^", "é"]


@given(st.lists(st.sampled_from(PIECES), max_size=40).map("".join))
def test_every_offset_is_where_it_says(text: str) -> None:
    ends: list[int] = []
    for link in links_of(text):
        assert 0 <= link.start < link.opened <= link.closed < link.end <= len(text)
        assert text[link.closed] == "]"
        assert text[link.opened - 1] == "["
        assert link.image is (text[link.start] == "!")
        assert all(end <= link.start or end < link.end for end in ends)  # apart, or within its words
        ends.append(link.end)
