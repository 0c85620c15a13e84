"""How fast a record is verified, against ``sha512sum`` on the same files.

``python tests/bench/verify_benchmark.py [MB] [RUNS]`` writes a record of MB megabytes (600 unless told otherwise; recordings, pictures
and many small files) and prints the medians of RUNS runs (5), measured in turn. Goal: at least 0.8 times the speed.
"""

from __future__ import annotations

import statistics
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np
from sizes import sizes

from benchrecord.record.bag import bag
from benchrecord.record.verify import verify
from benchrecord.record.writing import write

GOAL = 0.8
SMALL, PICTURE = 8_000, 3_000_000


def main() -> None:
    """Measure and print."""
    megabytes, runs = sizes(600, 5, tiny=(1, 1))
    with tempfile.TemporaryDirectory() as scratch:
        folder, zipped = Path(scratch) / "record", Path(scratch) / "record.zip"
        files = bag(payload(megabytes * 1_000_000), (), {})
        write(files, folder, zipped=False, prove=lambda _: None)
        write(files, zipped, zipped=True, prove=lambda _: None)
        listed = [str(p) for p in folder.rglob("*") if p.is_file()]
        times: dict[str, list[float]] = {"sha512sum": [], "folder": [], "zip": []}
        for _ in range(runs):
            times["sha512sum"].append(
                seconds(lambda: subprocess.run(["sha512sum", *listed], stdout=subprocess.DEVNULL, check=True))
            )
            times["folder"].append(seconds(lambda: proved(folder)))
            times["zip"].append(seconds(lambda: proved(zipped)))
    report({name: statistics.median(t) for name, t in times.items()}, len(listed), megabytes)


def payload(size: int) -> dict[str, bytes]:
    """Return files like those of a record: half of it recordings, the rest pictures and 400 small ones."""
    rng = np.random.default_rng(1)
    made = {f"data/site/{n}.html": rng.bytes(SMALL) for n in range(400)}
    made |= {f"data/recordings/{n}.flac": rng.bytes(size // 8) for n in range(4)}
    return made | {f"data/photographs/{n}.jpg": rng.bytes(PICTURE) for n in range(max(1, size // 2 // PICTURE))}


def proved(path: Path) -> None:
    """Verify a record that is whole."""
    if verify(path).faults:
        raise SystemExit("the record is not whole")


def seconds(run: object) -> float:
    """Return how long a call takes."""
    started = time.perf_counter()
    run()  # type: ignore[operator]  # a function without arguments
    return time.perf_counter() - started


def report(times: dict[str, float], files: int, megabytes: int) -> None:
    """Print each speed with its goal."""
    print(f"{files} files, {megabytes} MB; " + ", ".join(f"{name} {t:.2f} s" for name, t in times.items()))
    for name in ("folder", "zip"):
        ratio = times["sha512sum"] / times[name]
        print(
            f"verify, {name}: {ratio:.2f} × the speed of sha512sum, goal {GOAL:g}: {'reached' if ratio >= GOAL else 'MISSED'}"
        )


if __name__ == "__main__":
    main()
