"""The page of photographs: how their days are known, which load first, where a larger one is, and what their marks lead to."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from PIL import Image

from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.model.annotations import annotations_in
from benchrecord.model.job import Edition
from benchrecord.pages.job_pages import job_pages
from benchrecord.pages.marks import marks_jsonld
from benchrecord.pages.view import PhotoPicture, Pictures, Sized, View
from benchrecord.publish.work import read_all
from folders import picture, write
from pictures import encoded

BOARD = {"boards/psu.csv": "ref,x_mm,y_mm\nR2,1,2\n"}


def shown(width: int = 64, height: int = 48) -> PhotoPicture:
    sizes = tuple(Sized(f"jobs/x/assets/{w}.webp", w, w * height // width) for w in (width // 2, width))
    return PhotoPicture(sizes, Sized("jobs/x/assets/f.jpg", width, height), "#445566")


def view_of(folder: Path, files: dict[str, str | bytes], *, tall: bool = False) -> View:
    kinds = all_kinds()
    jobs, problems = read_all([write(folder, files)], kinds)
    assert [p for p in problems if p.severity == "error"] == []
    job = jobs[0][1]
    pictures = {p.file: shown(48, 64) if tall else shown() for p in job.photos}
    return View(job, work_out(job, kinds), Pictures(photos=pictures), Edition.PORTFOLIO)


def page_of(folder: Path, files: dict[str, str | bytes], *, tall: bool = False) -> str:
    return next(p.markdown for p in job_pages(view_of(folder, files, tall=tall)) if p.src.endswith("/photos.md"))


def taken(zone: str = "") -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: "2026:02:03 23:50:00", 0x9011: zone})
    return encoded(Image.new("RGB", (64, 48), "teal"), exif=exif)


@pytest.mark.parametrize(
    ("photos", "said"),
    [
        ({"a": taken(), "b": taken()}, "it is the day that the camera's clock showed, of an unknown time zone, so that what was taken near midnight may be dated a day off."),
        ({"a": taken("+01:00"), "b": taken()}, "it is the day that the camera's clock showed; of 1 picture an unknown time zone, so that what was taken near midnight may be dated a day off."),
        ({"a": taken("+01:00")}, "it is the day that the camera's clock showed."),
    ],
    ids=["of no zone", "of some", "of a known zone"],
)  # fmt: skip
def test_a_day_that_a_clock_gave_is_told_to_be_that(tmp_path: Path, photos: dict[str, bytes], said: str) -> None:
    page = page_of(tmp_path / "x", {f"photos/{n}.jpg": data for n, data in photos.items()})
    assert said in page
    assert page.count("3 February 2026") == len(photos)
    assert "+01:00" not in page
    assert "23:50" not in page


def test_a_day_that_somebody_wrote_down_needs_no_word(tmp_path: Path) -> None:
    page = page_of(tmp_path / "x", {"photos/a.jpg": taken(), "photos.csv": "file,date\na.jpg,2026-02-09\n"})
    assert "9 February 2026" in page
    assert "clock" not in page


def test_only_what_stands_first_is_loaded_at_once(tmp_path: Path) -> None:
    page = page_of(tmp_path / "x", {f"photos/{n}.jpg": picture() for n in ("a-before", "a-after", "b", "c")})
    images = re.findall(r"<img [^>]+>", page)
    assert [('loading="lazy"' in i, 'fetchpriority="high"' in i) for i in images] == [
        (False, True),
        (False, True),
        (True, False),
        (True, False),
    ]
    assert all('width="64" height="48"' in i for i in images)


def test_a_picture_s_place_is_kept_in_its_own_shape_and_tone(tmp_path: Path) -> None:
    wide, tall = (page_of(tmp_path / f"{t}", {"photos/a.jpg": picture()}, tall=t) for t in (False, True))
    assert '<div class="br-frame" style="--br-shape:64/48;background:#445566">' in wide
    assert '<div class="br-frame br-tall" style="--br-shape:48/64;background:#445566">' in tall


def test_every_picture_leads_to_its_largest_size(tmp_path: Path) -> None:
    page = page_of(tmp_path / "x", {"photos/a.jpg": picture(), "photos.csv": "file,caption\na.jpg,The corner\n"})
    (link,) = re.findall(r'<a class="br-larger" href="br:/jobs/x/assets/64.webp"[^>]*>(.*?)</a>', page, re.DOTALL)
    assert 'alt="The corner"' in link


def test_a_name_that_a_camera_gave_is_nowhere_on_the_pages(tmp_path: Path) -> None:
    names = {"IMG_20260203_183012": "img", "DSC04567": "dsc", "the-corner": "corner"}
    files: dict[str, str | bytes] = {f"photos/{name}.jpg": picture() for name in names}
    files |= {"photos.csv": "file,board,refs\n" + "".join(f"{name}.jpg,psu,R2\n" for name in names), **BOARD}
    view = view_of(tmp_path / "x", files)
    words = "\n".join(page.markdown for page in job_pages(view))
    assert not any(told in words for told in ("20260203", "183012", "04567", "IMG", "DSC"))
    assert 'id="photo-the-corner"' in words
    assert len(set(re.findall(r'id="(photo-[^"]+)"', words))) == 3


def test_marks_are_listed_below_their_picture_and_lead_back_to_it(tmp_path: Path) -> None:
    marks = "photo,shape,x,y,w,h,text,ref\na.jpg,box,1,2,3,4,charred,R2\na.jpg,point,5,6,,,,\n"
    page = page_of(
        tmp_path / "x", {"photos/a.jpg": picture(), "photos.csv": "file,board\na.jpg,psu\n", "marks.csv": marks, **BOARD}
    )
    items = re.findall(r'<li id="(said-[^"]+)">(.*?)</li>', page)
    assert [name for name, _ in items] == ["said-mark-photo-a-1", "said-mark-photo-a-2"]
    assert "charred" in items[0][1]
    assert 'href="br:/jobs/x/boards/psu.md#R2"' in items[0][1]
    assert 'href="#mark-photo-a-2" aria-label="Show mark 2 in the picture"' in items[1][1]
    assert 'href="br:/jobs/x/data/marks.jsonld" download' in page


def test_marks_are_a_file_of_annotations_that_leads_to_pictures_pages_and_parts(tmp_path: Path) -> None:
    marks = "photo,shape,x,y,w,h,text,ref\na.jpg,box,1,2,3,4,charred,R2\nb.jpg,point,5,6,,,,\n"
    view = view_of(
        tmp_path / "x",
        {
            "photos/a.jpg": picture(),
            "photos/b.jpg": picture(),
            "photos.csv": "file,board\na.jpg,psu\n",
            "marks.csv": marks,
            **BOARD,
        },
    )
    first, second = annotations_in(json.loads(marks_jsonld(view)))
    assert first["target"]["source"] == {"id": "../assets/64.webp", "type": "Image", "format": "image/webp"}
    assert first["target"]["scope"] == "../photos.html#photo-a"
    assert first["body"][-1] == {"type": "SpecificResource", "purpose": "linking", "source": "../boards/psu.html#R2"}
    assert (first["id"], second["id"]) == ("#mark-photo-a-1", "#mark-photo-b-1")


def test_without_marks_there_is_no_such_file(tmp_path: Path) -> None:
    view = view_of(tmp_path / "x", {"photos/a.jpg": picture()})
    assert marks_jsonld(view) == ""
    assert "Annotations" not in page_of(tmp_path / "y", {"photos/a.jpg": picture()})
