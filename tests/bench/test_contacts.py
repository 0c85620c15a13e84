"""Contacts: the definitions of open, high, worst and median hold for any field of readings."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.contacts import sort_out

OHMS = st.lists(st.none() | st.floats(0, 1e6, allow_subnormal=False), min_size=1, max_size=40)
ABOVE = st.none() | st.floats(0.1, 1e5)


def test_by_hand() -> None:
    found = sort_out([0.4, None, 12.0, 5000.0, 0.6], open_above=1000, high_above=10)
    assert (found.open, found.high, found.worst, found.median_ohm) == ((1, 3), (2,), 2, 0.6)


def test_where_nothing_closes_there_is_no_worst() -> None:
    found = sort_out([None, 2000.0], open_above=1000)
    assert (found.open, found.high, found.worst, found.median_ohm) == ((0, 1), (), None, None)


@given(OHMS, ABOVE, ABOVE)
def test_every_contact_is_open_or_closes_and_only_those_that_close_count(
    ohms: list[float | None], opened: float | None, high: float | None
) -> None:
    found = sort_out(ohms, open_above=opened, high_above=high)
    closed = [ohm for n, ohm in enumerate(ohms) if n not in found.open and ohm is not None]
    assert len(closed) + len(found.open) == len(ohms)
    assert not set(found.open) & set(found.high)
    assert (found.worst is None) is (not closed)
    if closed:
        assert ohms[found.worst or 0] == max(closed)
        assert found.median_ohm == np.median(closed)
        assert len(found.high) == sum(high is not None and ohm > high for ohm in closed)
