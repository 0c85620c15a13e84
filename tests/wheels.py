"""Looks in the package index for wheels of every dependency for other systems: ``python tests/wheels.py``, by hand.

It prints a table for DEVELOPERS.md. Wheels are downloaded into a folder that is removed; pip keeps them in its cache.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

PROJECT = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8"))["project"]
PACKAGE, RECORD = PROJECT["dependencies"], PROJECT["optional-dependencies"]["record"]
SYSTEMS = {
    "Windows, x86-64": ("win_amd64",),
    "Windows, ARM": ("win_arm64",),
    "macOS, Apple silicon": tuple(f"macosx_{release}_0_arm64" for release in (12, 13, 14, 15)),
    "macOS, Intel": tuple(f"macosx_{release}_0_x86_64" for release in (12, 13, 14, 15)),
}
PYTHONS = ("3.11", "3.14")


def has(requirements: Sequence[str], tag: str, python: str, *, alone: bool) -> bool:
    """Say whether the index has wheels of all requirements; with all that they need in turn, unless ``alone``."""
    with tempfile.TemporaryDirectory() as folder:
        words = [sys.executable, "-m", "pip", "download", "--quiet", "--only-binary=:all:", *(["--no-deps"] if alone else [])]
        words += ["--platform", tag, "--python-version", python, "--dest", folder, *requirements]
        return subprocess.run(words, capture_output=True, check=False).returncode == 0


def missing(requirements: Sequence[str], tag: str, python: str) -> list[str]:
    """Return what has no wheel; or the one word that something it needs in turn has none."""
    if has(requirements, tag, python, alone=False):
        return []
    return [name for name in requirements if not has([name], tag, python, alone=True)] or ["something that these need"]


def answers(requirements: Sequence[str], tags: Sequence[str], python: str) -> Iterator[str]:
    """Yield what is missing for the oldest release of a system that lacks least."""
    lacking = {}
    for tag in tags:
        lacking[tag] = missing(requirements, tag, python)
        if not lacking[tag]:
            break
    best = min(lacking, key=lambda tag: len(lacking[tag]))
    yield f"all ({best})" if not lacking[best] else f"not {', '.join(lacking[best])} ({best})"


def main() -> None:
    """Print a table of all systems."""
    print(f"Checked on {datetime.now(UTC):%Y-%m-%d}.\n\n| system | Python | the package | and its record |\n|---|---|---|---|")
    for system, tags in SYSTEMS.items():
        for python in PYTHONS:
            cells = [*answers(PACKAGE, tags, python), *answers(RECORD, tags, python)]
            print(f"| {system} | {python} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
