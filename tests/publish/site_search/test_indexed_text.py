"""What the theme's own indexer finds in prepared pages: each word of the text by itself, and no word of a drawing."""

from __future__ import annotations

import random
import re
from html import escape, unescape

import pytest
from material.plugins.search.plugin import Parser

from benchrecord.publish.site_search.indexed_text import SEPARATOR, index_all_words, prepare_for_index

BLOCKS = ["div", "p", "section", "figure", "figcaption", "blockquote", "summary", "h2"]
INLINE = ["b", "em", "span", "a", "time"]
TABLE = "<table><thead><tr><th>{}</th><th>{}</th></tr></thead><tbody><tr><td>{}</td><td><ul><li>{}</li><li>{}</li></ul></td></tr></tbody></table>"
LIST = "<dl><dt>{}</dt><dd>{}</dd></dl>"
DRAWING = (
    '<svg><title>{0}</title><g><a href="#x"><title>{0}</title><circle/><text x="1">{0}<tspan>{0}</tspan></text></a></g>'
    "<svg><desc>{0}</desc></svg><text>{0}</text></svg>"
)


def indexed(html: str) -> list[str]:
    """Return the words that the theme indexes of a page, in order."""
    parser = Parser()
    parser.feed(html)
    parser.close()
    texts = [re.sub(r"<[^>]+>", " ", "".join([*section.title, " ", *section.text])) for section in parser.data]
    return [unescape(word) for text in texts for word in re.split(SEPARATOR, text) if word]


class Writer:
    """Pages of nested blocks, lists, tables and drawings without any blank between them, and the words that a reader sees apart."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)  # noqa: S311  # pages, not secrets
        self.words: list[str] = []

    def word(self) -> str:
        self.words.append(f"{self.dice.choice(['fault', 'R', 'C', '4k', 'Gehäuse', 'x'])}{len(self.words)}")
        return self.words[-1]

    def page(self, depth: int = 4) -> str:
        kinds = [self.block, self.broken, self.table, self.terms, self.drawing]
        return "<hr>".join(self.dice.choice(kinds)(depth - 1) for _ in range(3)) if depth else self.line()

    def line(self) -> str:
        tag = self.dice.choice(INLINE)
        return f"{self.word()} <{tag}>{self.word()}</{tag}>"

    def block(self, depth: int) -> str:
        tag = self.dice.choice(BLOCKS)
        around = self.dice.choice(["{}", "<a>{}</a>", "<span>{}</span>"])
        return self.line() + around.format(f"<{tag}>{self.page(depth)}</{tag}>") + self.word() + self.drawing(0) + self.word()

    def broken(self, depth: int) -> str:  # noqa: ARG002  # as the others
        return f"<p>{self.line()}<br>{self.line()}<br/>{self.word()}</p>"

    def table(self, depth: int) -> str:  # noqa: ARG002
        return TABLE.format(*(self.word() for _ in range(5)))

    def terms(self, depth: int) -> str:  # noqa: ARG002
        return LIST.format(self.line(), self.line())

    def drawing(self, depth: int) -> str:  # noqa: ARG002
        return DRAWING.format(f"measuredRV{len(self.words)}")


@pytest.mark.parametrize("seed", range(40))
def test_the_words_of_a_page_are_indexed_one_by_one_and_none_of_its_drawings(seed: int) -> None:
    writer = Writer(seed)
    page = writer.page()
    assert indexed(prepare_for_index(page)) == writer.words


def test_without_preparation_words_are_joined_and_drawings_indexed() -> None:
    assert indexed("<div>one</div><div>two</div>" + DRAWING.format("RV1")) == ["onetwoRV1RV1RV1RV1RV1RV1"]


def test_what_is_one_word_stays_one() -> None:
    assert indexed(prepare_for_index("<p>R<b>1</b>2 and <em>mis</em>print</p>")) == ["R12", "and", "misprint"]


@pytest.mark.parametrize("seed", range(10))
def test_a_prepared_page_looks_the_same(seed: int) -> None:
    """Blanks beside blocks are not shown, and the theme takes its marks out of the page once it is indexed."""
    page = Writer(seed).page()
    shown = re.sub(r'\s?data-search-\w+="[^"]+"', "", prepare_for_index(page))
    assert re.sub(r"\s", "", shown) == re.sub(r"\s", "", page)
    assert re.sub(r" (?=<(?!/))|(?<=>) ", "", shown) == re.sub(r" (?=<(?!/))|(?<=>) ", "", page)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("R12 TL-072CP J-2024-001 VP_OM2", ["R12", "TL", "072CP", "J", "2024", "001", "VP", "OM2"]),
        ("4k7 4.7k 0R47 10µF 2n2.", ["4k7", "4.7k", "0R47", "10µF", "2n2"]),
        ("+15 V ±12V −12.03 -5 ~3 5^2 50% 20°C", ["15", "V", "12V", "12.03", "5", "3", "5", "2", "50", "20", "C"]),
        ("“fault” ‘noise’ „Ton“ Mr O’Brien's 16'", ["fault", "noise", "Ton", "Mr", "O", "Brien", "s", "16"]),
        ("dry…wet C9–C14 on—off 3×4 a→b ▲out", ["dry", "wet", "C9", "C14", "on", "off", "3", "4", "a", "b", "out"]),
        ("A&B <3 5>4 x\u00a0y z\u200bw €14 C#4", ["A", "B", "3", "5", "4", "x", "y", "z", "w", "14", "C#4"]),
        ("Gehäuse Öztürk Петров 音色 café", ["Gehäuse", "Öztürk", "Петров", "音色", "café"]),
    ],
)
def test_a_text_is_parted_into_words(text: str, words: list[str]) -> None:
    assert indexed(f"<p>{escape(text, quote=False)}</p>") == words


def test_settings_of_the_site_come_first() -> None:
    own = {"separator": "x", "pipeline": ["stemmer"]}
    unset = {"separator": None, "pipeline": None}
    index_all_words(own)
    index_all_words(unset)
    assert own == {"separator": "x", "pipeline": ["stemmer"]}
    assert unset == {"separator": SEPARATOR, "pipeline": []}
