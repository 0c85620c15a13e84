"""What a page or a drawing asks for, offers and would run."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

from benchrecord.publish.cache import Cache

SOURCE = Path(__file__).read_bytes()  # what is kept of a page depends on how it was read
LOADED = {("img", "src"), ("img", "srcset"), ("script", "src"), ("source", "src"), ("source", "srcset"), ("video", "src"), ("video", "poster"), ("audio", "src"), ("track", "src"), ("input", "src"), ("image", "href"), ("image", "xlink:href"), ("use", "href"), ("use", "xlink:href"), ("feimage", "href"), ("feimage", "xlink:href"), ("script", "href"), ("script", "xlink:href"), ("body", "background"), ("table", "background"), ("td", "background")}  # fmt: skip
FETCHING_RELS = {
    "stylesheet",
    "icon",
    "preload",
    "preconnect",
    "dns-prefetch",
    "modulepreload",
    "manifest",
    "prefetch",
    "prerender",
}
EMBEDS = {"iframe", "object", "embed", "applet", "frame", "base", "foreignobject", "portal", "fencedframe"}
LINKING = ("href", "xlink:href", "formaction", "action", "ping", "cite")
FOLLOWED = {
    "http",
    "https",
    "ftp",
    "mailto",
    "tel",
    "sms",
    "geo",
    "xmpp",
    "matrix",
}  # a reader is asked, or knows where it leads
FOREIGN = ("http:", "https:", "ftp:", "ws:", "wss:", "//")
PLACEHOLDERS = {"jobs", "what each reader sees"}  # comments by which a hand-written page asks for something
CSS_REQUEST = re.compile(r"(?:url\(\s*+['\"]?|@import\s++['\"])\s*+((?:https?:|ftp:)?//[^'\")\s]+)", re.IGNORECASE)
CSS_RUNS = re.compile(r"expression\s*\(|-moz-binding|behavior\s*:|javascript\s*:", re.IGNORECASE)
TEMPLATE = re.compile(r"\{\{|\{%|\}\}|%\}")
NOT_RUN = {"application/json", "application/ld+json", "text/plain"}
# The theme searches and changes its colours by forms that are sent nowhere: these, without an action, are no forms in this sense.
THEMES_FORMS = ({"class": "md-search__form", "name": "search"}, {"class": "md-header__option", "data-md-component": "palette"})
_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", re.DOTALL | re.IGNORECASE)
_SCRIPT_GAP = r"[^<>\"'`;(){}]*"
_FILLED = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)


@dataclass
class Read(HTMLParser):
    """What one page asks for and offers; ``complaints`` are what must not be in it, each with its line."""

    own_scripts: tuple[re.Pattern[str], ...] = ()
    ids: set[str] = field(default_factory=set)
    links: list[tuple[int, str]] = field(default_factory=list)
    loads: list[tuple[int, str]] = field(default_factory=list)
    complaints: list[tuple[int, str]] = field(default_factory=list)
    inside: str = ""

    def __post_init__(self) -> None:
        """Set the parser up."""
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note ids, links and requests, and what would run."""
        line, given = self.getpos()[0], {k: v or "" for k, v in attrs}
        self.ids |= {given[k] for k in ("id", "name") if given.get(k)}
        self.inside = tag if tag in ("script", "style") and given.get("type") not in NOT_RUN and "src" not in given else ""
        if tag in ("a", "area") and "href" in given:
            self.links.append((line, given["href"]))
        if tag == "link" and FETCHING_RELS & set(given.get("rel", "").lower().split()):
            self.loads.append((line, given.get("href", "")))
        self.loads += [(line, url) for name, value in given.items() if (tag, name) in LOADED for url in _urls(name, value)]
        self.complaints += [(line, what) for what in _of_a_tag(tag, given)]

    def handle_data(self, data: str) -> None:
        """Look at scripts and styles that stand in the page."""
        line = self.getpos()[0]
        if self.inside == "script" and data.strip() and not any(p.fullmatch(data.strip()) for p in self.own_scripts):
            self.complaints.append((line, "a script that is not of the theme"))
        if self.inside == "style":
            self.complaints += [(line, what) for what in style_complaints(data)]

    def handle_endtag(self, tag: str) -> None:
        """Leave a script or a style."""
        self.inside = "" if tag == self.inside else self.inside

    def handle_comment(self, data: str) -> None:
        """Note a placeholder that nobody filled."""
        if data.strip() in PLACEHOLDERS:
            self.complaints.append((self.getpos()[0], f"leftover markup: <!-- {data.strip()} -->"))

    def handle_pi(self, data: str) -> None:
        """Note an instruction to fetch a style."""
        if data.lower().startswith("xml-stylesheet"):
            self.complaints.append((self.getpos()[0], "a style from elsewhere"))

    def unknown_decl(self, data: str) -> None:
        """Pass over a declaration of XML."""

    def handle_decl(self, decl: str) -> None:
        """Note a declaration that may define further text."""
        if "entity" in decl.lower():
            self.complaints.append((self.getpos()[0], "a declaration of entities"))


