"""Files that another program may hold open: whole or not at all, and tried again where that helps."""

from __future__ import annotations

import contextlib
import errno
import os
import subprocess
import sys
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


@pytest.mark.parametrize(
    "error", [PermissionError(13, "Permission denied"), windows_error(183, "a"), OSError(5, "Input/output error")]
)
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


REFUSALS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk is full: your quota is used up",
    errno.EROFS: "the disk is read-only",
    errno.EFBIG: "the file is larger than this disk can hold",
}


@pytest.mark.parametrize("number", REFUSALS)
def test_a_disk_that_takes_no_more_is_called_that_and_its_folder_is_named(tmp_path: Path, number: int) -> None:
    (tmp_path / "stick/record").mkdir(parents=True)
    folder, words = tmp_path / "stick/record", REFUSALS[number]
    errors = {
        "a write names nothing": OSError(number, "x"),
        "a file": OSError(number, "x", str(folder / "a.bin")),
        "bytes": OSError(number, "x", os.fsencode(folder / "a.bin")),
        "a folder": OSError(number, "x", str(folder)),
        "a file that is gone with its folder": OSError(number, "x", str(folder / "gone/deeper/a.bin")),
        "a copy, from elsewhere": OSError(number, "x", "/elsewhere/a.bin", None, str(folder / "a.bin")),
    }
    told = {name: disk.why(_raised(error, folder)) for name, error in errors.items()}
    assert told == dict.fromkeys(errors, f"{words} ({folder})")
    assert disk.why(OSError(number, "x")) == disk.why_there(OSError(number, "x")) == words
    assert all(disk.is_full(error) for error in errors.values())


def _raised(error: OSError, folder: Path) -> OSError:
    try:
        with disk.writing_to(folder):
            raise error
    except OSError as raised:
        return raised


def test_what_has_another_reason_is_no_full_disk_and_names_its_file() -> None:
    error = PermissionError(errno.EACCES, "x", "/a/b")
    assert (disk.is_full(error), disk.why(error)) == (False, os.strerror(errno.EACCES))
    assert disk.why_there(error) == f"{os.strerror(errno.EACCES)} (/a/b)"
    assert not disk.is_full(OSError(0, "of our own"))


def test_of_a_scratch_folder_the_folder_that_it_lies_in_is_named(tmp_path: Path) -> None:
    with disk.scratch(tmp_path) as room:
        (room / "site/new").mkdir(parents=True)
        inside = disk.why(OSError(errno.ENOSPC, "x", str(room / "site/new/index.html")))
    outside = disk.why(OSError(errno.ENOSPC, "x", str(room / "site/new/index.html")))
    assert inside == outside == f"the disk is full ({tmp_path})"


def test_folders_that_were_made_for_what_failed_are_removed_where_they_are_empty(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    for failure in (OSError(errno.ENOSPC, "x"), KeyboardInterrupt()):
        with pytest.raises(type(failure)), disk.made_folder(tmp_path / "mine/a/b"):
            raise failure
        assert list((tmp_path / "mine").iterdir()) == []
    with contextlib.suppress(OSError), disk.made_folder(tmp_path / "mine/a/b"):
        (tmp_path / "mine/a/file").touch()
        raise OSError(errno.EIO, "x")
    assert (tmp_path / "mine/a/file").exists()
    with disk.made_folder(tmp_path / "mine/c"):
        pass
    assert (tmp_path / "mine/c").is_dir()


HOLD = """
import sys
from pathlib import Path
from benchrecord.disk import scratch
with scratch(Path(sys.argv[1]), sys.argv[2]) as room:
    (room / "deep").mkdir()
    (room / "deep/private.txt").write_text("x")
    print(room, flush=True)
    sys.stdin.read()
"""


def held(place: Path, prefix: str) -> tuple[subprocess.Popen[str], Path]:
    """Start a process that has a scratch folder, and wait until it has."""
    running = subprocess.Popen(
        [sys.executable, "-c", HOLD, place, prefix], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert running.stdout
    return running, Path(running.stdout.readline().strip())


@pytest.mark.parametrize("prefix", ["benchrecord-", "benchrecord-preview-", ".benchrecord-"])
def test_what_a_killed_process_left_is_removed_by_the_next_and_nothing_else_is(tmp_path: Path, prefix: str) -> None:
    living, kept = held(tmp_path, "benchrecord-")
    killed, left = held(tmp_path, prefix)
    killed.kill()
    killed.communicate()
    others = tmp_path / "benchrecord-mine", tmp_path / "mine", tmp_path / ".mine"
    for folder in others:  # without a lock, or of another name
        folder.mkdir()
    (tmp_path / "mine" / disk.LOCK).touch()
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / disk.LOCK).touch()
    (tmp_path / "benchrecord-link").symlink_to(outside, target_is_directory=True)
    assert (left / "deep/private.txt").exists()
    with disk.scratch(tmp_path):
        assert not left.exists()
        assert (kept / "deep/private.txt").exists()
        assert all(folder.is_dir() for folder in (*others, outside))
    living.communicate("")
    assert not kept.exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == [".mine", "benchrecord-link", "benchrecord-mine", "mine", "outside"]


def test_many_at_once_never_take_each_other_s_for_abandoned(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from benchrecord.disk import scratch\n"
        "for n in range(60):\n"
        "    with scratch(Path(sys.argv[1])) as room:\n"
        "        (room / 'x').write_text(str(n)); assert (room / 'x').read_text() == str(n)\n"
    )
    running = [subprocess.Popen([sys.executable, "-c", code, tmp_path]) for _ in range(3)]
    assert [process.wait() for process in running] == [0, 0, 0]
    assert list(tmp_path.iterdir()) == []


def test_where_no_lock_can_be_made_nothing_is_left_either(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "x")

    monkeypatch.setattr(disk.os, "open", full)
    with pytest.raises(OSError, match="x"), disk.scratch(tmp_path):
        pass
    monkeypatch.undo()
    monkeypatch.setattr(disk, "lock_descriptor", full)
    with disk.scratch(tmp_path) as room:
        assert room.is_dir()
    assert list(tmp_path.iterdir()) == []
