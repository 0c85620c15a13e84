"""Two builds of each edition are the same, byte for byte: elsewhere on the disk, in another language, zone and order of hashes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from attacks.canaries import Canaries, folder
from benchrecord.model.job import Edition
from folders import contents, write

pytestmark = pytest.mark.slow
HERE = {"LC_ALL": "C", "LANG": "C", "TZ": "UTC", "PYTHONHASHSEED": "1"}
ELSEWHERE = {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Pacific/Chatham", "PYTHONHASHSEED": "4242"}


def built(place: Path, edition: Edition, surroundings: dict[str, str]) -> dict[str, bytes]:
    """Build a job folder of its own in a process of its own; return every file of the site."""
    job = write(place / "job", folder(Canaries(5), publish=True))
    env = {**os.environ, **surroundings, "SOURCE_DATE_EPOCH": "1760000000", "BENCHRECORD_CACHE": str(place / "cache")}
    words = [
        sys.executable,
        "-m",
        "benchrecord",
        "build",
        str(job),
        "--edition",
        edition.value,
        "--site-dir",
        str(place / "site"),
    ]
    subprocess.run(words, env=env, cwd=place, check=True, capture_output=True)
    return contents(place / "site")


@pytest.mark.parametrize("edition", Edition)
def test_two_builds_are_the_same(edition: Edition, tmp_path: Path) -> None:
    one = built(tmp_path / "a", edition, HERE)
    other = built(tmp_path / "quite" / "another place" / "é", edition, ELSEWHERE)
    assert [n for n in sorted({*one, *other}) if one.get(n) != other.get(n)] == []
    assert len(one) > 30
