"""How fast a finished site is searched, and what editions and guard add to a cold build.

``python tests/bench/guard_benchmark.py`` builds the demo as the portfolio, with nothing in the cache, and prints, in seconds of one core:

* search: bytes of the site by the time that looking through its files and their names takes, with all that is packed in them;
  goal at least 100 MB/s
* large: the same where a site is mostly photographs, as those of four hundred pictures are (the demo's, repeated)
* share: editions, gathering what is private, and the whole guard, as a part of the rest of the build; goal at most 15 %
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sizes import TINY

from benchrecord.checks import all_kinds
from benchrecord.editions import for_reader
from benchrecord.model.job import Edition
from benchrecord.publish import guard
from benchrecord.publish.build import build
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private, private, public_vocabulary
from benchrecord.publish.work import read_all

ROOT = Path(__file__).parents[2]
FOLDERS = [ROOT / "site_src/loopwell-2"] if TINY else [ROOT / "sample_job", ROOT / "site_src/loopwell-2"]


def main() -> None:
    """Measure and print."""
    os.chdir(ROOT)
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["BENCHRECORD_CACHE"] = f"{scratch}/cache"
        spent = {"guard": 0.0}
        guard.GuardPlugin.on_post_build = counted(guard.GuardPlugin.on_post_build, spent)  # type: ignore[method-assign]
        started = time.process_time()
        site = build(FOLDERS if TINY else [], edition="portfolio", site_dir=Path(scratch) / "site", kinds=[])
        whole = time.process_time() - started
        search, editions = searching(Path(scratch) / "cache")
        files = [(p.relative_to(site).as_posix(), p.read_bytes()) for p in sorted(site.rglob("*")) if p.is_file()]
        pictures = [(name, data) for name, data in files if name.endswith(".webp")]
        print(f"build {whole:.2f} s, of which guard {spent['guard']:.2f} s; editions {editions:.3f} s")
        report("search", rate(search, files), "MB/s", at_least=100)
        report("large", rate(search, files + pictures * 9), "MB/s", at_least=100)
        share = 100 * (spent["guard"] + editions) / (whole - spent["guard"] - editions)
        report("share", share, "%", at_most=15)


def counted(method: Callable[..., Any], spent: dict[str, float]) -> Callable[..., Any]:
    """Return the method with its time added up."""

    def called(*args: Any, **named: Any) -> Any:
        started = time.process_time()
        try:
            return method(*args, **named)
        finally:
            spent["guard"] += time.process_time() - started

    called.mkdocs_priority = getattr(method, "mkdocs_priority", 0)  # type: ignore[attr-defined]
    return called


def searching(cache: Path) -> tuple[Leaks, float]:
    """Return the search for all that is private in the demo, and how long settling its editions took."""
    jobs, _ = read_all(FOLDERS, all_kinds())
    started = time.process_time()
    shown = [for_reader(job, Edition.PORTFOLIO) for _, job in jobs]
    took = time.process_time() - started
    found = private(jobs, shown, Edition.PORTFOLIO, used=public_vocabulary([job for _, job in jobs], shown), cache=Cache(cache))
    return Leaks(Private(found.things)), took


def rate(search: Leaks, files: list[tuple[str, bytes]], runs: int = 5) -> float:
    """Return how many megabytes are searched in a second of one core: the best of some runs, since others may share it."""
    return sum(len(data) for _, data in files) / 1e6 / min(searched(search, files) for _ in range(runs))


def searched(search: Leaks, files: list[tuple[str, bytes]]) -> float:
    """Return the seconds that one search of files takes."""
    started = time.process_time()
    for name, data in files:
        list(search.in_file(name, data))
    list(search.in_names([name for name, _ in files]))
    return time.process_time() - started


def report(name: str, figure: float, unit: str, *, at_least: float | None = None, at_most: float | None = None) -> None:
    """Print a figure with its goal."""
    well = figure >= at_least if at_least is not None else figure <= (at_most or 0)
    goal = f"at least {at_least:g}" if at_least is not None else f"at most {at_most:g}"
    print(f"{name}: {figure:.1f} {unit}, goal {goal}: {'reached' if well else 'MISSED'}")


if __name__ == "__main__":
    sys.exit(main())
