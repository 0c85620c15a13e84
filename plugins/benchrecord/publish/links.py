"""The plugin that links what pages name: designators, checks, boards and the rest, in hand-written pages too."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.extensions import Extension
from markdown.treeprocessors import Treeprocessor
from markdown.util import AtomicString
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import Files
from mkdocs.structure.pages import Page

from benchrecord.model.references import Ambiguous, Mention, Target, is_reference, mentions, part_key
from benchrecord.pages import addresses
from benchrecord.pages.view import View
from benchrecord.problems import Place, Problem, as_text, in_order
from benchrecord.publish.config import LinksConfig
from benchrecord.publish.harmless import make_harmless
from benchrecord.publish.jobs import JobsPlugin
from benchrecord.publish.markdown_limits import register, unescaped
from benchrecord.publish.work import Site

NOT_INSIDE = frozenset({"a", "code", "pre", "h1", "h2", "h3", "h4", "h5", "h6", "script", "style", "svg"})
AFTER_INLINE = 5  # inline patterns run at 20 and mkdocs' own link resolver at 0
ATTRIBUTE = re.compile(r'(?<=[\s:])(?:href|src|srcset)="[^"]*br:/[^"]*"')
ADDRESS = re.compile(r"br:/([^\"#\s,]+)")


@dataclass
class Reader:
    """What the page being read may refer to: its own job (or all jobs) and board; problems are gathered on the way."""

    site: Site | None = None
    views: tuple[View, ...] = ()
    board: str = ""
    source: str = ""
    markdown: str = ""
    generated: bool = False
    problems: list[Problem] = field(default_factory=list)

    def link(self, text: str) -> str | None:
        """Return where a reference leads, None where it leads nowhere that this reader may go."""
        found = [(v, t) for v in self.views if isinstance(t := v.index.link(text, self.board), Target)]
        if len(found) == 1:
            return addresses.of(found[0][0].job, found[0][1])
        if not self.generated:
            self._complain(text, [v.job.id for v, _ in found])
        return None

    def part(self, mention: Mention) -> str | None:
        """Return where a bare designator leads, if it leads to just one place."""
        results = [(v, v.index.part(part_key(mention.board, mention.ref), self.board)) for v in self.views]
        found = [(v, t) for v, t in results if isinstance(t, Target)]
        unclear = [t for _, t in results if isinstance(t, Ambiguous)]
        return addresses.of(found[0][0].job, found[0][1]) if len(found) == 1 and not unclear else None

    def _complain(self, text: str, jobs: list[str]) -> None:
        hidden = self.site and any(isinstance(i.link(text, self.board), Target) for i in self.site.whole.values())
        if hidden and not jobs:
            return
        code = "ambiguous-reference" if jobs else "dead-reference"
        remedy = "write job: in the page's front matter" if jobs else "write the id of something that the job has"
        expected = "something that one job has" if not jobs else f"one job; these have it: {', '.join(jobs)}"
        self.problems.append(Problem(code, Place(self.source, self._line(text)), text, expected, remedy))

    def _line(self, text: str) -> int | None:
        at = self.markdown.find(text)
        return self.markdown.count("\n", 0, at) + 1 if at >= 0 else None


class References(Treeprocessor):
    """Makes links of references and of bare designators."""

    def __init__(self, md: Markdown, reader: Reader) -> None:
        """Read on behalf of ``reader``."""
        super().__init__(md)
        self.reader = reader

    def run(self, root: Element) -> None:
        """Go through a page's tree."""
        if self.reader.views:
            for link in [e for e in root.iter("a") if is_reference(e.get("href", ""), self._boards())]:
                self._point(link)
            self._walk(root)
        if self.reader.generated:
            make_harmless(root)

    def _boards(self) -> Iterable[str]:
        return {b for v in self.reader.views for b in v.index.ids["board"]}

    def _point(self, link: Element) -> None:
        address = self.reader.link(unescaped(link.attrib.pop("href")))
        if address:
            link.set("href", address)
        else:
            link.tag = "span"

    def _walk(self, element: Element) -> None:
        if element.tag in NOT_INSIDE:
            return
        children = list(element)
        for child in children:
            self._walk(child)
        element.text, made = self._split(element.text)
        for child in children:
            child.tail, further = self._split(child.tail)
            made += [child, *further]
        element[:] = made

    def _split(self, text: str | None) -> tuple[str | None, list[Element]]:
        """Return a text up to its first designator, and the links that follow, each with the text behind it."""
        if not text or isinstance(text, AtomicString):
            return text, []
        linked = [(m, address) for m in mentions(text) if (address := self.reader.part(m))]
        made = []
        for (mention, address), end in zip(linked, _ends(linked, len(text)), strict=True):
            link = Element("a", {"class": "br-ref", "href": address})
            link.text = AtomicString(text[mention.start : mention.end])
            link.tail = text[mention.end : end]
            made.append(link)
        return (text[: linked[0][0].start] if linked else text), made


