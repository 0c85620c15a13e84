"""A recording is analysed once; what came of it is kept by its content, and never told of another."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import rms, stretch
from benchrecord.checks import schemas
from benchrecord.checks.kind import Bench, Kind
from benchrecord.findings import work_out
from benchrecord.intake import read_job
from benchrecord.model.findings import CheckFinding, DataTable, Side, Value, Verdict
from benchrecord.model.job import Check, Job, Meter
from benchrecord.model.table import Column, Holds, KindSchema
from benchrecord.publish import hearing
from benchrecord.publish.cache import Cache
from benchrecord.publish.hearing import _digest_of, findings_of
from folders import write
from sounds import seconds, write_sound

heard: list[str] = []


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Measure the level of one recording, and count how often that is done."""
    heard.append(check.id)
    sound = bench.open(check.takes[0].file)
    assert not isinstance(sound, NotHad)
    level = rms(stretch(sound, 0, sound.frames, 0))
    return CheckFinding(check, "", None, Side(Verdict.INFORMATION, {"level": Value(level)}), DataTable((), ()))


KINDS = {"level": Kind(KindSchema("level", recordings=True), "Level", examine, lambda _: None)}
CHECKS = "- {id: a, title: A, kind: level, as_left: a.wav}\n- {id: b, title: B, kind: level, as_left: b.wav}\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a job with two recordings."""
    heard.clear()
    for name, level in (("a", 0.1), ("b", 0.4)):
        write_sound(tmp_path / f"job/recordings/{name}.wav", level * np.sin(2 * np.pi * 440 * seconds(0.2)))
    return write(tmp_path / "job", {"checks.yml": CHECKS})


def job_of(folder: Path) -> Job:
    """Read the job."""
    job, problems = read_job(folder, schemas(KINDS))
    assert job
    assert not problems
    return job


def levels(folder: Path, cache: Cache, job: Job | None = None) -> list[float]:
    """Return the level of each check."""
    found = findings_of(folder, job or job_of(folder), KINDS, cache)
    return [float(f.left.results["level"].value) for f in found.checks if f.left]  # type: ignore[arg-type]  # a number


def test_each_recording_is_heard_once_and_told_the_same_again(folder: Path, tmp_path: Path) -> None:
    first = levels(folder, Cache(tmp_path / "cache"))
    assert first == pytest.approx([0.1 / 2**0.5, 0.4 / 2**0.5], rel=1e-3)
    assert levels(folder, Cache(tmp_path / "cache")) == first
    assert sorted(heard) == ["a", "b"]


def test_another_recording_of_the_same_name_is_heard_anew(folder: Path, tmp_path: Path) -> None:
    levels(folder, Cache(tmp_path / "cache"))
    write_sound(folder / "recordings/a.wav", 0.2 * np.sin(2 * np.pi * 440 * seconds(0.2)))
    assert levels(folder, Cache(tmp_path / "cache"))[0] == pytest.approx(0.2 / 2**0.5, rel=1e-3)
    assert sorted(heard) == ["a", "a", "b"]


