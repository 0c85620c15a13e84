"""Hostile text in every text field: nothing runs, nothing is fetched, the page still reads, tables open harmlessly."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from attacks.hostile import FORMULAS, LONG, PAYLOADS, folder
from benchrecord.publish.build import build
from benchrecord.publish.guarding.spreadsheets import formulas
from browsing import Watched
from folders import write
from once import once

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    def make(here: Path) -> None:
        build([write(here / "job", folder())], edition="archive", site_dir=here / "site", kinds=[])

    return once(tmp_path_factory, "hostile", make) / "site"


def test_nothing_runs_and_nothing_is_fetched(site: Path, wide: Watched) -> None:
    wide.page.on("dialog", lambda d: (wide.said.append(f"dialog: {d.message}"), d.dismiss()))
    pages = sorted(site.rglob("*.html"))
    assert len(pages) > 10
    for path in pages:
        if path.name != "404.html":
            page = wide.open(path)
            assert page.evaluate("window.ran") is None, path.name
            assert page.locator("main").inner_text().strip(), path.name
    assert wide.foreign() == []
    assert [s for s in wide.said if "Failed to load resource" not in s] == []


def test_the_words_are_still_there_as_words(site: Path, wide: Watched) -> None:
    shown = wide.open(next(site.rglob("notes/10-a.html"))).locator("main").inner_text()
    for word in (
        "<script>window.ran='script'</script>",
        "{{ 7 * 7 }}",
        "<script>in code</script>",
        "<img onerror=x>",
        "by name",
    ):
        assert word in shown
    assert "a comment" not in shown
    parts = wide.open(next(site.rglob("parts.html"))).locator("main").inner_text()
    assert all(p.split()[0] in parts for p in PAYLOADS[:4])


def test_a_word_as_long_as_a_paragraph_may_be_breaks_no_page(site: Path, wide: Watched) -> None:
    page = wide.open(next(site.rglob("notes/20-long.html")))
    assert LONG in page.locator("main").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_tables_open_harmlessly(site: Path) -> None:
    tables = sorted(site.rglob("*.csv"))
    assert tables
    assert [list(formulas(t.read_bytes())) for t in tables] == [[]] * len(tables)
    cells = {c for t in tables for row in csv.reader(t.read_text("utf-8").splitlines()) for c in row}
    assert all(any(c.lstrip("'").startswith(f.strip()) for c in cells) for f in FORMULAS)
