"""How fast pictures are made, side by side with a native library where there is one, in one run.

``python tests/bench/picture_benchmark.py [PHOTOGRAPHS]`` makes its pictures (400 photographs unless told otherwise), and prints:

* reduced: a JPEG of 24 megapixels to three sizes in two formats, against pyvips at the same settings; goal at most 1.3 times its time
* peak: the most memory that a process holds which does that; goal at most 150 MB
* cold, warm: a build of photographs of 12 megapixels on two cores, nothing made before, and nothing changed; goals 4 minutes and,
  of what the photographs add to a build, 3 s
* warped: a picture of 24 megapixels seen by another camera, at 6 megapixels; goal at most 1 s

pyvips is no dependency: ``pip install pyvips pyvips-binary``. Without it the first line is left out.
"""

from __future__ import annotations

import io
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from sizes import TINY, sizes

ROOT = Path(__file__).parents[2]
GOALS = {"reduced": 1.3, "peak": 150.0, "cold": 240.0, "warm": 3.0, "warped": 1.0}
UNITS = {"reduced": " × pyvips", "peak": " MB", "cold": " s", "warm": " s", "warped": " s"}
RUNS, BASES, PHOTOGRAPHS = 1 if TINY else 7, 8, 400
LARGE, USUAL = ((600, 400), (400, 300)) if TINY else ((6000, 4000), (4000, 3000))


def main() -> None:
    """Measure and print."""
    (count,) = sizes(PHOTOGRAPHS, tiny=(2,))
    with tempfile.TemporaryDirectory() as scratch:
        here = Path(scratch)
        (here / "large.jpg").write_bytes(photograph(0, LARGE))
        figures = reduced(here / "large.jpg") | {"peak": peak(here / "large.jpg"), "warped": warped(here / "large.jpg")}
        figures |= built(here, count)
    for name, figure in figures.items():
        reach = "reached" if figure <= GOALS[name] else "MISSED"
        print(f"{name}: {figure:.2f}{UNITS[name]}, goal at most {GOALS[name]:g}: {reach}")


def photograph(number: int, size: tuple[int, int]) -> bytes:
    """Return a JPEG of one of the demo's pictures, enlarged, with the grain of a camera over it."""
    sources = sorted((ROOT / "sample_job/photos").glob("*.jpg"))
    with Image.open(sources[number % len(sources)]) as source:
        image = source.convert("RGB").resize(size, Image.Resampling.BICUBIC)
    grain = Image.effect_noise(size, 9)
    image = Image.blend(image, Image.merge("RGB", (grain, grain, grain)), 0.12)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=92)
    return out.getvalue()


def timed(do: Callable[[], object]) -> float:
    """Return how long something takes, in seconds."""
    started = time.perf_counter()
    do()
    return time.perf_counter() - started


def ours(path: Path) -> None:
    """Make three sizes in two formats."""
    from benchrecord.figures.photo import JPEG_QUALITY, drawn_anew, encoded, in_each_size, webp_quality  # noqa: PLC0415  # what is measured

    for image in in_each_size(drawn_anew(path.read_bytes())):
        encoded(image, "webp", quality=webp_quality(image.size))
        encoded(image, "jpg", quality=JPEG_QUALITY)


def theirs(path: Path) -> None:
    """Make the same by pyvips: the same widths, coders and settings, without metadata."""
    import pyvips  # noqa: PLC0415  # no dependency  # type: ignore[import-not-found]

    from benchrecord.figures.photo import JPEG_QUALITY, LONGEST, WEBP_METHOD, WEBP_QUALITY  # noqa: PLC0415

    data, larger = path.read_bytes(), None
    for width in LONGEST:
        image = (
            larger.thumbnail_image(width)
            if larger
            else pyvips.Image.thumbnail_buffer(data, width, height=width, export_profile="srgb")
        )
        larger = image.copy_memory()
        larger.webpsave_buffer(Q=WEBP_QUALITY[width], effort=WEBP_METHOD, keep="none")
        larger.jpegsave_buffer(Q=JPEG_QUALITY, optimize_coding=True, interlace=True, keep="none")


