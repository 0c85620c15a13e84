"""Which kinds of check there are."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.checks.kind import Once


def test_every_file_with_a_kind_is_one() -> None:
    assert set(all_kinds()) == {
        "readings",
        "components",
        "tracking",
        "warm-up",
        "safety",
        "impedance",
        "contacts",
        "date-codes",
        "transfer",
        "decay",
        "envelope",
        "response",
        "spectrum",
    }


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
    assert set(known) == {*all_kinds(), "lamps"}
    assert "lamps" in schemas(known)


def test_a_kind_from_outside_goes_before_one_of_here(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(OUTSIDE.format(name="contacts"))
    assert all_kinds([tmp_path / "own.py"])["contacts"].title == "A kind from outside"


COLUMNS = {
    "readings": "item unit nominal low high limit as_found as_left ref",
    "components": "ref marked tolerance rating_w volts as_found as_left",
    "tracking": "volts note as_found_hz as_left_hz",
    "spectrum": "",
    "response": "hz as_found_db as_left_db",
    "envelope": "stage setting as_found_s as_left_s low high",
    "transfer": "input channel as_found as_left",
    "impedance": "item method resistor_ohm as_found_without as_found_with as_left_without as_left_with low high",
    "decay": "",
    "warm-up": "minutes as_found as_left",
    "contacts": "row column as_found_ohm as_left_ohm",
    "safety": "test unit limit low high as_found as_left",
}
KEYS = {
    "readings": "",
    "components": "ambient_c",
    "tracking": "volts_per_octave hertz_per_volt reference_volts tracks_with trim steps not_tracking range_hz",
    "spectrum": "expect target nominal_hz carrier_hz signal_hz full_scale_v",
    "response": "low_pass high_pass band_pass sweep_hz sweep_s reference noise oscillation nominal_hz",
    "envelope": "source mode wanted",
    "transfer": "input_unit output_unit law range nominal_slope off_at",
    "impedance": "resistor_tolerance",
    "decay": "wanted_s struck_s bands",
    "warm-up": "unit",
    "contacts": "open_above high_above",
    "safety": "equipment frequency_hz",
}


@pytest.mark.parametrize("kind", COLUMNS)
def test_a_kind_reads_the_columns_and_keys_of_the_guide(kind: str) -> None:
    schema = schemas(all_kinds())[kind]
    assert {c.name for c in schema.columns} == set(COLUMNS[kind].split())
    assert {c.name for c in schema.keys} == set(KEYS[kind].split())


def test_what_several_checks_rest_on_is_worked_out_once_whoever_asks_first() -> None:
    once, together, made = Once(), Barrier(4), list[str]()

    def asked(about: str) -> str:
        together.wait()
        return once(about, lambda: made.append(about) or about.upper())

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(asked, ["a", "a", "b", "a"])) == ["A", "A", "B", "A"]
    assert sorted(made) == ["a", "b"]


def test_what_fails_is_told_to_all_who_ask() -> None:
    once = Once()
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            once("a", lambda: 1 / 0)
