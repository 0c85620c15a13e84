"""A small record, as a bag of three files, and a small job to make one of."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.model.job import Edition
from benchrecord.pages.view import View
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.work import make_site, silent
from benchrecord.record.bag import bag
from benchrecord.record.writing import write
from small_jobs import SMALL_JOB, write_job

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


@pytest.fixture
def small_job(tmp_path: Path) -> Path:
    """Make a job that has a little of everything."""
    return write_job(tmp_path / "small-job", SMALL_JOB)


@pytest.fixture
def view(small_job: Path) -> View:
    """Return it as its owner sees it."""
    site, problems = make_site([small_job], Edition.OWNER, kinds=[], cache=Cache(default_folder()), progress=silent)
    assert site, problems
    return site.views[0]
