"""What the sums hear of a folder's recordings; what came of them is kept by their content."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import Sound
from benchrecord.checks.kind import Bench, Kind, source_of
from benchrecord.findings import Keep, Make, work_out
from benchrecord.findings.kept import as_bytes, from_bytes
from benchrecord.intake.paths import on_disk
from benchrecord.intake.sound_file import opener
from benchrecord.model.findings import CheckFinding, Findings
from benchrecord.model.job import Check, Job
from benchrecord.publish.cache import Cache

CHANGES_ARE_DATED = (
    os.name != "nt"
)  # there st_ctime is the day a file was made: a program that keeps its date and size goes unseen
JUST_NOW_NS = 3_000_000_000  # a file that was written so shortly ago may be written once more and look the same


def findings_of(folder: Path, job: Job, kinds: Mapping[str, Kind], cache: Cache) -> Findings:
    """Do all sums of a job, with the recordings of its folder; a recording that was analysed before is not analysed again."""
    known = opener(folder, job.recordings)

    def sounds(file: str) -> Sound | NotHad:
        return known(file) or NotHad(f"{file} is not in the folder")

    return work_out(job, kinds, sounds, _keep(folder, kinds, cache))


def _keep(folder: Path, kinds: Mapping[str, Kind], cache: Cache) -> Keep:
    """Return what looks a finding up by all that it rests on.

    Of a recording, which takes seconds, that is the check, its meter, its twin, the rule and what was recorded. Of tables it is all
    that a check can see of its job: working one of them out again costs little.
    """

    def keep(check: Check, bench: Bench, make: Make) -> CheckFinding:
        if not check.takes:
            seen = bench.once("all that a table can see", lambda: _seen(bench))
            made = cache.made("finding", check.id, source_of(kinds[check.kind]), seen, make=lambda: as_bytes(make()))
            return from_bytes(made, check)
        twin = bench.checks.get(str(check.keys.get("tracks_with")))
        checks = [check, *([twin] if twin else [])]
        meters = [bench.meters.get(c.meter) for c in checks]
        files = dict.fromkeys(take.file for c in checks for take in c.takes)
        about = repr((checks, meters, bench.rule, bench.year, sorted(bench.lossy & files.keys())))
        heard = [_digest(on_disk(folder, file), cache) for file in files]
        made = cache.made("finding", about, source_of(kinds[check.kind]), *heard, make=lambda: as_bytes(make()))
        return from_bytes(made, check)

    return keep


def _seen(bench: Bench) -> str:
    return repr((bench.rule, bench.meters, bench.checks, bench.year, bench.date_codes, sorted(bench.lossy)))


def _digest(path: Path, cache: Cache) -> bytes:
    """Return a digest of a recording, which is read once for as long as its file lies there untouched."""
    state = path.stat()
    lies = (state.st_ino, state.st_size, state.st_mtime_ns, state.st_ctime_ns)
    if not CHANGES_ARE_DATED or time.time_ns() - max(state.st_mtime_ns, state.st_ctime_ns) < JUST_NOW_NS:
        return _read_digest(path)
    return cache.made("recording", repr((path.resolve(), lies)), make=lambda: _digest_of(path, lies))


@lru_cache(maxsize=4096)  # several checks hear one recording, and a preview builds again and again
def _digest_of(path: Path, _lies: tuple[int, ...]) -> bytes:
    return _read_digest(path)


def _read_digest(path: Path) -> bytes:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").digest()
