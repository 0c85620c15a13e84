"""The plugin that turns job folders into pages."""

from __future__ import annotations

import gc
import logging
from collections.abc import Sequence
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

from jinja2 import Environment
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, CombinedEvent, event_priority, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.pages import Page

from benchrecord.editions.table import ORDER, alike, may_see
from benchrecord.model.job import Edition
from benchrecord.pages.readers import READERS_HERE, Seen, readers_table
from benchrecord.pages.render import environment
from benchrecord.pages.site_pages import CARDS_HERE, home, job_cards
from benchrecord.problems import Problem, Severity, as_text, has_errors, in_order
from benchrecord.publish.build_beside import DIRTY, BuildBeside
from benchrecord.publish.cache import CACHE_VARIABLE, Cache, default_folder
from benchrecord.publish.compiled_templates import CompiledTemplates
from benchrecord.publish.config import JobsConfig
from benchrecord.publish.html_blocks import put_back, set_aside
from benchrecord.publish.job_folders import cache_in_job_folder, is_job_folder, job_around, unlisted
from benchrecord.publish.page_limits import too_long_for_markdown
from benchrecord.publish.page_pictures import strip_pictures
from benchrecord.publish.progress import on_terminal
from benchrecord.publish.site_search.indexed_text import SEARCH, index_all_words, prepare_for_index
from benchrecord.publish.site_search.worker import UnknownSearchError, mend_workers
from benchrecord.publish.work import Outcome, Site, make_site

log = get_plugin_logger("benchrecord")
JOBS, ARCHIVE = "jobs/index.md", "archive/index.md"
THEME = Path(__file__).parent / "theme"
LOOK = ("assets/benchrecord.css", "assets/boards.css", "assets/archive.css")  # the last for the archive's own pages
MARKDOWN = ("attr_list", "md_in_html", "tables")