def _ends(linked: list[tuple[Mention, str]], end: int) -> Iterator[int]:
    yield from (m.start for m, _ in linked[1:])
    if linked:
        yield end


class LinksExtension(Extension):
    """Brings the tree processor to Python-Markdown."""

    def __init__(self, reader: Reader) -> None:
        """Read on behalf of ``reader``."""
        super().__init__()
        self.reader = reader

    def extendMarkdown(self, md: Markdown) -> None:  # noqa: N802  # Python-Markdown's name
        """Register after the inline patterns, before mkdocs looks at links."""
        register(md)
        md.treeprocessors.register(References(md, self.reader), "benchrecord-references", AFTER_INLINE)


class LinksPlugin(BasePlugin[LinksConfig]):
    """``benchrecord-links``: every name becomes a link, and every ``br:/`` a relative address."""

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Hang into Markdown."""
        self.reader = Reader()
        config.markdown_extensions.append(LinksExtension(self.reader))  # type: ignore[arg-type]  # Markdown takes instances too
        return config

    @event_priority(-50)  # after whatever else changes the text
    def on_page_markdown(self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG002  # mkdocs calls by name
        """Tell the reader which page comes."""
        site = _site(config)
        src = page.file.src_uri
        own = [v for v in site.views if src.startswith(f"jobs/{v.job.id}/") or page.meta.get("job") == v.job.id] if site else []
        reader = self.reader
        reader.site, reader.views = site, tuple(own) or (site.views if site else ())
        reader.board, reader.source, reader.markdown = _board(own, src, page), src, markdown
        reader.generated = page.file.generated_by is not None
        return markdown

    def on_page_content(self, html: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG002  # mkdocs calls by name
        """Make relative addresses of our own."""
        return relative(html, page, files)

    def on_env(self, env: object, /, **_: object) -> None:  # noqa: ARG002  # mkdocs calls by name
        """Refuse once, with all dead references of hand-written pages."""
        if self.reader.problems:
            raise PluginError(f"References that lead nowhere.\n\n{as_text(in_order(self.reader.problems))}\n")


def relative(html: str, page: Page, files: Files) -> str:
    """Replace ``br:/path`` inside attributes by an address relative to the page; unknown ones stay, for the guard to refuse."""

    def address(match: re.Match[str]) -> str:
        file = files.get_file_from_path(match[1])
        return file.url_relative_to(page.file) if file else match[0]

    return ATTRIBUTE.sub(lambda m: ADDRESS.sub(address, m[0]), html)


def _site(config: MkDocsConfig) -> Site | None:
    jobs = next((p for p in config.plugins.values() if isinstance(p, JobsPlugin)), None)
    return jobs.site if jobs else None


def _board(own: list[View], src: str, page: Page) -> str:
    """The board that bare designators of a page belong to first."""
    if page.meta.get("board"):
        return str(page.meta["board"])
    notes = {addresses.page(v.job.id, addresses.note_page(n)): n.board for v in own for n in v.job.notes}
    return notes.get(src, "")
