"""Building a site without losing the former one: into a sibling folder, then exchanged."""

from __future__ import annotations

import logging
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import yaml
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException

DEFAULT_SITE = Path(__file__).with_name("default_site.yml")
OURS = "assets/benchrecord.css"


class Refused(Exception):  # noqa: N818  # what happened to the site, in a word
    """The site was not built; the message says why."""


def build(folders: Sequence[Path], *, edition: str | None, site_dir: Path | None, kinds: Sequence[Path]) -> Path:
    """Build the site of the folders, or the one that ``mkdocs.yml`` here describes; return its folder.

    Raises
    ------
    Refused
        Where a problem stops it; the former site is left whole.
    """
    os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")  # the theme's word about its own future is not about this job
    with _config(folders, edition, kinds) as (config_file, settings), _quietly():
        wanted = (site_dir or (Path("site") if folders else _site_of(config_file))).resolve()
        _refuse_foreign(wanted)
        wanted.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{wanted.name}-", dir=wanted.parent) as making:
            made = Path(making) / "new"
            _run(config_file, settings, made)
            _exchange(made, wanted, Path(making) / "old")
    return wanted


def _run(config_file: Path, settings: dict[str, Any], site_dir: Path) -> None:
    try:
        config = load_config(str(config_file), site_dir=str(site_dir), strict=False)
        _apply(config, settings)
        config.plugins.on_startup(command="build", dirty=False)
        try:
            mkdocs_build(config)
        finally:
            config.plugins.on_shutdown()
    except Abort as error:  # mkdocs has logged why and raises no more than that
        raise Refused(str(error.__context__ or error)) from error
    except MkDocsException as error:
        raise Refused(str(error)) from error


def _apply(config: MkDocsConfig, settings: dict[str, Any]) -> None:
    for plugin in config.plugins.values():
        if type(plugin).__name__ == "JobsPlugin":
            plugin.config.update({k: v for k, v in settings.items() if v})


@contextmanager
def _config(folders: Sequence[Path], edition: str | None, kinds: Sequence[Path]) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Give the site's configuration: the one here, or one of its own around the folders."""
    further = [str(k.resolve()) for k in kinds]
    if not folders:
        here = Path("mkdocs.yml")
        if not here.is_file():
            raise Refused("There is no mkdocs.yml here: name a job folder, or go where mkdocs.yml is.")
        yield here, {"edition": edition, "kinds": further}
        return
    with tempfile.TemporaryDirectory(prefix="benchrecord-") as scratch:
        (Path(scratch) / "docs").mkdir()
        config = Path(scratch) / "mkdocs.yml"
        config.write_text(DEFAULT_SITE.read_text("utf-8") + "docs_dir: docs\n", "utf-8")
        yield config, {"folders": [str(f.resolve()) for f in folders], "edition": edition, "kinds": further}


def _site_of(config_file: Path) -> Path:
    named = yaml.safe_load(config_file.read_text("utf-8")) or {}
    return Path(named.get("site_dir") or "site") if isinstance(named, dict) else Path("site")


def _refuse_foreign(site_dir: Path) -> None:
    """Never replace a folder that is not a site of ours."""
    if site_dir.is_dir() and any(site_dir.iterdir()) and not (site_dir / OURS).is_file():
        raise Refused(
            f"{site_dir} holds files that are not a site made by benchrecord: choose another --site-dir, or empty it yourself."
        )
    if site_dir.exists() and not site_dir.is_dir():
        raise Refused(f"{site_dir} is a file: choose another --site-dir.")


def _exchange(made: Path, wanted: Path, old: Path) -> None:
    """Put the new site in the place of the old one; the old one is whole until then, and back again if that fails."""
    made.chmod(0o755)
    if not wanted.exists():
        made.rename(wanted)
        return
    wanted.rename(old)
    try:
        made.rename(wanted)
    except OSError:
        old.rename(wanted)
        raise
    shutil.rmtree(old, ignore_errors=True)


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
