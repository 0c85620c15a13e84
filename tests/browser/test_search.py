"""The search of a site in Chromium, from the disk and from a server: every word that a reader sees is found, and what fails is said."""

from __future__ import annotations

import functools
import random
import re
import threading
import unicodedata
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from archives import folders
from browser.test_pages import KINDS
from browsing import Watched
from folders import write
from once import once
from searching import CONFIG, STATUS, SearchBox, indexed_words, visible_words

NOTE = """---
title: Words of the bench
---
Gehäuse of Öztürk, café and Петров; Straße. A composed {composed} and a decomposed {decomposed} é.

- TL-072CP, J-2024-001, QC_2004/B and VP‑OM2 (codes)
- 4k7, 4.7k, 0R47, 10µF, 22μF, 100Ω, 2n2.
- +15 V, −12.03 V, ±5 %, ~3 mV, 16' and C#4
- “noisy” wiper…dry joint—cracked, it can be off; O’Brien's
- `R7`s and a mis**print**
- constructor __proto__ toString hasOwnProperty
- signs & a <b, c> d | e \\\\ f ^ g ~ h
"""
TYPED = [
    *("Gehäuse", "gehäuse", "Öztürk", "öz", "café", "Петров", "Straße", "Gehäuse2", "Gehäuse3"),
    *(unicodedata.normalize("NFD", word) for word in ("Gehäuse", "Gehäuse2", "Gehäuse3")),
    *("TL-072CP", "tl-072", "TL 072CP", "J-2024-001", "QC_2004/B", "VP-OM2", "O'Brien", "O’Brien"),
    *("4k7", "4.7k", "0R47", "10µF", "10μF", "22µF", "22μF", "100Ω", "100\u2126", "2n2"),
    *("+15 V", "-12.03", "−12.03", "12.03 V", "±5 %", "~3", "16'", "C#4", "C#", "<b", "c>", "3 mV."),
    *("noisy", "“noisy”", "wiper", "dry", "joint", "cracked", "can", "off", "it can be off", "the"),
    *("R7s", "misprint"),
    *("constructor", "__proto__", "toString", "hasOwnProperty"),
    *('"dry joint"', '"dry joint', "„dry joint“", "dry* joi*", "R12*", "R12~", "R12^", "R12:", "+words", "-words"),
]
SIGNS = ["+", "-", "~", ":", "^", "*", '"', "'", "**", "+-", "^^", '""', '" "', "()", "[", "\\", "…", "|", "?", "−", "&"]
FOUND = r"\d+ matching documents?"
PIECES = ["+", "-", "~", ":", "^", "*", '"', "\\", " ", "R1", "4k7", "text", "title", "1", "é", "&", "."]
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    def make(path: Path) -> None:
        note = NOTE.format(composed="Ge\u0068\u00e4use2", decomposed="Geha\u0308use3")
        job = write(
            path / "words",
            {"notes/10-words.md": note, "parts.csv": "ref,action,was,now\nR12,replaced,4k7,4k7\nR123,replaced,1k,1k\n"},
        )
        build([job], edition="portfolio", site_dir=path / "site", kinds=[])

    return once(tmp_path_factory, "words", make) / "site"


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    from benchrecord.publish.build import build  # noqa: PLC0415

    def make(path: Path) -> None:
        (path / "jobs").mkdir(parents=True)
        build(folders(path / "jobs", 8, seed=5), edition="archive", site_dir=path / "site", kinds=[])

    return once(tmp_path_factory, "searched archive", make) / "site"


