"""The guide tells of every field what the table of editions says, because it is made from it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchrecord.editions.table import CALLED, ORDER, alike, may_see, rows
from benchrecord.pages.readers import READERS_HERE, Seen, readers_table
from benchrecord.publish.guarding.rule import FIGURES, IN_A_ROW, RARE
from benchrecord.publish.guarding.spellings import LOCAL_NUMBER, LONG
from benchrecord.publish.guarding.vocabulary import SHORTEST

GUIDE = (Path(__file__).parents[2] / "site_src/what-each-reader-sees.md").read_text("utf-8")


def test_the_guide_asks_for_the_table() -> None:
    assert GUIDE.count(READERS_HERE) == 1


def test_every_row_that_is_not_for_everyone_is_shown_once_with_its_readers() -> None:
    shown = [Seen(part, names, tuple(may_see(r, rule.least) for r in ORDER), str(rule.way)) for part, names, rule in alike()]
    listed = [(s.part, name) for s in shown for name in s.fields]
    assert len(listed) == len(set(listed))
    wanted = {(CALLED[kind], name.replace("_", " ")) for kind, name, rule in rows() if not may_see(ORDER[0], rule.least)}
    assert wanted <= set(listed)
    text = readers_table(shown, [str(r) for r in ORDER])
    assert re.search(r"instrument: serial</th><td[^>]*>no</td><td[^>]*>yes</td><td[^>]*>yes</td>", text)
    assert re.search(r"part: [^<]*supplier[^<]*</th><td[^>]*>no</td><td[^>]*>no</td><td[^>]*>yes</td>", text)


@pytest.mark.slow
def test_the_built_page_has_it(demo_site: Path) -> None:
    page = (demo_site / "what-each-reader-sees.html").read_text("utf-8")
    assert READERS_HERE not in page
    assert "instrument: serial" in page


def test_the_numbers_of_the_rule_are_those_of_the_code() -> None:
    assert (SHORTEST, LONG, FIGURES.start, IN_A_ROW, RARE, LOCAL_NUMBER) == (4, 8, 6, 6, 6, 7)
    for words in (
        "four letters or digits",
        "eight on",
        "fewer than six figures",
        "six of its words",
        "six letters",
        "last seven",
    ):
        assert words in GUIDE
