"""Marks over photographs: links that say what they mark, seen on any picture, whose numbers keep clear of each other."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.figures.photo_overlay import BADGE, WIDTHS, badge_spots, marks_overlay, tail_of
from benchrecord.model.job import Mark

CSS = Path(__file__).parents[2] / "plugins/benchrecord/publish/theme/assets/benchrecord.css"
STRANGE = "<script>\"&'</script>"
SIZE = (1600, 1200)
POINT = Mark("p", "point", 50, 50, None, None, "the trim", "RV3")
BOX = Mark("p", "box", 20, 30, 14, 8, "charred", "")
ARROW = Mark("p", "arrow", 48, 48, -6, -6, "bulged, leaked", "C2")


def drawn(*marks: Mark, size: tuple[int, int] = SIZE) -> ET.Element:
    return ET.fromstring(marks_overlay(marks, size, href=lambda ref: f"to-{ref}" if ref else None, name="m"))  # noqa: S314  # our own drawing


def by_class(tree: ET.Element, name: str) -> list[ET.Element]:
    return [e for e in tree.iter() if name in e.get("class", "").split()]


def test_every_mark_is_a_link_that_says_its_number_words_and_part() -> None:
    tree = drawn(POINT, BOX, ARROW)
    links = [(a.get("id"), a.get("href"), a.get("aria-label")) for a in tree.iter("a")]
    assert links == [
        ("m-1", "to-RV3", "1: the trim, RV3"), ("m-2", "#said-m-2", "2: charred"), ("m-3", "to-C2", "3: bulged, leaked, C2"),
    ]  # fmt: skip
    assert [a.findtext("title") for a in tree.iter("a")] == [said for _, _, said in links]
    assert (tree.get("role"), tree.get("aria-label")) == ("group", "3 marks on this photograph")


def test_a_mark_without_words_is_still_named() -> None:
    (link,) = drawn(Mark("p", "point", 1, 1, None, None, "")).iter("a")
    assert link.get("aria-label") == "1"


def test_numbers_are_text_and_words_are_shown_to_the_eye_alone() -> None:
    tree = drawn(POINT, BOX)
    assert [e.text for e in by_class(tree, "br-number")] == ["1", "2"]
    assert [(e.text, e.get("aria-hidden")) for e in by_class(tree, "br-words")] == [
        ("the trim, RV3", "true"),
        ("charred", "true"),
    ]


def test_words_of_a_mark_are_never_markup() -> None:
    tree = drawn(Mark("p", "point", 50, 50, None, None, STRANGE, "R1"))
    assert tree.findtext(".//title") == f"1: {STRANGE}, R1"
    assert not list(tree.iter("script"))


def test_long_words_are_cut_in_the_picture_and_whole_for_who_listens() -> None:
    tree = drawn(Mark("p", "point", 50, 50, None, None, "word " * 40))
    assert len(by_class(tree, "br-words")[0].text or "") <= 48
    assert len(tree.findtext(".//title") or "") > 180


@pytest.mark.parametrize(("mark", "tag"), [(POINT, "circle"), (BOX, "rect"), (ARROW, "line")])
def test_every_outline_is_drawn_white_inside_black(mark: Mark, tag: str) -> None:
    tree = drawn(mark)
    casing, line = ([e for e in by_class(tree, look) if e.tag.endswith(tag)] for look in ("br-casing", "br-line"))
    assert len(casing) == len(line) == 1
    assert {k: v for k, v in casing[0].items() if k != "class"} == {k: v for k, v in line[0].items() if k != "class"}


def luminance(level: float) -> float:
    return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4


def test_white_inside_black_stands_out_from_any_picture() -> None:
    """WCAG 2.2, 1.4.11, asks for 3:1; of white and black one always has 4.5:1 or more. The style sheet has just these two."""
    levels = [luminance(n / 255) for n in range(256)]
    assert min(max(1.05 / (level + 0.05), (level + 0.05) / 0.05) for level in levels) > 4.5
    css = CSS.read_text("utf-8")
    strokes = {
        look: re.search(rf"\.{look} {{[^}}]*stroke: (#\w+); stroke-width: ([\d.]+)", css) for look in ("br-casing", "br-line")
    }
    casing, line = (m.groups() if (m := strokes[look]) else ("", "0") for look in ("br-casing", "br-line"))
    assert (casing[0], line[0]) == ("#000", "#fff")
    assert float(casing[1]) >= float(line[1]) + 2


def test_places_are_shares_of_the_picture() -> None:
    (box,) = [e for e in by_class(drawn(BOX), "br-line") if e.tag.endswith("rect")]
    assert [box.get(k) for k in ("x", "y", "width", "height")] == ["20%", "30%", "14%", "8%"]
    assert drawn(BOX).get("viewBox") is None


@pytest.mark.parametrize(
    ("w", "h", "tail"), [(-6, -8, (42, 40)), (10, None, (58, 48)), (None, 5, (48, 53)), (None, None, (42, 40))]
)
def test_an_arrow_points_from_its_tail_to_its_place(w: float | None, h: float | None, tail: tuple[float, float]) -> None:
    mark = Mark("p", "arrow", 48, 48, w, h, "")
    assert tail_of(mark, SIZE) == tail
    line = next(e for e in by_class(drawn(mark), "br-line") if e.tag.endswith("line"))
    assert [line.get(k) for k in ("x1", "y1", "x2", "y2")] == [f"{tail[0]}%", f"{tail[1]}%", "48%", "48%"]


def test_an_arrow_of_no_length_comes_from_where_there_is_room() -> None:
    assert tail_of(Mark("p", "arrow", 2, 90, None, None, ""), SIZE) == (8, 82)
    assert tail_of(Mark("p", "arrow", 90, 3, None, None, ""), SIZE) == (84, 11)


def test_an_arrow_s_head_points_the_way_it_goes_in_the_picture() -> None:
    """From the lower left: 8 % of 1600 pixels across, 8 % of 1200 up."""
    head = next(e for e in by_class(drawn(Mark("p", "arrow", 50, 50, -8, 8, "")), "br-line") if e.tag.endswith("path"))
    turn = float(re.findall(r"rotate\((.+)\)", head.get("transform", ""))[0])
    assert turn == pytest.approx(math.degrees(math.atan2(-8 * 1200, 8 * 1600)), abs=0.01)


def apart(marks: list[Mark], size: tuple[int, int]) -> float:
    """Return the least distance between two numbers, in their diameters, at any width."""
    spots = badge_spots(marks, size)
    places = [[s.at(w, w * size[1] / size[0]) for s in spots] for w in WIDTHS]
    return min(math.dist(p[i], p[j]) for p in places for i in range(len(p)) for j in range(i)) / (2 * BADGE)


@pytest.mark.parametrize("shape", ["point", "box", "arrow"])
def test_numbers_of_marks_on_one_place_keep_clear_of_each_other(shape: str) -> None:
    marks = [Mark("p", shape, 50, 50, 12 if shape == "box" else None, 10 if shape == "box" else None, "x")] * 4
    assert apart(marks, SIZE) >= 1


AT = st.floats(0, 100).map(lambda v: round(v, 1))


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.sampled_from(["point", "arrow", "box"]), AT, AT), min_size=2, max_size=8))
def test_every_number_lies_in_its_picture(marks: list[tuple[str, float, float]]) -> None:
    made = [
        Mark(
            "p",
            s,
            min(x, 92) if s == "box" else x,
            min(y, 92) if s == "box" else y,
            8 if s == "box" else None,
            8 if s == "box" else None,
            "x",
        )
        for s, x, y in marks
    ]
    for spot in badge_spots(made, SIZE):
        for width in WIDTHS:
            x, y = spot.at(width, width * 0.75)
            assert x - BADGE >= -1
            assert x + BADGE <= width + 1
            assert y - BADGE >= -1
            assert y + BADGE <= width * 0.75 + 1