def reduced(path: Path) -> dict[str, float]:
    """Return how many times as long as pyvips it takes, each run in turn."""
    try:
        theirs(path)
    except ImportError:
        print("pyvips is not here: pip install pyvips pyvips-binary")
        return {}
    ours(path)
    pairs = [(timed(lambda: ours(path)), timed(lambda: theirs(path))) for _ in range(RUNS)]
    own, other = (statistics.median(side) for side in zip(*pairs, strict=True))
    print(f"24 megapixels, three sizes in two formats: {1000 * own:.0f} ms, pyvips {1000 * other:.0f} ms")
    return {"reduced": own / other}


def peak(path: Path) -> float:
    """Return the most memory, in MB, of a process that publishes one picture."""
    code = (
        f"from pathlib import Path; from benchrecord.figures.photo import publishable; publishable(Path({str(path)!r}).read_bytes());"
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    said = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    return int(said) / 1024


def warped(path: Path) -> float:
    """Return how long it takes to see a decoded picture as another camera would."""
    from benchrecord.bench.warp import grid_for, pieces  # noqa: PLC0415  # what is measured
    from benchrecord.figures.warp import warped as warp  # noqa: PLC0415

    size = (LARGE[0] // 2, LARGE[1] // 2)

    def seen(x: float, y: float) -> tuple[float, float]:
        w = 1 + 2e-5 * x + 1e-5 * y
        return (2.02 * x + 0.05 * y + 9) / w, (0.03 * x + 1.98 * y + 7) / w

    with Image.open(path) as image:
        pixels = image.convert("RGB")
    found = pieces(seen, size, grid_for(size, bent=False))
    if not isinstance(found, tuple):
        raise SystemExit(found.reason)
    return statistics.median(timed(lambda: warp(pixels, found, size, beyond="#888888")) for _ in range(RUNS))


def built(here: Path, count: int) -> dict[str, float]:
    """Build a job of many photographs twice; return the seconds of the first, and what photographs add to the second."""
    job, bare = folder(here / "many", count), folder(here / "bare", 0)
    cold, again = (build(job, here) for _ in range(2))
    build(bare, here)
    without = build(bare, here)
    walls, works = zip(cold, again, without, strict=True)
    print(f"{count} photographs of 12 megapixels: {said(walls)}; work of all cores: {said(works)}")
    return {"cold": cold[0] * PHOTOGRAPHS / max(count, 1), "warm": (again[0] - without[0]) * PHOTOGRAPHS / max(count, 1)}


def said(seconds: tuple[float, ...]) -> str:
    """Word the seconds of the three builds."""
    cold, again, without = seconds
    return f"cold {cold:.1f} s, again {again:.1f} s, the same job without them {without:.1f} s"


def folder(job: Path, count: int) -> Path:
    """Write a job of photographs, each a file of its own content."""
    (job / "photos").mkdir(parents=True)
    (job / "job.yml").write_text("title: Many photographs\npublish: yes\n", "utf-8")
    bases = [photograph(n, USUAL) for n in range(min(BASES, count))]
    for number in range(count):
        base, told = bases[number % BASES], f"{number}".encode()
        comment = b"\xff\xfe" + (len(told) + 2).to_bytes(2, "big") + told
        (job / f"photos/{number:03}.jpg").write_bytes(base[:2] + comment + base[2:])
    return job


def build(job: Path, here: Path) -> tuple[float, float]:
    """Build a site of one job in a process of its own, on two cores; return its seconds by the clock, and those of all cores' work."""
    env = {**os.environ, "BENCHRECORD_CACHE": str(here / "cache")}
    site = here / "site"
    shutil.rmtree(site, ignore_errors=True)
    words = [sys.executable, "-m", "benchrecord", "build", str(job), "--site-dir", str(site)]
    started, two = time.perf_counter(), sorted(os.sched_getaffinity(0))[:2]
    running = subprocess.Popen(words, env=env, stdout=subprocess.DEVNULL)
    os.sched_setaffinity(running.pid, two)
    _, status, used = os.wait4(running.pid, 0)
    if status:
        raise SystemExit(f"{job} was not built")
    return time.perf_counter() - started, used.ru_utime + used.ru_stime


if __name__ == "__main__":
    main()
