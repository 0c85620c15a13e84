"""Building a site with mkdocs: of the folders alone, or the one that mkdocs.yml describes."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException

from benchrecord.disk import made_folder, scratch, writing_to
from benchrecord.interrupts import temporary
from benchrecord.model.job import Edition
from benchrecord.publish.job_folders import refuse_in_job_folder
from benchrecord.publish.site_folder import NewSite, begin, worded
from benchrecord.publish.site_lock import Refused
from benchrecord.publish.work import Outcome

DEFAULT_SITE = Path(__file__).with_name("default_site.yml")
__all__ = ["Refused", "build"]


def build(
    folders: Sequence[Path],
    *,
    edition: str | None,
    site_dir: Path | None,
    kinds: Sequence[Path],
    as_of: date | None = None,
    made: Outcome | None = None,
) -> Path:
    """Build the site of the folders, or the one that ``mkdocs.yml`` here describes; return its folder.

    ``as_of`` is the day from which the archive counts what is due. ``made`` is what was made of the folders already.

    Raises
    ------
    Refused
        Where a problem stops it; the former site is left whole.
    """
    os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")  # the theme's word about its own future is not about this job
    settings = {
        "folders": [str(f.resolve()) for f in folders],
        "edition": edition,
        "kinds": [str(k.resolve()) for k in kinds],
        "as_of": as_of,
    }
    with worded(), _config(folders) as config_file, _quietly(), _refusing():
        config = load_config(str(config_file), strict=False)
        _apply(config, settings, made)
        wanted = (site_dir or _own_folder(Path("site") if folders else Path(config.site_dir), edition)).resolve()
        refuse_in_job_folder(wanted, lambda parent: _command(folders, settings, _own_folder(parent / "site", edition)))
        with made_folder(wanted.parent), temporary(lambda: begin(wanted), NewSite.close) as site, writing_to(site.made):
            config.site_dir = str(site.made)
            _run(config)
            site.put_in_place()
    return wanted


def _own_folder(site: Path, edition: str | None) -> Path:
    """Return where an edition goes unless something else is asked for: no reader's site takes the place of another's."""
    return site.with_name(f"{site.name}-{edition}") if edition not in (None, Edition.PORTFOLIO.value) else site


def _command(folders: Sequence[Path], settings: Mapping[str, Any], site_dir: Path) -> list[str]:
    """Return the words of the command that builds the same site in another folder."""
    options = [("--edition", settings["edition"]), ("--as-of", settings["as_of"]), *(("--kind", k) for k in settings["kinds"])]
    given = [word for name, value in (*options, ("--site-dir", site_dir)) if value for word in (name, str(value))]
    return ["benchrecord", "build", *map(str, folders), *given]


def _run(config: MkDocsConfig) -> None:
    config.plugins.on_startup(command="build", dirty=False)
    for plugin in _jobs_plugins(config):
        plugin.builds_beside = False  # that is done here, for sites without that plugin too
    try:
        mkdocs_build(config)
    finally:
        config.plugins.on_shutdown()


@contextmanager
def _refusing() -> Iterator[None]:
    """Turn what mkdocs says of a failure into our own word for it."""
    try:
        yield
    except Abort as error:  # mkdocs has logged why and raises no more than that
        raise Refused(str(error.__context__ or error)) from error
    except MkDocsException as error:
        raise Refused(str(error)) from error


def _jobs_plugins(config: MkDocsConfig) -> list[Any]:
    return [plugin for plugin in config.plugins.values() if type(plugin).__name__ == "JobsPlugin"]


def _apply(config: MkDocsConfig, settings: dict[str, Any], made: Outcome | None) -> None:
    for plugin in _jobs_plugins(config):
        plugin.made = made
        plugin.config.update({k: v for k, v in settings.items() if v})


@contextmanager
def _config(folders: Sequence[Path]) -> Iterator[Path]:
    """Give the site's configuration: the one here, or one of its own for the folders."""
    if not folders:
        here = Path("mkdocs.yml")
        if not here.is_file():
            raise Refused("There is no mkdocs.yml here: name a job folder, or go where mkdocs.yml is.")
        yield here
        return
    with scratch() as room:
        config = room / "mkdocs.yml"
        with writing_to(room):
            (room / "docs").mkdir()
            config.write_text(DEFAULT_SITE.read_text("utf-8") + "docs_dir: docs\n", "utf-8", newline="\n")
        yield config


@contextmanager
def _quietly() -> Iterator[None]:
    """Let mkdocs speak of warnings only."""
    logger = logging.getLogger("mkdocs")
    before, handler = logger.level, logging.StreamHandler()
    handler.setLevel(logging.WARNING)
    handler.addFilter(lambda record: record.levelno < logging.ERROR)  # an error comes as Refused
    logger.setLevel(logging.WARNING)
    logger.addHandler(handler)
    try:
        yield
    finally:
        logger.setLevel(before)
        logger.removeHandler(handler)
