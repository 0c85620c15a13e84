"""Photographs are reduced once for each content, whatever else changes, and named by what is in the file."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from PIL import ImageFile

from benchrecord.figures import photo as figures_photo
from benchrecord.intake import picture_file
from benchrecord.model.job import Edition, Photo
from benchrecord.publish.cache import Cache
from benchrecord.publish.photos import in_background, published
from benchrecord.publish.work import Site, make_site, silent
from folders import picture, write


class Counter:
    """Counts calls, and makes them."""

    def __init__(self, inner: object) -> None:
        self.inner, self.calls = inner, 0

    def __call__(self, *given: object) -> object:
        self.calls += 1
        return self.inner(*given)  # type: ignore[operator]  # a function


@pytest.fixture
def reduced(monkeypatch: pytest.MonkeyPatch) -> Counter:
    counter = Counter(figures_photo.publishable)
    monkeypatch.setattr(figures_photo, "publishable", counter)
    return counter


@pytest.fixture
def decoded(monkeypatch: pytest.MonkeyPatch) -> Counter:
    counter = Counter(picture_file._facts)
    monkeypatch.setattr(picture_file, "_facts", counter)
    return counter


@pytest.fixture
def photos(job: Path) -> Path:
    marks = "photo,shape,x,y,text\na.jpg,point,50,50,here\n"
    return write(job, {"photos/a.jpg": picture(colour="teal"), "photos/b.jpg": picture(colour="red"), "marks.csv": marks})


def made(folder: Path, cache: Path) -> Site:
    site, problems = make_site([folder], Edition.PORTFOLIO, kinds=[], cache=Cache(cache), progress=silent)
    assert site is not None, problems
    return site


def test_a_change_of_a_mark_decodes_and_encodes_nothing(
    photos: Path, tmp_path: Path, reduced: Counter, decoded: Counter
) -> None:
    before = made(photos, tmp_path / "cache")
    assert (reduced.calls, decoded.calls) == (2, 2)
    write(photos, {"marks.csv": "photo,shape,x,y,text\na.jpg,point,50,51,there\n", "photos.csv": "file,caption\nb.jpg,words\n"})
    after = made(photos, tmp_path / "cache")
    assert (reduced.calls, decoded.calls) == (2, 2)
    assert {n: c for n, c in before.files.items() if "/assets/" in n} == {
        n: c for n, c in after.files.items() if "/assets/" in n
    }
    assert before.files["jobs/small/data/marks.jsonld"] != after.files["jobs/small/data/marks.jsonld"]


def test_another_name_or_time_is_no_other_picture_and_other_pixels_are(
    photos: Path, tmp_path: Path, reduced: Counter, decoded: Counter
) -> None:
    made(photos, tmp_path / "cache")
    (photos / "photos/b.jpg").rename(photos / "photos/c.jpg")
    (photos / "photos/a.jpg").touch()
    made(photos, tmp_path / "cache")
    assert (reduced.calls, decoded.calls) == (2, 2)
    write(photos, {"photos/c.jpg": picture(colour="blue")})
    made(photos, tmp_path / "cache")
    assert (reduced.calls, decoded.calls) == (3, 3)


def test_files_are_named_by_what_is_in_them_and_by_nothing_else(photos: Path, tmp_path: Path) -> None:
    files = {n.rpartition("/")[2]: c for n, c in made(photos, tmp_path / "cache").files.items() if "/assets/" in n}
    assert files
    for name, content in files.items():
        assert name.startswith(hashlib.sha256(content).hexdigest()[:16])


def test_a_picture_that_changes_meanwhile_is_published_as_it_is_and_kept_under_no_name(
    job: Path, tmp_path: Path, reduced: Counter
) -> None:
    write(job, {"photos/a.jpg": picture(colour="red")})
    once = Photo("photos/a.jpg", 64, 48, content=hashlib.sha256(picture(colour="teal")).hexdigest())
    cache = Cache(tmp_path / "cache")
    for _ in range(2):
        with in_background(job, [once], cache) as (making,):
            _, files = published("small", making.result())
        assert files
    assert reduced.calls == 2
    assert not (tmp_path / "cache").exists()


def test_a_picture_that_breaks_off_is_one_problem_among_the_others(
    photos: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as a library that prints pages sets it
    write(photos, {"photos/c.jpg": picture(400, 300)[:900], "photos/d.jpg": "words", "trims.csv": "board,ref\nnone,RV1\n"})
    site, problems = make_site([photos], Edition.PORTFOLIO, kinds=[], cache=Cache(tmp_path / "cache"), progress=silent)
    assert site is None
    errors = [(p.code, p.place.file) for p in problems if p.severity == "error"]
    assert errors == [("file-unread", "photos/c.jpg"), ("file-unread", "photos/d.jpg"), ("unknown-id", "trims.csv")]


def test_each_picture_is_decoded_once_in_a_build(photos: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    decoded = []
    load = ImageFile.ImageFile.load

    def counted(image: ImageFile.ImageFile) -> object:
        if image.tile:
            decoded.append(image.format)
        return load(image)

    monkeypatch.setattr(ImageFile.ImageFile, "load", counted)
    made(photos, tmp_path / "cache")
    assert decoded == ["JPEG", "JPEG"]
