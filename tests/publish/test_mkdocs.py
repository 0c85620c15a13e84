"""The plugins under mkdocs itself: strict and silent, one list of problems, and a reload when a job's file changes."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from folders import write

ROOT = Path(__file__).parents[2]
MKDOCS = [sys.executable, "-m", "mkdocs"]
QUIET = {**os.environ, "NO_MKDOCS_2_WARNING": "1"}
CONFIG = """
site_name: T
use_directory_urls: false
theme: {name: material, font: false}
plugins:
  - benchrecord-jobs: {folders: [small]}
  - benchrecord-links
  - benchrecord-guard
"""


def ready(tmp_path: Path) -> None:
    (tmp_path / "docs").mkdir()
    (tmp_path / "mkdocs.yml").write_text(CONFIG, "utf-8")


@pytest.mark.slow
def test_the_demo_builds_strictly_and_silently(tmp_path: Path) -> None:
    ran = subprocess.run(
        [*MKDOCS, "build", "--strict", "-d", tmp_path / "site"], cwd=ROOT, env=QUIET, capture_output=True, text=True, check=True
    )
    said = [line for line in ran.stderr.splitlines() if not line.startswith("INFO")]
    assert said == []
    assert ran.stdout == ""


@pytest.mark.slow
def test_mkdocs_shows_the_whole_list_once_and_fails(tmp_path: Path, job: Path) -> None:
    ready(tmp_path)
    write(job, {"parts.csv": "ref,action\nR1,replased\n", "faults.csv": "symptoms\nx\n"})
    ran = subprocess.run([*MKDOCS, "build"], cwd=tmp_path, env=QUIET, capture_output=True, text=True, check=False)
    assert ran.returncode == 1
    assert ran.stderr.count("write replaced") == 1
    assert ran.stderr.count("write symptom") == 1
    assert "Traceback" not in ran.stderr


@pytest.mark.slow
def test_serve_reloads_when_a_file_of_the_job_changes(tmp_path: Path, job: Path) -> None:
    ready(tmp_path)
    note = write(job, {"notes/10-a.md": "first words"}) / "notes/10-a.md"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    serving = subprocess.Popen(
        [*MKDOCS, "serve", "-a", f"127.0.0.1:{port}"], cwd=tmp_path, env=QUIET, stderr=subprocess.DEVNULL
    )
    address = f"http://127.0.0.1:{port}/jobs/small/notes/a.html"
    try:
        wait_until(lambda: "first words" in text_of(address))
        note.write_text("second words", "utf-8")
        wait_until(lambda: "second words" in text_of(address))
    finally:
        serving.terminate()
        serving.wait(timeout=20)


def text_of(address: str) -> str:
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:  # noqa: S310  # the address is ours
            return str(answer.read().decode())
    except OSError:
        return ""


def wait_until(true: Callable[[], bool], seconds: float = 40) -> None:
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "it did not come"
        time.sleep(0.2)
