"""The record of the demo as its owner has it on a stick: it opens without any network in two browsers, is whole, conforms, and tells all."""

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
from firefox import RIGHT, Firefox
from once import once

ROOT = Path(__file__).parents[2]
JOB = "data/site/jobs/estuary-44"
SEARCH, RESULT = ".md-search__input", ".md-search-result__link[href$='psu.html?h=r12#parts']"
PICTURES = """Promise.all([...document.images].map(i => {
  i.loading = "eager";
  return i.decode().then(() => i.naturalWidth > 0, () => false);
})).then(came => came.every(Boolean))"""
SCHEME = "[document.body.dataset.mdColorScheme, getComputedStyle(document.body).backgroundColor]"
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def stick(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return once(tmp_path_factory, "Stick für Anna", lambda to: hand_over(ROOT / "sample_job", Wish(to))) / "estuary-44-record"


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


@pytest.mark.parametrize("name", ["index", "boards/psu", "checks", "photos", "notes/power-supply"])
def test_in_firefox_its_pages_open_with_their_pictures_and_ask_nobody(stick: Path, firefox: Firefox, name: str) -> None:
    firefox.open(stick / JOB / f"{name}.html")
    assert "Estuary 44" in firefox.evaluate("document.body.innerText")
    assert firefox.evaluate("[...document.styleSheets].every(s => s.ownerNode.sheet === s)")
    assert firefox.evaluate("getComputedStyle(document.querySelector('.br-menu')).borderBottomStyle") == "solid"
    assert firefox.evaluate(PICTURES)
    assert (firefox.said, firefox.foreign()) == ([], [])


def test_in_firefox_a_page_that_asked_another_host_would_be_told_of(stick: Path, firefox: Firefox) -> None:
    firefox.open(stick / "data/site/index.html")
    firefox.evaluate("fetch('http://192.0.2.1/').catch(() => null)")
    assert firefox.foreign() == ["http://192.0.2.1/"]


def test_in_firefox_its_search_finds_a_part_and_leads_to_it(stick: Path, firefox: Firefox) -> None:
    firefox.open(stick / "data/site/index.html")
    firefox.click(SEARCH)
    firefox.type("R12")
    firefox.wait(f'!!document.querySelector("{RESULT}")')
    firefox.click(RESULT)
    assert firefox.wait("document.querySelector('tr:target mark')?.innerText") == "R12"
    assert (firefox.said, firefox.foreign()) == ([], [])


def test_in_firefox_links_lead_from_page_to_page_and_to_a_part(stick: Path, firefox: Firefox) -> None:
    firefox.open(stick / "data/site/index.html")
    firefox.click(".br-cards a")
    firefox.wait("location.pathname.endsWith('/jobs/estuary-44/index.html') && document.readyState == 'complete'")
    firefox.click(".br-menu a[href='notes.html']")
    firefox.wait("location.pathname.endsWith('/jobs/estuary-44/notes.html') && document.readyState == 'complete'")
    firefox.open(stick / JOB / "notes/power-supply.html")
    firefox.click(".br-note p a.br-ref[href$='psu.html#R2']")
    assert firefox.wait("document.querySelector('.br-map a:target')?.id") == "R2"


def test_in_firefox_it_is_light_or_dark_as_the_reader_wants(stick: Path, firefox: Firefox) -> None:
    firefox.open(stick / JOB / "index.html")
    before = firefox.evaluate(SCHEME)
    firefox.click("[data-md-component=palette] label:not([hidden])")
    after = firefox.evaluate(SCHEME)
    firefox.click("[data-md-component=palette] label:not([hidden])")
    assert (before[0], after[0], firefox.evaluate(SCHEME)) == ("default", "slate", before)
    assert before[1] != after[1]


def test_in_firefox_the_slider_moves_the_line_between_before_and_after(stick: Path, firefox: Firefox) -> None:
    firefox.open(stick / JOB / "boards/psu.html")
    firefox.click(".br-slide input")
    firefox.type(3 * RIGHT)
    cuts = "[...document.querySelectorAll('.br-compared-after')].map(e => getComputedStyle(e).clipPath)"
    assert firefox.evaluate(cuts)[:2] == ["inset(0px 0px 0px 53%)", "inset(0px 0px 0px 50%)"]
