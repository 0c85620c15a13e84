"""What is printed of a job: made before its site, and the same as the site shows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchrecord.model.job import Edition
from benchrecord.pages.book import Beside, book
from benchrecord.publish.cache import Cache
from benchrecord.publish.printed import notes_as_html, sheets_of
from benchrecord.publish.work import Worked, silent, site_of, work_out_all
from benchrecord.record.pdf import Sheets
from folders import picture
from small_jobs import SMALL_JOB, write_job

CORNERS = "".join(f"      - {{mm: [{x}, {y}], px: [{20 + 6 * x}, {20 + 5 * y}]}}\n" for x in (0, 100) for y in (0, 80))
LINED_UP: dict[str, str | bytes] = {
    **SMALL_JOB,
    "boards/main.yml": f"title: Main board\nsize_mm: [100, 80]\nphotos:\n  - file: photos/main-before.jpg\n    points:\n{CORNERS}",
    "boards/main.csv": "ref,x_mm,y_mm,kind,value\nR2,30,20,resistor,4k7\nR3,70,60,resistor,1k\n",
    "photos/main-before.jpg": picture(640, 440),
    "notes/50-views.md": "---\ntitle: Views\nboard: main\n---\n![The resistor](part:R2)\n\n![The map](board:main)\n\n![It](photo:front-before.jpg)\n",
}


@pytest.fixture
def cache(tmp_path: Path) -> Cache:
    return Cache(tmp_path / "cache")


@pytest.fixture
def worked(tmp_path: Path, cache: Cache) -> Worked:
    folder = write_job(tmp_path / "small-job", LINED_UP)
    found, problems = work_out_all([folder], Edition.OWNER, kinds=[], cache=cache, progress=silent)
    assert found, problems
    return found


@pytest.fixture
def sheets(worked: Worked, cache: Cache) -> Sheets:
    return sheets_of(worked.shown[0][0], worked, {}, follows="", cache=cache, progress=silent)


def test_the_same_is_printed_as_the_site_shows(worked: Worked, sheets: Sheets, cache: Cache) -> None:
    site, _ = site_of(worked, cache=cache, progress=silent)
    assert site
    (view,) = site.views
    assert len(view.pictures.views) == 2
    assert sheets.html == book(view, notes_as_html(view), Beside(sheets.day))
    published = {f"br:/{src}": content for src, content in site.files.items()}
    views = {address: content for address, content in sheets.pictures.items() if address.endswith(".webp")}
    assert views
    assert views.items() <= published.items()


def test_it_is_given_every_picture_that_it_shows_and_no_other(sheets: Sheets) -> None:
    assert set(re.findall(r'src="([^"]+)"', sheets.html)) == sheets.pictures.keys()
    assert {"drawing:map/main", "drawing:chart/rails"} <= sheets.pictures.keys()
    assert all(sheets.pictures.values())
