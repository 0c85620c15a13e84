"""A finished site, read as it lies on the disk: everything that must not be in it, a sentence each."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote, urlsplit

from benchrecord.intake.picture_tags import told_by
from benchrecord.model.file_names import nfc
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.markup import FOLLOWED, Read, is_foreign, read, read_cached, scheme, style_complaints
from benchrecord.publish.guarding.private import Private
from benchrecord.publish.guarding.spreadsheets import formulas
from benchrecord.publish.site_search.worker import as_installed

THEMES_OWN = {"__top", "__tabbed"}
NOT_CHECKED = ("404.html",)  # written for a server's root
PAGES, DRAWINGS, PICTURES = (
    (".html", ".htm", ".xhtml"),
    (".svg",),
    (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".avif"),
)
TABLES = (".csv", ".tsv")


@dataclass(frozen=True, slots=True)
class Built:
    """A site as it lies on the disk: the names of its files, and its pages as they were read."""

    files: frozenset[str]
    pages: Mapping[str, Read]


def complaints(
    site: Path,
    private: Private = Private(),  # noqa: B008  # it never changes
    own_scripts: tuple[re.Pattern[str], ...] = (),
    *,
    installed: Sequence[Path] = (),
    cache: Cache | None = None,
) -> Iterator[str]:
    """Yield all that is wrong with a built site, of which each file is read once.

    A file that lies in a folder of what is ``installed`` too, the same in every byte but for what is added to the theme's search,
    was not made of a job: what its letters happen to spell tells nothing.
    """
    files = sorted(p.relative_to(site).as_posix() for p in site.rglob("*") if p.is_file())
    looked, pages = Leaks(private, cache), dict[str, Read]()
    for name in files:
        data = (site / name).read_bytes()
        if name.endswith((*PAGES, *DRAWINGS)):
            pages[name] = read_cached(data, own_scripts, cache) if cache else read(data.decode("utf-8", "replace"), own_scripts)
        yield from _file_complaints(name, data)
        yield from () if _lies_in(installed, name, data) else looked.in_file(name, data)
    names = [nfc(name) for name in files]  # as links name them
    yield from looked.in_names(names)
    built = Built(frozenset(names), {nfc(name): page for name, page in pages.items()})
    for name, page in built.pages.items():
        yield from (f"{name}:{line}: {what}" for line, what in _page_complaints(built, name, page))


def _lies_in(folders: Sequence[Path], name: str, data: bytes) -> bool:
    made_of = as_installed(name, data)
    return any((folder / name).is_file() and (folder / name).read_bytes() == made_of for folder in folders)


def _file_complaints(name: str, data: bytes) -> Iterator[str]:
    ending = Path(name).suffix.lower()
    if ending == ".css":
        yield from (f"{name}: {what}" for what in style_complaints(data.decode("utf-8", "replace")))
    elif ending in TABLES:
        yield from (f"{name}:{line}: a cell that a spreadsheet takes for a formula" for line in formulas(data))
    elif ending in PICTURES and told_by(data).place:
        yield f"{name}: a picture that tells where it was taken"


def _page_complaints(built: Built, name: str, page: Read) -> Iterator[tuple[int, str]]:
    yield from page.complaints
    if name in NOT_CHECKED:
        return
    for line, url in page.loads:
        if is_foreign(url):
            yield line, f"a request to another host: {url}"
        elif reason := _dead(built, name, url, loaded=True):
            yield line, reason
    for line, url in page.links:
        if not is_foreign(url) and (reason := _dead(built, name, url)):
            yield line, reason


def _dead(built: Built, name: str, url: str, *, loaded: bool = False) -> str:
    """Say why an address leads nowhere; empty where it leads somewhere."""
    if scheme(url) in FOLLOWED or (loaded and scheme(url) == "data"):
        return ""
    parts = urlsplit(url)
    if parts.scheme:
        return f"leftover markup or an address that nothing opens: {url}"
    target = posixpath.normpath(posixpath.join(posixpath.dirname(name), unquote(parts.path))) if parts.path else name
    target = next((t for t in (target, posixpath.normpath(f"{target}/index.html")) if t in built.files), "")
    if not target:
        return f"a dead link: {url}"
    page = built.pages.get(target)
    if parts.fragment and page and unquote(parts.fragment) not in page.ids | THEMES_OWN:
        return f"a dead link: {url} has no such place"
    return ""
