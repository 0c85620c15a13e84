"""The archive in Chromium: its pages, the box that sifts their rows, and the search that leads to headings."""

from __future__ import annotations

from pathlib import Path

import pytest

from archives import folders
from browser.test_pages import check
from browsing import Watched
from once import once

PAGES = [
    "index", "open", "models", "models/*", "faults", "parts", "designators", "substitutes", "suppliers", "date-codes", "hours-and-cost",
]  # fmt: skip
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    def make(path: Path) -> None:
        (path / "jobs").mkdir(parents=True)
        build(folders(path / "jobs", 6, seed=3), edition="archive", site_dir=path / "site", kinds=[])

    return once(tmp_path_factory, "archive", make) / "site/archive"


def test_the_list_has_every_page(archive: Path) -> None:
    built = {p.relative_to(archive).with_suffix("") for p in archive.rglob("*.html")}
    assert {"models/*" if p.parent.name else p.name for p in built} == set(PAGES)


@pytest.mark.parametrize("name", PAGES)
def test_a_wide_light_page(archive: Path, wide: Watched, name: str) -> None:
    check(min(archive.glob(f"{name}.html")), wide)


@pytest.mark.parametrize("name", PAGES)
def test_a_narrow_dark_page(archive: Path, narrow: Watched, name: str) -> None:
    check(min(archive.glob(f"{name}.html")), narrow)


def test_the_box_shows_only_rows_that_hold_every_word_with_the_headings_above_them(archive: Path, wide: Watched) -> None:
    page = wide.open(archive / "parts.html")
    rows = page.locator(".br-index tbody tr:visible")
    whole = rows.count()
    page.fill(".br-filter input", "4u7 quayside")
    assert 0 < rows.count() < whole
    assert all("4u7" in text.lower() and "quayside" in text.lower() for text in rows.all_inner_texts())
    assert {t.split(",")[0] for t in page.locator("h3:visible").all_inner_texts()} == {"4u7"}
    assert page.locator("h2:visible").all_inner_texts() == ["C"]
    assert page.inner_text(".br-filter output") == f"{rows.count()} row{'' if rows.count() == 1 else 's'}"
    page.fill(".br-filter input", "")
    assert rows.count() == whole


@pytest.mark.parametrize(("looked_for", "anchor"), [("4u7", "#value-C-4u7"), ("U2", "-U2"), ("crackles", "#symptom-crackles")])
def test_the_search_leads_to_the_heading_of_just_that(archive: Path, wide: Watched, looked_for: str, anchor: str) -> None:
    page = wide.open(archive / "index.html")
    page.click(".md-search__input")
    page.keyboard.type(looked_for)
    page.wait_for_selector(".md-search-result__item a", timeout=30_000)
    page.wait_for_timeout(500)
    first = page.eval_on_selector_all(".md-search-result__link", "links => links.slice(0, 2).map(l => l.href)")
    assert any(link.partition("#")[2] and f"#{link.partition('#')[2]}".endswith(anchor) for link in first), first


@pytest.mark.parametrize("code", ["S-0003", "s-0003", "47u-2"])
def test_the_search_shows_only_what_has_all_of_a_code(archive: Path, wide: Watched, code: str) -> None:
    """Of S-0003 the theme would show whatever begins with an S."""
    page = wide.open(archive / "index.html")
    page.click(".md-search__input")
    page.keyboard.type(code)
    page.wait_for_selector(".md-search-result__item a", timeout=30_000)
    page.wait_for_timeout(500)
    assert page.locator(".md-search-result__link").count() > 0
    assert page.locator(".md-search-result__terms").all_inner_texts() == []  # of what a result has not
