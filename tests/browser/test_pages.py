"""Every kind of page in Chromium, opened from the disk: nothing to complain of, nothing asked of another host, nothing cut off."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from browsing import Watched

JOB = "jobs/estuary-44"
KINDS = [
    "index.html",
    "jobs/index.html",
    "how-the-work-is-done.html",
    "job-folder.html",
    "what-each-reader-sees.html",
    "numbers.html",
    "glossary.html",
    "safety.html",
    f"{JOB}/index.html",
    f"{JOB}/notes.html",
    f"{JOB}/notes/power-supply.html",
    f"{JOB}/boards/psu.html",
    "jobs/loopwell-2/boards/head.html",
    f"{JOB}/modules/osc2.html",
    f"{JOB}/modules/keyboard.html",
    f"{JOB}/modules/filter.html",
    f"{JOB}/modules/spring.html",
    f"{JOB}/checks.html",
    f"{JOB}/numbers.html",
    f"{JOB}/patches.html",
    f"{JOB}/parts.html",
    f"{JOB}/trims.html",
    f"{JOB}/photos.html",
    f"{JOB}/handover.html",
]
pytestmark = pytest.mark.slow


def test_the_list_has_every_kind_of_page(demo_site: Path) -> None:
    def kind(path: str) -> str:
        return re.sub(r"^jobs/[^/]+/", "jobs/*/", re.sub(r"/(notes|boards|modules)/[^/]+$", r"/\1/*", path))

    built = {p.relative_to(demo_site).as_posix() for p in demo_site.rglob("*.html")} - {"404.html"}
    assert {kind(p) for p in built} == {kind(p) for p in KINDS}


@pytest.mark.parametrize("name", KINDS)
def test_a_wide_light_page(demo_site: Path, wide: Watched, name: str) -> None:
    check(demo_site / name, wide)


@pytest.mark.parametrize("name", KINDS)
def test_a_narrow_dark_page(demo_site: Path, narrow: Watched, name: str) -> None:
    check(demo_site / name, narrow)


def check(path: Path, watched: Watched) -> None:
    page = watched.open(path)
    page.wait_for_timeout(200)
    assert watched.said == []
    assert watched.foreign() == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 1
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    images = page.evaluate(
        "[...document.images].filter(i => !(i.getAttribute('width') && i.getAttribute('height'))).map(i => i.src)"
    )
    assert images == []


def test_the_keyboard_reaches_every_pin_and_enter_follows_it(demo_site: Path, wide: Watched) -> None:
    page = wide.open(demo_site / JOB / "boards/psu.html")
    pins = page.evaluate("[...document.querySelectorAll('.br-map a')].map(a => a.id)")
    assert len(pins) == 47
    page.evaluate("document.querySelector('.br-map a').focus()")
    reached = []
    for _ in pins:
        reached.append(page.evaluate("document.activeElement.id"))
        seen = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert seen != "none"
        page.keyboard.press("Tab")
    assert reached == pins
    page.evaluate("document.getElementById('R2').focus()")
    page.keyboard.press("Enter")
    assert page.url.endswith("#part-R2")


def test_the_pins_on_a_photograph_are_reached_too(demo_site: Path, narrow: Watched) -> None:
    page = narrow.open(demo_site / "jobs/loopwell-2/boards/head.html")
    pins = page.evaluate("[...document.querySelectorAll('.br-pins')].map(s => s.querySelectorAll('a[href]').length)")
    assert pins == [16, 16]


def test_a_designator_in_a_note_leads_to_its_pin_which_is_marked(demo_site: Path, wide: Watched) -> None:
    page = wide.open(demo_site / JOB / "notes/power-supply.html")
    page.click(".br-note p a.br-ref:text-is('R2') >> nth=0")
    page.wait_for_url("**/boards/psu.html#R2")
    assert page.evaluate("document.querySelector('.br-map a:target').id") == "R2"


@pytest.mark.parametrize(("words", "found"), [("R12", "R12"), ("4k7", "4k7"), ("VP-OM2", "VP-OM2"), ("keys sag", "keys sag")])
def test_search_works_from_the_disk(demo_site: Path, wide: Watched, words: str, found: str) -> None:
    page = wide.open(demo_site / JOB / "index.html")
    page.fill(".md-search__input", words)
    page.wait_for_selector(".md-search-result__item", timeout=15_000)
    texts = page.evaluate("[...document.querySelectorAll('.md-search-result__item')].map(e => e.textContent).join(' ')")
    assert found.lower() in re.sub(r"\s+", " ", texts).lower()
    assert wide.foreign() == []


def test_what_stands_in_cells_side_by_side_is_sought_word_by_word(demo_site: Path) -> None:
    """Words run into one where the search was told nothing between two cells: R1replaced0R47."""
    told = [
        doc["text"]
        for doc in json.loads((demo_site / "search/search_index.json").read_text("utf-8"))["docs"]
        if doc["location"].startswith("jobs/")
    ]
    words = " ".join(re.sub(r"<[^>]+>", " ", text) for text in told)
    assert "R1 replaced 0R47 5 W" in words
    assert re.findall(r".{0,20}(?:[a-z]{3}[A-Z][a-z]{2}|[a-z]{3}\d{2}|\d[A-Z][a-z]{3}|[a-z][▲●]).{0,20}", words) == []


def test_the_search_hears_words_that_come_without_a_key(demo_site: Path, wide: Watched) -> None:
    page = wide.open(demo_site / JOB / "index.html")
    page.focus(".md-search__input")
    page.wait_for_selector(".md-search-result__meta:text('Type to start searching')")
    page.fill(".md-search__input", "R12")  # as pasting does
    page.wait_for_selector(".md-search-result__item")


@pytest.mark.parametrize(("section", "place"), [("parts", "part-R12"), ("map", "R12"), ("trims", "trims")])
def test_a_page_that_the_search_leads_to_opens_at_the_part_that_was_sought(
    demo_site: Path, wide: Watched, section: str, place: str
) -> None:
    page = wide.open(demo_site / JOB / "boards/psu.html")
    page.goto(f"{page.url}?h=r12#{section}")
    page.wait_for_url(f"**/psu.html?h=r12#{place}")
    assert wide.said == []


def test_designators_are_readable_at_the_width_of_a_telephone(demo_site: Path, narrow: Watched) -> None:
    page = narrow.open(demo_site / JOB / "boards/tone.html")
    heights = page.evaluate("[...document.querySelectorAll('.br-board text')].map(t => t.getBoundingClientRect().height)")
    assert min(heights) >= 9


def test_a_page_prints(demo_site: Path, wide: Watched) -> None:
    page = wide.open(demo_site / JOB / "index.html")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.querySelector('.br-menu')).display") == "none"
    assert len(page.pdf(format="A4")) > 10_000


def test_nothing_jumps_when_the_pictures_come(demo_site: Path, narrow: Watched) -> None:
    page = narrow.open(demo_site / JOB / "photos.html")
    frames = page.evaluate("[...document.querySelectorAll('.br-frame')].map(f => f.getBoundingClientRect().height)")
    assert min(frames) > 100
