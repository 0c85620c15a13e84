"""A number that is none is no result."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.findings.finite import NOT_FINITE, finite
from benchrecord.findings.kept import as_bytes
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check

CHECK = Check("c", "C", "spectrum")
NUMBERS = st.floats()
VALUES = st.builds(Value, NUMBERS | st.lists(NUMBERS).map(tuple) | st.none(), st.text(max_size=2), st.none() | NUMBERS)
RESULTS = st.dictionaries(st.text(max_size=3), VALUES, max_size=3)
ITEMS = st.lists(st.builds(Item, st.text(max_size=3), st.sampled_from(Verdict), RESULTS), max_size=2).map(tuple)
SIDES = st.none() | st.builds(Side, st.sampled_from(Verdict), RESULTS, ITEMS)
TABLES = st.lists(st.lists(VALUES, max_size=2).map(tuple), max_size=2).map(lambda rows: DataTable((), tuple(rows)))


@given(SIDES, SIDES, TABLES)
def test_any_finding_can_be_written_as_json(found: Side | None, left: Side | None, table: DataTable) -> None:
    as_bytes(finite(CheckFinding(CHECK, "", found, left, table)))


@pytest.mark.parametrize("number", [math.inf, -math.inf, math.nan])
def test_a_number_that_is_none_is_not_judged(number: float) -> None:
    side = Side(Verdict.IN, {"thd_percent": Value(number, "%"), "level_dbfs": Value(-3.0, "dBFS")}, worst="x")
    left = finite(CheckFinding(CHECK, "", None, side, DataTable((), ()))).left
    assert left
    assert (left.verdict, left.reason, left.worst) == (Verdict.NOT_MEASURED, NOT_FINITE, "")
    assert left.results["thd_percent"].value is None
    assert left.results["level_dbfs"].value == -3.0


def test_a_finding_of_finite_numbers_stays_as_it_is() -> None:
    side = Side(Verdict.IN, {"thd_percent": Value(0.2, "%", 0.01)}, (Item("1", Verdict.IN, {"a": Value((1.0, 2.0))}),))
    finding = CheckFinding(CHECK, "", side, None, DataTable(("a",), ((Value(1.0),),)))
    assert finite(finding) == finding
