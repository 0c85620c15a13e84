"""The plugin that reads the finished site and refuses what must not leave the bench."""

from __future__ import annotations

import re
from collections.abc import Iterator
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


def complaints(site: Path) -> Iterator[str]:
    """Yield all that is wrong with a built site, a sentence each."""
    pages = {p: read(p) for p in sorted(site.rglob("*.html")) if p.relative_to(site).as_posix() not in NOT_CHECKED}
    for path, page in pages.items():
        name = path.relative_to(site).as_posix()
        yield from (f"{name}:{line}: {what}" for line, what in _page_complaints(site, path, page, pages))
    for path in sorted(site.rglob("*.css")):
        for match in CSS_REQUEST.finditer(path.read_text("utf-8", "replace")):
            yield f"{path.relative_to(site).as_posix()}: a request to another host: {match[1]}"


def read(path: Path) -> Read:
    """Read one page."""
    page = Read()
    page.feed(path.read_text("utf-8", "replace"))
    return page


def _page_complaints(site: Path, path: Path, page: Read, pages: dict[Path, Read]) -> Iterator[tuple[int, str]]:
    for line, url in page.loads:
        if _is_foreign(url):
            yield line, f"a request to another host: {url}"
        elif reason := _dead(site, path, url, pages):
            yield line, reason
    for line, url in page.links:
        if not _is_foreign(url) and (reason := _dead(site, path, url, pages)):
            yield line, reason
    yield from ((line, f"leftover markup: <!-- {PLACEHOLDER} -->") for line in page.placeholders)


def _is_foreign(url: str) -> bool:
    return urlsplit(url).scheme in ("http", "https", "ftp", "ws", "wss") or url.startswith("//")


def _dead(site: Path, path: Path, url: str, pages: dict[Path, Read]) -> str:
    """Say why an address leads nowhere; empty where it leads somewhere."""
    parts = urlsplit(url)
    if parts.scheme in ("mailto", "tel", "data", "javascript"):
        return ""
    if parts.scheme:
        return f"leftover markup or an address that nothing opens: {url}"
    target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
    target = target / "index.html" if target.is_dir() else target
    if not target.is_relative_to(site.resolve()) or not target.is_file():
        return f"a dead link: {url}"
    known = pages.get(site / target.relative_to(site.resolve()))
    if parts.fragment and known and unquote(parts.fragment) not in known.ids | {"__top", "__tabbed"}:
        return f"a dead link: {url} has no such place"
    return ""
