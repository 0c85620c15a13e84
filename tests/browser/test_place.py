"""Placing by hand in Chromium: a click lands in the file at the place that was clicked, by mouse, keyboard and thumb."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from benchrecord.checks import all_kinds
from benchrecord.publish.cache import Cache
from benchrecord.publish.preview.app import Place
from benchrecord.publish.preview.server import Builder
from browsing import Watched
from folders import picture, write
from previews import served

pytestmark = pytest.mark.slow
WIDTH, HEIGHT = 1000, 500  # a picture of ten pixels a millimetre
FACTS = "title: Power supply\nsize_mm: [100, 50]\nphotos:\n  - file: photos/psu.jpg\n    stage: before\n"
CORNERS = [(100, 400), (900, 400), (900, 100), (100, 100)]  # of the board in it, as they are offered
POINTS = "    points:\n" + "".join(
    f"      - {{mm: [{x // 10}, {50 - y // 10}], px: [{x}, {y}]}}\n"
    for x, y in [(100, 400), (900, 400), (900, 100), (100, 100)]
)
TABLE = "# by hand\r\nref;x_mm;y_mm\r\nR1;50,5;25\r\n"


@dataclass
class Bench:
    """A job folder and the preview that shows it."""

    folder: Path
    address: str

    def read(self, name: str) -> str:
        return (self.folder / name).read_bytes().decode()


@pytest.fixture
def bench(job: Path, tmp_path: Path) -> Iterator[Bench]:
    files: dict[str, str | bytes] = {
        "boards/psu.yml": FACTS + POINTS,
        "boards/psu.csv": TABLE,
        "photos/psu.jpg": picture(WIDTH, HEIGHT),
        "parts.csv": "board,ref,action\npsu,R12,replaced\npsu,C3,replaced\n",
        "trims.csv": "board,ref,function\npsu,RV1,reference\n",
    }
    folder = write(job, files)
    pages: dict[str, str | bytes] = {
        "jobs/small/boards/psu.html": "<html><body><h1>Power supply</h1></body></html>",
        "assets/images/favicon.png": b"",
    }
    site = write(tmp_path / "site", pages)
    with served(Place(folder, all_kinds(), Cache(tmp_path / "cache")), Builder(folder, site, "archive", (), print)) as port:
        yield Bench(folder, f"http://127.0.0.1:{port}")


@pytest.fixture
def thumb(browser: Browser) -> Iterator[Watched]:
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, color_scheme="dark", has_touch=True, is_mobile=True, device_scale_factor=3
    )
    yield Watched(context.new_page())
    context.close()


def opened(watched: Watched, bench: Bench, mode: str = "") -> Page:
    page = watched.page
    page.goto(f"{bench.address}/place/?board=psu&mode={mode}")
    page.wait_for_selector("#image[href]", state="attached")
    return page


def spot(page: Page, x: float, y: float) -> tuple[float, float]:
    """Return where a pixel of the photograph is on the screen."""
    box = page.evaluate("(r => [r.x, r.y, r.width, r.height])(document.getElementById('picture').getBoundingClientRect())")
    return box[0] + x / WIDTH * box[2], box[1] + y / HEIGHT * box[3]


def click(page: Page, x: float, y: float) -> None:
    """Click on a pixel of the photograph, and wait until it is written or refused."""
    page.mouse.click(*spot(page, x, y))
    settled(page)


def settled(page: Page) -> None:
    page.wait_for_selector("#pane:not([aria-busy=true])")


def held(page: Page) -> str:
    return page.inner_text("#held")


def last_row(bench: Bench) -> tuple[str, float, float]:
    ref, x, y = bench.read("boards/psu.csv").strip().splitlines()[-1].split(";")
    return ref, float(x.replace(",", ".")), float(y.replace(",", "."))


def test_the_page_of_a_board_leads_here_and_parts_are_offered_one_after_the_other(bench: Bench, wide: Watched) -> None:
    page = wide.page
    page.goto(f"{bench.address}/jobs/small/boards/psu.html")
    page.click("text=Place its parts, points and marks by hand")
    page.wait_for_selector("#image[href]", state="attached")
    assert held(page) == "Click where C3 is."
    click(page, 305, 105)
    assert last_row(bench) == ("C3", pytest.approx(30.5, abs=0.15), pytest.approx(39.5, abs=0.15))
    assert bench.read("boards/psu.csv").startswith(TABLE)
    assert re.fullmatch(r"Written to boards/psu\.csv: C3 at [\d.]+, [\d.]+ mm\.", page.inner_text("#said"))
    assert held(page) == "Click where R12 is."
    click(page, 700, 250)
    assert last_row(bench)[0] == "R12"
    assert held(page) == "Click where RV1 is."
    assert page.inner_text("#list h2") == "No place yet: 1"


def test_a_click_is_exact_in_an_enlarged_and_scrolled_picture(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    for _ in range(4):
        page.click("[aria-label=Larger]")
    page.evaluate("document.getElementById('pane').scrollTo(1600, 700)")
    click(page, 471.5, 222.5)
    assert last_row(bench) == ("C3", pytest.approx(47.15, abs=0.05), pytest.approx(27.75, abs=0.05))


def test_what_was_aimed_at_stays_in_the_middle_of_an_enlarged_picture(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    page.check("#first")
    page.mouse.click(*spot(page, 700, 350))
    for _ in range(4):
        page.click("[aria-label=Larger]")
    x, y = spot(page, 700, 350)
    frame = page.locator("#pane").bounding_box()
    assert frame
    assert (x, y) == (
        pytest.approx(frame["x"] + frame["width"] / 2, abs=12),
        pytest.approx(frame["y"] + frame["height"] / 2, abs=12),
    )


def test_a_placed_part_moves_in_its_row(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    page.click("summary")
    page.click("#placed button:has-text('R1')")
    click(page, 200, 100)
    assert bench.read("boards/psu.csv").count("R1;") == 1
    assert last_row(bench) == ("R1", pytest.approx(20, abs=0.15), pytest.approx(40, abs=0.15))


def test_the_residual_follows_as_points_are_placed(bench: Bench, wide: Watched) -> None:
    (bench.folder / "boards/psu.yml").write_text(FACTS, "utf-8")
    page = opened(wide, bench)
    assert page.is_checked("[value=points]")
    assert held(page).startswith("Click where the lower left corner (0, 0 mm) is")
    for number, at in enumerate(CORNERS, 1):
        click(page, *at)
        assert f"{number} of at least 4 points" in page.inner_text("#fit") or number == 4
    assert "nothing is left over" in page.inner_text("#fit")
    assert held(page).startswith("Click where R1")
    click(page, 515, 250)
    off = page.inner_text("#fit")
    assert re.match(r"5 points fit to 0\.\d\d mm rms; R1 lies farthest off, by [01]\.\d\d mm", off)
    page.click("[aria-label='Move the point R1']")
    click(page, 505, 250)
    assert page.inner_text("#fit") != off
    assert bench.read("boards/psu.yml").startswith(FACTS + "    points:\n      - {mm: [0, 0], px: [")
    page.click("[aria-label='Take out the point R1']")
    settled(page)
    assert "nothing is left over" in page.inner_text("#fit")
    page.check("[value=parts]")
    assert held(page) == "Click where C3 is."


def test_marks_are_placed_with_their_words_moved_and_reworded(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench, "marks")
    page.fill("#list fieldset .line input >> nth=0", "charred")
    page.check("[value=box]")
    assert held(page) == "Click one corner of the box."
    click(page, 100, 100)
    assert held(page) == "Click the opposite corner."
    click(page, 300, 200)
    (header, row) = bench.read("marks.csv").splitlines()
    assert header == "photo,shape,x,y,w,h,text,ref"
    photo, shape, *numbers, text, ref = row.split(",")
    assert (photo, shape, text, ref) == ("photos/psu.jpg", "box", "charred", "")
    assert [float(n) for n in numbers] == pytest.approx([10, 20, 20, 20], abs=0.3)
    page.fill("#list ol input >> nth=1", "R12")
    page.press("#list ol input >> nth=1", "Enter")
    settled(page)
    assert bench.read("marks.csv").splitlines()[1].endswith("charred,R12")
    page.click("[aria-label='Take out the box charred']")
    settled(page)
    assert bench.read("marks.csv") == header + "\n"


def test_undo_gives_the_very_bytes_back(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    click(page, 305, 105)
    assert bench.read("boards/psu.csv") != TABLE
    page.click("#undo")
    settled(page)
    assert bench.read("boards/psu.csv") == TABLE
    assert held(page) == "Click where C3 is."
    assert page.is_disabled("#undo")


def test_the_keyboard_aims_places_and_takes_back(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    page.focus("#pane")
    for key, times in (("ArrowRight", 5), ("ArrowUp", 3), ("Shift+ArrowLeft", 2)):
        for _ in range(times):
            page.keyboard.press(key)
    unit = float(page.evaluate("document.getElementById('picture').style.getPropertyValue('--unit')"))
    page.keyboard.press("Enter")
    settled(page)
    expected = ((500 + 48 * unit) / 10, (250 + 30 * unit) / 10)
    assert last_row(bench) == ("C3", pytest.approx(expected[0], abs=0.2), pytest.approx(expected[1], abs=0.2))
    assert page.evaluate("document.activeElement.id") == "pane"
    page.keyboard.press("Control+z")
    settled(page)
    assert bench.read("boards/psu.csv") == TABLE


def test_a_thumb_aims_first_and_nothing_is_too_small_for_it(bench: Bench, thumb: Watched) -> None:
    page = opened(thumb, bench)
    assert page.is_checked("#first")
    page.touchscreen.tap(*spot(page, 300, 100))
    assert bench.read("boards/psu.csv") == TABLE
    page.tap("[aria-label='Aim to the right']")
    page.tap("#here")
    settled(page)
    assert last_row(bench) == ("C3", pytest.approx(30.5, abs=0.5), pytest.approx(40, abs=0.4))
    sizes = page.evaluate(
        "[...document.querySelectorAll('button, select, summary, label')].map(b => b.getBoundingClientRect().height).filter(h => h)"
    )
    assert min(sizes) >= 44
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_what_is_chosen_below_brings_the_picture_back_under_the_thumb(bench: Bench, thumb: Watched) -> None:
    page = opened(thumb, bench, "points")
    page.locator("#list ol li:last-child button").first.tap()
    top = page.evaluate("document.getElementById('held').getBoundingClientRect().top")
    bottom = page.evaluate("document.getElementById('pane').getBoundingClientRect().bottom - innerHeight")
    assert top >= -1
    assert bottom <= 0


def test_a_file_changed_meanwhile_is_told_and_the_page_shows_what_it_says_now(bench: Bench, wide: Watched) -> None:
    page = opened(wide, bench)
    edited = TABLE + "R9;1;2\r\n"
    (bench.folder / "boards/psu.csv").write_bytes(edited.encode())
    click(page, 305, 105)
    told = page.inner_text("[role=alert]")
    assert told.startswith("boards/psu.csv was changed by another program meanwhile")
    assert "boards/psu.csv.not-saved" in told
    assert page.evaluate("document.querySelector('[role=alert]').getBoundingClientRect().bottom <= innerHeight")
    assert bench.read("boards/psu.csv") == edited
    assert page.inner_text("summary") == "To move: 2 placed"
    click(page, 305, 105)
    assert last_row(bench)[0] == "C3"


@pytest.mark.parametrize("mode", ["parts", "points", "marks"])
def test_each_mode_asks_no_other_host_and_is_open_to_all(bench: Bench, wide: Watched, thumb: Watched, mode: str) -> None:
    write(bench.folder, {"marks.csv": "photo,shape,x,y,w,h,text,ref\nphotos/psu.jpg,box,10,20,20,20,charred,R12\n"})
    for watched in (wide, thumb):
        page = opened(watched, bench, mode)
        found = Axe().run(page, options={"rules": {"region": {"enabled": False}}})
        assert found.violations_count == 0, found.generate_report()
        assert [url for url in watched.asked if not url.startswith(bench.address)] == []
        assert watched.said == []


def test_a_foreign_page_can_neither_write_nor_look(bench: Bench, wide: Watched, tmp_path: Path) -> None:
    """The page of another origin tries what a browser lets it try."""
    page = wide.page
    page.goto(write(tmp_path / "evil", {"index.html": "<h1>evil</h1>"}).joinpath("index.html").as_uri())
    tries = """async (address) => {
      const tell = async (what) => { try { return (await what).status } catch (error) { return 'blocked' } };
      const body = JSON.stringify({do: 'place part', board: 'psu', photo: 'photos/psu.jpg', ref: 'R12', px: [1, 1], versions: {}});
      const image = await new Promise(done => { const i = new Image(); i.onload = () => done('seen'); i.onerror = () => done('blocked');
        i.src = address + '/place/picture?photo=photos/psu.jpg' });
      return [await tell(fetch(address + '/place/change', {method: 'POST', body, headers: {'Content-Type': 'application/json'}})),
        await tell(fetch(address + '/place/change', {method: 'POST', body, headers: {'Content-Type': 'text/plain'}})),
        await tell(fetch(address + '/place/')), await tell(fetch(address + '/place/state')), image];
    }"""
    assert page.evaluate(tries, bench.address) == ["blocked"] * 5
    assert bench.read("boards/psu.csv") == TABLE


def test_the_pages_are_built_anew_after_a_click(bench: Bench, wide: Watched, tmp_path: Path) -> None:
    builder = Builder(bench.folder, tmp_path / "built", "archive", (), print)
    builder()
    assert builder.problems == ""
    with served(Place(bench.folder, all_kinds(), Cache(tmp_path / "cache")), builder) as port:
        page, shown = wide.page, wide.page.context.new_page()
        shown.goto(f"http://127.0.0.1:{port}/jobs/small/boards/psu.html")
        assert shown.locator(".br-board a").count() == 1
        page.goto(f"http://127.0.0.1:{port}/place/?board=psu")
        page.wait_for_selector("#image[href]", state="attached")
        click(page, 305, 105)
        shown.bring_to_front()
        shown.wait_for_selector(".br-board a#C3", timeout=300_000, state="attached")
        assert shown.locator(".br-board a").count() == 2