class JobsPlugin(BasePlugin[JobsConfig]):
    """``benchrecord-jobs``: folders in, pages out."""

    made: Outcome | None = None  # where it was made before mkdocs asks for it
    site: Site | None = None
    aside: Sequence[str] = ()
    builds_beside: bool = False  # whether to see to it that the former site is not lost
    beside: BuildBeside | None = None

    def on_startup(self, *, command: str, dirty: bool) -> None:
        """Build beside the former site, unless the site is not to stay."""
        self.builds_beside = command != "serve"
        if self.builds_beside and dirty:
            raise PluginError(DIRTY)

    @event_priority(100)  # before the search reads its settings
    def _on_config_search(self, config: MkDocsConfig) -> MkDocsConfig:
        if SEARCH in config.plugins:
            index_all_words(config.plugins[SEARCH].config)
        return config

    def _on_config_look(self, config: MkDocsConfig) -> MkDocsConfig:
        """Bring the look, and what the pages need of Markdown; watch the job folders."""
        own = self.config.cache
        _tell(tuple(cache_in_job_folder(Path(own)) if own else cache_in_job_folder(default_folder(), CACHE_VARIABLE)))
        config.theme.dirs.insert(1 if config.theme.custom_dir else 0, str(THEME))
        look = LOOK if self.config.edition == Edition.ARCHIVE else LOOK[:-1]
        config.extra_css = [*look, *config.extra_css]
        config.extra_javascript = ["assets/benchrecord.js", "assets/search.js", *config.extra_javascript]
        others = [
            p for p in config.extra.get("polyfills", []) if "iframe-worker" not in p
        ]  # the theme's own comes from another host
        config.extra["polyfills"] = [*others, "assets/iframe-worker-shim.js"]
        config.markdown_extensions += [e for e in MARKDOWN if e not in config.markdown_extensions]
        config.watch += [str(f) for f in self._folders(config)]
        self.beside = BuildBeside.started(config) if self.builds_beside else None
        return config

    on_config = CombinedEvent(_on_config_search, _on_config_look)

    def on_files(self, files: Files, config: MkDocsConfig) -> Files:
        """Make every page and picture; fail once, with all problems."""
        docs, folders = Path(config.docs_dir), self._folders(config)
        jobs = _leave_out(files, docs)
        if SEARCH in config.plugins:
            _mend_search(files)
        site, problems = self.made or self._made(config)
        _tell(
            in_order(
                [*problems, *strip_pictures(files, docs), *too_long_for_markdown(files, docs), *unlisted(jobs, folders, docs)]
            )
        )
        self.site = site
        made: dict[str, str | bytes] = {**site.pages, **site.files} if site else {}
        for src, content in made.items():
            files.append(_generated(config, src, content))
        if site and files.get_file_from_path("index.md") is None:
            files.append(File.generated(config, "index.md", content=home(site.views).markdown))
        if config.nav and ARCHIVE in made:
            config.nav = with_archive(config.nav)
        gc.freeze()  # all that was read and drawn stays to the end: looking through it again and again takes a fifth of a build
        return files

    def on_env(self, env: Environment, /, *, config: MkDocsConfig, files: Files) -> Environment:  # noqa: ARG002  # mkdocs calls by name
        """Keep the theme's compiled templates."""
        env.bytecode_cache = CompiledTemplates(self._cache)
        return env

    @property
    def _cache(self) -> Cache:
        return Cache(Path(self.config.cache) if self.config.cache else default_folder())

    def _made(self, config: MkDocsConfig) -> Outcome:
        cache = self._cache
        environment().bytecode_cache = CompiledTemplates(cache)
        kinds = [_root(config) / k for k in self.config.kinds]
        try:
            return make_site(
                self._folders(config),
                Edition(self.config.edition),
                kinds=kinds,
                cache=cache,
                progress=on_terminal,
                as_of=self.config.as_of,
            )
        except ValueError as error:
            raise PluginError(str(error)) from error

    def on_page_markdown(self, markdown: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG002  # mkdocs calls by name
        """Put the cards of all jobs where a hand-written page asks for them; keep the HTML of our own pages from Markdown."""
        self.aside = []
        if self.site is None:
            return markdown
        if page.file.src_uri in self.site.pages:
            page.meta["title"] = escape(str(page.meta.get("title", "")))  # the theme prints it as it is
            markdown, self.aside = set_aside(markdown)
            return markdown
        markdown = markdown.replace(READERS_HERE, _readers()) if READERS_HERE in markdown else markdown
        return markdown.replace(CARDS_HERE, job_cards(self.site.views)) if CARDS_HERE in markdown else markdown

    @event_priority(50)  # before the links plugin, which looks into this HTML too
    def on_page_content(self, html: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str:  # noqa: ARG002  # mkdocs calls by name
        """Put the HTML back, as the search should read it."""
        return prepare_for_index(put_back(html, self.aside))

    @event_priority(-300)  # after the guard, and whoever else may complain
    def on_post_build(self, *, config: MkDocsConfig) -> None:  # noqa: ARG002  # mkdocs calls by name
        """Note that all is written."""
        if self.beside:
            self.beside.whole = True

    @event_priority(-300)
    def on_build_error(self, *, error: Exception, **_: object) -> None:
        """Note that something is wrong, as strict mode says only after that."""
        if self.beside:
            self.beside.failed(error)

    @event_priority(-300)
    def on_shutdown(self) -> None:
        """Exchange the sites, once all is well."""
        if self.beside:
            self.beside.end()

    def _folders(self, config: MkDocsConfig) -> list[Path]:
        return [_root(config) / f for f in self.config.folders]


def _readers() -> str:
    rows = (Seen(part, names, tuple(may_see(r, rule.least) for r in ORDER), str(rule.way)) for part, names, rule in alike())
    return readers_table(rows, [str(reader) for reader in ORDER])


def _root(config: MkDocsConfig) -> Path:
    return Path(config.config_file_path).parent if config.config_file_path else Path.cwd()


def _generated(config: MkDocsConfig, src: str, content: str | bytes) -> File:
    level = InclusionLevel.INCLUDED if src in (JOBS, ARCHIVE) else InclusionLevel.NOT_IN_NAV
    return File.generated(config, src, content=content, inclusion=level)


def with_archive(nav: list[Any]) -> list[Any]:
    """Return a menu with the archive behind the index of jobs, or at its end, unless it is in there already."""
    if f"'{ARCHIVE}'" in str(nav):
        return nav
    after = next(
        (n for n, entry in enumerate(nav, 1) if JOBS in (entry, *(entry.values() if isinstance(entry, dict) else ()))), len(nav)
    )
    return [*nav[:after], {"Archive": ARCHIVE}, *nav[after:]]


def _leave_out(files: Files, docs: Path) -> list[Path]:
    """Take what lies in a job folder out of the files of a site, and return those folders."""
    is_job, jobs = cache(is_job_folder), list[Path]()
    for file in list(files):
        if file.abs_src_path and (job := job_around(Path(file.abs_src_path), Path(file.src_dir or docs), is_job)):
            files.remove(file)
            jobs.append(job)
    return jobs


def _mend_search(files: Files) -> None:
    try:
        mend_workers(files)
    except UnknownSearchError as error:
        raise PluginError(str(error)) from error


def _tell(problems: tuple[Problem, ...]) -> None:
    if has_errors(problems):
        raise PluginError(f"The job cannot be published as it stands.\n\n{as_text(problems)}\n")
    for severity, level in ((Severity.WARNING, logging.WARNING), (Severity.HINT, logging.DEBUG)):
        said = [p for p in problems if p.severity is severity]
        if said:
            log.log(level, as_text(said))
