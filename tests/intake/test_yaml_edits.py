"""Changes to a YAML file: what was to change has changed, and every other byte is where it was."""

from __future__ import annotations

import codecs
from typing import Any

import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchrecord.intake.edits import CannotChangeError
from benchrecord.intake.yaml_edits import append, flow, remove, set_value
from intake.test_csv_edits import only_between

POINT = {"mm": [4.0, 96], "px": [212.25, 1410.5]}
READ = {"mm": ["4", "96"], "px": ["212.25", "1410.5"]}
NUMBERS = st.integers(-9999, 99999).map(lambda n: n / 100)
WORDS = st.text(" abÄ:#-'\"{}[],&*!|>%@`yes~1.\t", max_size=10)


def said(data: bytes) -> Any:
    """Return what a file says, every value as its text; a second reader than the one that is tested."""
    return yaml.load(data.removeprefix(codecs.BOM_UTF8).decode(), Loader=yaml.BaseLoader)  # noqa: S506  # it makes texts only


@st.composite
def boards(draw: st.DrawFn) -> bytes:
    """Write a board's file in any of the ways that people have."""
    end, step = draw(st.sampled_from(["\n", "\r\n", "\r"])), draw(st.sampled_from([0, 1, 2, 4]))

    def remarks(column: int) -> list[str]:
        return [" " * column * bool(r) + r for r in draw(st.lists(st.sampled_from(["", "# a remark: - {x}"]), max_size=2))]

    def tail() -> str:
        return draw(st.sampled_from(["", "", "  # corner"]))

    def point(column: int) -> list[str]:
        x, px = draw(NUMBERS), draw(NUMBERS)
        if draw(st.booleans()):
            return [" " * column + f"- {{mm: [{x}, 4], px: [{px}, 1410]}}" + tail()]
        own = " " * (column + 2)
        return [
            " " * column + f"- mm: [{x}, 4]" + tail(), *remarks(column), own + "px:", f"{own}  - {px}{tail()}", f"{own}  - 1410"
        ]  # fmt: skip

    def photo(number: int) -> list[str]:
        if draw(st.integers(0, 3)) == 0:
            points = ", ".join(f"{{mm: [{n}, 4], px: [{draw(NUMBERS)}, 2]}}" for n in range(draw(st.integers(0, 3))))
            return [" " * step + f"- {{file: photos/{number}.jpg, points: [{points}]}}" + tail()]
        own = step + 2
        lines = [" " * step + f"- file: photos/{number}.jpg" + tail(), *remarks(own), " " * own + "stage: before"]
        count = draw(st.integers(0, 3))
        if count or draw(st.booleans()):
            lines += [" " * own + "points:" + tail()]
        for _ in range(count):
            lines += [*remarks(own), *point(own + draw(st.just(2)))]
        return lines

    lines = [*remarks(0), "title: Power supply" + tail(), *remarks(0)]
    lines += ["photos:" + tail(), *(line for n in range(draw(st.integers(1, 3))) for line in photo(n))]
    lines += [*remarks(0), *draw(st.sampled_from([[], ["size_mm: [160, 100]"], ["summary: |", "  two", "", "  lines"]]))]
    text = end.join([*lines, *remarks(0)]) + draw(st.sampled_from(["", end]))
    return codecs.BOM_UTF8 * draw(st.booleans()) + text.encode()


def a_point(board: Any, photo: int, point: int) -> tuple[int, int]:
    """Return the numbers of a photo that has points, and of one of them."""
    with_points = [n for n, p in enumerate(board["photos"]) if p.get("points")]
    assume(with_points)
    number = with_points[photo % len(with_points)]
    return number, point % len(board["photos"][number]["points"])


@settings(max_examples=60)
@given(boards(), st.integers(0, 2))
def test_a_point_more_is_the_last_of_its_photo_and_nothing_is_taken_out(data: bytes, number: int) -> None:
    wanted = said(data)
    number %= len(wanted["photos"])
    wanted["photos"][number]["points"] = [*(wanted["photos"][number].get("points") or []), READ]
    new = append(data, ["photos", number, "points"], POINT)
    assert said(new) == wanted
    assert only_between(data, new)[0] == b""


@settings(max_examples=60)
@given(boards())
def test_a_photo_more_comes_with_its_first_point(data: bytes) -> None:
    wanted = said(data)
    wanted["photos"].append({"file": "photos/new.jpg", "stage": "after", "points": [READ]})
    new = append(data, ["photos"], {"file": "photos/new.jpg", "stage": "after", "points": [POINT]})
    assert said(new) == wanted
    assert only_between(data, new)[0] == b""


@settings(max_examples=60)
@given(boards(), st.integers(0, 2), st.integers(0, 2), NUMBERS)
def test_a_moved_point_changes_one_number(data: bytes, photo: int, point: int, px: float) -> None:
    wanted = said(data)
    photo, point = a_point(wanted, photo, point)
    old = wanted["photos"][photo]["points"][point]["px"][0]
    new = set_value(data, ["photos", photo, "points", point, "px", 0], px)
    wanted["photos"][photo]["points"][point]["px"][0] = f"{px:.2f}".rstrip("0").rstrip(".") if "." in f"{px:.2f}" else str(px)
    assert said(new) == wanted
    taken, put = only_between(data, new)
    assert (len(taken) <= len(old), len(put) <= len(f"{px:.2f}")) == (True, True)


