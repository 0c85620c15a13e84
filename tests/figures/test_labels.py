"""Designators: inside their part, beside it or led to it, never on each other, never off the sheet."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.figures.labels import Box, labels_of, leads

AT = st.floats(0, 700)
SHEET = Box(350, 350, 700, 700)


def overlaps(boxes: list[Box]) -> float:
    return sum(a.shared(b) for n, a in enumerate(boxes) for b in boxes[:n])


def test_a_label_stands_inside_its_part_where_it_fits_and_beside_it_otherwise() -> None:
    large, small = Box(100, 100, 60, 30), Box(200, 100, 10, 6)
    inside, beside = labels_of(["R1", "R2"], [large, small], SHEET, strict=True) or []
    assert inside
    assert beside
    assert (inside.x, inside.y) == (100, 100)
    assert beside.shared(small) == 0
    assert leads(inside, large) is leads(beside, small) is None


def test_a_part_shut_in_by_others_is_led_to_by_a_line() -> None:
    """Walls leave a gap above that is too narrow for the word: it stands beyond, and its line runs through the gap."""
    middle, walls = Box(350, 350, 12, 12), [Box(315, 350, 50, 70), Box(385, 350, 50, 70), Box(350, 380, 140, 36)]
    (label, *_) = labels_of(["Q1", "R1", "R2", "R3"], [middle, *walls], SHEET, strict=True) or []
    assert label
    line = leads(label, middle)
    assert line
    assert line[1] == (350, 350)
    assert 340 < line[0][0] < 360
    assert all(w.shared(label) == 0 for w in walls)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(AT, AT, st.sampled_from(["R1", "RV10", "IC1234"])), max_size=40), st.booleans())
def test_no_label_lies_on_another_or_off_the_sheet(parts: list[tuple[float, float, str]], strict: bool) -> None:  # noqa: FBT001
    found = labels_of([word for *_, word in parts], [Box(x, y, 20, 10) for x, y, _ in parts], SHEET, strict=strict)
    boxes = [b for b in found or [] if b]
    assert overlaps(boxes) == 0
    assert all(b.shared(SHEET) == pytest.approx(b.w * b.h) for b in boxes)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.tuples(AT, AT), max_size=40))
def test_where_it_is_strict_no_label_covers_another_part(middles: list[tuple[float, float]]) -> None:
    bodies = [Box(x, y, 20, 10) for x, y in middles]
    found = labels_of([f"R{n}" for n in range(len(bodies))], bodies, SHEET, strict=True)
    for n, label in enumerate(found or []):
        assert label
        assert sum(label.shared(b) for m, b in enumerate(bodies) if m != n) == 0


def test_fifty_parts_on_one_place_give_up_or_leave_some_out() -> None:
    bodies = [Box(350, 350, 20, 10)] * 50
    words = [f"R{n}" for n in range(50)]
    assert labels_of(words, bodies, SHEET, strict=True) is None
    found = labels_of(words, bodies, SHEET, strict=False) or []
    assert overlaps([b for b in found if b]) == 0
