"""A finished site, read as it lies on the disk: everything that must not be in it, a sentence each."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from urllib.parse import unquote, urlsplit

from benchrecord.intake.picture_tags import told_by
from benchrecord.publish.guarding.containers import UnreadableError, inside
from benchrecord.publish.guarding.markup import FOLLOWED, Read, is_foreign, read, scheme, style_complaints
from benchrecord.publish.guarding.private import HEAD, Private
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.guarding.spreadsheets import formulas

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


def complaints(site: Path, private: Private = Private(), own_scripts: tuple[re.Pattern[str], ...] = ()) -> Iterator[str]:  # noqa: B008  # it never changes
    """Yield all that is wrong with a built site."""
    files = sorted(p.relative_to(site).as_posix() for p in site.rglob("*") if p.is_file())
    pages = {name: read(site / name, own_scripts) for name in files if name.endswith((*PAGES, *DRAWINGS))}
    built = Built(frozenset(files), pages)
    for name, page in pages.items():
        yield from (f"{name}:{line}: {what}" for line, what in _page_complaints(built, name, page))
    for name in files:
        yield from _file_complaints(site, name)
    yield from leaks(((name, site / name) for name in files), private)


def leaks(files: Iterable[tuple[str, Path]], private: Private) -> Iterator[str]:
    """Yield where files, each by its name, hold what is private: which field, at which byte, and never its value."""
    search = Search(private.things)
    originals = {(size, digest): what for size, digest, what in private.files}
    for name, path in files:
        yield from (
            f"{name}: the name of it tells {find.field}" for find in search.finds(name.encode("utf-8", "surrogateescape"))
        )
        data = path.read_bytes()
        try:
            for inner, content in ((name, data), *inside(name, data)):
                yield from (f"{inner}: byte {find.offset} tells {find.field}" for find in search.finds(content))
                if what := originals.get((len(content), sha256(content[:HEAD]).hexdigest())):
                    yield f"{inner}: {what}, as it lies in the job folder"
        except UnreadableError as error:
            yield f"{name}: nobody can say what is in it: {error}"


def _file_complaints(site: Path, name: str) -> Iterator[str]:
    ending = Path(name).suffix.lower()
    if ending == ".css":
        yield from (f"{name}: {what}" for what in style_complaints((site / name).read_text("utf-8", "replace")))
    elif ending in TABLES:
        yield from (
            f"{name}:{line}: a cell that a spreadsheet takes for a formula" for line in formulas((site / name).read_bytes())
        )
    elif ending in PICTURES and told_by((site / name).read_bytes()).place:
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