@settings(max_examples=60)
@given(boards(), st.integers(0, 2), st.integers(0, 2))
def test_a_point_less_leaves_all_others_and_the_remarks_between_them(data: bytes, photo: int, point: int) -> None:
    wanted = said(data)
    photo, point = a_point(wanted, photo, point)
    new = remove(data, ["photos", photo, "points", point])
    left = wanted["photos"][photo]["points"]
    del left[point]
    assert (said(new)["photos"][photo].pop("points") or []) == left
    assert only_between(data, new)[1] == b""


@settings(max_examples=60)
@given(boards(), st.integers(0, 2))
def test_taking_out_what_was_added_gives_the_file_back(data: bytes, number: int) -> None:
    before = said(data)["photos"]
    number, _ = a_point(said(data), number, 0)
    new = append(data, ["photos", number, "points"], POINT)
    assert remove(new, ["photos", number, "points", len(before[number]["points"])]) == data


@given(WORDS)
def test_any_words_are_written_so_that_they_are_read_back(words: str) -> None:
    new = append(b"title: x\n", ["photos"], {"file": words, "points": [POINT]})
    assert said(new)["photos"][0]["file"] == words


def test_an_entry_follows_the_indent_and_the_line_ends_of_its_list() -> None:
    old = b"photos:\r\n - file: photos/a.jpg\r\n   points:  # mm: corners\r\n      - {mm: [0, 0], px: [1, 2]}  # lower left\r\n\r\n # more\r\n"
    new = append(old, ["photos", 0, "points"], POINT)
    line = b"      - {mm: [4, 96], px: [212.25, 1410.5]}\r\n"
    assert new == old.replace(b"lower left\r\n", b"lower left\r\n" + line)


def test_a_list_that_is_missing_is_begun_below_the_other_keys() -> None:
    old = b"photos:\n- file: photos/a.jpg  # from above\n\n# the size was measured\nsize_mm: [160, 100]\n"
    new = append(old, ["photos", 0, "points"], POINT)
    lines = b"from above\n  points:\n    - {mm: [4, 96], px: [212.25, 1410.5]}\n"
    assert new == old.replace(b"from above\n", lines)


def test_a_file_of_remarks_or_of_nothing_gets_its_first_key() -> None:
    assert append(b"# none yet\n", ["photos"], "a") == b"# none yet\nphotos:\n  - a\n"
    assert append(b"", ["photos"], "a") == b"photos:\n  - a\n"
    assert set_value(b"title: x", ["frame"], "percent") == b"title: x\nframe: percent"


def test_a_key_that_stands_alone_gets_its_value_there() -> None:
    assert set_value(b"frame:  # mm or percent\ntitle: x\n", ["frame"], "mm") == b"frame: mm  # mm or percent\ntitle: x\n"
    assert append(b"photos:  # none yet\ntitle: x\n", ["photos"], "a") == b"photos:  # none yet\n  - a\ntitle: x\n"
    assert append(b"photos: null # none yet\n", ["photos"], "a") == b"photos: [a] # none yet\n"


@pytest.mark.parametrize(
    ("data", "path", "why"),
    [
        (b"photos: [a\n", ["photos"], "line 2: the file cannot be read as YAML"),
        (b"photos: a.jpg\n", ["photos"], "photos is no list"),
        (b"- a\n", ["photos"], "not there any more"),
        (b"photos: []\n", ["photos", 0, "points"], "not there any more"),
        (b"one: &all [a]\nphotos: *all\n", ["photos"], "by hand"),
        (b"--- {}\n--- {}\n", ["photos"], "cannot be read as YAML"),
        (b"\xff", ["photos"], "no UTF-8"),
    ],
)
def test_a_file_that_is_written_otherwise_is_left_as_it_is(data: bytes, path: list[str | int], why: str) -> None:
    with pytest.raises(CannotChangeError, match=why):
        append(data, path, "b")


def test_an_entry_that_shares_its_line_is_left_as_it_is() -> None:
    with pytest.raises(CannotChangeError, match="by hand"):
        remove(b"points:\n  - - 1\n    - 2\n", ["points", 0, 0])
    with pytest.raises(CannotChangeError, match="not there any more"):
        remove(b"points: [1]\n", ["points", 1])
    with pytest.raises(CannotChangeError, match="by hand"):
        set_value(b"title: |\n  x\n", ["title"], "y")


def test_values_on_one_line() -> None:
    assert flow(POINT) == "{mm: [4, 96], px: [212.25, 1410.5]}"
    assert flow(["yes", "a: b", -0.001]) == "['yes', 'a: b', 0]"


@given(st.text(" \n-:#ab[]{},'\"&*|>", max_size=50))
def test_whatever_a_file_holds_it_is_changed_rightly_or_left(text: str) -> None:
    data = text.encode()
    try:
        new = append(data, ["photos"], "new")
    except CannotChangeError:
        return
    wanted = said(data) or {}
    wanted["photos"] = [*(wanted.get("photos") or [] if wanted.get("photos") != "~" else []), "new"]
    assert said(new) == wanted
    assert only_between(data, new)[0] == b""
