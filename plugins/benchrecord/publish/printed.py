"""The record as it is printed: its notes as HTML, its pictures at the size of paper, and the PDF of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

from markdown import Markdown

from benchrecord.pages import addresses
from benchrecord.pages.book import Beside, book, note_for_print
from benchrecord.pages.view import View
from benchrecord.publish.cache import Cache
from benchrecord.publish.links import LinksExtension, Reader
from benchrecord.publish.photos import for_print
from benchrecord.publish.work import Site
from benchrecord.record.drawings import drawn
from benchrecord.record.identity import day_of
from benchrecord.record.pdf import Sheets, pdf

EXTENSIONS = ("attr_list", "md_in_html", "tables", "footnotes")


@contextmanager
def in_background(sheets: Sheets) -> Iterator[Future[bytes]]:
    """Make a PDF in a process of its own, while other things are done: it takes one core for half a minute."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        yield pool.submit(pdf, sheets)


def sheets_of(folder: Path, site: Site, attached: Mapping[str, tuple[str, bytes]], *, follows: str, cache: Cache) -> Sheets:
    """Return all that the PDF of the one job of a site is made from; ``attached`` are files with what each holds."""
    view = site.views[0]
    day = day_of(view.job)
    beside = Beside(day, [(name, about) for name, (about, _) in attached.items()], follows)
    html = book(view, notes_as_html(site, view), beside)
    return Sheets(html, _pictures(folder, site, view, cache), attached, day)


def notes_as_html(site: Site, view: View) -> dict[str, str]:
    """Return each note as HTML, by its id, with the links that it has on the site."""
    made = {}
    for note in view.job.notes:
        reader = Reader(site, (view,), note.board, note.file, generated=True)
        markdown = Markdown(extensions=[*EXTENSIONS, LinksExtension(reader)])
        markdown.reset()
        made[note.id] = markdown.convert(note_for_print(view, note))
    return made


def _pictures(folder: Path, site: Site, view: View, cache: Cache) -> dict[str, bytes]:
    """Return every picture that is printed by its address: photographs anew, cut-outs as they are published, drawings in ink."""
    pictures = view.pictures
    published = {f"br:/{src}": content for src, content in site.files.items() if src.endswith((".webp", ".jpg"))}
    photographs = {f"br:/{pictures.photos[p.file].fallback.src}": for_print(folder, p, cache) for p in view.job.photos}
    charts = {f"chart/{addresses.slug(name)}": drawing.svg for name, drawing in pictures.charts.items()}
    maps = {f"map/{addresses.slug(name)}": b.map.svg for name, b in pictures.boards.items() if b.map}
    return {**published, **photographs, **drawn({**charts, **maps})}
