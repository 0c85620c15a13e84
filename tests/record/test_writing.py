"""Writing a record: the same whenever it is made, whole or not at all."""

from __future__ import annotations

import time
import zipfile
from pathlib import Path

import pytest

from benchrecord.record.bag import bag
from benchrecord.record.verify import verify
from benchrecord.record.writing import write
from folders import contents

FILES = {"data/b.txt": b"b", "data/a/ü.txt": b"a" * 3_000_000}


def test_a_zip_is_the_same_whenever_and_wherever_it_is_made(tmp_path: Path) -> None:
    for place in ("one", "two"):
        (tmp_path / place).mkdir()
        write(bag(FILES, (), {}), tmp_path / place / "r.zip", zipped=True, prove=lambda _: None)
        time.sleep(0.01)
    assert (tmp_path / "one/r.zip").read_bytes() == (tmp_path / "two/r.zip").read_bytes()


def test_a_zip_opens_anywhere_and_holds_what_the_folder_holds(tmp_path: Path) -> None:
    files = bag(FILES, (), {})
    write(files, tmp_path / "r", zipped=False, prove=lambda _: None)
    write(files, tmp_path / "r.zip", zipped=True, prove=lambda _: None)
    with zipfile.ZipFile(tmp_path / "r.zip") as made:
        assert made.testzip() is None
        assert {n.removeprefix("r/"): made.read(n) for n in made.namelist()} == contents(tmp_path / "r")


def test_files_of_the_disk_are_copied(tmp_path: Path) -> None:
    (tmp_path / "original").write_bytes(b"long" * 1000)
    for zipped in (False, True):
        target = tmp_path / ("r.zip" if zipped else "r")
        write(bag({"data/x": tmp_path / "original"}, (), {}), target, zipped=zipped, prove=lambda _: None)
        assert verify(target).faults == ()


def test_what_does_not_prove_sound_is_not_left(tmp_path: Path) -> None:
    def refuse(_: Path) -> None:
        raise OSError(5, "Input/output error")

    with pytest.raises(OSError, match="Input/output"):
        write(bag(FILES, (), {}), tmp_path / "r", zipped=False, prove=refuse)
    assert list(tmp_path.iterdir()) == []
