"""Looking for what a file holds besides its facts takes time in proportion to its length, whatever it is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from benchrecord.intake.beside import block_comments, line_comments, yaml_comments
from benchrecord.intake.picture_tags import MARKUP
from benchrecord.intake.placement_file import IN_HEAD
from benchrecord.intake.whereabouts import Sign, _in_heading
from benchrecord.problems import Place
from benchrecord.publish.guarding.containers import pdf_streams
from benchrecord.publish.guarding.markup import CSS_REQUEST
from scaling import growing_too_fast

BLANKS = (" ", "# a \n", "#\n", "# ", "a #", "mm ", "( ")
WORK: dict[str, tuple[Callable[[str], object], tuple[str, ...]]] = {
    "comments of HTML": (lambda text: [*block_comments(text)], ("<!--", "<!-- a", "<!--->", "--> <!--")),
    "comments of a table": (lambda text: [*line_comments(text)], ("#", "# ", " #\n", " ")),
    "comments of YAML": (lambda text: [*yaml_comments(text)], (' \\"', '\\"', " '", "''", '"', " #", '" ', "\\")),
    "headings": (lambda text: _in_heading(text, Place("notes/10-a.md", 1), Sign("a", 0)), BLANKS),
    "names of XMP": (MARKUP.split, ("a", "a:", "xmlns:", 'xmlns="', "<", "a.b")),
    "units in a header": (lambda text: IN_HEAD.sub("", text), BLANKS),
    "requests of a style": (lambda text: [*CSS_REQUEST.finditer(text)], ("url(", "url( ", " ", "@import ")),
    "streams of PDF": (lambda text: [*pdf_streams(text.encode())], ("stream\n", "stream\r\n", "endstream", "\n")),
}


@pytest.mark.parametrize(("work", "fragments"), WORK.values(), ids=[*WORK])
def test_four_times_as_much_takes_four_times_as_long(work: Callable[[str], object], fragments: tuple[str, ...]) -> None:
    texts = [
        (f"{before!r} {f!r} × n", lambda length, before=before, f=f: before + f * (length // len(f)) + "!")
        for f in fragments
        for before in ("", "# a", "url(", ' "')
    ]
    assert growing_too_fast(work, texts) == []


def test_what_is_quadratic_is_noticed() -> None:
    def quadratic(text: str) -> int:
        return sum(text.count("~", at) for at in range(0, len(text), 2))

    assert growing_too_fast(quadratic, [("any", lambda length: "a" * length)], 96_000)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("a: b # one\n# two\nc: '# no' #three", [" one", " two", "three"]),
        ('a: "# no" # one\nb: c#d\n', [" one"]),
        ('a: "x \\" # no\nb: " # one\n', [" one"]),
        ("it's: 'a''# no' # one", [" one"]),
        ('a: 5 " # one\nb: \\" # two', [" one", " two"]),
        ('a: "b\\', []),
    ],
)
def test_comments_of_yaml_are_those_outside_quotes_and_behind_a_quote_that_is_never_closed(text: str, found: list[str]) -> None:
    assert [*yaml_comments(text)] == found


def test_comments_of_html_are_those_that_are_closed() -> None:
    assert [*block_comments("<!--a--><!-- <!-- b -->--> <!----><!-- c")] == ["a", " <!-- b ", ""]


def test_streams_of_a_pdf_are_found_with_any_line_ends() -> None:
    data = b"stream\nab\nendstream stream\r\nc\r\nendstream\nstream\n\nendstream stream\nopen"
    assert [packed for _, packed in pdf_streams(data)] == [b"ab", b"c", b""]
