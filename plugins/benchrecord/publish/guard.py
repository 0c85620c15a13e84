"""The plugin that reads the finished site and refuses what must not leave the bench."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, event_priority

from benchrecord.publish.config import GuardConfig

LOADED = {("img", "src"), ("img", "srcset"), ("script", "src"), ("iframe", "src"), ("source", "src"), ("source", "srcset"), ("video", "src"), ("audio", "src"), ("embed", "src"), ("object", "data"), ("image", "href"), ("use", "href")}  # fmt: skip
FETCHING_RELS = {"stylesheet", "icon", "preload", "preconnect", "dns-prefetch", "modulepreload", "manifest", "prefetch"}
PLACEHOLDER = "jobs"  # the comment that a hand-written page asks for the cards of all jobs with
CSS_REQUEST = re.compile(r"(?:url\(\s*['\"]?|@import\s+['\"])((?:https?:)?//[^'\")\s]+)")
FOREIGN = ("http:", "https:", "ftp:", "ws:", "wss:", "//")
THEMES_OWN = {"__top", "__tabbed"}
NOT_CHECKED = ("404.html",)  # written for a server's root


@dataclass
class Read(HTMLParser):
    """What one page asks for and offers."""

    ids: set[str] = field(default_factory=set)
    links: list[tuple[int, str]] = field(default_factory=list)
    loads: list[tuple[int, str]] = field(default_factory=list)
    placeholders: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Set the parser up."""
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note ids, links and requests."""
        line, given = self.getpos()[0], {k: v or "" for k, v in attrs}
        self.ids |= {given[k] for k in ("id", "name") if given.get(k)}
        if tag == "a" and "href" in given:
            self.links.append((line, given["href"]))
        if tag == "link" and FETCHING_RELS & set(given.get("rel", "").split()):
            self.loads.append((line, given.get("href", "")))
        for name, value in given.items():
            if (tag, name) in LOADED:
                urls = [u.split()[0] for u in value.split(",") if u.split()] if name == "srcset" else [value]
                self.loads += [(line, url) for url in urls]

    def handle_comment(self, data: str) -> None:
        """Note a placeholder that nobody filled."""
        if data.strip() == PLACEHOLDER:
            self.placeholders.append(self.getpos()[0])


class GuardPlugin(BasePlugin[GuardConfig]):
    """``benchrecord-guard``: dead links, foreign requests and leftovers stop the build."""

    @event_priority(-200)  # last: it reads what all others have written
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Read every file of the site."""
        found = list(complaints(Path(config.site_dir)))
        if found:
            raise PluginError("The site was refused:\n" + "\n".join(f"  {line}" for line in found) + "\n")


@dataclass(frozen=True, slots=True)
class Built:
    """A site as it lies on the disk: the names of its files, and its pages as they were read."""

    files: frozenset[str]
    pages: Mapping[str, Read]


def complaints(site: Path) -> Iterator[str]:
    """Yield all that is wrong with a built site, a sentence each."""
    files = sorted(p.relative_to(site).as_posix() for p in site.rglob("*") if p.is_file())
    pages = {name: read(site / name) for name in files if name.endswith(".html") and name not in NOT_CHECKED}
    built = Built(frozenset(files), pages)
    for name, page in pages.items():
        yield from (f"{name}:{line}: {what}" for line, what in _page_complaints(built, name, page))
    for name in (n for n in files if n.endswith(".css")):
        for match in CSS_REQUEST.finditer((site / name).read_text("utf-8", "replace")):
            yield f"{name}: a request to another host: {match[1]}"


def read(path: Path) -> Read:
    """Read one page."""
    page = Read()
    page.feed(path.read_text("utf-8", "replace"))
    return page


def _page_complaints(built: Built, name: str, page: Read) -> Iterator[tuple[int, str]]:
    for line, url in page.loads:
        if _is_foreign(url):
            yield line, f"a request to another host: {url}"
        elif reason := _dead(built, name, url):
            yield line, reason
    for line, url in page.links:
        if not _is_foreign(url) and (reason := _dead(built, name, url)):
            yield line, reason
    yield from ((line, f"leftover markup: <!-- {PLACEHOLDER} -->") for line in page.placeholders)


def _is_foreign(url: str) -> bool:
    return url.startswith(FOREIGN)


def _dead(built: Built, name: str, url: str) -> str:
    """Say why an address leads nowhere; empty where it leads somewhere."""
    parts = urlsplit(url)
    if parts.scheme in ("mailto", "tel", "data", "javascript"):
        return ""
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
