"""The record as one PDF/A-3b: set by WeasyPrint, put right by pikepdf, and the same in every byte whenever it is made.

Source of what must hold: ISO 19005-3:2012, as far as pikepdf's checker of it goes.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from benchrecord.record.installing import install_extra, install_pango

LOOK = Path(__file__).with_name("book.css")
MIME = {"csv": "text/csv", "json": "application/json", "jsonld": "application/ld+json"}
FORMS = {"jpg": "image/jpeg", "webp": "image/webp", "png": "image/png"}
UNDATED = date(1980, 1, 1)


class CannotPrintError(Exception):
    """There is no PDF; the message says why, and what would help."""


@dataclass(frozen=True, slots=True)
class Sheets:
    """What is printed: the HTML, every picture by its address, the files to attach with what each holds, and the day of it."""

    html: str
    pictures: Mapping[str, bytes]
    attached: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)
    day: date | None = None


def pdf(sheets: Sheets) -> bytes:
    """Return the document as PDF/A-3b.

    Raises
    ------
    CannotPrintError
        Where a library is missing, or where what was made does not conform.
    """
    weasyprint, _ = libraries()
    moment = datetime.combine(sheets.day or UNDATED, time(), UTC)
    attachments = [
        weasyprint.Attachment(file_obj=io.BytesIO(content), name=name, description=about, created=moment, modified=moment, relationship="Data")
        for name, (about, content) in sheets.attached.items()
    ]  # fmt: skip
    document = weasyprint.HTML(string=sheets.html, base_url="record:/", url_fetcher=_fetcher(weasyprint, sheets.pictures))
    made = document.write_pdf(
        stylesheets=[str(LOOK)], attachments=attachments, pdf_variant="pdf/a-3b", pdf_tags=True, pdf_identifier=b"benchrecord"
    )
    return _put_right(made, moment)


def conforms(content: bytes) -> list[str]:
    """Return what pikepdf's checker of PDF/A-3b says against a document; nothing where it conforms."""
    _, pikepdf = libraries()
    from pikepdf import pdfa  # noqa: PLC0415  # only where something is checked

    with pikepdf.open(io.BytesIO(content)) as document:
        report = pdfa.check(document, "3b")
    return [str(finding) for finding in report.findings]


def libraries() -> tuple[Any, Any]:
    """Return WeasyPrint and pikepdf; both need more than Python has."""
    for name in ("fontTools", "weasyprint"):
        logging.getLogger(name).setLevel(logging.ERROR)
    try:
        import pikepdf  # noqa: PLC0415  # only a record needs them
        import weasyprint  # noqa: PLC0415
    except ImportError as error:
        more = f"and, unless Pango is installed already:\n\n  {install_pango()}"
        raise CannotPrintError(f"The PDF cannot be made: {error}. Install it:\n\n  {install_extra()}\n\n{more}\n") from error
    except OSError as error:
        reason = str(error).splitlines()[0]
        raise CannotPrintError(f"The PDF cannot be made: {reason}. Install Pango:\n\n  {install_pango()}\n") from error
    return weasyprint, pikepdf


def _fetcher(weasyprint: Any, pictures: Mapping[str, bytes]) -> Any:
    """Give what is printed its own pictures, and nothing else: no file of this computer and no other host."""
    from weasyprint.urls import URLFetcherResponse  # noqa: PLC0415

    class Own(weasyprint.urls.URLFetcher):  # type: ignore[misc]  # a class of a library that is loaded late
        def fetch(self, url: str, headers: Any = None) -> Any:  # noqa: ARG002  # the library's own call
            if url not in pictures:
                raise ValueError("not a picture of this record")
            kind = "image/svg+xml" if url.startswith("drawing:") else FORMS.get(url.rpartition(".")[2], "image/jpeg")
            return URLFetcherResponse(url, pictures[url], {"Content-Type": kind})

    return Own()


def _put_right(made: bytes, moment: datetime) -> bytes:
    """Take out what a PDF/A may not have: empty dictionaries of patterns and shadings; write it so that it is the same every time."""
    _, pikepdf = libraries()
    with pikepdf.open(io.BytesIO(made)) as document:
        for thing in document.objects:
            if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
                _without_empty(thing, pikepdf)
        for name in ("/CreationDate", "/ModDate"):
            document.docinfo[name] = moment.strftime("D:%Y%m%d%H%M%SZ")
        out = io.BytesIO()
        document.save(out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate, compress_streams=True)
    return out.getvalue()


def _without_empty(thing: Any, pikepdf: Any) -> None:
    resources = thing.get("/Resources", thing)
    for name in ("/Pattern", "/Shading"):
        if (
            isinstance(resources, pikepdf.Dictionary)
            and isinstance(resources.get(name), pikepdf.Dictionary)
            and not resources[name].keys()
        ):
            del resources[name]
