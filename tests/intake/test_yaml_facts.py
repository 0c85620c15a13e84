"""Facts in YAML: keys that are known, values of their type and unit, each problem at its place."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.intake.yaml_file import Facts, day_of, parse_yaml, plain
from benchrecord.model.job import NoteStage
from benchrecord.model.quantity import UNITS, convert
from benchrecord.problems import Place, Problem

KEYS = ("id", "size", "when", "flag", "stage", "list", "file")


def facts(text: str) -> tuple[Facts, list[Problem]]:
    node, report = parse_yaml(text, "t.yml")
    return Facts.of(node, Place("t.yml", 1), report, KEYS), report


@pytest.mark.parametrize("number", ["0,5", "12,75", "-3,1"])
@pytest.mark.parametrize("unit", ["", " mm", " dB"])
@pytest.mark.parametrize("form", ["size: {}", "{{id: a, size: {}}}", "{{size: {}, id: a}}", "{{size: {} }}"])
def test_a_decimal_comma_is_shown_as_it_was_written_with_the_point_to_write(number: str, unit: str, form: str) -> None:
    own, report = facts(form.format(f"{number}{unit}"))
    if not report:
        own.quantity("size")
    (problem,) = report
    assert (problem.code, problem.got) == ("not-a-number", f"{number}{unit}")
    assert problem.remedy == f"write size: {number.replace(',', '.')}{unit}"


@pytest.mark.parametrize(
    ("text", "unit", "remedy"),
    [
        ("450m", "V", "450 mV"),
        ("0.9k", "Hz", "0.9 kHz"),
        ("2.2M", "Hz", "2.2 MHz"),
        ("30m", "A", "30 mA"),
        ("-12K", "V", "-12 kV"),
        ("4k7", "V", "and a"),
    ],
)
def test_a_letter_without_its_unit_is_told_from_a_unit(text: str, unit: str, remedy: str) -> None:
    own, report = facts(f"size: {text}")
    own.number("size", unit=unit)
    (problem,) = report
    assert problem.remedy.startswith(f"write size: {remedy}")
    assert ("a letter alone counts in ohm or farad" in problem.expected) is (remedy != "and a")


def test_what_is_not_there_is_empty_and_no_problem() -> None:
    for text in ("", "# nothing\n", "id: ~\n", "{}"):
        own, report = facts(text)
        assert (own.text("id"), own.number("size"), own.day("when"), own.flag("flag")) == ("", None, None, False)
        assert (own.word("stage", NoteStage), own.texts("list"), own.nodes("list"), own.pair("size")) == (None, (), [], None)
        assert report == []


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("x: 1\n", "missing-key", "nothing"),
        ("id:\n", "missing-value", "id:"),
        ("id: [a]\n", "wrong-type", "[a]"),
        ("id: {a: {b: {c: d}}}\n", "wrong-type", "{a: {b: {…}}}"),
        ("id: [1, 2, 3, 4, 5, 6]\n", "wrong-type", "[1, 2, 3, 4, …]"),
    ],
)
def test_a_required_text(text: str, code: str, said: str) -> None:
    own, report = facts(text)
    assert own.text("id", required=True) == ""
    assert [(p.code, p.got) for p in report if p.code != "unknown-key"] == [(code, said)]


def test_a_misspelt_key_is_one_problem_not_two() -> None:
    own, report = facts("idd: a\n")
    assert own.text("id", required=True) == ""
    assert [(p.code, p.remedy) for p in report] == [("unknown-key", "write id")]


def test_a_value_where_keys_belong_is_one_problem_not_one_for_each_key() -> None:
    own, report = facts("words\n")
    assert own.text("id", required=True) == ""
    assert [(p.code, p.remedy) for p in report] == [("wrong-type", "write id: words")]


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(0.001, 1000))
def test_a_number_counts_in_the_unit_that_is_asked_for(written: str, asked: str, value: float) -> None:
    own, report = facts(f"size: {value!r} {written}\n")
    found = own.number("size", unit=asked)
    if UNITS[written][0] == UNITS[asked][0]:
        assert report == []
        assert found == pytest.approx(convert(value, written, asked), rel=1e-12)
    else:
        assert found is None
        assert [p.code for p in report] == ["wrong-unit"]


def test_a_plain_number_takes_no_unit() -> None:
    own, report = facts("size: 5 V\n")
    assert own.number("size") is None
    assert [(p.code, p.expected) for p in report] == [("wrong-unit", "a plain number, without a unit")]
    assert own.number("size", unit=None) == 5


@pytest.mark.parametrize(
    ("text", "pair"), [("[16 cm, 100]", (160.0, 100.0)), ("[1, 2, 3]", None), ("[1, 5 V]", None), ("4", None)]
)
def test_two_numbers_in_a_unit(text: str, pair: tuple[float, float] | None) -> None:
    own, report = facts(f"size: {text}\n")
    assert own.pair("size", "mm") == pair
    assert [p.code for p in report] == ([] if pair else ["wrong-type"])


@given(st.dates())
def test_a_date_as_iso_writes_it_is_read(day: date) -> None:
    assert day_of(day.isoformat()) == (day, None)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("2026-02-30", "a day that the calendar has"), ("2026-13-01", "a day that the calendar has"), ("3.2.2026", "a date: 2026-02-03"),
     ("2026-2-3", "a date: 2026-02-03"), ("", "a date: 2026-02-03"), ("soon", "a date: 2026-02-03")],
)  # fmt: skip
def test_what_is_no_date(text: str, expected: str) -> None:
    day, wrong = day_of(text)
    assert (day, wrong and wrong[1]) == (None, expected)


@pytest.mark.parametrize(("text", "flag"), [("yes", True), ("No", False), ("TRUE", True), ("off", False)])
def test_yes_and_no(text: str, flag: bool) -> None:  # noqa: FBT001  # a table of cases
    own, report = facts(f"flag: {text}\n")
    assert own.flag("flag") is flag
    assert report == []


def test_a_path_that_leaves_is_no_path() -> None:
    own, report = facts("file: ../a\n")
    assert own.path("file", "photos") == ""
    assert [p.code for p in report] == ["path-outside"]


def test_nothing_is_made_of_a_tag_and_nothing_is_merged() -> None:
    node, problems = parse_yaml("!!python/object/apply:os.system [x]\n", "t.yml")
    assert node
    assert plain(node) == ("x",)
    assert problems == []
    own, report = facts("<<: {id: a}\n")
    assert (own.text("id"), [p.got for p in report]) == ("", ["<<"])


def test_a_small_file_that_swells_is_refused_at_once() -> None:
    levels = zip("abcdefgh", "bcdefghi", strict=True)
    text = "a: &a [x]\n" + "".join(f"{c}: &{c} [{', '.join(['*' + p] * 9)}]\n" for p, c in levels)
    node, (problem,) = parse_yaml(text, "t.yml")
    assert (node, problem.code) == (None, "yaml-syntax")


@given(
    st.recursive(
        st.text("ab:#-'\" \t", max_size=6),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("ab", max_size=2), inner, max_size=3),
    )
)
def test_what_yaml_writes_is_read(value: object) -> None:
    import yaml  # noqa: PLC0415  # only here

    node, problems = parse_yaml(yaml.safe_dump(value), "t.yml")
    assert problems == []
    assert node


YAML_LIKE = st.lists(st.sampled_from(["title: ", "- ", "{", "}", "[", "]", "\n", "  ", "\t", "'", '"', "&a ", "*a", "!!x ", "|", ">", "#", "a", ": ", ",", "? ", "%", "---\n", "\u00a0", "\x07", "\r"]), max_size=25)  # fmt: skip


@given(YAML_LIKE)
def test_pieces_of_yaml_are_read_or_a_problem_at_a_line_of_the_file(pieces: list[str]) -> None:
    text = "".join(pieces)
    node, problems = parse_yaml(text, "t.yml")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").count("\n") + 1
    assert all(p.place.line is None or 1 <= p.place.line <= lines for p in problems)
    assert node is None or not any(p.code == "yaml-syntax" for p in problems)
