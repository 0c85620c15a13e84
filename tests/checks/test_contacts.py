"""Contacts: open, high, worst and median of a field, with a value or a sign in every cell of its picture."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from benchrecord.checks import all_kinds
from benchrecord.checks.contacts import short
from benchrecord.figures.chart import draw
from benchrecord.model.findings import CheckFinding, Side, Verdict
from checks.conftest import METER, Worked

KIND = all_kinds()["contacts"]
HEAD = "row,column,as_found_ohm,as_left_ohm\n"
FIELD = HEAD + "low,A,0.40,0.31\nlow,B,,0.35\nhigh,A,12.50,0.28\nhigh,B,2 kohm,0.90\n"
KEYS = "kind: contacts, open_above: 1 kohm, high_above: 10 ohm"


def results(side: Side | None) -> dict[str, object]:
    assert side
    return {name: value.value for name, value in side.results.items()}


def texts(finding: CheckFinding) -> list[str]:
    drawn = KIND.chart(finding)
    assert drawn
    return re.findall(r">([^<>\n]+)</text>", draw(drawn, name="n"))


def test_a_field_by_hand(worked: Worked) -> None:
    finding = worked(KEYS, FIELD)
    found, left = results(finding.found), results(finding.left)
    assert [found[n] for n in ("worst_ohm", "median_ohm", "open_contacts", "high_contacts")] == [12.5, 6.45, 2, 1]
    assert [left[n] for n in ("worst_ohm", "median_ohm", "open_contacts", "high_contacts")] == [0.9, pytest.approx(0.33), 0, 0]
    assert finding.found
    assert finding.found.worst == "low B, high B: open"
    assert finding.plain == "As left, all 4 contacts close, the highest with 0.90 Ω; as found 2 were open and 1 high."
    assert (finding.found.verdict, finding.verdict) == (Verdict.OUT, Verdict.IN)
    assert finding.limit == "10 Ω, above which a contact counts as high"


def test_a_limit_decides_before_what_counts_as_high(worked: Worked) -> None:
    finding = worked(f"{KEYS}, limit: 0.5 ohm", FIELD)
    assert finding.verdict is Verdict.OUT
    assert finding.left
    assert finding.left.worst == "high B with 0.90 Ω, out of limits"
    assert results(finding.left)["high_contacts"] == 0


def test_without_a_number_of_the_user_nothing_is_judged_and_nothing_is_high(worked: Worked) -> None:
    finding = worked("kind: contacts", FIELD)
    assert finding.verdict is Verdict.INFORMATION
    assert finding.found
    assert finding.found.verdict is Verdict.INFORMATION
    assert results(finding.found)["open_contacts"] == 1
    assert finding.found.results["high_contacts"].reason == "nothing says above what a contact is high"


def test_what_counts_as_open_is_a_limit_where_there_is_no_other(worked: Worked) -> None:
    finding = worked("kind: contacts, open_above: 100 ohm", FIELD)
    assert [side and side.verdict for side in (finding.found, finding.left)] == [Verdict.OUT, Verdict.IN]
    assert finding.limit == "100 Ω, above which a contact counts as open"


def test_a_blank_is_open_where_others_of_its_column_were_read(worked: Worked) -> None:
    """Decided here: a blank beside readings is a contact that gave none; a column of blanks alone was not measured."""
    finding = worked(KEYS, HEAD + "1,A,0.4,\n1,B,,\n")
    assert results(finding.found)["open_contacts"] == 1
    assert finding.left is None
    assert finding.plain == "As found, 1 of 2 contacts closes, the highest with 0.40 Ω; not measured as left yet."
    partly = worked(KEYS, HEAD + "1,A,0.4,0.3\n1,B,0.5,\n")
    assert results(partly.left)["open_contacts"] == 1
    assert partly.verdict is Verdict.OUT
    assert worked(KEYS, HEAD + "1,A,,\n").plain == "Not measured yet."


@pytest.mark.parametrize(
    ("reading", "keys", "count"),
    [("> 2 kohm", "open_above: 1 kohm", 1), ("> 20 Mohm", "limit: 1 ohm", 1), ("> 20", "open_above: 1 kohm", 0)],
)
def test_a_reading_beyond_the_meter_s_range_is_open(worked: Worked, reading: str, keys: str, count: int) -> None:
    finding = worked(f"kind: contacts, {keys}", HEAD + f"1,A,,{reading}\n1,B,,0.3\n")
    assert results(finding.left)["open_contacts"] == count


def test_where_nothing_closes_there_is_no_worst(worked: Worked) -> None:
    finding = worked(KEYS, HEAD + "1,A,,5 kohm\n")
    assert finding.left
    assert finding.left.results["worst_ohm"].value is None
    assert finding.left.results["worst_ohm"].reason == "no contact closes"
    assert finding.plain == "As left, 0 of 1 contact closes."
    assert finding.advice == "Open: 1 A."


def test_the_meter_guards_the_limit(worked: Worked) -> None:
    more = {
        "job.yml": f"title: T\ndecision_rule: guarded\n{METER}      - {{unit: ohm, up_to: 200, counts: 5, resolution: 0.1}}\n"
    }
    finding = worked("kind: contacts, limit: 1 ohm, meter: dmm", HEAD + "1,A,,0.8\n", more=more)
    assert finding.verdict is Verdict.TOO_CLOSE
    assert results(finding.left)["expanded_uncertainty"] == pytest.approx(2 * 0.5 / 3**0.5)


def test_a_switch_has_no_columns(worked: Worked) -> None:
    finding = worked("kind: contacts, limit: 1 ohm", "row,as_left_ohm\nslow,0.2\nfast,1.4\n")
    assert finding.left
    assert finding.left.worst == "fast with 1.40 Ω, out of limits"
    assert {"slow", "fast", "0.2", "1.4"} <= set(texts(finding))


def test_every_cell_can_be_read_without_colour(worked: Worked) -> None:
    said = texts(worked(KEYS, FIELD))
    assert [t for t in said if t in ("0.40", "12.5", "×", "0.31", "0.35", "0.28", "0.90")] == [
        "0.40",
        "×",
        "12.5",
        "×",
        "0.31",
        "0.35",
        "0.28",
        "0.90",
    ]


def test_a_wide_field_is_drawn_in_signs_and_listed_by_what_stands_out(worked: Worked) -> None:
    rows = [f"{r},{c},{'' if (r, c) == (3, 5) else 50 if (r, c) == (4, 4) else 0.5},0.4" for r in range(16) for c in range(16)]
    finding = worked(KEYS, HEAD + "\n".join(rows) + "\n")
    drawn = KIND.chart(finding)
    assert drawn
    signs = [t for t in texts(finding) if t in "×▲■"]
    assert {sign: signs.count(sign) for sign in "×▲■"} == {"×": 1, "▲": 0, "■": 2}
    marks = Counter(re.findall(r'<use href="(#\S+)"', draw(drawn, name="n")))
    assert marks.most_common(1)[0][1] == 512 - 3  # a dot in every other cell
    assert len(finding.table.rows) == 40
    assert finding.curve
    assert len(finding.curve.rows) == 256
    listed = {cells[:2]: cells[2] for cells in finding.table.rows}
    assert listed["3", "5"] == "open"
    assert ("4", "4") in listed
    assert "▲ high" in drawn.caption


def test_a_long_row_is_drawn_from_top_to_bottom(worked: Worked) -> None:
    finding = worked(KEYS, HEAD + "".join(f"bus,key {n},0.5,0.4\n" for n in range(25)))
    drawn = KIND.chart(finding)
    assert drawn
    assert drawn.height == pytest.approx(84 + 19 * 26)
    assert "1 by 25 contacts as found and as left" in drawn.alt


@pytest.mark.parametrize(
    ("ohm", "words"),
    [(0.434, "0.43"), (4.87, "4.87"), (46.2, "46.2"), (184.0, "184"), (1200.0, "1.2k"), (2.4e6, "2.4M"), (None, "×")],
)
def test_short(ohm: float | None, words: str) -> None:
    assert short(ohm) == words
