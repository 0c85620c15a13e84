"""Any table of readings: a kind finds something or says why not, and no number of it is endless."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.findings import _check_json
from benchrecord.intake.csv_file import parse_table
from benchrecord.intake.tables import typed_table
from benchrecord.model.findings import CheckFinding, Value
from benchrecord.model.job import Check, DecisionRule, Meter, MeterRange
from benchrecord.model.quantity import Quantity
from benchrecord.model.table import Column, Holds, Table
from benchrecord.problems import Problem

KNOWN = ("transfer", "impedance", "contacts", "safety", "warm-up", "envelope", "tracking")
KINDS = {name: kind for name, kind in all_kinds().items() if name in KNOWN}
METER = Meter("m", "M", ranges=tuple(MeterRange(u, 200, 0.2, 3, 0.01) for u in ("V", "ohm", "Mohm", "mA", "dB")))
NUMBERS = [
    "",
    "0",
    "1",
    "-1",
    "0.001",
    "5",
    "5",
    "100",
    "-60",
    "3.3",
    "> 5",
    "< 3",
    "0.5 V",
    "200 mV",
    "-10 dBu",
    "4k7",
    "1e-300",
    "1e300",
    "1e15",
    "1e-18",
    "-1e15",
    "-1e308",
]
UNITS = ["V", "mV", "ohm", "Mohm", "mA", "dB", "Hz", ""]
KEYS = st.fixed_dictionaries(
    {},
    optional={
        "law": st.sampled_from(["linear", "decibel", "pan", "meter"]),
        "range": st.sampled_from([(0.0, 5.0), (1.0, 100.0)]),
        "input_unit": st.sampled_from(["V", "deg", "dB"]),
        "output_unit": st.sampled_from(["V", "mV", "dB", "Hz"]),
        "unit": st.sampled_from(["V", "Hz"]),
        "hertz_per_volt": st.sampled_from([1.0, 500.0]),
        "not_tracking": st.sampled_from([True]),
        "range_hz": st.just((1.0, 100.0)),
        "wanted": st.just({"attack": (0.1, 5.0)}),
        **{
            name: st.sampled_from([0.5, 1.0, 5.0, 100.0])
            for name in ("nominal_slope", "off_at", "open_above", "high_above", "reference_volts")
        },
    },
)
LIMITS = st.none() | st.sampled_from(
    [Quantity(1.0, unit, f"1 {unit or ''}") for unit in (None, "ohm", "V", "%", "dB", "cents")]
)


def cells(column: Column) -> st.SearchStrategy[str]:
    if column.holds in (Holds.NUMBER, Holds.QUANTITY):
        return st.sampled_from(NUMBERS)
    words = {Holds.WORD: [*column.choice, ""], Holds.UNIT: UNITS}
    return st.sampled_from(words.get(column.holds, ["insulation", "earth bond", "attack", "A4", "F#", "1"]))


def tables(columns: tuple[Column, ...]) -> st.SearchStrategy[Table]:
    report: list[Problem] = []
    head = ",".join(c.name for c in columns)
    rows = st.lists(st.tuples(*map(cells, columns)).map(",".join), max_size=8)
    return rows.map(lambda lines: typed_table(parse_table("\n".join([head, *lines]), "t.csv", report), columns, report))


def values(finding: CheckFinding) -> list[Value]:
    sides = [side for side in (finding.found, finding.left) if side]
    results = [r for side in sides for r in (side.results, *(i.results for i in side.items))]
    told = [v for r in results for v in r.values()]
    assert all(v.reason for v in told if v.value is None)
    return told + [cell for row in finding.table.rows for cell in row if isinstance(cell, Value)]


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(data=st.data())
def test_any_table_comes_to_something(kind: str, data: st.DataObject) -> None:
    table, keys, limit = (data.draw(s) for s in (tables(KINDS[kind].schema.columns), KEYS, LIMITS))
    meter, rule = data.draw(st.sampled_from(["", "m"])), data.draw(st.sampled_from(list(DecisionRule)))
    finding = KINDS[kind].examine(
        Check("c", "C", kind, meter=meter, limit=limit, table=table, keys=keys), Bench(rule, {"m": METER})
    )
    assert json.dumps(_check_json(finding), allow_nan=False)
    for value in values(finding):
        assert not isinstance(value.value, float) or math.isfinite(value.value)
        assert value.uncertainty is None or (math.isfinite(value.uncertainty) and value.uncertainty >= 0)
    assert finding.plain.endswith(".")
    drawn = KINDS[kind].chart(finding)
    assert drawn is None or (drawn.caption and drawn.alt)
