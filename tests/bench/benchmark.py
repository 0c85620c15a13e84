"""How long the demo takes to build, as ratios to the plain theme given the same Markdown and the pictures already made.

``python tests/bench/benchmark.py [RUNS]`` prints the medians of RUNS runs (3 unless told otherwise), measured in turn:

* cold: nothing in the cache; goal at most 3 times plain
* rebuild: nothing changed; goal at most 1.5 times plain
* peak: the most memory that a cold build holds; goal at most 400 MB
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the helpers of the tests, when run as a script

import yaml

from benchrecord.model.job import Edition
from benchrecord.publish.cache import Cache
from benchrecord.publish.work import make_site, silent
from peaks import peak_mb

ROOT = Path(__file__).parents[2]
FOLDERS = ["sample_job", "site_src/loopwell-2"]
GOALS = {"cold": 3.0, "rebuild": 1.5, "peak": 400.0}


def main() -> None:
    """Measure and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as scratch:
        here = Path(scratch)
        plain_config = plain_site(here / "plain")
        times: dict[str, list[float]] = {"plain": [], "cold": [], "rebuild": []}
        peaks: list[float] = []
        for _ in range(runs):
            shutil.rmtree(here / "cache", ignore_errors=True)
            times["plain"].append(build(plain_config, here)[0])
            seconds, peak = build(ROOT / "mkdocs.yml", here)
            times["cold"].append(seconds)
            peaks.append(peak)
            times["rebuild"].append(build(ROOT / "mkdocs.yml", here)[0])
    report({name: statistics.median(t) for name, t in times.items()}, max(peaks))


def plain_site(folder: Path) -> Path:
    """Write the same pages and pictures for the plain theme; return its configuration."""
    site, _ = make_site(
        [ROOT / f for f in FOLDERS], Edition.PORTFOLIO, kinds=[], cache=Cache(folder / "cache"), progress=silent
    )
    if site is None:
        raise SystemExit("The demo has problems: benchrecord check tells which.")
    docs = folder / "docs"
    shutil.copytree(ROOT / "site_src", docs, ignore=shutil.ignore_patterns("loopwell-2"))
    for src, content in {**site.pages, **site.files}.items():
        (docs / src).parent.mkdir(parents=True, exist_ok=True)
        (docs / src).write_bytes(content if isinstance(content, bytes) else re.sub("br:/", "/", content).encode())
    config = yaml.safe_load((ROOT / "mkdocs.yml").read_text("utf-8"))
    config["plugins"] = [p for p in config["plugins"] if "benchrecord" not in str(p)]
    config["docs_dir"] = "docs"
    (folder / "mkdocs.yml").write_text(yaml.safe_dump(config), "utf-8")
    return folder / "mkdocs.yml"


def build(config: Path, scratch: Path) -> tuple[float, float]:
    """Build a site in a process of its own; return its seconds and its peak of memory in MB."""
    env = {**os.environ, "BENCHRECORD_CACHE": str(scratch / "cache"), "NO_MKDOCS_2_WARNING": "1"}
    words = [
        sys.executable,
        "-m",
        "mkdocs",
        "build",
        "-q",
        "-f",
        str(config),
        "-d",
        str(scratch / f"site-of-{config.parent.name}"),
    ]
    started = time.perf_counter()
    peak = peak_mb(words, env)
    return time.perf_counter() - started, peak


def report(seconds: dict[str, float], peak: float) -> None:
    """Print each figure with its goal."""
    figures = {"cold": seconds["cold"] / seconds["plain"], "rebuild": seconds["rebuild"] / seconds["plain"], "peak": peak}
    print(f"plain {seconds['plain']:.2f} s, cold {seconds['cold']:.2f} s, rebuild {seconds['rebuild']:.2f} s")
    for name, figure in figures.items():
        unit = " MB" if name == "peak" else " × plain"
        print(f"{name}: {figure:.2f}{unit}, goal at most {GOALS[name]:g}: {'reached' if figure <= GOALS[name] else 'MISSED'}")


if __name__ == "__main__":
    main()
