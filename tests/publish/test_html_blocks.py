"""HTML of our own pages goes around Markdown, and comes back whole; a user's words go through it."""

from __future__ import annotations

import markdown
import pytest

from benchrecord.publish.html_blocks import put_back, set_aside


def through(text: str) -> str:
    left, blocks = set_aside(text)
    return put_back(markdown.markdown(left), blocks)


def test_headings_are_markdown_and_the_rest_is_not_touched() -> None:
    html = through("<nav>a\n\nb</nav>\n\n# A *title*\n\n<table>\n\n<tr><td>_x_</td></tr></table>\n")
    assert "<h1>A <em>title</em></h1>" in html
    assert "<nav>a\n\nb</nav>" in html
    assert "<table>\n\n<tr><td>_x_</td></tr></table>" in html


def test_words_between_the_marks_are_markdown_and_keep_their_headings() -> None:
    html = through(
        "<div>\n<!-- words -->\n\nSome *words*.\n\n## Mine\n\n<b>raw</b>\n\n<!-- end of words -->\n</div>\n\n## Ours\n\n<p>x</p>"
    )
    assert "<p>Some <em>words</em>.</p>" in html
    assert html.index("Mine") < html.index("</div>") < html.index("Ours")
    assert "words -->" not in html


@pytest.mark.parametrize("comment", ["<!-- html 0 -->", "<!-- html 99 -->", "<!-- end of words -->"])
def test_a_comment_that_looks_like_ours_does_no_harm(comment: str) -> None:
    html = through(f"<i>one</i>\n\n<!-- words -->\n\n{comment}\n\n<!-- end of words -->\n\n<i>two</i>")
    assert "<i>two</i>" in html
