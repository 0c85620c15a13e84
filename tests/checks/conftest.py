"""Working out a check from the text of its table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds
from benchrecord.findings import work_out
from benchrecord.model.findings import CheckFinding
from benchrecord.publish.work import read_all
from folders import write

Worked = Callable[..., CheckFinding]
METER = """meters:
  - id: dmm
    title: Bench multimeter
    calibrated: 2025-11-03
    ranges:
      - {unit: V, up_to: 20, reading_percent: 0.05, counts: 3, resolution: 0.001}
      - {unit: V, up_to: 200, reading_percent: 0.05, counts: 3, resolution: 0.01}
      - {unit: kohm, up_to: 200, reading_percent: 0.2, counts: 3, resolution: 0.1}
      - {unit: Hz, up_to: 100000, reading_percent: 0.001, counts: 1, resolution: 0.01}
"""


@pytest.fixture
def worked(tmp_path: Path) -> Worked:
    """Return a function from a check's keys and table to its finding; with ``problems=None`` whatever intake says of them."""

    def work(
        keys: str, table: str, *, rule: str = "guarded", more: dict[str, str] | None = None, problems: Sequence[str] | None = ()
    ) -> CheckFinding:
        files: dict[str, str | bytes] = {
            "job.yml": f"title: T\ndecision_rule: {rule}\n{METER}",
            "checks.yml": f"- {{id: c, title: C, file: c.csv, {keys}}}\n",
            "measurements/c.csv": table,
            **(more or {}),
        }
        kinds = all_kinds()
        jobs, found = read_all([write(tmp_path / "job", files)], kinds)
        assert problems is None or [p.code for p in found] == list(problems)
        return work_out(jobs[0][1], kinds).check("c")

    return work
