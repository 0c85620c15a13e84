"""The wheel: built, installed into an empty environment, and used from another folder."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from benchrecord import __version__

ROOT = Path(__file__).parent.parent


@pytest.mark.slow
def test_a_site_is_built_with_nothing_but_the_wheel(tmp_path: Path, job: Path) -> None:
    """The wheel is built from the sdist, so both are whole."""
    subprocess.run([sys.executable, "-m", "build", "--outdir", tmp_path / "dist", ROOT], check=True, capture_output=True)
    (wheel,) = (tmp_path / "dist").glob("*.whl")
    assert len(list((tmp_path / "dist").glob("*.tar.gz"))) == 1
    subprocess.run([sys.executable, "-m", "venv", tmp_path / "empty"], check=True)
    programs = tmp_path / "empty" / "bin"
    subprocess.run([programs / "pip", "install", "-q", "--no-compile", wheel], check=True, capture_output=True)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    said = subprocess.run([programs / "benchrecord", "--version"], capture_output=True, text=True, check=True)
    assert said.stdout.strip().endswith(__version__)
    subprocess.run([programs / "benchrecord", "build", job], cwd=elsewhere, check=True, capture_output=True)
    assert "A small job" in (elsewhere / "site/jobs/small/index.html").read_text("utf-8")
    assert (elsewhere / "site/assets/benchrecord.css").is_file()
