"""What the search of a site costs its reader, and whether it has every word.

``python tests/bench/search_benchmark.py 60 200`` builds the demo and archives of so many jobs, opens them in Chromium, and prints of each

* lost, invented: words of the index that are not in the word graph, and words that are in the graph alone; in brackets those of the
  theme's own worker
* ready: seconds until the box of a page opened from the disk can be asked (median of three)
* query: milliseconds until the worker has answered (median and longest of several words)
* index, worker: kB that a reader loads

It ends with 1 where a word is lost or invented.
"""

from __future__ import annotations

import json
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the helpers of the tests, when run as a script

from playwright.sync_api import Browser, sync_playwright
from sizes import sizes

from archives import folders
from benchrecord.publish.build import build
from browsing import ARGS, MISSING, executable
from searching import SearchBox, SearchWorker, installed_worker

ROOT = Path(__file__).parents[2]
ASKED = ("fault", "measured", "+owner +7", "r12", "4k7", "capacitor", "c*", "crackl*", "the*", "+s* +0007*")


def main() -> None:
    """Build, measure and print."""
    os.chdir(ROOT)
    path = executable()
    if path is None:
        raise SystemExit(MISSING)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGS)
        wrong = [name for name, site in sites(Path(scratch)).items() if not report(name, site, browser)]
        browser.close()
    raise SystemExit(1 if wrong else 0)


def sites(scratch: Path) -> dict[str, Path]:
    """Build the demo and an archive of each size, and return their folders."""
    built = {"demo": build([ROOT / "sample_job"], edition="portfolio", site_dir=scratch / "demo", kinds=[])}
    for count in sizes(60, 200, tiny=(2,)):
        jobs = folders(scratch / f"jobs-{count}", count)
        built[f"{count} jobs"] = build(jobs, edition="archive", site_dir=scratch / f"site-{count}", kinds=[])
    return built


def report(name: str, site: Path, browser: Browser) -> bool:
    """Print what the search of one site comes to; say whether its graph has the words of its index."""
    (worker,) = site.glob("assets/javascripts/workers/search.*.min.js")
    index = site / "search/search_index.json"
    lost, invented, times = in_worker(browser, worker.read_bytes(), index)
    theirs = in_worker(browser, installed_worker(), index)[:2]
    print(
        f"{name}: {lost} words lost ({theirs[0]}), {invented} invented ({theirs[1]}); "
        f"ready {statistics.median(ready(browser, site) for _ in range(3)):.2f} s; "
        f"query {statistics.median(times):.1f} ms, at most {max(times):.0f} ms; "
        f"index {index.stat().st_size / 1000:.0f} kB, worker {worker.stat().st_size / 1000:.1f} kB"
    )
    return lost == invented == 0


def in_worker(browser: Browser, content: bytes, index: Path) -> tuple[int, int, list[float]]:
    """Return how many words a worker loses and invents, and how many milliseconds each query takes."""
    data, page = json.loads(index.read_text("utf-8")), browser.new_page()
    worker = SearchWorker(page, content)
    worker.index(data["docs"], data["config"])
    words, graph = worker.words(), worker.graph()
    times = [worker.milliseconds(query) for query in ASKED]
    page.close()
    return len(words - graph), len(graph - words), times


def ready(browser: Browser, site: Path) -> float:
    """Return how many seconds pass from a click into the box of a page from the disk until it can be asked."""
    page = browser.new_page()
    page.goto((site / "index.html").as_uri(), wait_until="load")
    started = time.perf_counter()
    SearchBox(page)
    spent = time.perf_counter() - started
    page.close()
    return spent


if __name__ == "__main__":
    main()
