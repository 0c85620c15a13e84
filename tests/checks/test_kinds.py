"""Which kinds of check there are."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.checks import all_kinds, schemas


def test_every_file_with_a_kind_is_one() -> None:
    assert set(all_kinds()) == {"readings", "components", "tracking"}


def test_later_kinds_are_read_and_not_worked_out() -> None:
    known = schemas(all_kinds())
    assert {name for name, schema in known.items() if not schema.worked_out} == {
        "spectrum", "response", "envelope", "transfer", "impedance", "decay", "warm-up", "contacts", "date-codes", "safety",
    }  # fmt: skip


@pytest.mark.parametrize("text", ["x = 1\n", "KIND = 'readings'\n"])
def test_a_file_without_a_kind_is_refused_by_name(tmp_path: Path, text: str) -> None:
    (tmp_path / "odd.py").write_text(text)
    with pytest.raises(ValueError, match=r"odd\.py holds no KIND"):
        all_kinds([tmp_path / "odd.py"])


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"gone\.py is no Python file"):
        all_kinds([tmp_path / "gone.py"])


OUTSIDE = """
from benchrecord.checks.kind import Kind
from benchrecord.checks.readings import KIND as READINGS
from benchrecord.model.table import KindSchema

KIND = Kind(KindSchema("{name}"), "A kind from outside", READINGS.examine, READINGS.chart)
"""


def test_a_kind_is_one_file(tmp_path: Path) -> None:
    (tmp_path / "lamps.py").write_text(OUTSIDE.format(name="lamps"))
    known = all_kinds([tmp_path / "lamps.py"])
    assert set(known) == {"readings", "components", "tracking", "lamps"}
    assert schemas(known)["lamps"].worked_out


def test_a_kind_from_outside_may_work_out_what_is_only_listed_here(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(OUTSIDE.format(name="contacts"))
    assert schemas(all_kinds([tmp_path / "own.py"]))["contacts"].worked_out
