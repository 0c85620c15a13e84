"""Keys of a check: pairs, steps, ranges by name, a number or yes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from benchrecord.intake import read_job
from benchrecord.model.table import Column, Holds, KindSchema
from benchrecord.problems import Problem
from folders import write

KEYS = (
    Column("span", Holds.PAIR),
    Column("sweep", Holds.PAIR, unit="Hz", positive=True),
    Column("steps", Holds.STEPS, unit="V"),
    Column("wanted", Holds.PAIRS, unit="s", choice=("attack", "decay")),
    Column("low_pass", Holds.NUMBER_OR_YES, unit="Hz", positive=True),
    Column("bands", Holds.FLAG),
)
SCHEMA = {"k": KindSchema("k", keys=KEYS)}


def read(folder: Path, keys: str) -> tuple[dict[str, Any], list[Problem]]:
    """Return the keys of a check, and what is wrong with them."""
    job, problems = read_job(write(folder / "x", {"checks.yml": f"- {{id: a, title: A, kind: k, {keys}}}\n"}), SCHEMA)
    assert job
    return dict(job.checks[0].keys), list(problems)


@pytest.mark.parametrize(
    ("written", "name", "value"),
    [
        ("span: [-5, 5]", "span", (-5.0, 5.0)),
        ("sweep: [20, 20 kHz]", "sweep", (20.0, 20_000.0)),
        ("steps: [0, 500 mV, 1]", "steps", (0.0, 0.5, 1.0)),
        ("steps: [C2, F#3, Bb4]", "steps", ("C2", "F#3", "Bb4")),
        ("wanted: {attack: [2 ms, 2], decay: [0, 5]}", "wanted", {"attack": (0.002, 2.0), "decay": (0.0, 5.0)}),
        ("low_pass: 1.2 kHz", "low_pass", 1200.0),
        ("low_pass: yes", "low_pass", True),
        ("bands: no", "bands", False),
    ],
)
def test_a_key_is_read_in_its_unit(tmp_path: Path, written: str, name: str, value: object) -> None:
    keys, problems = read(tmp_path, written)
    assert not problems
    assert keys == {name: value if not isinstance(value, tuple) else pytest.approx(value) if "C2" not in value else value}


@pytest.mark.parametrize(
    ("written", "code", "got"),
    [
        ("span: 5", "wrong-type", "5"),
        ("span: [5, -5]", "limits-reversed", "[5, -5]"),
        ("span: [5, 5]", "limits-reversed", "[5, 5]"),
        ("sweep: [0, 20]", "not-positive", "[0, 20]"),
        ("sweep: [20, 2 V]", "wrong-type", "[20, 2 V]"),
        ("steps: 5", "wrong-type", "5"),
        ("steps: [0, high]", "not-a-number", "high"),
        ("steps: [0, 440 Hz]", "not-a-number", "440 Hz"),
        ("wanted: 2", "wrong-type", "2"),
        ("wanted: {atack: [1, 2]}", "unknown-key", "atack"),
        ("wanted: {attack: [2, 1]}", "limits-reversed", "[2, 1]"),
        ("low_pass: maybe", "not-a-number", "maybe"),
        ("low_pass: 3 V", "wrong-unit", "3 V"),
        ("low_pass: 0", "not-positive", "0"),
        ("bands: some", "wrong-type", "some"),
    ],
)
def test_a_key_that_cannot_be_read_is_one_problem_at_its_place(tmp_path: Path, written: str, code: str, got: str) -> None:
    keys, problems = read(tmp_path, written)
    assert [(p.code, p.got, p.place.file, p.place.line) for p in problems] == [(code, got, "checks.yml", 1)]
    assert not any(keys.values())
