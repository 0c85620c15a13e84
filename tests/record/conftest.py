"""A small record, as a bag of three files."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.record.bag import bag
from benchrecord.record.writing import write

PAYLOAD = {"data/readings/rail 1.csv": b"t,v\n0,1.0\n", "data/notes.txt": b"hello\n", "data/readings/empty.csv": b""}
INFO = (("Source-Organization", "A bench"), ("External-Identifier", "small"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Write it as a folder."""
    target = tmp_path / "small-record"
    write(bag(PAYLOAD, INFO, {"README.txt": b"Read me.\n"}), target, zipped=False, prove=lambda _: None)
    return target


@pytest.fixture
def zipped(tmp_path: Path) -> Path:
    """Write it as a ZIP."""
    target = tmp_path / "small-record.zip"
    write(bag(PAYLOAD, INFO, {"README.txt": b"Read me.\n"}), target, zipped=True, prove=lambda _: None)
    return target
