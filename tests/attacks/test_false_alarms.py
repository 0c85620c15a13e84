"""A guard that cries wolf is turned off: ordinary names, short or of common words, refuse no site that does not tell them."""

from __future__ import annotations

import os
import random
import re
import shutil
from dataclasses import replace
from pathlib import Path

import material
import numpy as np
import pytest

from attacks.ordinary import PRICES, RATES, SERIALS, STREETS, SUPPLIERS, TYPES, ordinary_job, owner_of
from benchrecord.checks import all_kinds, schemas
from benchrecord.editions import for_reader
from benchrecord.intake import read_job
from benchrecord.model.job import Edition, Job
from benchrecord.publish.build import build
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private, private, public_vocabulary
from benchrecord.publish.owner_lint import personal_data
from benchrecord.publish.telling import private_words
from benchrecord.publish.work import read_all
from folders import write

ROOT = Path(__file__).parents[2]
DEMO, LOOK = ROOT / "sample_job", Path(material.__file__).parent / "templates"
JOBS = int(os.environ.get("BENCHRECORD_ORDINARY_JOBS", "40"))


def renamed(job: Job, seed: int) -> Job:
    """Return the demo with another owner, other suppliers, codes and prices, and another serial number."""
    dice = np.random.default_rng(seed)
    assert job.owner
    parts = tuple(
        replace(
            p, supplier=str(dice.choice(SUPPLIERS)), order_code=str(dice.choice(TYPES)), unit_cost=float(dice.choice(PRICES))
        )
        for p in job.parts
    )
    address = str(dice.choice(STREETS)).format(dice.integers(1, 99))
    owner = replace(job.owner, name=owner_of(random.Random(seed)), address=address)  # noqa: S311  # the same at each run
    instrument = replace(job.instrument, serial=str(dice.choice(SERIALS)))
    costs = replace(job.costs, hourly_rate=float(dice.choice(RATES)))
    return replace(job, owner=owner, parts=parts, instrument=instrument, costs=costs)


def test_check_warns_of_no_ordinary_job(tmp_path: Path) -> None:
    """What it warns of is what refuses the site: one rule says both."""
    read = schemas(all_kinds())
    for seed in range(JOBS):
        folder = write(tmp_path / f"job-{seed}", ordinary_job(seed).files)
        job, problems = read_job(folder, read)
        assert job, problems
        assert private_words(folder, job, Edition.PORTFOLIO, Cache(tmp_path / "cache")) == [], seed
        assert list(personal_data(folder, job, Cache(tmp_path / "cache"))) == [], seed


@pytest.mark.slow
def test_a_site_of_ordinary_jobs_is_published(tmp_path: Path) -> None:
    """Each is searched for what is private in all others as well."""
    jobs = [write(tmp_path / f"job-{seed}", ordinary_job(seed).files) for seed in range(JOBS // 4)]
    site = build(jobs, edition="portfolio", site_dir=tmp_path / "site", kinds=[])
    assert len(list(site.glob("jobs/*/index.html"))) == len(jobs)


@pytest.fixture(scope="module")
def demo() -> Job:
    (((_, job),), _) = read_all([DEMO], all_kinds())
    return job


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_ordinary_names_are_not_found_where_they_are_not(demo: Job, demo_site: Path, seed: int, tmp_path: Path) -> None:
    job = renamed(demo, seed)
    shown = [for_reader(job, Edition.PORTFOLIO)]
    told = private(
        [(DEMO, job)], shown, Edition.PORTFOLIO, used=public_vocabulary([job], shown, [], [LOOK]), cache=Cache(tmp_path)
    ).things
    fields = ("owner: name", "owner: address", "part: ", "instrument: serial", "costs: ")
    looked = Leaks(Private(tuple(t for t in told if t.field.startswith(fields))))
    built = sorted(p for p in demo_site.glob("jobs/estuary-44/**/*") if p.is_file())
    assert list(looked.in_files((str(p), p.read_bytes()) for p in built)) == []


@pytest.mark.slow
def test_a_job_of_which_half_is_left_out_is_published(tmp_path: Path) -> None:
    """Other checks find the same as those that are left out, and our own sentences have their words."""
    job = shutil.copytree(DEMO, tmp_path / "estuary-44")
    checks = (job / "checks.yml").read_text("utf-8")
    heads = list(re.finditer(r"^- \{id: [\w-]+,(?!.*edition:)", checks, re.MULTILINE))[::2]
    for head in reversed(heads):
        checks = f"{checks[: head.end()]} edition: archive,{checks[head.end() :]}"
    (job / "checks.yml").write_text(checks, "utf-8")
    for note in sorted((job / "notes").glob("*.md"))[::2]:
        text = note.read_text("utf-8")
        if "edition:" not in text.split("---")[1]:
            note.write_text(text.replace("---\n", "---\nedition: archive\n", 1), "utf-8")
    site = build([job], edition="portfolio", site_dir=tmp_path / "site", kinds=[])
    assert (site / "jobs/estuary-44/checks.html").is_file()
