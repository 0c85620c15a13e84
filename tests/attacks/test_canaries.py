"""A word in every private place: none is anywhere in the site of a reader who may not see it, and the guard finds each that is."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from attacks.canaries import Canaries, encodings, folder
from benchrecord.editions.table import may_see
from benchrecord.model.job import Edition
from benchrecord.publish import work
from benchrecord.publish.build import Refused, build
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private, private, public_vocabulary
from benchrecord.publish.guarding.search import Search
from folders import write
from once import once
from publish.guarding.encodings import ENCODINGS

pytestmark = pytest.mark.slow
JOBS = {"alder": True, "birch": True, "cedar": False}  # and whether they are published


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> dict[Path, Canaries]:
    here = tmp_path_factory.mktemp("canaries")
    made = {name: Canaries(seed) for seed, name in enumerate(JOBS, 7)}
    return {write(here / name, folder(c, publish=JOBS[name])): c for name, c in made.items()}


@pytest.fixture(scope="module", params=Edition)
def built(
    request: pytest.FixtureRequest, jobs: dict[Path, Canaries], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Edition, Path]:
    edition: Edition = request.param
    make = lambda here: build(list(jobs), edition=edition.value, site_dir=here / "site", kinds=[])  # noqa: E731  # one line
    return edition, once(tmp_path_factory, f"canaries-{edition.value}", make) / "site"


def unseen(jobs: dict[Path, Canaries], reader: Edition) -> dict[str, str]:
    """Return the words that a reader must not come upon, by where they stand; of a job that is not published, all."""
    return {
        f"{path.name}, {where}": word
        for path, canaries in jobs.items()
        for where, (word, least) in canaries.words.items()
        if least is None or not may_see(reader, least) or (reader is Edition.PORTFOLIO and not JOBS[path.name])
    }


def everything(site: Path) -> bytes:
    """Return all bytes and all names of a site."""
    files = [p for p in site.rglob("*") if p.is_file()]
    unpacked = [gzip.decompress(p.read_bytes()) if p.suffix == ".gz" else p.read_bytes() for p in files]
    return b"\n".join([*(str(p.relative_to(site)).encode() for p in files), *unpacked])


def test_no_word_is_anywhere_in_any_encoding(jobs: dict[Path, Canaries], built: tuple[Edition, Path]) -> None:
    reader, site = built
    data, words = everything(site), unseen(jobs, reader)
    assert len(words) > 60
    assert [where for where, word in words.items() if any(code in data for code in encodings(word))] == []


def test_what_a_reader_may_see_is_there(jobs: dict[Path, Canaries], built: tuple[Edition, Path]) -> None:
    """So that nothing is missing only because nothing was shown."""
    reader, site = built
    data = everything(site)
    shown = {
        "supplier": Edition.ARCHIVE,
        "words of a note": Edition.ARCHIVE,
        "serial": Edition.OWNER,
        "words of an owner": Edition.OWNER,
    }
    alder = next(c for p, c in jobs.items() if p.name == "alder")
    for where, least in shown.items():
        assert (alder.words[where][0].encode() in data) is may_see(reader, least), where


def looked_for(jobs: dict[Path, Canaries], reader: Edition, cache: Path) -> Private:
    read, _ = work.read_all(list(jobs), work.all_kinds())
    shown = [work.for_reader(job, reader) for _, job in read if job in work.published([job], reader)]
    return private(read, shown, reader, used=public_vocabulary([job for _, job in read], shown), cache=Cache(cache))


@pytest.mark.parametrize("reader", Edition)
def test_each_word_that_is_made_public_again_is_found(jobs: dict[Path, Canaries], reader: Edition, tmp_path: Path) -> None:
    search = Search(looked_for(jobs, reader, tmp_path).things)
    missed = [
        (where, name)
        for where, word in unseen(jobs, reader).items()
        for name, encoded in ENCODINGS.items()
        if not search.finds(b"<html><p>Before it " + encoded(word) + b" and after.</p></html>")
        and not (word[0].isdigit() and name in NOT_OF_NUMBERS)
    ]
    assert missed == []


NOT_OF_NUMBERS = {"base64", "base64 in a text", "base64 in lines", "base64 of utf-16", "hexadecimal", "split by lines", "split by soft hyphens", "split by marks of no width", "split by tags", "split by tags and entities"}  # fmt: skip


def test_a_site_whose_editions_fail_is_refused_and_the_former_stays(
    jobs: dict[Path, Canaries], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = build(list(jobs), edition="portfolio", site_dir=tmp_path / "site", kinds=[])
    before = everything(site)
    monkeypatch.setattr(work, "for_reader", lambda job, _: job)
    monkeypatch.setattr(work, "published", lambda jobs, _: tuple(jobs))
    with pytest.raises(Refused) as refused:
        build(list(jobs), edition="portfolio", site_dir=tmp_path / "site", kinds=[])
    said = str(refused.value)
    for field in ("owner: name", "instrument: serial", "part: supplier", "note: body", "photograph: caption"):
        assert f"tells {field}" in said
    assert not [
        word for c in jobs.values() for word, _ in c.words.values() if word in said.split("\n", 1)[1].replace("/", " ").split()
    ]
    assert everything(site) == before


@pytest.mark.parametrize("name", ["photos/open.jpg", "documents", "recordings"])
def test_a_file_as_it_lies_in_the_folder_is_refused(jobs: dict[Path, Canaries], name: str, tmp_path: Path) -> None:
    folder = next(iter(jobs))
    path = folder / name if (folder / name).is_file() else next((folder / name).iterdir())
    told = looked_for(jobs, Edition.PORTFOLIO, tmp_path)
    assert any(
        "as it lies in the job folder" in line
        for line in Leaks(Private((), told.files)).in_files([("copy", path.read_bytes())])
    )
