"""The data of a record: described so that a program that knows nothing of us reads it right."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import frictionless
import pytest

from benchrecord.model.findings import DataTable, Value
from benchrecord.pages.view import View
from benchrecord.publish.work import findings_json
from benchrecord.record.data_package import _csv, _readings, package


@pytest.fixture
def files(view: View) -> dict[str, bytes]:
    return package(view, findings_json(view.findings, view.edition))


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode())))


def test_an_outside_reader_finds_it_valid(files: dict[str, bytes], tmp_path: Path) -> None:
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    read = frictionless.Package(str(tmp_path / "datapackage.json"))
    assert {r.name for r in read.resources} >= {"parts", "faults", "readings-rails", "results", "findings", "places"}
    report = frictionless.validate(str(tmp_path / "datapackage.json"))
    assert report.valid, report.flatten(["message"])


def test_every_file_is_described_and_every_described_file_is_there(files: dict[str, bytes]) -> None:
    described = json.loads(files["datapackage.json"])
    assert {r["path"] for r in described["resources"]} | {"datapackage.json"} == files.keys()
    for resource in described["resources"]:
        if "schema" in resource:
            assert [f["name"] for f in resource["schema"]["fields"]] == next(
                csv.reader(io.StringIO(files[resource["path"]].decode()))
            )


def test_numbers_have_their_unit_or_one_beside_each(files: dict[str, bytes]) -> None:
    described = {r["name"]: r for r in json.loads(files["datapackage.json"])["resources"]}
    results = {f["name"]: f for f in described["results"]["schema"]["fields"]}
    assert (results["value"]["type"], results["unit"]["type"]) == ("number", "string")
    one = _readings(
        "x", "X", DataTable(("Time", "Level"), ((Value(1.5, "s"), Value(2, "V")), (Value(2.5, "s"), Value(3, "mV"))))
    )
    assert [(f.name, f.type, f.unit) for f in one.fields] == [
        ("Time", "number", "s"),
        ("Level", "number", ""),
        ("Level unit", "string", ""),
    ]
    assert _csv(one) == "Time,Level,Level unit\n1.5,2,V\n2.5,3,mV\n"


def test_two_columns_of_one_name_are_told_apart() -> None:
    made = _readings("x", "X", DataTable(("A", "A"), (("1", "2"),)))
    assert [f.name for f in made.fields] == ["A", "A 2"]


def test_every_result_is_there_with_its_check_and_stage(files: dict[str, bytes]) -> None:
    found = {(r["check"], r["stage"], r["item"], r["result"]): r for r in rows(files["results.csv"])}
    rail = found["rails", "as_left", "'+15 V", "value"]  # no spreadsheet takes it for a formula
    assert (rail["value"], rail["unit"], rail["verdict"]) == ("15.02", "V", "in")


def test_what_is_not_the_owner_s_is_in_no_file(files: dict[str, bytes]) -> None:
    whole = b"".join(files.values())
    for private in (b"Quayside", b"hourly", b"Not for the owner", b"secret", b"circuit"):
        assert private not in whole


def test_no_cell_is_a_formula(view: View) -> None:
    made = _readings("x", "X", DataTable(("A",), (("=1+1",), ("-2",), ("@x",))))
    assert _csv(made) == "A\n'=1+1\n-2\n'@x\n"
    assert view.job.id
