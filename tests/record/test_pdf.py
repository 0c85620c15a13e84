"""The record as a PDF/A: it conforms, is tagged, has bookmarks, links and attachments, and is the same every time."""

from __future__ import annotations

import io
import sys
from datetime import date
from pathlib import Path

import pikepdf
import pytest

from benchrecord.model.job import Edition
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.printed import sheets_of
from benchrecord.publish.work import silent, work_out_all
from benchrecord.record.installing import install_extra, install_pango
from benchrecord.record.pdf import CannotPrintError, Sheets, conforms, libraries, pdf

PAGE = "<!DOCTYPE html><html lang=en><head><title>T</title></head><body><section class=chapter><h1 id=a>One</h1>{}</section></body></html>"
ATTACHED = {"parts.csv": ("What was done", b"ref,action\nR2,replaced\n")}


@pytest.fixture(scope="module")
def small_record(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    from small_jobs import SMALL_JOB, write_job  # noqa: PLC0415

    return record_of(write_job(tmp_path_factory.mktemp("pdf") / "small-job", SMALL_JOB))


def record_of(folder: Path) -> bytes:
    cache = Cache(default_folder())
    worked, problems = work_out_all([folder], Edition.OWNER, kinds=[], cache=cache, progress=silent)
    assert worked, problems
    return pdf(sheets_of(folder, worked, ATTACHED, follows="", cache=cache, progress=silent))


def test_it_conforms_to_pdf_a_3b(small_record: bytes) -> None:
    assert conforms(small_record) == []


def test_a_document_that_does_not_conform_is_told() -> None:
    plain = pikepdf.new()
    plain.add_blank_page()
    out = io.BytesIO()
    plain.save(out)
    assert conforms(out.getvalue())


def test_it_is_tagged_has_bookmarks_and_says_what_it_is(small_record: bytes) -> None:
    with pikepdf.open(io.BytesIO(small_record)) as document:
        assert document.Root.MarkInfo.Marked
        assert document.Root.Lang == "en"
        assert "Estuary 44" in str(document.docinfo["/Title"])
        with document.open_outline() as outline:
            titles = [item.title for item in outline.root]
        with document.open_metadata() as told:
            assert (told["pdfaid:part"], told["pdfaid:conformance"]) == ("3", "B")
    assert titles[1:] == [
        "Contents", "The instrument", "Before it is used, and after", "What was wrong, and what was done", "The notebook", "Boards",
        "What was measured", "How the numbers came about", "Photographs", "What is attached",
    ]  # fmt: skip


def test_the_data_is_attached_as_data(small_record: bytes) -> None:
    with pikepdf.open(io.BytesIO(small_record)) as document:
        assert {n: document.attachments[n].get_file().read_bytes() for n in document.attachments} == {
            n: c for n, (_, c) in ATTACHED.items()
        }
        assert {str(spec.AFRelationship) for spec in document.Root.AF} == {"/Data"}


def test_links_lead_within_it_and_nowhere_else(small_record: bytes) -> None:
    with pikepdf.open(io.BytesIO(small_record)) as document:
        links = [a for page in document.pages for a in page.get("/Annots", []) if a.get("/Subtype") == "/Link"]
    assert len(links) > 20
    assert all("/URI" not in str(link.get("/A", "")) for link in links)


def test_it_is_the_same_every_time(small_record: bytes, tmp_path: Path) -> None:
    from small_jobs import SMALL_JOB, write_job  # noqa: PLC0415

    assert record_of(write_job(tmp_path / "elsewhere" / "small-job", SMALL_JOB)) == small_record


def test_nothing_is_read_that_is_not_given(tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("secret")
    asking = f'<img src="file://{tmp_path}/secret.csv" alt="no"><img src="http://127.0.0.1:9/x.png" alt="no"><link rel=attachment href="file://{tmp_path}/secret.csv"><link rel=stylesheet href="file://{tmp_path}/secret.csv">'
    made = pdf(Sheets(PAGE.format(asking), {}, day=date(2026, 4, 18)))
    with pikepdf.open(io.BytesIO(made)) as document:
        assert list(document.attachments) == []


def test_a_missing_library_is_told_with_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(CannotPrintError) as told:
        libraries()
    assert install_extra() in str(told.value)
    assert install_pango() in str(told.value)
