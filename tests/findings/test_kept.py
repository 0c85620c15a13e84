"""A finding comes back from its bytes as it was."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchrecord.findings.kept import as_bytes, from_bytes
from benchrecord.model.findings import CheckFinding, DataTable, Item, ResultWarning, Side, Value, Verdict
from benchrecord.model.job import Check

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
VALUES = st.builds(
    Value,
    st.one_of(st.none(), st.booleans(), st.integers(), NUMBERS, st.text(), st.lists(NUMBERS).map(tuple)),
    st.text(),
    st.one_of(st.none(), NUMBERS),
    st.one_of(st.none(), st.integers(0, 9)),
    st.text(),
)
RESULTS = st.dictionaries(st.text(), VALUES, max_size=3)
WARNINGS = st.lists(st.builds(ResultWarning, st.text(), st.text(), st.lists(st.text()).map(tuple)), max_size=2).map(tuple)
ITEMS = st.builds(Item, st.text(), st.sampled_from(Verdict), RESULTS, st.text(), WARNINGS)
SIDES = st.none() | st.builds(
    Side, st.sampled_from(Verdict), RESULTS, st.lists(ITEMS, max_size=2).map(tuple), st.text(), st.text(), WARNINGS
)
ROWS = st.lists(st.lists(st.text() | VALUES, max_size=3).map(tuple), max_size=3).map(tuple)
TABLES = st.builds(DataTable, st.lists(st.text()).map(tuple), ROWS, st.lists(st.text()).map(tuple))
CHECK = Check("c", "C", "spectrum")
FINDINGS = st.builds(
    CheckFinding, st.just(CHECK), st.text(), SIDES, SIDES, TABLES, *[st.text()] * 6, curve=st.none() | TABLES
)  # fmt: skip


@given(FINDINGS)
def test_nothing_is_lost(finding: CheckFinding) -> None:
    back = from_bytes(as_bytes(finding), CHECK)
    assert back == finding
    assert repr(back) == repr(finding)  # an int stays an int, a tuple a tuple