def test_a_recording_that_lies_untouched_is_not_read_again(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cache, later = Cache(tmp_path / "cache"), time.time_ns() + 10**10
    monkeypatch.setattr("time.time_ns", lambda: later)
    first = levels(folder, cache)
    _digest_of.cache_clear()
    with monkeypatch.context() as unread:
        unread.setattr("hashlib.file_digest", None)
        assert levels(folder, cache) == first
    path = folder / "recordings/a.wav"
    lay = path.stat()
    write_sound(path, 0.2 * np.sin(2 * np.pi * 440 * seconds(0.2)))
    os.utime(path, ns=(lay.st_atime_ns, lay.st_mtime_ns))
    assert path.stat().st_size == lay.st_size
    assert levels(folder, cache)[0] == pytest.approx(0.2 / 2**0.5, rel=1e-3)


@pytest.mark.parametrize("dated", [True, False])
def test_where_a_change_is_not_dated_a_recording_is_read_every_time(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, dated: bool
) -> None:
    """Windows dates when a file was made and written to, and a program may set both back."""
    path, cache, later = folder / "recordings/a.wav", Cache(tmp_path / "cache"), time.time_ns() + 10**10
    monkeypatch.setattr("time.time_ns", lambda: later)
    monkeypatch.setattr(hearing, "CHANGES_ARE_DATED", dated)
    untouched = path.stat()
    monkeypatch.setattr(Path, "stat", lambda *_, **__: untouched)
    before = hearing._digest(path, cache)
    path.write_bytes(bytes(reversed(path.read_bytes())))
    assert (hearing._digest(path, cache) == before) is dated


def test_another_meter_or_limit_is_worked_out_anew(folder: Path, tmp_path: Path) -> None:
    cache, job = Cache(tmp_path / "cache"), job_of(folder)
    levels(folder, cache, job)
    changed = (replace(job.checks[0], meter="m"), job.checks[1])
    levels(folder, cache, replace(job, checks=changed, meters=(Meter("m", "M"),)))
    levels(folder, cache, replace(job, checks=changed, meters=(Meter("m", "Another"),)))
    assert sorted(heard) == ["a", "a", "a", "b"]


def test_the_number_of_cores_changes_nothing(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = []
    for cores in (1, 2, 8):
        monkeypatch.setattr("os.cpu_count", lambda cores=cores: cores)
        found.append(repr(findings_of(folder, job_of(folder), KINDS, Cache(tmp_path / f"cache{cores}"))))
    assert found[0] == found[1] == found[2]


def test_without_a_folder_nothing_is_heard_and_that_is_said(folder: Path) -> None:
    kind = replace(KINDS["level"], examine=_reason)
    left = work_out(job_of(folder), {"level": kind}).checks[0].left
    assert left
    assert left.reason == "recordings/a.wav was not read"


def _reason(check: Check, bench: Bench) -> CheckFinding:
    sound = bench.open(check.takes[0].file)
    reason = sound.reason if isinstance(sound, NotHad) else ""
    return CheckFinding(check, "", None, Side(Verdict.NOT_MEASURED, reason=reason), DataTable((), ()))


TABLES = "- {id: one, title: One, kind: pair, file: one.csv}\n- {id: two, title: Two, kind: pair, file: two.csv}\n"


def of_a_pair(check: Check, bench: Bench) -> CheckFinding:
    """Add up the first reading of every check of the job."""
    heard.append(check.id)
    total = sum(row.number("volts") or 0.0 for c in bench.checks.values() if c.table for row in c.table.rows)
    return CheckFinding(check, "", None, Side(Verdict.INFORMATION, {"level": Value(total)}), DataTable((), ()))


def test_a_table_is_worked_out_once_and_anew_when_anything_that_it_can_see_changes(tmp_path: Path) -> None:
    columns = (Column("volts", Holds.NUMBER, unit="V"),)
    kinds = {"pair": Kind(KindSchema("pair", columns=columns), "Pair", of_a_pair, lambda _: None)}
    files: dict[str, str | bytes] = {
        "checks.yml": TABLES,
        "measurements/one.csv": "volts\n1\n",
        "measurements/two.csv": "volts\n2\n",
    }
    cache = Cache(tmp_path / "cache")

    def totals(name: str) -> list[object]:
        job, problems = read_job(write(tmp_path / name, files), schemas(kinds))
        assert job
        assert not problems
        heard.clear()
        return [f.left.results["level"].value for f in findings_of(tmp_path / name, job, kinds, cache).checks if f.left]

    assert (totals("a"), heard) == ([3, 3], ["one", "two"])
    assert (totals("a"), heard) == ([3, 3], [])
    files["measurements/two.csv"] = "volts\n5\n"
    assert (totals("b"), heard) == ([6, 6], ["one", "two"])
