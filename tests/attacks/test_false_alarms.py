"""A guard that cries wolf is turned off: ordinary names, short or of common words, refuse no site that does not tell them."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import material
import numpy as np
import pytest

from benchrecord.checks import all_kinds
from benchrecord.editions import for_reader
from benchrecord.model.job import Edition, Job
from benchrecord.publish.build import build
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private, private, used_by
from benchrecord.publish.work import read_all

ROOT = Path(__file__).parents[2]
DEMO, LOOK = ROOT / "sample_job", Path(material.__file__).parent / "templates"
OWNERS = [
    "Al",
    "May",
    "Rose Field",
    "Will Board",
    "Grace Note",
    "Mark Case",
    "Bill Power",
    "Ray Light",
    "Dean Voice",
    "Ed",
    "Max",
]
SUPPLIERS = ["Parts", "Audio", "Online", "stock", "unknown", "the drawer", "Rapid", "Main Electronics", "Spares & Co", "R.S."]
SERIALS = ["1", "12", "44", "123", "1977", "A1", "R12", "0012", "VP-44", "10000", "2-113"]
ADDRESSES = ["1 Main Board Road, Tonefield", "12 High Street", "Key Lane 3, 10115 Note", "5 The Green"]
CODES = ["1", "10", "22", "100", "1977", "A1", "4K7", "E12", "1N4148", "R-100"]
PRICES, RATES = [0.5, 1, 1.5, 2, 3.3, 4.7, 10, 12, 14, 100], [38.5, 40, 50, 60, 75, 100]


def renamed(job: Job, seed: int) -> Job:
    """Return the demo with another owner, other suppliers, codes and prices, and another serial number."""
    dice = np.random.default_rng(seed)
    assert job.owner
    owner = replace(job.owner, name=str(dice.choice(OWNERS)), address=str(dice.choice(ADDRESSES)))
    parts = tuple(
        replace(
            p, supplier=str(dice.choice(SUPPLIERS)), order_code=str(dice.choice(CODES)), unit_cost=float(dice.choice(PRICES))
        )
        for p in job.parts
    )
    instrument = replace(job.instrument, serial=str(dice.choice(SERIALS)))
    return replace(
        job, owner=owner, parts=parts, instrument=instrument, costs=replace(job.costs, hourly_rate=float(dice.choice(RATES)))
    )


@pytest.fixture(scope="module")
def demo() -> Job:
    (((_, job),), _) = read_all([DEMO], all_kinds())
    return job


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_ordinary_names_are_not_found_where_they_are_not(demo: Job, demo_site: Path, seed: int, tmp_path: Path) -> None:
    job = renamed(demo, seed)
    shown = [for_reader(job, Edition.PORTFOLIO)]
    told = private([(DEMO, job)], shown, Edition.PORTFOLIO, used=used_by(shown, [], [LOOK]), cache=Cache(tmp_path)).things
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
