"""The page of a board in Chromium: a crowded map under a thumb, the choices above it, and before and after lined up."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from browsing import Watched
from crowded import as_csv, crowded
from folders import write
from once import once

ROOT = Path(__file__).parents[2]
BOARD = "jobs/crowd/boards/crowd.html"
POINTS = [
    (4, 4, 206.33, 959.33), (156, 4, 1393.67, 959.33), (156, 96, 1393.67, 240.67), (4, 96, 206.33, 240.67),
    (30, 86, 409.43, 318.79), (92, 84, 893.74, 334.41),
]  # fmt: skip
SHOWN = """selector => [...document.querySelectorAll(selector)].filter(t => getComputedStyle(t).opacity !== '0' && t.getClientRects().length)
  .map(t => { const b = t.getBoundingClientRect(); return [t.textContent, b.left, b.top, b.right, b.bottom] })"""
HIT = """() => [...document.querySelectorAll('.br-map .br-pin')].filter(pin => {
  pin.scrollIntoView({block: 'center', inline: 'center'});
  const b = pin.querySelector('.br-shape').getBoundingClientRect();
  const hit = document.elementFromPoint(b.left + b.width / 2, b.top + b.height / 2);
  return !hit || hit.closest('.br-pin') !== pin }).map(pin => pin.id)"""
TARGETS = """() => [...document.querySelectorAll('.br-map .br-pin')].map(pin => {
  const b = pin.getBoundingClientRect(); return Math.min(b.width, b.height) })"""
PINS = (
    "() => [...document.querySelectorAll('.br-map .br-pin')].filter(p => getComputedStyle(p).display !== 'none').map(p => p.id)"
)
CUT = "() => getComputedStyle(document.querySelector('.br-compared-after')).clipPath"
pytestmark = pytest.mark.slow


@pytest.fixture(scope="session")
def crowded_site(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    """Build the site of a board of two hundred parts, with a photo as found and one as left."""
    return once(tmp_path_factory, "crowded", _build_crowded) / "site"


def _build_crowded(path: Path) -> None:
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    parts = crowded()
    refs = [ref for ref, *_ in parts]
    listed = "".join(f"      - {{mm: [{x}, {y}], px: [{u}, {v}]}}\n" for x, y, u, v in POINTS)
    photos = "".join(f"  - file: photos/{s}.jpg\n    stage: {s}\n    points:\n{listed}" for s in ("before", "after"))
    folder = write(path / "crowd", {
        "boards/crowd.yml": f"title: A crowded board\nsize_mm: [160, 100]\nphotos:\n{photos}",
        "boards/crowd.csv": as_csv(parts),
        "parts.csv": "board,ref,action,status\n" + "".join(f"crowd,{ref},replaced,fitted\n" for ref in refs[:40]),
        "trims.csv": "board,ref\n" + "".join(f"crowd,{ref}\n" for ref in refs if ref.startswith("RV")),
        "faults.csv": "symptom,board,ref\n" + "".join(f"hum,crowd,{ref}\n" for ref in refs[30:40]),
        "notes/10-a.md": "---\nboard: crowd\n---\nWhat became of it:\n\n![Through the repair](crowd:R1)\n\n![R2 too](part:R2)\n",
    })  # fmt: skip
    (folder / "photos").mkdir()
    for stage in ("before", "after"):
        shutil.copy(ROOT / f"sample_job/photos/psu-{stage}-top.jpg", folder / f"photos/{stage}.jpg")
    build([folder], edition=None, site_dir=path / "site", kinds=[])


def complaints(page: Page) -> str:
    found = Axe().run(page)
    return found.generate_report() if found.violations_count else ""


def overlapping(page: Page, selector: str) -> list[tuple[str, str]]:
    """Return the pairs of shown texts that lie on each other, by more than a pixel."""
    boxes = page.evaluate(SHOWN, selector)
    assert len(boxes) > 15
    return [
        (a, b)
        for n, (a, left, top, right, bottom) in enumerate(boxes)
        for b, x, y, u, v in boxes[:n]
        if min(right, u) - max(left, x) > 1
        and min(bottom, v) - max(top, y) > 3  # letters leave room above and below in their line
    ]


@pytest.mark.parametrize("width", ["wide", "narrow"])
def test_a_crowded_board_has_nothing_to_complain_of(crowded_site: Path, request: pytest.FixtureRequest, width: str) -> None:
    watched: Watched = request.getfixturevalue(width)
    page = watched.open(crowded_site / BOARD)
    assert watched.said == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 1
    assert complaints(page) == ""
    page.click(".br-seen-1")
    page.check(".br-names")
    assert complaints(page) == ""
    assert overlapping(page, ".br-board text") == []
    for number in (1, 2):
        assert overlapping(page, f".br-pinned:nth-of-type({number}) .br-pins text") == []


def test_written_designators_are_large_enough_to_read(crowded_site: Path, wide: Watched) -> None:
    """They take the whole width of the page, and the pixels that it wants."""
    page = wide.open(crowded_site / BOARD)
    narrow = page.evaluate("document.querySelector('.br-pins').clientWidth")
    page.check(".br-names")
    assert page.evaluate("document.querySelector('.br-pins').clientWidth") > 1.8 * narrow
    assert min(bottom - top for _, _, top, _, bottom in page.evaluate(SHOWN, ".br-pins text")) >= 12
    page.wait_for_function("document.querySelector('.br-pinned img').currentSrc.endsWith('-1600.webp')")


def test_two_hundred_parts_can_be_used_with_a_thumb(crowded_site: Path, narrow: Watched) -> None:
    """Each designator is readable, each part is hit where it is touched, and nearly all are as large as a thumb wants them."""
    page = narrow.open(crowded_site / BOARD)
    texts = page.evaluate(SHOWN, ".br-board text")
    assert len(texts) == 200
    assert min(bottom - top for _, _, top, _, bottom in texts) >= 9
    assert page.evaluate(HIT) == []
    page.get_by_label("large enough for a thumb").check()
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 1
    assert page.evaluate(HIT) == []
    sizes = sorted(page.evaluate(TARGETS))
    assert sizes[10] >= 24
    assert sizes[0] >= 18


def test_a_tap_on_a_part_of_a_crowded_map_leads_to_its_row(crowded_site: Path, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto((crowded_site / BOARD).as_uri())
    page.get_by_label("large enough for a thumb").tap()
    for ref in page.evaluate("[...document.querySelectorAll('.br-map .br-pin')].map(pin => pin.id)")[::25]:
        page.evaluate("ref => document.getElementById(ref).scrollIntoView({block: 'center', inline: 'center'})", ref)
        page.locator(f"#{ref} .br-shape").tap()
        page.wait_for_url(f"**#part-{ref}")
    context.close()


TOUCHED = """() => [...document.querySelectorAll('.br-menu a, .br-choice label, .br-slide input, .br-else a, .br-data > summary')]
  .filter(e => e.getClientRects().length).map(e => [e.getBoundingClientRect().height, e.outerHTML.slice(0, 80)])"""


def test_all_that_is_touched_on_a_board_s_page_is_large_enough(crowded_site: Path, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto((crowded_site / BOARD).as_uri())
    sizes = page.evaluate(TOUCHED)
    context.close()
    assert len(sizes) > 200
    assert [what for height, what in sizes if height < 43.5] == []


def test_the_map_is_moved_inside_its_own_frame(crowded_site: Path, narrow: Watched) -> None:
    page = narrow.open(crowded_site / BOARD)
    frame = "document.querySelector('.br-map .br-wide')"
    assert page.evaluate(f"{frame}.scrollWidth > {frame}.clientWidth")
    page.evaluate(f"{frame}.focus()")
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"{frame}.scrollLeft > 0")


def without_scripts(browser: Browser, path: Path) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, java_script_enabled=False)
    page = context.new_page()
    page.goto(path.as_uri())
    yield page
    context.close()


def test_what_lies_under_the_map_is_chosen_without_scripts(crowded_site: Path, browser: Browser) -> None:
    for page in without_scripts(browser, crowded_site / BOARD):
        assert not page.locator(".br-under").first.is_visible()
        page.get_by_label("as found", exact=True).check()
        assert page.locator(".br-under-1").is_visible()
        assert not page.locator(".br-under-2").is_visible()
        page.get_by_label("as left", exact=True).check()
        assert page.locator(".br-under-2").is_visible()


def test_kinds_of_parts_are_shown_and_hidden_without_scripts(crowded_site: Path, browser: Browser) -> None:
    for page in without_scripts(browser, crowded_site / BOARD):
        pins = page.locator(".br-map .br-pin")
        assert pins.filter(visible=True).count() == 200
        page.get_by_role("checkbox", name="all others").uncheck()
        known = pins.filter(visible=True).count()
        assert 40 < known < 80
        page.get_by_role("checkbox", name="trims").uncheck()
        page.get_by_role("checkbox", name="share in a fault").uncheck()
        assert pins.filter(visible=True).count() == 40
        assert page.locator(".br-pins").first.locator(".br-pin").filter(visible=True).count() == 40
        page.get_by_role("checkbox", name="replaced").uncheck()
        assert pins.filter(visible=True).count() == 0


def test_a_part_that_an_address_names_is_shown_whatever_is_hidden(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    page.get_by_role("checkbox", name="all others").uncheck()
    plain = page.evaluate("document.querySelector('.br-board .br-is-plain').id")
    assert plain not in page.evaluate(PINS)
    page.evaluate(f"location.hash = '{plain}'")
    assert plain in page.evaluate(PINS)


def test_photographs_under_the_map_are_fetched_only_when_they_are_wanted(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    page.wait_for_timeout(300)
    under = page.get_attribute(".br-under-1", "src") or ""
    name = under.rpartition("/")[2]
    assert not any(name in url for url in wide.asked)
    page.click(".br-seen-1")
    page.wait_for_function("document.querySelector('.br-under-1').naturalWidth > 0")
    assert any(name in url for url in wide.asked)


def test_the_slider_is_a_labelled_range_that_the_keyboard_moves(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    slider = page.get_by_role("slider", name="From as found to as left")
    assert slider.count() == 1
    assert page.evaluate(CUT) == "inset(0px 0px 0px 50%)"
    slider.focus()
    page.keyboard.press("End")
    assert page.evaluate(CUT) == "inset(0px 0px 0px 100%)"
    assert slider.get_attribute("aria-valuetext") == "100 % as found"
    page.keyboard.press("ArrowLeft")
    assert page.evaluate(CUT) == "inset(0px 0px 0px 99%)"
    page.locator(".br-compared").scroll_into_view_if_needed()
    box = page.locator(".br-compared").bounding_box()
    assert box
    page.mouse.click(box["x"] + box["width"] / 4, box["y"] + box["height"] / 2)
    assert slider.input_value() == "25"


SIDE_BY_SIDE = """() => { const [a, b] = [...document.querySelectorAll('.br-compared > div')].map(d => d.getBoundingClientRect());
  return Math.abs(a.top - b.top) < 2 && b.left > a.right && a.width > 200 }"""


def test_in_print_both_pictures_stand_side_by_side(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    assert not page.evaluate(SIDE_BY_SIDE)
    page.emulate_media(media="print")
    assert page.evaluate(SIDE_BY_SIDE)
    assert not page.locator(".br-slide").is_visible()
    assert page.evaluate(CUT) == "none"


def test_the_picture_and_its_slider_are_seen_together(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    page.locator(".br-slide").first.scroll_into_view_if_needed()
    picture, slider = (page.locator(f"{name} >> nth=0").bounding_box() for name in (".br-compared", ".br-slide"))
    assert picture
    assert slider
    assert slider["y"] + slider["height"] - picture["y"] <= 800


def test_only_views_of_parts_that_something_happened_to_are_printed(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    rows = page.locator(".br-row-views")
    worked_on = page.locator(".br-row-views:has(details[open])").count()
    assert 40 < worked_on < rows.count()
    page.emulate_media(media="print")
    page.wait_for_timeout(200)  # the theme opens all that is closed
    assert rows.filter(visible=True).count() == worked_on


def test_without_scripts_both_pictures_stand_side_by_side(crowded_site: Path, browser: Browser) -> None:
    for page in without_scripts(browser, crowded_site / BOARD):
        first, second = (page.locator(f".br-compared-{name}").bounding_box() for name in ("before", "after"))
        assert first
        assert second
        assert second["x"] > first["x"] + first["width"] > 300
        assert first["y"] == second["y"]
        assert not page.locator(".br-slide").is_visible()


def test_a_note_shows_a_part_in_all_photographs_where_it_asks_for_it(crowded_site: Path, narrow: Watched) -> None:
    page = narrow.open(crowded_site / "jobs/crowd/notes/a.html")
    strips = page.locator(".br-part")
    assert [strips.nth(n).locator("img").count() for n in range(2)] == [2, 2]
    assert strips.nth(0).locator("figcaption").inner_text() == "Through the repair"
    assert strips.nth(1).locator("img").first.get_attribute("alt") == "R2 as found, cut out of: a photograph"
    assert complaints(page) == ""


def test_a_part_s_views_lead_to_its_photographs(crowded_site: Path, wide: Watched) -> None:
    page = wide.open(crowded_site / BOARD)
    row = page.locator("#part-R1 + .br-row-views")
    assert row.locator("img").count() == 2
    row.locator("summary").click() if row.locator("details:not([open])").count() else None
    row.locator("a").first.click()
    assert page.url.endswith("photos.html#photo-before")
