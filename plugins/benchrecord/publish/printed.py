"""The record as it is printed: its notes as HTML, its pictures at the size of paper, and the PDF of it."""

from __future__ import annotations

import gc
import os
import re
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from html import unescape
from multiprocessing import active_children, get_context, parent_process
from pathlib import Path

from markdown import Markdown

from benchrecord.pages import addresses
from benchrecord.pages.book import Beside, book, note_for_print
from benchrecord.pages.view import Pictures, View
from benchrecord.publish.cache import Cache
from benchrecord.publish.links import LinksExtension, Reader
from benchrecord.publish.photos import Progress, printed_in_background
from benchrecord.publish.pictures import draw_for_print
from benchrecord.publish.work import Worked
from benchrecord.record.drawings import drawn
from benchrecord.record.identity import day_of
from benchrecord.record.pdf import Sheets, libraries, pdf

Attached = Mapping[str, tuple[str, bytes]]  # files by name, each with what it holds
EXTENSIONS = ("attr_list", "md_in_html", "tables", "footnotes")


class Press:
    """A process of its own that makes a PDF while other things are done: it takes one core for half a minute."""

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        """Let it get ready."""
        self._pool = pool
        self._ready = pool.submit(_get_ready)

    def wait(self) -> None:
        """Wait until it is ready.

        Raises
        ------
        CannotPrintError
            Where a library is missing.
        """
        self._ready.result()

    def print(self, sheets: Sheets) -> Future[bytes]:
        """Begin to print."""
        return self._pool.submit(pdf, sheets)


@contextmanager
def press() -> Iterator[Press]:
    """Start what prints, beforehand: its libraries take a second to load. It ends where whoever waits for it is interrupted."""
    others = {*active_children()}
    with ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_watch) as pool:
        try:
            yield Press(pool)
        except BaseException:
            for process in {*active_children()} - others:
                process.terminate()
            raise


def _watch() -> None:
    """Watch the process that this one prints for, before any work comes: it may be killed before it sends some."""
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _get_ready() -> None:
    gc.disable()  # a document lasts as long as its process: looking through it again and again takes a tenth of the time
    libraries()


def _end_with_parent() -> None:
    """Wait for the process that this one prints for, and end with it: one that is killed tells nobody."""
    if parent := parent_process():
        parent.join()
        os._exit(1)


def sheets_of(folder: Path, worked: Worked, attached: Attached, *, follows: str, cache: Cache, progress: Progress) -> Sheets:
    """Return all that the PDF of the one job that was worked out is made from."""
    _, job, findings = worked.shown[0]
    with printed_in_background(folder, job.photos, cache) as making:
        pictures, files = draw_for_print(folder, job, findings, worked.kinds, cache=cache, progress=progress)
        photographs = {
            f"br:/{pictures.photos[p.file].fallback.src}": made.result() for p, made in zip(job.photos, making, strict=True)
        }
    view, day = View(job, findings, pictures, worked.reader), day_of(job)
    html = book(view, notes_as_html(view), Beside(day, [(name, about) for name, (about, _) in attached.items()], follows))
    published = {f"br:/{src}": content for src, content in files.items()}
    shown = {**published, **photographs, **_drawings(pictures)}
    return Sheets(html, {name: shown[name] for name in _asked_for(html) & shown.keys()}, attached, day)


def _asked_for(html: str) -> set[str]:
    """Return the addresses of all pictures of a document: no other has to be given to another process."""
    return {unescape(address) for address in re.findall(r'<img\b[^>]*?\bsrc="([^"]*)"', html)}


def notes_as_html(view: View) -> dict[str, str]:
    """Return each note as HTML, by its id, with the links that it has on the site."""
    made = {}
    for note in view.job.notes:
        reader = Reader(None, (view,), note.board, note.file, generated=True)
        markdown = Markdown(extensions=[*EXTENSIONS, LinksExtension(reader)])
        markdown.reset()
        made[note.id] = markdown.convert(note_for_print(view, note))
    return made


def _drawings(pictures: Pictures) -> dict[str, bytes]:
    """Return charts and maps in ink, by their address."""
    charts = {f"chart/{addresses.slug(name)}": drawing.svg for name, drawing in pictures.charts.items()}
    maps = {f"map/{addresses.slug(name)}": b.map.svg for name, b in pictures.boards.items() if b.map}
    return drawn({**charts, **maps})
