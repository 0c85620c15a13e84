"""Job folders on the disk: what lies in one is not published as it is, and no site is written into one."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from benchrecord.problems import Place, Problem, as_command, as_text
from benchrecord.publish.cache import CACHE_VARIABLE, default_folder
from benchrecord.publish.site_lock import Refused

NAMES = frozenset({"job.yml", "job.yaml"})  # in whatever case: some systems tell none apart
CommandFor = Callable[[Path], Sequence[str]]  # the words of a command that writes to a folder


def is_job_folder(folder: Path) -> bool:
    """Say whether a folder has a job.yml."""
    try:
        with os.scandir(folder) as entries:
            return any(entry.name.lower() in NAMES for entry in entries)
    except OSError:
        return False


def job_around(path: Path, sources: Path, is_job: Callable[[Path], bool] = is_job_folder) -> Path | None:
    """Return the job folder that a file of a site lies in, if any; ``sources`` is the folder that it was found in.

    A link counts by its own place and by what it leads to.
    """
    end, root = path.resolve(), sources.resolve()
    led_to = _up_to(root, end) if end.is_relative_to(root) else end.parents
    return next((folder for folder in (*_up_to(sources, path), *led_to) if is_job(folder)), None)


def _up_to(top: Path, path: Path) -> Iterator[Path]:
    """Yield the folders around a path, up to and with ``top``."""
    return (folder for folder in path.parents if folder.is_relative_to(top))


def unlisted(jobs: Iterable[Path], listed: Sequence[Path], docs: Path) -> Iterator[Problem]:
    """Yield a warning for each job folder among the sources of a site, ``docs``, that the site does not list."""
    known = {folder.resolve() for folder in listed}
    for job in sorted({job.resolve() for job in jobs} - known):
        name = job.relative_to(docs.resolve().parent).as_posix() if job.is_relative_to(docs.resolve().parent) else str(job)
        expected = "each job folder listed in the setting folders of benchrecord-jobs"
        remedy = f"add {name} to folders, or move it out of {docs.name}; until then nothing of it is published"
        yield Problem("unlisted-job", Place(name), f"a job folder below {docs.name}", expected, remedy)


def cache_in_job_folder(cache: Path, variable: str = "") -> Iterator[Problem]:
    """Yield a problem where a cache is in a job folder, where all would be read as part of the job.

    ``variable`` is the name of the environment variable that gives it; without one, the setting ``cache`` does.
    """
    around = [folder for folder in (cache.resolve(), *cache.resolve().parents) if is_job_folder(folder)]
    if around:
        expected = f"a folder outside of the job folder {around[0]}"
        other = around[-1].parent / "benchrecord-cache"
        setting = f"{variable}={other}" if variable else f"cache: {other}"
        place = Place("environment" if variable else "mkdocs.yml")
        got = f"{variable}={cache}" if variable else f"cache: {cache}"
        yield Problem("cache-in-job", place, got, expected, f"set {setting}, or leave the setting out")


def refuse_default_cache_in_job_folder() -> None:
    """Refuse a cache of the environment that is in a job folder.

    Raises
    ------
    Refused
        With the folder to use.
    """
    if problems := tuple(cache_in_job_folder(default_folder(), CACHE_VARIABLE)):
        raise Refused(as_text(problems))


def refuse_in_job_folder(target: Path, command_for: CommandFor) -> None:
    """Refuse to write into a job folder, where all would be read as part of the job.

    Raises
    ------
    Refused
        With the same command for a target next to the job folder.
    """
    around = [folder for folder in (target.resolve(), *target.resolve().parents) if is_job_folder(folder)]
    if around:
        raise Refused(
            f"{target} is in the job folder {around[0]}, and whatever is written there is read as part of the job. "
            f"Nothing was written. Use this command:\n\n  {as_command(command_for(around[-1].parent))}\n"
        )
