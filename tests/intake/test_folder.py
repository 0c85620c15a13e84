"""A whole folder: what belongs to it, what is refused, and how much it may hold."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path
from typing import Literal

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import csv_file, picture_file, read_job
from benchrecord.intake.csv_file import parse_table
from benchrecord.model.job import Job, PhotoStage
from benchrecord.problems import Problem
from folders import picture, write

KINDS = schemas(all_kinds())


def codes(folder: Path) -> list[tuple[str, str]]:
    return [(p.code, p.place.file) for p in read_job(folder, KINDS)[1]]


def read(folder: Path) -> Job:
    job, problems = read_job(folder, KINDS)
    assert job
    assert problems == ()
    return job


def test_a_folder_that_is_not_there_or_has_no_job_yml(tmp_path: Path) -> None:
    assert codes(tmp_path / "gone") == [("folder-missing", "job.yml")]
    assert codes(tmp_path) == [("folder-missing", "job.yml")]


def remedy_for(folder: Path) -> tuple[str, str]:
    (problem,) = read_job(folder, KINDS)[1]
    return problem.got, problem.remedy


def test_a_folder_that_is_no_job_is_called_by_its_name_and_the_job_is_named(
    tmp_path: Path, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (job / "notes").mkdir()
    monkeypatch.chdir(job / "notes")
    assert remedy_for(Path()) == ("no job.yml in notes", f"name the job folder: {job}")
    assert remedy_for(Path("../..")) == (f"no job.yml in {tmp_path.name}", f"name the job folder: {Path('../..') / job.name}")
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    assert remedy_for(Path())[1] == "name the folder of a job, or begin one: write job.yml with at least a title"
    for number in range(5):
        write(tmp_path / f"empty/job-{number}", {})
    assert remedy_for(Path())[1] == "name the job folder: job-0 or job-1 or job-2 …"


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Pumila 2 Überholung", "pumila-2-ueberholung"), ("Weiß & Größe", "weiss-groesse"), ("Café Señor", "cafe-senor"), ("Łódź", "lodz"),
        ("SØREN", "soeren"), ("estuary-44", "estuary-44"), ("My_Job (2)", "my-job-2"), ("Ölwerk-ÄÖÜ", "oelwerk-aeoeue"), ("Петров", "job"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_a_job_is_named_by_its_folder_in_letters_of_every_address(
    tmp_path: Path, name: str, slug: str, form: Literal["NFC", "NFD"]
) -> None:
    assert read(write(tmp_path / unicodedata.normalize(form, name), {})).id == slug


def test_only_job_yml_is_required(job: Path) -> None:
    found = read(job)
    assert (found.id, found.title, found.notes, found.checks) == ("small", "A small job", (), ())


def test_a_job_is_named_by_its_id_else_by_its_folder(tmp_path: Path) -> None:
    assert read(write(tmp_path / "Größe 44 (two)", {})).id == "groesse-44-two"
    assert read(write(tmp_path / "x", {"job.yml": "title: T\nid: Estuary 44\n"})).id == "estuary-44"


def test_a_photo_without_a_row_belongs_to_the_job_with_the_date_of_the_picture(job: Path) -> None:
    from PIL import Image  # noqa: PLC0415

    (job / "photos").mkdir()
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:02:03 10:00:00"
    exif[0x0112] = 6
    Image.new("RGB", (40, 30)).save(job / "photos/a.jpg", exif=exif)
    (photo,) = read(job).photos
    assert (photo.file, str(photo.date), photo.caption) == ("photos/a.jpg", "2026-02-03", "")
    assert (photo.width, photo.height) == (30, 40)


def test_photos_come_in_the_order_of_their_rows_and_the_others_after_them(job: Path) -> None:
    write(
        job, {"photos.csv": "file,stage\nphotos/c.jpg,before\nb.jpg,after\n", **{f"photos/{n}.jpg": picture() for n in "abc"}}
    )
    photos = read(job).photos
    assert [p.file for p in photos] == ["photos/c.jpg", "photos/b.jpg", "photos/a.jpg"]
    assert photos[0].stage is PhotoStage.BEFORE


def test_hidden_and_temporary_files_are_not_looked_at(job: Path) -> None:
    write(job, {".git/config": "x", "Thumbs.db": "x", "notes/.DS_Store": "x", "photos/.x.jpg": "x", "~$parts.csv": "x"})
    read(job)


def test_a_link_that_leaves_the_folder_is_refused(tmp_path: Path, job: Path) -> None:
    (tmp_path / "secret.md").write_text("secret")
    (job / "notes").mkdir()
    (job / "notes/10-a.md").symlink_to(tmp_path / "secret.md")
    (job / "photos").symlink_to(tmp_path)
    assert codes(job) == [("path-outside", "notes/10-a.md"), ("path-outside", "photos")]
    assert read_job(job, KINDS)[0].notes == ()  # type: ignore[union-attr]  # there is a job


@pytest.mark.parametrize("name", ["parts.csv", "checks.yml", "boards/b.yml", "boards/b.csv", "patches.yml", "marks.csv"])
def test_no_file_is_read_through_a_link_that_leaves(tmp_path: Path, job: Path, name: str) -> None:
    (tmp_path / "secret").write_text("secret: words\n")
    (job / name).parent.mkdir(exist_ok=True)
    (job / name).symlink_to(tmp_path / "secret")
    said = read_job(job, KINDS)[1]
    assert [(p.code, p.place.file) for p in said] == [("path-outside", name)]
    assert "secret: words" not in repr(said)


def test_links_in_a_circle_and_pipes_do_not_hang(job: Path) -> None:
    (job / "notes").mkdir()
    (job / "notes/again").symlink_to(job / "notes")
    os.mkfifo(job / "parts.csv")
    os.mkfifo(job / "photos.jpg")
    assert ("file-unread", "parts.csv") in codes(job)


def test_a_folder_where_a_file_is_expected(job: Path) -> None:
    (job / "parts.csv").mkdir()
    (job / "notes/10-a.md").mkdir(parents=True)
    assert ("file-unread", "parts.csv") in codes(job)


def test_text_that_is_not_utf8_is_named_with_its_line(job: Path) -> None:
    write(job, {"notes/10-a.md": b"fine\nR\xe9sistance\n", "parts.csv": b"ref,action\nR1,\0\n"})
    problems = read_job(job, KINDS)[1]
    assert [(p.place.file, p.place.line, p.got) for p in problems] == [
        ("notes/10-a.md", 2, "byte 0xE9"),
        ("parts.csv", 2, "bytes that are no text"),
    ]


def test_a_byte_order_mark_is_no_part_of_the_text(job: Path) -> None:
    write(
        job,
        {
            "job.yml": "\ufefftitle: T\n",
            "parts.csv": "\ufeffref,action\nR1,replaced\n",
            "notes/a.md": "\ufeff---\ntitle: N\n---\n",
        },
    )
    found = read(job)
    assert (found.parts[0].ref, found.notes[0].title) == ("R1", "N")


def test_files_of_nothing_at_all(job: Path) -> None:
    write(
        job,
        dict.fromkeys(
            ("parts.csv", "trims.csv", "photos.csv", "checks.yml", "boards/b.yml", "boards/b.csv", "notes/10-a.md"), ""
        ),
    )
    read(job)


def test_a_table_may_have_so_many_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csv_file, "TABLE_ROWS", 3)
    report: list[Problem] = []
    assert len(parse_table("a\n" + "1\n" * 5, "t.csv", report).rows) == 3
    assert [(p.code, p.got) for p in report] == [("too-many-rows", "5 rows")]


def test_a_file_may_be_so_big(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("benchrecord.intake.csv_file.TABLE_BYTES", 10)
    write(job, {"parts.csv": "ref,action\nR1,replaced\n"})
    assert codes(job) == [("file-too-big", "parts.csv")]


def test_a_picture_may_have_so_many_pixels(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture_file, "PICTURE_PIXELS", 1000)
    write(job, {"photos/a.jpg": picture()})
    assert codes(job) == [("too-many-pixels", "photos/a.jpg")]


def test_half_a_picture_is_no_picture(job: Path) -> None:
    write(job, {"photos/a.jpg": picture(400, 300)[:900], "photos/b.png": b"", "photos/c.jpg": b"\xff\xd8\xff"})
    assert codes(job) == [("file-unread", f"photos/{n}") for n in ("a.jpg", "b.png", "c.jpg")]


@pytest.mark.parametrize(
    "bomb",
    [
        "a: &a [x,x,x,x,x,x,x,x,x]\n"
        + "".join(f"{c}: &{c} [{','.join(['*' + p] * 9)}]\n" for p, c in zip("abcdefgh", "bcdefghi", strict=True)),
        "title: !!python/object/apply:os.system ['echo']\n",
        "&a title: *a\n",
        "a: &a {b: *a}\n",
        "[" * 700,
        "{a: " * 700,
        "? [x]\n: y\n",
        "<<: {title: T}\n",
        "title: T\n\tx: 1\n",
    ],
    ids=["laughs", "tag", "alias", "itself", "brackets", "braces", "list-key", "merge", "tab"],
)
def test_yaml_that_bites_is_a_problem_or_nothing(job: Path, bomb: str) -> None:
    write(job, {"job.yml": bomb})
    read_job(job, KINDS)
    write(job, {"job.yml": "title: T\n", "boards/b.yml": bomb, "checks.yml": bomb, "patches.yml": bomb})
    read_job(job, KINDS)
