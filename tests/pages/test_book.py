"""The document that is printed: all of the record, in the order of a catalogue, with links within it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchrecord.model.job import Edition
from benchrecord.pages.book import Beside, book, contents, inside, place
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.printed import notes_as_html
from benchrecord.publish.work import make_site, silent
from small_jobs import SMALL_JOB, write_job


def document_of(folder: Path, **more: str | bytes) -> str:
    site, problems = make_site(
        [write_job(folder, {**SMALL_JOB, **more})], Edition.OWNER, kinds=[], cache=Cache(default_folder()), progress=silent
    )
    assert site, problems
    view = site.views[0]
    return book(view, notes_as_html(view), Beside(None, [("parts.csv", "What was done")], "former-record"))


@pytest.fixture
def document(tmp_path: Path) -> str:
    return document_of(tmp_path / "small-job")


def test_all_that_an_owner_wants_to_know_is_in_it(document: str) -> None:
    for said in (
        "Ottilie Marrenbach", "VP-7", "Corvin Hathersedge", "certifies nothing", "What was not done", "What to watch", "April 2031", "hum",
        "R2", "was <strong>dark</strong>", "As it came", "Supply rails", "15.02", "one knob gone", "former-record",
    ):  # fmt: skip
        assert said in document, said


def test_every_link_leads_to_a_place_in_it(document: str) -> None:
    ids = re.findall(r'\bid="([^"]+)"', document)
    links = re.findall(r'<a\b[^>]*href="([^"]+)"', document)
    assert len(ids) == len(set(ids))
    assert len(links) > 20
    assert [link for link in links if link.removeprefix("#") not in ids] == []
    assert "br:/jobs/small-job/assets" in document


def test_a_link_to_what_is_not_there_becomes_words() -> None:
    assert (
        inside('<a class="x" href="br:/jobs/j/gone.md#x">there</a> <b id="boards-psu--R4"></b>')
        == '<span>there</span> <b id="boards-psu--R4"></b>'
    )
    assert '<a href="#boards-psu--R4">R4</a>' in inside(
        '<a href="br:/jobs/j/boards/psu.md#part-R4">R4</a><i id="boards-psu--R4"></i>'
    )


def test_places_are_told_apart_and_fit_into_an_address() -> None:
    assert place("br:/jobs/x/boards/psu.md#R4") == place("br:/jobs/x/boards/psu.md#part-R4") == "boards-psu--R4"
    assert place("br:/jobs/x/index.md") == "index"


def test_the_contents_are_the_headings_that_have_a_place() -> None:
    made = contents('<h1 id="a">One</h1><h2 id="b">Two <em>and</em> more</h2><h2>no place</h2><h1 id="c">Three</h1>')
    assert [(c.id, c.title, c.parts) for c in made] == [("a", "One", (("b", "Two and more"),)), ("c", "Three", ())]


def test_strange_words_stay_words(tmp_path: Path) -> None:
    said = document_of(tmp_path / "small-job", **{"faults.csv": "symptom\n<script>alert(1)</script>\n"})
    assert "<script>" not in said
    assert "&lt;script&gt;" in said


def test_what_is_not_the_owner_s_is_not_in_it(document: str) -> None:
    for private in ("Quayside", "Not for the owner", "20-secret"):
        assert private not in document


def test_a_job_with_nothing_but_its_job_yml_makes_a_document(tmp_path: Path) -> None:
    folder = write_job(tmp_path / "bare", {"job.yml": "title: T\n"})
    site, _ = make_site([folder], Edition.OWNER, kinds=[], cache=Cache(default_folder()), progress=silent)
    assert site
    made = book(site.views[0], {}, Beside())
    assert "The record has just begun." in made
    assert "Nothing is recorded as left undone." in made