def read(text: str, own_scripts: tuple[re.Pattern[str], ...] = ()) -> Read:
    """Read one page or one drawing."""
    page = Read(own_scripts)
    page.feed(text)
    page.close()
    return page


def read_cached(text: bytes, own_scripts: tuple[re.Pattern[str], ...], cache: Cache) -> Read:
    """Read one page or one drawing; what was read of the very same bytes before is taken from the cache."""
    allowed = "\0".join(pattern.pattern for pattern in own_scripts)
    read_before = cache.made(
        "markup", SOURCE, allowed, text, make=lambda: _as_bytes(read(text.decode("utf-8", "replace"), own_scripts))
    )
    ids, *found = json.loads(read_before)
    links, loads, complaints = ([(int(line), str(words)) for line, words in pairs] for pairs in found)
    return Read(own_scripts, set(ids), links, loads, complaints)


def _as_bytes(page: Read) -> bytes:
    return json.dumps([sorted(page.ids), page.links, page.loads, page.complaints]).encode("ascii")


def scripts_of(theme_folders: Iterable[Path]) -> tuple[re.Pattern[str], ...]:
    """Return the scripts that a theme's templates write into pages, as patterns: what they fill in may be any address or word."""
    texts = {
        _SCRIPT_GAP.join(re.escape(part) for part in _FILLED.split(body.strip()))
        for folder in theme_folders
        for template in sorted(Path(folder).rglob("*.html"))
        for body in _SCRIPT.findall(template.read_text("utf-8", "replace"))
        if body.strip() and _FILLED.sub("", body).strip()
    }
    return tuple(re.compile(text, re.DOTALL) for text in sorted(texts))


def style_complaints(text: str) -> Iterator[str]:
    """Yield what a style asks for or would run."""
    yield from (f"a request to another host: {m[1]}" for m in CSS_REQUEST.finditer(text))
    if match := CSS_RUNS.search(text):
        yield f"a style that would run something: {match[0]}"


def is_foreign(url: str) -> bool:
    """Say whether an address is one of another host, as a browser reads it."""
    return tidy(url).startswith(FOREIGN)


def tidy(url: str) -> str:
    """Return an address as a browser reads it: no blanks and control characters before its scheme, slashes for backslashes."""
    return re.sub(r"[\x00-\x20]", "", url).replace("\\", "/").lower()


def scheme(url: str) -> str:
    """Return the scheme of an address, in lower case; empty where it has none."""
    match = re.match(r"([a-z][a-z0-9+.-]*):", tidy(url))
    return match[1] if match else ""


def _urls(name: str, value: str) -> list[str]:
    return [u.split()[0] for u in value.split(",") if u.split()] if name == "srcset" else [value]


def _of_a_tag(tag: str, given: dict[str, str]) -> Iterator[str]:
    if tag in EMBEDS:
        yield f"something embedded: <{tag}>"
    if tag == "form" and given not in THEMES_FORMS:
        yield "a form"
    if tag == "meta" and given.get("http-equiv", "").lower() == "refresh":
        yield "a page that sends its reader elsewhere"
    yield from (f"something that would run: {name}=" for name in given if name.startswith("on"))
    yield from (what for name, value in given.items() for what in _of_an_attribute(name, value))


def _of_an_attribute(name: str, value: str) -> Iterator[str]:
    if name == "srcdoc":
        yield "something embedded: srcdoc="
    if name == "style":
        yield from style_complaints(value)
    if name in (*LINKING, "src", "data", "to", "values", "from") and scheme(value) in ("javascript", "vbscript", "livescript"):
        yield f"something that would run: {name}={scheme(value)}:"
    if name in LINKING and scheme(value) == "data":
        yield f"something that would run: {name}=data:"
    if name in ("href", "src", "srcset", "class", "id", "style", "action") and TEMPLATE.search(value):
        yield f"leftover markup: {name}={value[:40]}"
