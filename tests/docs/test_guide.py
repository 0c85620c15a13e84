"""The guide to the job folder names every column and key that a kind of check has, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds
from benchrecord.intake.checks_yml import OF_RECORDINGS

GUIDE = (Path(__file__).parents[2] / "site_src/job-folder.md").read_text("utf-8")
ROWS = dict(re.findall(r"^\| `([a-z-]+)` \| (.+) \|$", GUIDE.split("## Checks")[1].split("\n## ")[0], re.MULTILINE))
KINDS = all_kinds()


def names(text: str) -> set[str]:
    """Return the words that a cell sets in code, without what stands in brackets behind them."""
    plain = re.sub(r"\([^)]*\)", "", text)
    return {name for span in re.findall(r"`([^`]*)`", plain) for name in re.split(r"[,\s]+", span) if name}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_row_with_its_columns_and_keys(kind: str) -> None:
    columns, recordings, keys = ROWS[kind].split(" | ")
    schema = KINDS[kind].schema
    assert names(columns) == {c.name for c in schema.columns}
    assert (recordings.strip() == "yes") is schema.recordings
    assert names(keys) == {c.name for c in schema.keys}


def test_no_row_is_of_a_kind_that_is_not_there() -> None:
    assert set(ROWS) == set(KINDS)


def test_the_keys_of_recordings_are_told() -> None:
    told = GUIDE.split("## Checks")[1]
    assert all(f"`{column.name}`" in told for column in OF_RECORDINGS)
