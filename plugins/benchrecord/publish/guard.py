"""The plugin that reads the finished site and refuses what must not leave the bench."""

from __future__ import annotations

import functools
from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin, event_priority

from benchrecord.editions import for_reader, published
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.config import GuardConfig
from benchrecord.publish.guarding.markup import scripts_of
from benchrecord.publish.guarding.private import Private, of_this_machine, private, public_vocabulary
from benchrecord.publish.guarding.site import complaints
from benchrecord.publish.job_folders import is_job_folder, job_around
from benchrecord.publish.jobs import JobsPlugin
from benchrecord.publish.written_in import written_in

TOLD = 200  # complaints


class GuardPlugin(BasePlugin[GuardConfig]):
    """``benchrecord-guard``: what is private, what asks another host, what would run and what is left over stop the build."""

    @event_priority(-200)  # last: it reads what all others have written
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Read every file of the site."""
        themes = [Path(folder) for folder in config.theme.dirs]
        installed = [folder for folder in themes if str(folder) != config.theme.custom_dir]  # the user's own is not
        private, cache = _private(config, themes), _cache(config)
        found = list(complaints(Path(config.site_dir), private, scripts_of(themes), installed=installed, cache=cache))
        if found:
            more = [f"and {len(found) - TOLD} more"] if len(found) > TOLD else []
            lines = [
                "The site was refused:",
                *(f"  {line}" for line in (*found[:TOLD], *more)),
                *_sources(config, private, cache),
            ]
            raise PluginError("\n".join(lines) + "\n")


def _sources(config: MkDocsConfig, private: Private, cache: Cache) -> list[str]:
    """Return where the sources hold what the site was refused for."""
    jobs = _jobs_plugin(config)
    if jobs is None or jobs.site is None:
        return []
    reader, docs = jobs.site.reader, Path(config.docs_dir)
    shown = [(folder, job) for folder, job in jobs.site.read if published([job], reader)]
    return written_in(shown, reader, private.things, cache=cache, pages=_pages(docs))


def _jobs_plugin(config: MkDocsConfig) -> JobsPlugin | None:
    return next((p for p in config.plugins.values() if isinstance(p, JobsPlugin)), None)


def _cache(config: MkDocsConfig) -> Cache:
    jobs = _jobs_plugin(config)
    return Cache(Path(jobs.config.cache) if jobs and jobs.config.cache else default_folder())


def _private(config: MkDocsConfig, themes: list[Path]) -> Private:
    jobs = _jobs_plugin(config)
    folders = [folder for folder, _ in jobs.site.read] if jobs and jobs.site else []
    machine = of_this_machine([*folders, Path(config.docs_dir), Path(config.site_dir)])
    if jobs is None or jobs.site is None:
        return Private(machine)
    reader = jobs.site.reader  # what this reader may see is settled anew, whatever became pages
    shown = [for_reader(job, reader) for job in published([job for _, job in jobs.site.read], reader)]
    used = public_vocabulary((job for _, job in jobs.site.read), shown, _pages(Path(config.docs_dir)).values(), themes)
    found = private(jobs.site.read, shown, reader, used=used, cache=_cache(config))
    return Private((*machine, *found.things), found.files)


def _pages(docs: Path) -> dict[Path, str]:
    """Return the words of the hand-written pages; a file of a job folder among them is none."""
    is_job = functools.cache(is_job_folder)
    pages = (page for page in sorted(docs.rglob("*.md")) if not job_around(page, docs, is_job))
    return {page: page.read_text("utf-8", "replace") for page in pages}
