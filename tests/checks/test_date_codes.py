"""Date codes: what they tell of an instrument, how sure it is, and which parts came later."""

from __future__ import annotations

from pathlib import Path

from benchrecord.checks import all_kinds
from benchrecord.checks.kind import Bench
from benchrecord.figures.chart import draw
from benchrecord.findings import work_out
from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.job import Check, DateCode, DecisionRule
from benchrecord.publish.work import read_all
from folders import write

KIND = all_kinds()["date-codes"]


def told(codes: str, year: int | None = 1977) -> CheckFinding:
    """Work out codes written with spaces between; each part is named U1, U2 … of board tone."""
    rows = tuple(DateCode("tone", f"U{n}", code) for n, code in enumerate(codes.split(), 1))
    return KIND.examine(Check("c", "C", "date-codes"), Bench(DecisionRule.SIMPLE, year=year, date_codes=rows))


def results(finding: CheckFinding) -> dict[str, object]:
    assert isinstance(finding.found, Side)
    return {name: value.value for name, value in finding.found.results.items()}


def test_an_instrument_was_not_built_before_its_newest_original_part() -> None:
    finding = told("7642 7718 7725 8319")
    assert results(finding) == {
        "not_before": "1977-W25",
        "newest_original": "tone:U3",
        "younger_parts": 1,
        "ambiguous_codes": 0,
        "unread_codes": 0,
        "instrument_year": 1977,
    }
    assert finding.plain == (
        "The newest part that can be original was made in week 25 of 1977 (June), so the instrument was not built before then."
        " 1 part of 4 is younger than 1977, from week 19 of 1983 (May) on: it was repaired before, or parts were fitted in this work."
    )
    assert (finding.verdict, finding.left, finding.limit) == (Verdict.INFORMATION, None, "")


def test_each_part_has_its_date_its_sureness_and_what_else_it_may_be() -> None:
    finding = told("1277 999-812 XX9")
    assert finding.found
    dates = [{name: value.value for name, value in item.results.items()} for item in finding.found.items]
    assert dates == [
        {"code": "1277", "date": "1977-W12", "sure": "likely"},
        {"code": "999-812", "date": "1968-W12", "sure": "open", "others": "1978-W12, 1958-W12"},
        {"code": "XX9", "date": None},
    ]
    assert "tone:U2 (999-812) may be of week 12 of 1968 (March) or week 12 of 1978 (March)" in finding.advice
    assert "Not read: tone:U3 (XX9): it has no form of a date code that is known here." in finding.advice
    assert (
        "3 codes were found: 0 can be read in one way only, 1 in one way that is likelier than others, 1 in several"
        in finding.basis
    )


def test_the_table_runs_from_the_oldest_to_the_newest_and_names_the_parts() -> None:
    table = told("7725 8319 7642").table
    assert [row[1] for row in table.rows] == ["7642", "7725", "8319"]
    assert table.refs == ("tone:U3", "tone:U1", "tone:U2")
    assert [row[5] for row in table.rows] == ["", "newest that can be original", "younger than the instrument"]


def test_where_most_parts_are_younger_the_year_itself_is_in_doubt() -> None:
    assert "the instrument may itself be younger than is thought" in told("7642 8019 8020 8021").plain


def test_without_the_instrument_s_year_nothing_is_called_original() -> None:
    finding = told("7642 8319 712", None)
    assert finding.found
    assert finding.plain.startswith("The newest date code is of week 19 of 1983 (May); without the instrument's year")
    assert finding.found.results["younger_parts"] == Value(None, reason="the instrument's year is not given")
    assert "its decade is open" in finding.advice


def test_nothing_sure_and_nothing_at_all() -> None:
    assert told("0512").plain == "No date code that is sure enough tells when the instrument was built."
    empty = told("")
    assert (empty.found, empty.plain) == (None, "Nothing can be told: no date codes are written in date-codes.csv.")
    assert KIND.chart(empty) is None


def test_a_letter_is_said_to_be_read_after_its_standard_and_from_memory() -> None:
    assert "IEC 60062, its table in part from memory" in told("J3").method
    assert "IEC 60062" not in told("7712").method


def test_the_chart_has_the_instrument_s_year_as_its_band() -> None:
    drawn = KIND.chart(told("7642 712 8319"))
    assert drawn
    assert "dates of 3 parts on a line of time" in drawn.alt
    assert "The band is 1977, the instrument's year. A stroke is another date" in drawn.caption
    svg = draw(drawn, name="n")
    assert ">the instrument's year</text>" in svg
    assert "within limits" not in svg


def test_many_codes_are_listed_by_the_newest_and_kept_in_full() -> None:
    finding = told(" ".join(f"77{week:02d}" for week in range(1, 50)))
    assert len(finding.table.rows) == 40
    assert finding.table.rows[-1][1] == "7749"
    assert finding.curve
    assert len(finding.curve.rows) == 49


def test_a_check_needs_no_table(tmp_path: Path) -> None:
    files: dict[str, str | bytes] = {
        "job.yml": "title: T\ninstrument: {year: 1977}\n",
        "checks.yml": "- {id: c, title: C, kind: date-codes}\n",
        "date-codes.csv": "ref,code\nU1,7712\n",
    }
    jobs, problems = read_all([write(tmp_path / "job", files)], all_kinds())
    assert not problems
    assert results(work_out(jobs[0][1], all_kinds()).check("c"))["not_before"] == "1977-W12"
