"""What a check came to is said once, on a page and in the book: beneath its chart or beside it."""

from __future__ import annotations

import pytest

from benchrecord.model.findings import CheckFinding, DataTable, Side, Verdict
from benchrecord.model.job import Check
from benchrecord.pages.words import beneath, conclusion

WORST = "+5 V reads 5.03 V, 0.17 V inside its limit"


def finding(verdict: Verdict, worst: str = WORST) -> CheckFinding:
    side = Side(verdict, worst=worst)
    return CheckFinding(Check("c", "C", "readings"), "", None, side, DataTable((), ()), plain="All are within limits.")


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        (Verdict.IN, f"All are within limits. Nearest to a limit as left: {WORST}."),
        (Verdict.OUT, f"All are within limits. Farthest out as left: {WORST}."),
        (Verdict.INFORMATION, "All are within limits."),
    ],
)
def test_the_worst_is_named_where_something_was_judged(verdict: Verdict, said: str) -> None:
    assert conclusion(finding(verdict)) == said


def test_what_stands_beneath_a_chart_is_not_said_again() -> None:
    of = finding(Verdict.IN)
    below = beneath(of, f"{of.plain} Nearest to its limit as left: {WORST}. Each stands on its own scale.")
    assert below == f"Nearest to its limit as left: {WORST}. Each stands on its own scale."
    assert conclusion(of, below) == of.plain
