"""The search worker as it is published: its word graph has the words of its index, whatever they are; an unknown one is refused."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from html import escape
from pathlib import Path

import pytest
from mkdocs.structure.files import File
from playwright.sync_api import Browser

from archives import folders
from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.findings.archive import gather
from benchrecord.model.job import Edition
from benchrecord.pages.archive_pages import archive_pages
from benchrecord.pages.job_pages import job_pages
from benchrecord.pages.view import Pictures, View
from benchrecord.publish.site_search.worker import UnknownSearchError, as_installed, mend, mend_workers
from benchrecord.publish.work import read_all
from searching import SearchWorker, installed_worker

NAME = "assets/javascripts/workers/search.0123abcd.min.js"
LETTERS = "01234567890123456789abcrx.µé"


def file_of(name: str, content: bytes) -> File:
    file = File(name, None, "site", use_directory_urls=False)
    file.content_bytes = content
    return file


# --- Which workers are corrected ---


def test_the_worker_among_the_files_of_a_site_is_corrected_and_nothing_else() -> None:
    worker, other = file_of(NAME, installed_worker()), file_of("assets/javascripts/bundle.0123abcd.min.js", installed_worker())
    mend_workers([other, worker])
    assert worker.content_bytes == mend(installed_worker()) != installed_worker()
    assert other.content_bytes == installed_worker()


@pytest.mark.parametrize("lost", ["lunr.com", "TokenSet.prototype.toString", "QueryParser.prototype.parse", "self.lunr"])
def test_a_worker_that_has_not_what_is_corrected_is_refused_with_a_version_that_has(lost: str) -> None:
    other = re.sub(re.escape(lost.replace("lunr.com", "lunrjs.com")).encode(), b"another", installed_worker())
    with pytest.raises(UnknownSearchError, match=r"fix: pip install mkdocs-material==\d"):
        mend(other)


def test_a_theme_without_a_worker_is_refused() -> None:
    with pytest.raises(UnknownSearchError):
        mend_workers([file_of("assets/javascripts/search.js", installed_worker())])


def test_a_published_file_is_known_for_the_installed_one() -> None:
    assert as_installed(NAME, mend(installed_worker())) == installed_worker()
    assert as_installed("assets/other.js", mend(installed_worker())) == mend(installed_worker())


# --- The word graph ---


@pytest.fixture
def worker(browser: Browser) -> Iterator[SearchWorker]:
    page = browser.new_page()
    yield SearchWorker(page, mend(installed_worker()))
    page.close()


def words_with_digits(seed: int, count: int = 20_000) -> list[str]:
    dice = random.Random(seed)  # noqa: S311  # words, not secrets
    return ["".join(dice.choices(LETTERS, k=dice.randint(1, 9))) for _ in range(count)]


def docs_of(words: list[str], at_once: int = 100) -> list[dict[str, str]]:
    runs = [words[n : n + at_once] for n in range(0, len(words), at_once)]
    return [{"location": f"{n}.html", "title": "", "text": escape(" ".join(run), quote=False)} for n, run in enumerate(runs)]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_graph_has_the_words_of_the_index(worker: SearchWorker, seed: int) -> None:
    assert worker.index(docs_of(words_with_digits(seed)))["type"] == 1
    assert len(worker.words()) > 10_000
    assert worker.graph() == worker.words()


@pytest.mark.slow
def test_the_graph_of_the_theme_as_it_is_has_other_words(browser: Browser) -> None:
    """That the tests here can fail."""
    worker = SearchWorker(browser.new_page(), installed_worker())
    worker.index(docs_of(words_with_digits(1)))
    assert worker.words() - worker.graph()
    assert worker.graph() - worker.words()
    worker.page.close()


@pytest.mark.slow
def test_the_graph_of_the_demo_has_the_words_of_its_index(worker: SearchWorker, demo_site: Path) -> None:
    index = json.loads((demo_site / "search/search_index.json").read_text("utf-8"))
    worker.index(index["docs"], index["config"])
    assert {"fault", "measured", "r12", "4k7"} <= worker.words()
    assert worker.graph() == worker.words()


@pytest.mark.slow
@pytest.mark.parametrize("count", [60, 200])
def test_the_graph_of_many_jobs_has_the_words_of_their_index(worker: SearchWorker, tmp_path: Path, count: int) -> None:
    kinds = all_kinds()
    views = [
        View(job, work_out(job, kinds), Pictures(), Edition.ARCHIVE)
        for _, job in read_all(folders(tmp_path, count, seed=count), kinds)[0]
    ]
    pages = [*archive_pages(gather([v.job for v in views]), views), *(page for v in views for page in job_pages(v))]
    worker.index([{"location": p.src, "title": "", "text": re.sub(r"<[^>]*>", " ", p.markdown)} for p in pages])
    assert {"owner", "7", str(count - 1), f"{count - 1:04}"} <= worker.words()
    assert worker.graph() == worker.words()
    found = {page[0]["location"] for page in worker.ask("+owner +7")["data"]["items"]}
    assert "jobs/job-007/handover.md" in found