@pytest.fixture
def server(site: Path) -> Iterator[str]:
    class Silent(SimpleHTTPRequestHandler):
        def log_message(self, format: str, *args: object) -> None:  # noqa: A002  # as the library has it
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Silent, directory=site)) as running:
        threading.Thread(target=running.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{running.server_address[1]}"
        running.shutdown()


@pytest.fixture(params=["disk", "server"])
def box(request: pytest.FixtureRequest, wide: Watched, site: Path) -> SearchBox:
    if request.param == "disk":
        return SearchBox(wide.open(site / "index.html"))
    wide.page.goto(f"{request.getfixturevalue('server')}/index.html", wait_until="load")
    return SearchBox(wide.page)


@pytest.fixture
def demo_box(demo_site: Path, wide: Watched) -> SearchBox:
    return SearchBox(wide.open(demo_site / "index.html"))


@pytest.fixture
def archive_box(archive: Path, wide: Watched) -> SearchBox:
    return SearchBox(wide.open(archive / "archive/index.html"))


# --- What is indexed ---


def test_the_words_of_the_index_are_those_that_a_reader_of_the_demo_sees(demo_site: Path, wide: Watched) -> None:
    indexed = indexed_words(demo_site)
    for name in KINDS:
        assert indexed[name] <= visible_words(wide.open(demo_site / name)), name


def test_the_words_of_the_index_are_those_that_a_reader_of_the_archive_sees(archive: Path, wide: Watched) -> None:
    indexed = indexed_words(archive)
    kinds = {re.sub(r"job-\d+|models/.*|-\d+\.html", "", name): name for name in indexed}
    for name in kinds.values():
        assert indexed[name] <= visible_words(wide.open(archive / name)), name


# --- What is found ---


def test_the_demo_is_found_by_its_words(demo_box: SearchBox) -> None:
    for typed in ("fault", "measured", "R12", "4k7", "VP-OM2", "keys sag", "+15 V", "in limits"):
        first = demo_box.found(typed)[0].lower()
        assert all(piece in first for piece in re.findall(r"\w+", typed.lower())), (typed, first)


@pytest.mark.parametrize("seed", [1, 2])
def test_every_word_that_is_seen_is_found(demo_site: Path, demo_box: SearchBox, seed: int, browser: Browser) -> None:
    dice, page = random.Random(seed), browser.new_page()  # noqa: S311  # a sample, not secrets
    seen: set[str] = set()
    for name in dice.sample(KINDS, 6):
        page.goto((demo_site / name).as_uri())
        seen |= visible_words(page)
    page.close()
    assert [word for word in dice.sample(sorted(seen), 60) if not re.fullmatch(FOUND, demo_box.ask(word))] == []


def test_every_word_of_an_archive_is_found(archive: Path, archive_box: SearchBox, browser: Browser) -> None:
    dice, page, seen = random.Random(1), browser.new_page(), set[str]()  # noqa: S311
    for name in dice.sample(sorted(indexed_words(archive)), 6):
        page.goto((archive / name).as_uri())
        seen |= visible_words(page)
    page.close()
    assert [word for word in dice.sample(sorted(seen), 40) if not re.fullmatch(FOUND, archive_box.ask(word))] == []


def test_an_archive_finds_whose_job_it_is_first(archive_box: SearchBox) -> None:
    for number in (0, 3, 7):
        assert f"(job-{number:03})" in archive_box.found(f"Owner {number}")[0]
        assert f"Owner {number}" in archive_box.found(f'"Owner {number}"')[0]


def test_what_is_typed_is_found(box: SearchBox) -> None:
    assert {typed: said for typed in TYPED if not re.fullmatch(FOUND, said := box.ask(typed))} == {}


def test_a_whole_word_comes_before_what_begins_with_it(box: SearchBox) -> None:
    assert "R123" in " ".join(box.found("R12"))
    marked = box.page.eval_on_selector_all(".md-search-result__item mark", "marks => marks.map(m => m.textContent)")
    assert marked[0] == "R12"


def test_what_has_all_words_comes_alone_and_shows_them(archive_box: SearchBox) -> None:
    for text in archive_box.found("crackles leaky capacitor"):
        assert all(word in text for word in ("crackles", "leaky", "capacitor"))
    assert "crackles" in archive_box.found("crackles nowhereatall")[0]
    assert "Missing: nowhereatall" in archive_box.found("crackles nowhereatall")[0]


# --- What is shown ---


def test_a_result_shows_the_words_around_and_not_a_whole_table(demo_box: SearchBox) -> None:
    for typed in ("fault", "R12", "4k7", "the"):
        demo_box.ask(typed)
        shown = demo_box.page.locator(".md-search-result__article").all_text_contents()
        assert max(map(len, shown)) < 900


def test_a_result_names_its_job_where_there_are_several(archive_box: SearchBox) -> None:
    assert len(set(re.findall(r"\(job-\d+\)", " ".join(archive_box.found("tone"))))) > 1


def test_a_result_names_no_job_where_there_is_one(box: SearchBox) -> None:
    assert "(words)" not in " ".join(box.found("R12"))


# --- What cannot be asked, and what fails ---


def test_signs_alone_ask_for_nothing(box: SearchBox) -> None:
    assert {box.ask(typed) for typed in SIGNS} == {"Type a word or a number to search for"}


def test_no_query_fails(box: SearchBox, wide: Watched) -> None:
    dice = random.Random(1)  # noqa: S311  # queries, not secrets
    for _ in range(100):
        typed = "".join(dice.choices(PIECES, k=dice.randint(1, 8)))
        assert "fail" not in box.ask(f"x{typed}"), typed
    assert wide.said == []


def test_a_query_that_fails_says_so_and_the_next_one_works(box: SearchBox) -> None:
    worker = box.page.frames[-1] if len(box.page.frames) > 1 else box.page.workers[-1]
    worker.evaluate(
        "() => { lunr.whole = lunr.Index.prototype.search; lunr.Index.prototype.search = () => { throw new Error('broken'); }; }"
    )
    assert box.ask("fault") == "The search failed (Error: broken). This does not mean that nothing matches."
    worker.evaluate("() => { lunr.Index.prototype.search = lunr.whole; }")
    assert re.fullmatch(FOUND, box.ask("words"))


def start(page: Page, url: str) -> None:
    page.goto(url, wait_until="load")
    page.click(".md-search__input")
    page.keyboard.type("words")


def test_an_index_that_cannot_be_read_is_said(wide: Watched, server: str) -> None:
    index = "**/search/search_index.json"
    wide.page.route(
        index, lambda route: route.fulfill(json={"config": {"lang": ["en"], "separator": "(", "pipeline": []}, "docs": []})
    )
    start(wide.page, server)
    wide.page.wait_for_selector(f"{STATUS}:text('The search failed (SyntaxError')")


def test_a_word_with_tags_inside_is_one_word(wide: Watched, server: str) -> None:
    docs = [{"location": "index.html", "title": "10<sup>3</sup>", "text": "U<sub>BE</sub> and <code>R7</code>s"}]
    wide.page.route("**/search/search_index.json", lambda route: route.fulfill(json={"config": CONFIG, "docs": docs}))
    wide.page.goto(server, wait_until="load")
    box = SearchBox(wide.page)
    assert {box.ask(typed) for typed in ("UBE", "103", "R7s")} == {"1 matching document"}


def test_an_index_that_is_not_there_is_said(wide: Watched, site: Path) -> None:
    index = site / "search/search_index.js"
    hidden = index.rename(index.with_suffix(".gone"))
    try:
        start(wide.page, (site / "index.html").as_uri())
        wide.page.wait_for_selector(f"{STATUS}:text('The search does not work: its index could not be loaded.')")
    finally:
        hidden.rename(index)


@pytest.mark.parametrize("lost", ["search_index.json", "search.*.min.js"])
def test_a_search_that_does_not_start_says_so(wide: Watched, server: str, lost: str) -> None:
    wide.page.clock.install()
    wide.page.route(f"**/{lost}", lambda route: route.abort())
    start(wide.page, server)
    wide.page.clock.run_for(25_000)
    wide.page.wait_for_selector(f"{STATUS}:text('could not be loaded')")


def test_a_search_that_has_started_is_left_alone(wide: Watched, server: str) -> None:
    wide.page.clock.install()
    start(wide.page, server)
    wide.page.wait_for_selector(f"{STATUS}:text('matching')")
    wide.page.clock.run_for(25_000)
    assert re.fullmatch(FOUND, wide.page.inner_text(STATUS))
