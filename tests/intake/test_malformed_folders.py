"""Malformed job folders: each is refused with the exact list expected, and nothing in it is touched.

A case is one file of ``malformed/``: ``=== NAME`` begins a file of the folder (``@jpeg`` stands for a picture of 64 × 48 pixels,
``=== no line end`` takes the last line break away), ``=== expected`` the list as ``benchrecord check`` prints it.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.problems import CODES, as_text
from folders import contents, picture, write

CASES = sorted((Path(__file__).parent / "malformed").glob("*.txt"))
KINDS = schemas(all_kinds())


def parts_of(case: Path) -> tuple[dict[str, str | bytes], str]:
    """Return the files of a case, and the list it expects."""
    _, *pieces = re.split(r"^=== (.+)\n", case.read_text("utf-8"), flags=re.MULTILINE)
    files: dict[str, str | bytes] = {}
    last = ""
    for name, text in zip(pieces[::2], pieces[1::2], strict=True):
        if name == "no line end":
            files[last] = str(files[last]).removesuffix("\n")
        elif name != "expected":
            files[name] = picture() if text == "@jpeg\n" else text
            last = name
    return {n: picture() if c == "@jpeg" else c for n, c in files.items()}, pieces[-1]


def test_there_are_at_least_forty() -> None:
    assert len(CASES) >= 40


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.stem)
def test_the_list_is_exactly_this(case: Path, tmp_path: Path) -> None:
    files, expected = parts_of(case)
    folder = write(tmp_path / "job", files)
    before = {name: (content, (folder / name).stat().st_mtime_ns) for name, content in contents(folder).items()}
    _, problems = read_job(folder, KINDS)
    assert as_text(problems) + "\n" == (expected or "\n")
    assert {name: (content, (folder / name).stat().st_mtime_ns) for name, content in contents(folder).items()} == before


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.stem)
def test_every_line_named_is_a_line_of_the_file(case: Path, tmp_path: Path) -> None:
    folder = write(tmp_path / "job", parts_of(case)[0])
    for problem in read_job(folder, KINDS)[1]:
        if problem.place.line is not None:
            lines = (folder / problem.place.file).read_bytes().count(b"\n") + 1
            assert 1 <= problem.place.line <= lines + 1, problem


ELSEWHERE = {"folder-missing", "file-too-big", "too-many-rows", "too-many-pixels"}  # test_folder.py


def test_every_code_occurs_in_a_case() -> None:
    said = "".join(parts_of(case)[1] for case in CASES)
    assert {code for code in CODES if not re.search(rf"(error|warning|hint) {code}$", said, re.MULTILINE)} == ELSEWHERE
