"""Files that another program may hold open: whole or not at all, and tried again where that helps."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from benchrecord import disk
from systems import Windows, windows_error


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Write down the pauses between attempts instead of making them."""
    made: list[float] = []
    monkeypatch.setattr(disk.time, "sleep", made.append)
    return made


@pytest.mark.parametrize("times", [0, 1, 8])
def test_what_is_held_for_a_moment_is_written_renamed_and_removed(
    tmp_path: Path, windows: Windows, pauses: list[float], times: int
) -> None:
    a, b = tmp_path / "a", tmp_path / "b"
    a.write_bytes(b"old")
    windows.hold(a, times)
    disk.write_whole(a, b"new")
    assert (a.read_bytes(), len(pauses)) == (b"new", times)
    windows.hold(a, times)
    disk.rename(a, b)
    windows.hold(b, times)
    disk.remove(b)
    assert (list(tmp_path.iterdir()), len(pauses)) == ([tmp_path / "temp"], 3 * times)


def test_what_is_held_for_good_stays_as_it_was_and_nothing_lies_beside_it(
    tmp_path: Path, windows: Windows, pauses: list[float]
) -> None:
    (tmp_path / "a").write_bytes(b"old")
    windows.hold(tmp_path / "a", 1000)
    with pytest.raises(PermissionError) as refused:
        disk.write_whole(tmp_path / "a", b"new")
    assert disk.why(refused.value) == "another program has it open, or it may not be written"
    assert (tmp_path / "a").read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a", "temp"]
    assert 2 < sum(pauses) < 5


def test_a_scratch_folder_is_removed_once_a_scanner_lets_go_of_it(
    tmp_path: Path, windows: Windows, pauses: list[float]
) -> None:
    with disk.scratch() as room:
        (room / "deep").mkdir()
        (room / "deep/x").write_text("x")
        windows.hold(room / "deep/x", 3)
    assert list((tmp_path / "temp").iterdir()) == []
    assert len(pauses) == 3


@pytest.mark.parametrize("error", [PermissionError(13, "Permission denied"), windows_error(183, "a"), OSError(28, "No space")])
def test_a_lasting_refusal_is_raised_at_once(pauses: list[float], error: OSError) -> None:
    def act() -> None:
        raise error

    with pytest.raises(OSError, match=str(error.errno)):
        disk.retry(act)
    assert pauses == []
    assert disk.why(error) == os.strerror(error.errno or 0)


def test_a_file_keeps_its_permissions_when_it_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "a").chmod(0o640)
    disk.write_whole(tmp_path / "a", b"new")
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640


def test_a_path_is_inside_a_folder_in_whatever_capitals(one_for_all: Path) -> None:
    job = one_for_all / "Geh\u00e4use"
    (job / "notes").mkdir(parents=True)
    for name in ("Geh\u00e4use", "geh\u00e4use", "GEHA\u0308USE"):
        assert disk.is_inside(one_for_all / name / "new/er", job)
        assert disk.is_inside(one_for_all / name, job)
    assert not disk.is_inside(one_for_all / "Geh\u00e4use-2/notes", job)
