"""The guard refuses dead links, requests to other hosts and leftovers of our own markup."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.publish.guard import complaints


def site(folder: Path, body: str, **more: str) -> list[str]:
    """Return what the guard says of a page, without the part that says where."""
    (folder / "a").mkdir()
    (folder / "a" / "page.html").write_text(f"<html><body>{body}</body></html>", "utf-8")
    (folder / "a" / "other.html").write_text('<p id="here">x</p>', "utf-8")
    for name, text in more.items():
        (folder / name.replace("_", ".")).write_text(text, "utf-8")
    return list(complaints(folder))


@pytest.mark.parametrize(
    "body",
    [
        '<a href="other.html">x</a>',
        '<a href="other.html#here">x</a>',
        '<a href="#own">x</a><i id="own"></i>',
        '<a href="../a/other.html">x</a>',
        '<a href="https://example.org/">a link to elsewhere is no request</a>',
        '<a href="mailto:a@b.example">x</a>',
        '<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">',
        "<p>{{ braces }} and br:/ in words, board:psu too</p>",
        "<!-- a comment -->",
        '<link rel="canonical" href="https://example.org/">',
        '<svg><a href="#pin"><text>R1</text></a><g id="pin"></g></svg>',
    ],
)
def test_what_is_well_passes(tmp_path: Path, body: str) -> None:
    assert site(tmp_path, body) == []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<a href="gone.html">x</a>', "a dead link: gone.html"),
        ('<a href="other.html#gone">x</a>', "other.html#gone has no such place"),
        ('<a href="#gone">x</a>', "#gone has no such place"),
        ('<a href="../../outside.html">x</a>', "a dead link"),
        ('<img src="gone.jpg">', "a dead link: gone.jpg"),
        ('<img srcset="other.html 1x, gone.webp 2x">', "a dead link: gone.webp"),
        ('<img src="https://example.org/x.png">', "a request to another host: https://example.org/x.png"),
        ('<script src="//example.org/x.js"></script>', "a request to another host"),
        ('<link rel="stylesheet" href="https://example.org/x.css">', "a request to another host"),
        ('<link rel="preconnect" href="https://example.org">', "a request to another host"),
        ('<video src="http://example.org/x.mp4"></video>', "a request to another host"),
        ('<a href="br:/jobs/x/index.md">x</a>', "leftover markup"),
        ('<a href="check:rails">x</a>', "leftover markup"),
        ("<!-- jobs -->", "leftover markup: <!-- jobs -->"),
    ],
)
def test_what_must_not_leave_is_refused_with_its_page_and_line(tmp_path: Path, body: str, said: str) -> None:
    (complaint,) = site(tmp_path, "\n" + body)
    assert complaint.startswith("a/page.html:2: ")
    assert said in complaint


@pytest.mark.parametrize("rule", ["@import 'https://example.org/x.css';", "i { background: url(//example.org/x.png) }"])
def test_a_style_sheet_asks_nobody_either(tmp_path: Path, rule: str) -> None:
    (complaint,) = site(tmp_path, "", look_css=rule)
    assert "look.css: a request to another host" in complaint
