"""Warnings about results, and what they do to a verdict."""

from __future__ import annotations

import pytest

from benchrecord.model.findings import ALL_RESULTS, Item, ResultWarning, Side, Verdict, downgrade, is_in_doubt

CLIPPED = ResultWarning("clipped", "It is cut off at its top.", ("thd_percent",))
PAUSES = ResultWarning("pauses", "It pauses for 1 s of 4 s.")
OVERDRIVEN = ResultWarning("clipped", "It is cut off at its top.", ("thd_percent",), of_measurement=True)
DAMAGED = ResultWarning("damaged", "Half of it is missing.", (ALL_RESULTS,))


@pytest.mark.parametrize(
    ("warning", "result", "concluded"),
    [
        (CLIPPED, "thd_percent", Verdict.TOO_CLOSE),
        (CLIPPED, "fundamental_hz", Verdict.IN),
        (PAUSES, "thd_percent", Verdict.IN),
        (DAMAGED, "fundamental_hz", Verdict.TOO_CLOSE),
    ],
)
def test_a_warning_takes_back_an_in_of_the_results_it_affects_alone(
    warning: ResultWarning, result: str, concluded: Verdict
) -> None:
    assert downgrade(Verdict.IN, [warning], result) is concluded


@pytest.mark.parametrize("concluded", [v for v in Verdict if v is not Verdict.IN])
def test_a_warning_changes_no_other_verdict(concluded: Verdict) -> None:
    assert downgrade(concluded, [DAMAGED], "thd_percent") is concluded


def test_a_stage_lists_each_warning_once_with_the_items_it_belongs_to() -> None:
    items = (Item("1", Verdict.IN, warnings=(CLIPPED,)), Item("2", Verdict.IN, warnings=(CLIPPED, PAUSES)))
    side = Side(Verdict.IN, items=items, warnings=(DAMAGED,))
    assert side.all_warnings == (("", DAMAGED), ("1, 2", CLIPPED), ("2", PAUSES))


@pytest.mark.parametrize(
    ("concluded", "result", "kept"),
    [
        (Verdict.OUT, "thd_percent", False),
        (Verdict.IN, "thd_percent", False),
        (Verdict.OUT, "fundamental_hz", True),
        (Verdict.INFORMATION, "thd_percent", True),
        (Verdict.NOT_MEASURED, "thd_percent", True),
    ],
)
def test_what_the_recorder_may_have_done_takes_back_an_out_too(concluded: Verdict, result: str, kept: bool) -> None:  # noqa: FBT001
    assert downgrade(concluded, [PAUSES, OVERDRIVEN], result) is (concluded if kept else Verdict.TOO_CLOSE)


def test_a_stage_is_in_doubt_where_all_that_is_too_close_is_doubtful() -> None:
    close, doubtful = Item("1", Verdict.TOO_CLOSE), Item("2", Verdict.TOO_CLOSE, warnings=(OVERDRIVEN,))
    assert is_in_doubt(Side(Verdict.TOO_CLOSE, warnings=(OVERDRIVEN,)), "thd_percent")
    assert not is_in_doubt(Side(Verdict.TOO_CLOSE, warnings=(OVERDRIVEN,)), "fundamental_hz")
    assert not is_in_doubt(Side(Verdict.OUT, warnings=(DAMAGED,)), "thd_percent")
    assert is_in_doubt(Side(Verdict.TOO_CLOSE, items=(Item("0", Verdict.IN), doubtful)), "thd_percent")
    assert not is_in_doubt(Side(Verdict.TOO_CLOSE, items=(close, doubtful)), "thd_percent")
