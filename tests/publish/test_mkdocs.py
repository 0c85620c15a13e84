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

from folders import contents, write
from searching import installed_worker_name

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


def mkdocs(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*MKDOCS, *arguments], cwd=folder, env=QUIET, capture_output=True, text=True, check=False)


@pytest.mark.slow
def test_mkdocs_build_puts_a_whole_site_in_place_or_leaves_the_former_one(tmp_path: Path, job: Path) -> None:
    ready(tmp_path)
    assert mkdocs(tmp_path, "build").returncode == 0
    before = contents(tmp_path / "site")
    for broken in (
        {"docs/a.md": "[dead](nowhere.md)"},
        {"small/job.yml": "titel: x\n"},
        {"docs/a.md": "[dead](#here)\n<a href='gone.html'>x</a>"},
    ):
        kept = {name: (tmp_path / name).read_text() if (tmp_path / name).exists() else "" for name in broken}
        write_all(tmp_path, broken)
        ran = mkdocs(tmp_path, "build", "--strict")
        assert ran.returncode == 1
        assert "Traceback" not in ran.stderr
        assert contents(tmp_path / "site") == before
        write_all(tmp_path, kept)
    (tmp_path / "docs/a.md").write_text("All is well.", "utf-8")
    assert mkdocs(tmp_path, "build", "--strict").returncode == 0
    assert "All is well." in (tmp_path / "site/a.html").read_text("utf-8")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["docs", "mkdocs.yml", "site", "small"]
    assert job.is_dir()


@pytest.mark.slow
def test_mkdocs_build_says_in_a_sentence_why_it_leaves_a_folder_alone(tmp_path: Path, job: Path) -> None:
    ready(tmp_path)
    (tmp_path / "site").mkdir()
    (tmp_path / "site/letter.txt").write_text("dear")
    ran = mkdocs(tmp_path, "build")
    assert (ran.returncode, "letter.txt. Nothing was touched" in ran.stderr, "Traceback" in ran.stderr) == (1, True, False)
    assert contents(tmp_path / "site") == {"letter.txt": b"dear"}
    assert "build without it" in mkdocs(tmp_path, "build", "--dirty").stderr
    assert job.is_dir()


@pytest.mark.slow
def test_what_the_user_adds_to_the_look_is_searched_too(tmp_path: Path, job: Path) -> None:
    ready(tmp_path)
    (tmp_path / "mkdocs.yml").write_text(CONFIG.replace("font: false", "font: false, custom_dir: look"), "utf-8")
    (tmp_path / "look/assets").mkdir(parents=True)
    (tmp_path / "look/assets/own.txt").write_text("Made for Ottilie Marrenbach.", "utf-8")
    assert mkdocs(tmp_path, "build").returncode == 0
    write(job, {"job.yml": "title: A small job\npublish: yes\nowner: {name: Ottilie Marrenbach}\n"})
    ran = mkdocs(tmp_path, "build")
    assert (ran.returncode, "assets/own.txt: byte 9 tells owner: name" in ran.stderr) == (1, True)


def write_all(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")


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


@pytest.mark.slow
def test_a_theme_whose_search_is_unknown_is_refused_with_the_remedy(tmp_path: Path, job: Path) -> None:  # noqa: ARG001  # the folder
    ready(tmp_path)
    worker = tmp_path / "look/assets/javascripts/workers" / installed_worker_name()
    worker.parent.mkdir(parents=True)
    worker.write_text("self.lunr={}", "utf-8")
    own = CONFIG.replace("font: false", "font: false, custom_dir: look").replace("plugins:\n", "plugins:\n  - search\n")
    (tmp_path / "mkdocs.yml").write_text(own, "utf-8")
    ran = mkdocs(tmp_path, "build")
    assert ran.returncode == 1
    assert "fix: pip install mkdocs-material==" in ran.stderr
    assert "Traceback" not in ran.stderr
