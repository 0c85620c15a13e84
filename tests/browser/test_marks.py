"""Marks over photographs in Chromium: read out, reached by keyboard, as large on a telephone as on a desk, and the pictures that carry them."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from browsing import Watched
from folders import write
from once import once

PHOTOS = "jobs/marked/photos.html"
MARKS = """photo,shape,x,y,w,h,text,ref
a.jpg,point,50,50,,,the trim that jumped,R2
a.jpg,point,52,50,,,beside it,
a.jpg,box,1,1,20,10,in the corner,R2
a.jpg,arrow,97,97,,,at the edge,
b.jpg,arrow,30,30,8,-8,"a long tale of what was found here, and of what it had done to all that lay around it",R2
"""
PLACES = """() => [...document.querySelectorAll('.br-marks')].map(s => { const f = s.getBoundingClientRect();
  return [...s.querySelectorAll('.br-badge')].map(b => { const r = b.getBoundingClientRect();
    return [r.left - f.left + r.width / 2, r.top - f.top + r.height / 2, r.width / 2, f.width, f.height] }) })"""
TREE = """() => [...document.querySelectorAll('.br-marks a')].map(a => a.getAttribute('aria-label'))"""
pytestmark = pytest.mark.slow


def plain(width: int, height: int, colour: str) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture(scope="session")
def marked_site(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    """Build a job of three pictures, marked, white and black and tall."""
    return once(tmp_path_factory, "marks", _build_marked) / "site"


def _build_marked(path: Path) -> None:
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    pictures = {
        "photos/a.jpg": plain(1600, 1200, "white"),
        "photos/b.jpg": plain(1600, 1200, "black"),
        "photos/c.jpg": plain(400, 3000, "teal"),
    }
    files: dict[str, str | bytes] = {
        **pictures,
        "marks.csv": MARKS,
        "photos.csv": "file,board\na.jpg,psu\nb.jpg,psu\n",
        "boards/psu.csv": "ref,x_mm,y_mm\nR2,9,9\n",
    }
    build([write(path / "marked", files)], edition=None, site_dir=path / "site", kinds=[])


def far(browser: Browser, width: int, scheme: str) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)  # type: ignore[arg-type]
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_numbers_are_as_large_and_as_clear_of_each_other_at_every_width(
    marked_site: Path, browser: Browser, width: int
) -> None:
    for page in far(browser, width, "light"):
        page.goto((marked_site / PHOTOS).as_uri())
        for badges in page.evaluate(PLACES):
            for n, (x, y, r, w, h) in enumerate(badges):
                assert 11 <= r <= 14
                assert (x - r >= -1.5, x + r <= w + 1.5, y - r >= -1.5, y + r <= h + 1.5) == (True, True, True, True), (
                    n,
                    x,
                    y,
                    w,
                    h,
                )
                assert all(((x - ox) ** 2 + (y - oy) ** 2) ** 0.5 >= 2 * r - 2 for ox, oy, *_ in badges[:n])


def test_every_mark_is_a_link_with_a_name_in_the_tree_that_readers_hear(marked_site: Path, narrow: Watched) -> None:
    page = narrow.open(marked_site / PHOTOS)
    assert page.evaluate(TREE)[:2] == ["1: the trim that jumped, R2", "2: beside it"]
    heard = page.locator(".br-marks").first.aria_snapshot()
    for words in ("1: the trim that jumped, R2", "2: beside it", "3: in the corner, R2", "4: at the edge"):
        assert f'link "{words}"' in heard
    assert "4 marks on this photograph" in page.locator("#photo-a").aria_snapshot()


def test_the_keyboard_reaches_a_mark_shows_its_words_and_follows_it(marked_site: Path, wide: Watched) -> None:
    page = wide.open(marked_site / PHOTOS)
    page.focus("#mark-photo-a-1")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "mark-photo-a-2"
    assert page.evaluate("getComputedStyle(document.querySelector('#mark-photo-a-2 .br-words')).visibility") == "visible"
    assert page.evaluate("getComputedStyle(document.querySelector('#mark-photo-a-3 .br-words')).visibility") == "hidden"
    page.keyboard.press("Enter")
    assert page.url.endswith("#said-mark-photo-a-2")
    assert page.evaluate("document.querySelector('li:target').textContent").startswith("beside it")
    page.focus("#mark-photo-a-1")
    page.keyboard.press("Enter")
    page.wait_for_url("**/boards/psu.html#R2")


def test_the_list_below_a_picture_shows_the_mark_in_it(marked_site: Path, narrow: Watched) -> None:
    page = narrow.open(marked_site / PHOTOS)
    page.click("#said-mark-photo-a-4 .br-back")
    assert page.evaluate("document.querySelector('.br-mark:target').id") == "mark-photo-a-4"


def test_marks_need_no_script_and_stay_on_paper(marked_site: Path, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((marked_site / PHOTOS).as_uri())
    assert page.locator(".br-marks a").count() == 5
    page.emulate_media(media="print")
    assert page.locator(".br-badge").first.is_visible()
    context.close()


def test_a_tall_picture_fits_on_the_screen(marked_site: Path, wide: Watched) -> None:
    page = wide.open(marked_site / PHOTOS)
    width, height = page.evaluate(
        "(() => { const r = document.querySelector('.br-tall').getBoundingClientRect(); return [r.width, r.height] })()"
    )
    assert height <= 900
    assert height / width == pytest.approx(3000 / 400, rel=0.02)


def test_nothing_moves_when_the_pictures_come(marked_site: Path, narrow: Watched) -> None:
    narrow.page.add_init_script(
        "window.moved = 0; new PerformanceObserver(l => l.getEntries().forEach(e => window.moved += e.value)).observe({type: 'layout-shift', buffered: true})"
    )
    page = narrow.open(marked_site / PHOTOS)
    page.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    page.wait_for_timeout(400)
    assert page.evaluate("window.moved") < 0.01
