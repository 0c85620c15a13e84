"""How long the demo takes to build, as ratios to what the plain theme and Pillow alone take for the same pages and pictures.

``python tests/bench/benchmark.py [RUNS]`` prints the medians of RUNS runs (3 unless told otherwise), measured in turn:

* plain: the theme, given the same Markdown and the pictures already made; reduced: Pillow alone reducing and coding the same photographs
* cold: nothing in the cache but what was found in recordings; goal at most 3 times plain and reduced together
* recordings: what the analysis of all recordings adds to that, which neither of them can do; goal at most 1 times the same
* rebuild: nothing changed; goal at most 1.5 times plain
* peak: the most memory that a cold build holds; goal at most 400 MB

``--tiny`` builds a small job once, to see that this file still runs.
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))  # the helpers of the tests, when run as a script

import yaml
from PIL import Image
from sizes import TINY, sizes

from benchrecord.figures.photo import JPEG_QUALITY, LONGEST, WEBP_METHOD, WEBP_QUALITY
from benchrecord.model.job import Edition
from benchrecord.publish.cache import Cache
from benchrecord.publish.work import make_site, silent
from peaks import peak_mb
from small_jobs import SMALL_JOB, write_job

ROOT = Path(__file__).parents[2]
GOALS = {"cold": 3.0, "recordings": 1.0, "rebuild": 1.5, "peak": 400.0}


@dataclass(frozen=True)
class Subject:
    """What is built: a configuration of mkdocs, and the job folders that it names."""

    config: Path
    folders: tuple[Path, ...]


def main() -> None:
    """Measure and print."""
    (runs,) = sizes(3, tiny=(1,))
    with tempfile.TemporaryDirectory() as scratch:
        here = Path(scratch)
        subject = small(here / "small") if TINY else demo()
        plain = plain_site(subject, here / "plain")
        times: dict[str, list[float]] = {name: [] for name in ("plain", "reduced", "all", "cold", "rebuild")}
        peaks: list[float] = []
        for _ in range(runs):
            times["plain"].append(build(plain, here, here / "site-plain")[0])
            times["reduced"].append(timed(lambda: reduce_all(subject)))
            seconds, peak = fresh(subject, here, found=False)
            times["all"].append(seconds)
            peaks.append(peak)
            times["cold"].append(fresh(subject, here, found=True)[0])
            times["rebuild"].append(build(subject.config, here, here / "site")[0])
    report({name: statistics.median(t) for name, t in times.items()}, max(peaks))


def demo() -> Subject:
    """Return the demo."""
    return Subject(ROOT / "mkdocs.yml", (ROOT / "sample_job", ROOT / "site_src/loopwell-2"))


def small(folder: Path) -> Subject:
    """Write a small job and a site of it."""
    job = write_job(folder / "job", SMALL_JOB)
    (job / "job.yml").write_text((job / "job.yml").read_text("utf-8") + "publish: yes\n", "utf-8")
    config = configuration()
    config |= {"docs_dir": "docs", "nav": [{"Work": "index.md"}]}
    config["plugins"] = ["search", {"benchrecord-jobs": {"folders": ["job"]}}, "benchrecord-links", "benchrecord-guard"]
    (folder / "docs").mkdir()
    (folder / "docs/index.md").write_text("# Work\n\n<!-- jobs -->\n", "utf-8")
    (folder / "mkdocs.yml").write_text(yaml.safe_dump(config), "utf-8")
    return Subject(folder / "mkdocs.yml", (job,))


def configuration() -> dict[str, Any]:
    """Return what the demo's site is configured by."""
    loaded: dict[str, Any] = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))
    return loaded


def plain_site(subject: Subject, folder: Path) -> Path:
    """Write the same pages and pictures for the plain theme; return its configuration."""
    site, _ = make_site(subject.folders, Edition.PORTFOLIO, kinds=[], cache=Cache(folder / "cache"), progress=silent)
    if site is None:
        raise SystemExit("The job has problems: benchrecord check tells which.")
    own = yaml.safe_load(subject.config.read_text("utf-8"))
    docs = folder / "docs"
    jobs = [f.name for f in subject.folders]
    shutil.copytree(subject.config.parent / own["docs_dir"], docs, ignore=shutil.ignore_patterns(*jobs))
    for src, content in {**site.pages, **site.files}.items():
        (docs / src).parent.mkdir(parents=True, exist_ok=True)
        (docs / src).write_bytes(content if isinstance(content, bytes) else re.sub("br:/", "/", content).encode())
    own["plugins"] = [p for p in own["plugins"] if "benchrecord" not in str(p)]
    own["docs_dir"] = "docs"
    (folder / "mkdocs.yml").write_text(yaml.safe_dump(own), "utf-8")
    return folder / "mkdocs.yml"


def reduce_all(subject: Subject) -> None:
    """Reduce every photograph to the published sizes and code it, on all cores, with nothing else done to it."""
    photographs = [path for folder in subject.folders for path in sorted((folder / "photos").glob("*.*"))]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(reduce_one, photographs))


def reduce_one(path: Path) -> None:
    """Code one photograph in each size as WebP, and in the middle one as JPEG."""
    with Image.open(path) as opened:
        image = opened.convert("RGB")
    for width in LONGEST:
        image.thumbnail((width, width), Image.Resampling.LANCZOS, reducing_gap=3.0)
        with tempfile.TemporaryFile() as out:
            image.save(out, "WEBP", quality=WEBP_QUALITY[width], method=WEBP_METHOD)
            if width == LONGEST[1]:
                image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True)


def timed(do: Callable[[], object]) -> float:
    """Return how long something takes, in seconds."""
    started = time.perf_counter()
    do()
    return time.perf_counter() - started


def fresh(subject: Subject, scratch: Path, *, found: bool) -> tuple[float, float]:
    """Build with an empty cache, or with one that holds what was found in recordings and nothing else."""
    shutil.rmtree(scratch / "cache", ignore_errors=True)
    for folder in subject.folders if found else ():
        peak_mb([sys.executable, "-m", "benchrecord", "findings", str(folder)], environment(scratch))
    return build(subject.config, scratch, scratch / "site")


def build(config: Path, scratch: Path, site: Path) -> tuple[float, float]:
    """Build a site in a process of its own; return its seconds and its peak of memory in MB."""
    words = [sys.executable, "-m", "mkdocs", "build", "-q", "-f", str(config), "-d", str(site)]
    started = time.perf_counter()
    peak = peak_mb(words, environment(scratch))
    return time.perf_counter() - started, peak


def environment(scratch: Path) -> dict[str, str]:
    """Return the variables of a process that keeps its cache in the scratch folder, and bytecode where Python does: as users have it."""
    own = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**own, "BENCHRECORD_CACHE": str(scratch / "cache"), "NO_MKDOCS_2_WARNING": "1"}


def report(seconds: dict[str, float], peak: float) -> None:
    """Print each figure with its goal."""
    both = seconds["plain"] + seconds["reduced"]
    figures = {
        "cold": seconds["cold"] / both,
        "recordings": (seconds["all"] - seconds["cold"]) / both,
        "rebuild": seconds["rebuild"] / seconds["plain"],
        "peak": peak,
    }
    units = {"cold": " × plain and reduced", "recordings": " × plain and reduced", "rebuild": " × plain", "peak": " MB"}
    print(", ".join(f"{name} {s:.2f} s" for name, s in seconds.items()))
    for name, figure in figures.items():
        reach = "reached" if figure <= GOALS[name] else "MISSED"
        print(f"{name}: {figure:.2f}{units[name]}, goal at most {GOALS[name]:g}: {reach}")


if __name__ == "__main__":
    main()
