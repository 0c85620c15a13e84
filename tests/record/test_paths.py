"""Paths of a record: none leads out of it, and every stick can hold them."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.record.paths import clashes, fault_of, portable, printable


@pytest.mark.parametrize(
    "path",
    ["/etc/passwd", "~/x", "C:/x", "c:x", "data/../../x", "..", "data//x", "data/./x", "data/", "", "data\\x", "data/..\\x"],
)
def test_a_path_that_could_lead_elsewhere_is_refused(path: str) -> None:
    assert fault_of(path)


@pytest.mark.parametrize("path", ["data/x", "data/a b/ü.txt", "data/..x", "data/x..", "bagit.txt", "data/100% done"])
def test_a_plain_path_is_not(path: str) -> None:
    assert fault_of(path) == ""


def test_capitals_and_ways_to_write_accents_make_no_other_place() -> None:
    accented = "data/Prüfung"
    assert clashes(["data/a", "data/A"]) == ["data/A"]
    assert clashes([accented, unicodedata.normalize("NFD", accented)]) != []
    assert clashes(["data/Straße", "data/STRASSE"]) == ["data/STRASSE"]
    assert clashes(["data/a", "data/b"]) == []


@pytest.mark.parametrize(
    ("given_name", "made"),
    [
        ("photos/a:b?.jpg", "photos/a_b_.jpg"),
        ("photos/con.jpg", "photos/_con.jpg"),
        ("photos/COM1", "photos/_COM1"),
        ("photos/aux.front.jpg", "photos/_aux.front.jpg"),
        ("photos/falcon.jpg", "photos/falcon.jpg"),
        ("photos/faux.jpg", "photos/faux.jpg"),
        ("photos/com12.jpg", "photos/com12.jpg"),
        ("photos/ends.", "photos/ends"),
        ("photos/\u202egpj.exe", "photos/_gpj.exe"),
        ("photos/a b.jpg", "photos/a b.jpg"),
    ],
)
def test_a_name_that_some_sticks_refuse_gets_another(given_name: str, made: str) -> None:
    assert portable(given_name) == made


@given(st.lists(st.text(st.characters(codec="utf-8"), min_size=1, max_size=200), max_size=8))
def test_whatever_files_are_called_they_find_places_of_their_own(names: list[str]) -> None:
    made: list[str] = []
    for name in names:
        made.append(portable(f"photos/{name.replace('/', '')}x.jpg", made))
    assert clashes(made) == []
    assert [m for m in made if fault_of(m)] == []
    assert all(len(part) <= 140 for m in made for part in m.split("/"))


def test_nothing_of_a_name_moves_a_terminal() -> None:
    assert printable("a\x1b[2Jb\u202e\udcff") == "a\\u001b[2Jb\\u202e\\udcff"
