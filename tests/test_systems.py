"""A whole build, a record and a preview by the rules of other systems: the same bytes come of them everywhere."""

from __future__ import annotations

import importlib
import shutil
from pathlib import Path

import pytest

from benchrecord.publish.build import build
from benchrecord.publish.hand_over import Wish, hand_over
from benchrecord.publish.preview.saving import Files
from benchrecord.record.verify import verify
from folders import contents
from forked import READY
from once import DEMO_EPOCH
from small_jobs import SMALL_JOB, write_job
from systems import Windows


@pytest.fixture(autouse=True)
def _loaded() -> None:
    """Load libraries beforehand: they look at the system while they are imported, and are those of this one."""
    for name in (*READY, "pypdf", "pypdfium2"):
        importlib.import_module(name)


def built(folder: Path, site: Path) -> dict[str, bytes]:
    build([folder], edition="archive", site_dir=site, kinds=[])
    return contents(site)


@pytest.mark.slow
def test_a_site_built_by_the_rules_of_windows_is_the_same_in_every_byte(
    tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", DEMO_EPOCH)
    job = write_job(tmp_path / "job", SMALL_JOB)
    here = built(job, tmp_path / "here/site")
    shutil.copytree(tmp_path / "here/site", tmp_path / "there/site")  # a former one, to be exchanged
    rules: Windows = request.getfixturevalue("windows")
    assert built(job, tmp_path / "there/site") == here
    assert [p.name for p in (tmp_path / "there").iterdir()] == ["site"]
    assert {Path(path).name for path in rules.refused} == {".site.benchrecord-lock"}  # removed as soon as it was closed


@pytest.mark.slow
@pytest.mark.usefixtures("windows")
@pytest.mark.parametrize("form", ["folder", "zip"])
def test_a_record_is_handed_over_by_the_rules_of_windows(tmp_path: Path, form: str) -> None:
    job = write_job(tmp_path / "job", SMALL_JOB)
    made = hand_over(job, Wish(tmp_path / "stick", zipped=form == "zip", with_pdf=False))
    assert verify(made).faults == ()
    assert [p.name for p in (tmp_path / "stick").iterdir()] == [made.name]


@pytest.mark.usefixtures("windows")
def test_a_preview_saves_by_the_rules_of_windows(tmp_path: Path) -> None:
    job = write_job(tmp_path / "job", SMALL_JOB)
    files = Files(job)
    before = contents(job)
    files.save("boards/main.csv", files.version("boards/main.csv"), lambda data: data + b"R9,1,1,,\n", "R9")
    assert (job / "boards/main.csv").read_bytes().endswith(b"R9,1,1,,\n")
    files.undo()
    assert contents(job) == before
