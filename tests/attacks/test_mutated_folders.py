"""Whatever happened to a folder: no traceback, every problem told, the input as it was, and no more memory than 500 MB.

``BENCHRECORD_FOLDERS=10000 pytest tests/attacks/test_mutated_folders.py`` looks at as many as a night has room for.
"""

from __future__ import annotations

import os
import resource
import shutil
from pathlib import Path

import pytest

from attacks.canaries import Canaries, folder
from attacks.hostile import folder as hostile
from attacks.mutation import mutated
from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Kind
from benchrecord.editions import for_reader
from benchrecord.editions.traces import traces
from benchrecord.model.job import Edition
from benchrecord.pages.job_pages import job_pages
from benchrecord.pages.view import View
from benchrecord.problems import as_text, has_errors
from benchrecord.publish.cache import Cache
from benchrecord.publish.hearing import findings_of
from benchrecord.publish.pictures import draw_pictures
from benchrecord.publish.telling import private_words
from benchrecord.publish.work import findings_json, read_all, silent
from folders import contents, write

SAMPLE = Path(__file__).parents[2] / "site_src" / "loopwell-2"
COUNT = int(os.environ.get("BENCHRECORD_FOLDERS", "60"))
EVERY = 10  # of them, what is worked out is drawn and written as well
MOST_KB = 500_000
KINDS = all_kinds()


def good() -> list[dict[str, bytes]]:
    """Return the folders that changes are made to: the demo's smaller job, one with every private place filled, a hostile one."""
    smaller = {n: (d.encode() if isinstance(d, str) else d) for n, d in hostile().items() if n != "notes/20-long.md"}
    canaries = {n: d.encode() if isinstance(d, str) else d for n, d in folder(Canaries(3), publish=True).items()}
    demo = {n: d for n, d in contents(SAMPLE).items() if not n.endswith((".flac", ".jpg")) or len(d) < 200_000}  # bytes
    return [demo, canaries, smaller]


def test_changed_folders_are_read_or_refused(tmp_path: Path) -> None:
    folders, cache = good(), Cache(tmp_path / "cache")
    refused = 0
    for seed in range(COUNT):
        files = mutated(folders[seed % len(folders)], seed)
        place = write(tmp_path / "job", files)  # type: ignore[arg-type]  # bytes are among what it takes
        try:
            refused += looked_at(place, cache, KINDS, whole=seed % EVERY == 0)
            assert contents(place) == dict(sorted(files.items())), seed
        except Exception as error:  # noqa: BLE001  # that is what is looked for
            pytest.fail(f"seed {seed}: {type(error).__name__}: {error}")
        finally:
            shutil.rmtree(place)
    assert 0 < refused < COUNT
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss < MOST_KB or COUNT < 1000  # a process of its own


def looked_at(place: Path, cache: Cache, kinds: dict[str, Kind], *, whole: bool) -> bool:
    """Do what check and build do with one folder; return whether it is refused."""
    jobs, problems = read_all([place], kinds)
    assert as_text(problems) or not problems
    if not jobs or has_errors(problems):
        assert any(p.got and p.expected and p.remedy for p in problems if p.severity == "error")
        return True
    job = jobs[0][1]
    for reader in Edition:
        seen = for_reader(job, reader)
        assert for_reader(seen, reader) == seen
        traces([job], [seen], reader)
    private_words(place, job, Edition.PORTFOLIO, cache)
    findings = findings_of(place, job, kinds, cache)
    assert findings_json(findings, Edition.ARCHIVE)
    if whole:
        pictures, _ = draw_pictures(place, job, findings, kinds, cache=cache, progress=silent)
        assert job_pages(View(job, findings, pictures, Edition.ARCHIVE))
    return False
