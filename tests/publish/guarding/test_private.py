"""Readings of a check that its reader must not see count where they stand in a row, and nowhere else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds
from benchrecord.editions import for_reader
from benchrecord.model.job import Edition
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.private import paths_of, private, public_vocabulary
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.work import read_all
from folders import write

HEADER = "volts,as_found_hz\n"
HIDDEN = [(0, 130.81), (1, 262.33), (2, 525.07), (3, 1051.93)]
OPEN = [(0, 130.84), (1, 262.31), (2, 525.02), (3, 1052.2)]


def table(rows: list[tuple[int, float]]) -> str:
    return HEADER + "".join(f"{volts},{hz}\n" for volts, hz in rows)


def looked_for(folder: Path, hidden: str, shown: str) -> Search:
    checks = "- {id: spare, title: Spare, kind: tracking, file: a.csv, edition: archive}\n- {id: used, title: Used, kind: tracking, file: b.csv}\n"
    job = {
        "job.yml": "title: Overhaul\npublish: yes\n",
        "checks.yml": checks,
        "measurements/a.csv": hidden,
        "measurements/b.csv": shown,
    }
    read, problems = read_all([write(folder / "job", job)], all_kinds())
    assert [p.code for p in problems] == []
    seen = [for_reader(job, Edition.PORTFOLIO) for _, job in read]
    return Search(
        private(
            read, seen, Edition.PORTFOLIO, used=public_vocabulary([job for _, job in read], seen), cache=Cache(folder)
        ).things
    )


@pytest.mark.parametrize(
    "told",
    [
        table(HIDDEN),
        json.dumps(HIDDEN),
        "".join(f"<tr><td>{volts}</td><td>{hz}</td></tr>" for volts, hz in HIDDEN),
    ],
    ids=["a table", "JSON", "markup"],
)
def test_readings_in_a_row_are_found(told: str, tmp_path: Path) -> None:
    assert {find.field for find in looked_for(tmp_path, table(HIDDEN), table(OPEN)).finds(told.encode())} == {"check: table"}


@pytest.mark.parametrize("told", [table(OPEN), "It stood at 1051.93 Hz.", "<path d='M0 130.81 1 262'>"])
def test_other_readings_and_a_few_are_not(told: str, tmp_path: Path) -> None:
    assert looked_for(tmp_path, table(HIDDEN), table(OPEN)).finds(told.encode()) == []


def test_what_a_check_that_is_shown_has_too_tells_nothing(tmp_path: Path) -> None:
    assert looked_for(tmp_path, table(HIDDEN), table(HIDDEN)).finds(table(HIDDEN).encode()) == []


PATHS = {
    r"C:\Users\Ann Öz": [
        r"C:\Users\Ann Öz\jobs",
        "C:/Users/Ann Öz/x",
        "c:\\\\users\\\\ann öz\\\\x",  # as JSON has it
        "file:///C:/Users/Ann%20%C3%96z/x",
        "C%3A%5CUsers%5CAnn%20%C3%96z%5Cnew",
        '{"path": "C:\\\\Users\\\\Ann \\u00d6z\\\\temp"}',
        "/c/Users/Ann Öz/x",
    ],
    r"D:\ben\tom": [r"D:\ben\tom\notes", "D:%5Cben%5Ctom%5Cnotes", "D:/ben/tom/"],
    r"\\server\homes\ann": [r"\\server\homes\ann\x", "file://server/homes/ann/x"],
    "/home/ann": ["/home/ann/x", "file:///home/ann/x", "%2Fhome%2Fann%2Fx", r"\/home\/ann\/x"],
}


@pytest.mark.parametrize(("home", "written"), [(home, text) for home, texts in PATHS.items() for text in texts])
def test_a_home_is_found_in_the_paths_of_any_system(home: str, written: str) -> None:
    search = Search(paths_of((), home))
    for text in (written, f'<a href="{written}">', f"see {written}"):
        assert search.finds(text.encode()), text


@pytest.mark.parametrize(
    ("home", "written"),
    [
        (r"C:\Users\Ann", r"C:\Users\Anna\x"),
        (r"C:\Users\Ann", "D:/Users/Ann/x"),
        ("/home/ann", "../home/ann/x.html"),
        ("/home/ann", "https://host/home/ann/"),
        ("/home/ann", "/home/anna/x"),
    ],
)
def test_other_paths_are_no_home(home: str, written: str) -> None:
    assert Search(paths_of((), home)).finds(f'<a href="{written}">'.encode()) == []


def test_a_job_folder_is_found_and_an_address_of_the_site_is_not() -> None:
    search = Search(paths_of([r"D:\jobs\estuary-44"], "/home/ann"))
    assert search.finds(rb"read from D:\jobs\estuary-44\job.yml")
    assert search.finds(b'<a href="../jobs/estuary-44/index.html">') == []
