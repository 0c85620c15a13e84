"""Each private field of a job is found in each spelling at each place of a site, by the guard and by ``check``."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from attacks.spelt import PLACES, spelt
from benchrecord.checks import all_kinds, schemas
from benchrecord.editions import for_reader
from benchrecord.intake import read_job
from benchrecord.model.job import Edition, Job
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.private import private, public_vocabulary
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.telling import private_words
from folders import write

SEEDS = range(int(os.environ.get("BENCHRECORD_SPELT_JOBS", "3")))


def read(folder: Path, files: dict[str, str]) -> Job:
    job, problems = read_job(write(folder, files), schemas(all_kinds()))
    assert job, problems
    return job


@pytest.mark.parametrize("seed", SEEDS)
def test_no_canary_is_missed(seed: int, tmp_path: Path) -> None:
    made = spelt(seed)
    job = read(tmp_path / "job", made.files)
    shown = [for_reader(job, Edition.PORTFOLIO)]
    looked = private(
        [(tmp_path / "job", job)], shown, Edition.PORTFOLIO, used=public_vocabulary([job], shown), cache=Cache(tmp_path)
    )
    search = Search(looked.things)
    missed = [
        (telling.field, telling.text, name)
        for number, telling in enumerate(made.tellings)
        for turn, (name, place) in enumerate(PLACES.items())
        if (number + turn + seed) % 3 == 0  # each text at a third of the places, each place with a third of the texts
        and not any(find.field == telling.field for find in search.finds(place(telling.text)))
    ]
    assert missed == []


def test_check_warns_of_what_the_guard_finds(tmp_path: Path) -> None:
    made = spelt(1)
    told = made.tellings[::9]
    notes = {f"notes/{n:03d}-day.md": f"It was then that {telling.text} was seen.\n" for n, telling in enumerate(told)}
    job = read(tmp_path / "job", made.files | notes)
    warned = private_words(tmp_path / "job", job, Edition.PORTFOLIO, Cache(tmp_path / "cache"))
    seen = {(p.place.file, p.expected.removeprefix("nothing of: ")) for p in warned}
    assert {(f"notes/{n:03d}-day.md", telling.field) for n, telling in enumerate(told)} <= seen
