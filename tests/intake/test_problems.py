"""A problem as it is printed: one line for each thing said, in the order of the files, whatever was read."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchrecord.problems import CODES, Place, Problem, as_text, has_errors, in_order, nearest, write_one_of

ANY = st.text(st.characters(), max_size=20)
PROBLEMS = st.lists(
    st.builds(
        Problem,
        st.sampled_from(sorted(CODES)),
        st.builds(Place, ANY, st.none() | st.integers(1, 99), st.none() | ANY | st.integers(1, 99)),
        ANY, ANY, ANY,
    ),
    max_size=6,
)  # fmt: skip


@given(PROBLEMS)
def test_any_problem_takes_four_lines_and_can_be_printed(problems: list[Problem]) -> None:
    printed = as_text(problems).encode("utf-8").decode("utf-8")
    once = in_order(problems)
    assert len(printed.split("\n")) == 4 * len(once) + len({p.place.file for p in once}) + (not once)
    assert has_errors(problems) == any(p.severity == "error" for p in problems)


@given(PROBLEMS)
def test_the_order_in_which_they_are_found_makes_no_difference(problems: list[Problem]) -> None:
    assert in_order(problems) == in_order([*reversed(problems), *problems])


def test_lines_and_columns_come_in_the_order_of_numbers() -> None:
    places = [Place("b", 1), Place("a", 10, 2), Place("a", 9), Place("a", 10, 11), Place("a")]
    ordered = in_order(Problem("file-unread", place, "", "", "") for place in places)
    assert [p.place for p in ordered] == [Place("a"), Place("a", 9), Place("a", 10, 2), Place("a", 10, 11), Place("b", 1)]


def test_a_misspelt_word_leads_to_the_nearest_whatever_its_case() -> None:
    known = ["as_found", "As_Left", "item"]
    assert [nearest(w, known) for w in ("as_fuond", "AS_LEFT", "Item", "zzz", "")] == [
        "as_found",
        "As_Left",
        "item",
        None,
        None,
    ]


def test_a_choice_of_few_words_is_listed_and_one_of_many_is_not() -> None:
    assert write_one_of("zzz", ["one", "two"]) == "write one of: one, two"
    assert write_one_of("zzz", {"two", "one"}) == "write one of: one, two"
    assert write_one_of("zzz", [str(n) for n in range(20)]) == "write one of those, or take it out"
    assert write_one_of("zzz", []) == "take it out"
