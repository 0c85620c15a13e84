"""``mkdocs build`` without losing the former site: its events, so that it builds beside it and exchanges the two at its very end."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError

from benchrecord.publish.job_folders import refuse_in_job_folder
from benchrecord.publish.site_folder import NewSite, begin, worded
from benchrecord.publish.site_lock import Refused

DIRTY = "--dirty writes into the site itself, and leaves pages out of its search: build without it."


@dataclass(slots=True)
class BuildBeside:
    """One run of ``mkdocs build``; ``whole`` says that everything has been written and nobody has complained."""

    config: MkDocsConfig
    site: NewSite
    whole: bool = False

    @classmethod
    def started(cls, config: MkDocsConfig) -> BuildBeside:
        """Send a build to a folder beside the site."""
        site_dir = Path(config.site_dir).resolve()
        try:
            refuse_in_job_folder(site_dir, lambda parent: ["mkdocs", "build", "--site-dir", str(parent / "site")])
            site = begin(site_dir)
        except Refused as refused:
            raise PluginError(str(refused)) from refused
        config.site_dir = str(site.made)
        return cls(config, site)

    def failed(self, error: Exception) -> None:
        """Leave the former site where it is: strict mode comes to this after all has been written."""
        self.whole = False
        try:
            with worded():
                if isinstance(error, OSError):
                    raise error
        except Refused as refused:
            raise PluginError(str(refused)) from error

    def end(self) -> None:
        """Put the site in its place, where it is whole; let go of all else."""
        self.config.site_dir = str(self.site.wanted)  # whoever publishes it next looks there
        try:
            with closing(self.site):
                if self.whole:
                    self.site.put_in_place()
        except Refused as refused:
            raise PluginError(str(refused)) from refused
