"""Reading the published values that lie in this folder; each row names its source and its class."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table; an empty table is an error, so that no test runs over nothing."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    if not found:
        raise ValueError(f"{name} has no rows")
    return found


def checks(topic: str) -> dict[str, dict[str, str]]:
    """Return the single check values of a topic by their id."""
    return {row["id"]: row for row in rows(f"{topic}-checks.csv")}


def data(name: str) -> Any:
    """Return a JSON file's content."""
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))
