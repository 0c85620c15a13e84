"""Which files a folder has, what a written path means, and what is no file of a job."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.intake.paths import below, files_of, outside, read_text, unfit
from folders import write

PARTS = st.lists(st.text("abcß. _-", min_size=1, max_size=8).filter(lambda p: p.strip(". ")), min_size=1, max_size=3)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("a.jpg", "photos/a.jpg"),
        ("photos/a.jpg", "photos/a.jpg"),
        ("Photos/a.jpg", "photos/a.jpg"),
        ("./photos/a.jpg", "photos/a.jpg"),
        ("photos\\boards\\a.jpg", "photos/boards/a.jpg"),
        ("photos", "photos/photos"),
        ("photos//a.jpg", "photos/a.jpg"),
    ],
)
def test_a_file_may_be_named_with_or_without_its_folder(written: str, meant: str) -> None:
    assert below("photos", written) == meant


@given(PARTS)
def test_naming_the_folder_changes_nothing(parts: list[str]) -> None:
    once = below("photos", "x/" + "/".join(parts))
    assert once.startswith("photos/")
    assert below("photos", once) == below("photos", once.replace("/", "\\")) == once


@pytest.mark.parametrize("path", ["../a", "a/../../b", "/etc/passwd", "\\\\server\\share", "C:\\a", "c:/a", "..\\a", ".."])
def test_what_leaves_the_folder(path: str) -> None:
    assert outside(path)


@pytest.mark.parametrize("path", ["a", "a/b", "a..b", "...", "long:name", "-"])
def test_what_stays_in_the_folder(path: str) -> None:
    assert not outside(path)


def test_every_file_is_listed_but_hidden_and_temporary_ones(job: Path) -> None:
    write(job, {"notes/b.md": "", "notes/a.md": "", ".git/x": "", "Thumbs.db": "", "~$a.csv": "", "a b/ü.txt": ""})
    assert files_of(job) == (["a b/ü.txt", "job.yml", "notes/a.md", "notes/b.md"], [])


def test_a_link_inside_the_folder_is_a_file_like_others(job: Path) -> None:
    write(job, {"photos/a.jpg": "x"})
    (job / "photos/b.jpg").symlink_to("a.jpg")
    assert files_of(job) == (["job.yml", "photos/a.jpg", "photos/b.jpg"], [])


def test_a_folder_that_may_not_be_read_is_named(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def walk(top: Path, onerror: Callable[[OSError], None]) -> Iterator[tuple[str, list[str], list[str]]]:
        onerror(PermissionError(13, "Permission denied", str(top / "photos")))
        yield str(top), [], ["job.yml"]

    monkeypatch.setattr(os, "walk", walk)
    names, (problem,) = files_of(job)
    assert (names, problem.place.file, problem.got) == (["job.yml"], "photos", "Permission denied")


def test_a_file_that_may_not_be_read_is_named(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    text, problem = read_text(job, "job.yml", 1000)
    assert (text, problem and problem.got, problem and problem.code) == (None, "Permission denied", "file-unread")


def test_a_file_that_vanishes_meanwhile_is_a_problem(job: Path) -> None:
    assert unfit(job, "gone.csv") is None
    _, problem = read_text(job, "gone.csv", 1000)
    assert problem
    assert problem.code == "file-unread"


@given(st.binary(max_size=60))
def test_any_bytes_are_text_or_a_problem_with_a_line_of_the_file(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    folder = tmp_path_factory.getbasetemp()
    (folder / "any.txt").write_bytes(data)
    text, problem = read_text(folder, "any.txt", 1000)
    assert (text is None) is (problem is not None)
    if problem and problem.place.line:
        assert 1 <= problem.place.line <= data.count(b"\n") + 1
    if text is not None:
        assert data.removeprefix(b"\xef\xbb\xbf").decode() == text


def test_the_byte_that_is_named_is_the_one_that_stands_there(job: Path) -> None:
    (job / "a.txt").write_bytes(b"\xef\xbb\xbfone\ntwo\xe9\n")
    _, problem = read_text(job, "a.txt", 1000)
    assert problem
    assert (problem.got, problem.place.line) == ("byte 0xE9", 2)
