"""The record of the demo as its owner has it on a stick: it opens without any network, is whole, conforms, and tells all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest
from playwright.sync_api import Browser

from benchrecord.publish.hand_over import Wish, hand_over
from benchrecord.record.pdf import conforms
from benchrecord.record.verify import verify
from browsing import Watched

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def stick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return hand_over(ROOT / "sample_job", Wish(tmp_path_factory.mktemp("stick")))


@pytest.fixture
def offline(browser: Browser) -> Iterator[Watched]:
    context = browser.new_context(offline=True, viewport={"width": 1280, "height": 900})
    yield Watched(context.new_page())
    context.close()


def test_it_is_whole(stick: Path) -> None:
    assert verify(stick).faults == ()


@pytest.mark.parametrize(
    "name", ["index", "jobs/estuary-44/index", "jobs/estuary-44/boards/psu", "jobs/estuary-44/checks", "jobs/estuary-44/photos"]
)
def test_its_pages_open_without_network_and_ask_nobody(stick: Path, offline: Watched, name: str) -> None:
    page = offline.open(stick / f"data/site/{name}.html")
    assert "Estuary 44" in page.inner_text("body")
    assert page.evaluate("[...document.images].filter(i => i.loading != 'lazy' && !i.naturalWidth).length") == 0
    assert (offline.said, offline.foreign()) == ([], [])


def test_its_search_finds_a_part_without_network(stick: Path, offline: Watched) -> None:
    page = offline.open(stick / "data/site/index.html")
    page.fill(".md-search__input", "R12")
    page.wait_for_selector(".md-search-result__item", timeout=15_000)
    assert "R12" in page.inner_text(".md-search-result__list")
    assert offline.foreign() == []


def test_links_from_page_to_page_work(stick: Path, offline: Watched) -> None:
    page = offline.open(stick / "data/site/index.html")
    page.click(".br-cards a")
    page.wait_for_url("**/jobs/estuary-44/index.html")
    assert "What was measured" in page.inner_text("body")


def test_its_pdf_conforms_and_has_every_photograph_large_enough_for_paper(stick: Path) -> None:
    content = (stick / "data/record.pdf").read_bytes()
    assert conforms(content) == []
    with pikepdf.open(stick / "data/record.pdf") as document:
        shown = {
            int(i.Width)
            for page in document.pages
            for i in page.get("/Resources", {}).get("/XObject", {}).values()
            if i.get("/Subtype") == "/Image"
        }
        assert len(document.pages) > 40
        assert len(document.attachments) > 50
    assert max(shown) >= 1600
