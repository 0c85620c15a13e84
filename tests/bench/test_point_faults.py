"""Which point is to be mended: the one that was misplaced, or the two that were exchanged, and no other."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.bench.placement import Placement
from benchrecord.bench.point_faults import suspects

CAMERA = Placement(((8.0, 0.6, 170.0), (0.4, -7.5, 990.0), (2e-4, -3e-4, 1.0)))
PLACES = [(4.0, 4.0), (156.0, 4.0), (156.0, 96.0), (4.0, 96.0), (30.0, 86.0), (92.0, 84.0), (153.0, 76.0), (124.0, 8.0)]


def seen(count: int, noise_px: float = 0.0, seed: int = 1) -> list[tuple[float, float]]:
    chance = random.Random(seed)  # noqa: S311  # no secret
    pixels = [CAMERA.px(*p) for p in PLACES[:count]]
    return [(x + chance.gauss(0, noise_px), y + chance.gauss(0, noise_px)) for x, y in pixels]


@settings(max_examples=30, deadline=None)
@given(st.integers(6, 8), st.data())
def test_the_misplaced_one_of_six_or_more_is_named_whichever_it_is(count: int, data: st.DataObject) -> None:
    """It need not be the one that lies farthest off: a corner pulls the whole fit after itself."""
    which = data.draw(st.integers(0, count - 1))
    pixels = seen(count, 0.5, seed=which)
    pixels[which] = (pixels[which][0] + 90, pixels[which][1] - 70)
    assert suspects(PLACES[:count], pixels).points == (which,)


@pytest.mark.parametrize(("one", "other"), [(0, 1), (0, 2), (2, 5), (4, 7)])
def test_two_that_were_exchanged_are_both_named(one: int, other: int) -> None:
    pixels = seen(8, 0.5)
    pixels[one], pixels[other] = pixels[other], pixels[one]
    found = suspects(PLACES, pixels)
    assert (found.points, found.exchanged) == ((one, other), True)


@pytest.mark.parametrize(("one", "other"), [(0, 1), (1, 2), (2, 3), (0, 3)])
def test_neighbours_exchanged_among_four_are_told_by_the_side_that_is_seen(one: int, other: int) -> None:
    pixels = seen(4)
    pixels[one], pixels[other] = pixels[other], pixels[one]
    found = suspects(PLACES[:4], pixels)
    assert (found.points, found.exchanged) == ((one, other), True)


def test_of_points_that_fix_nothing_none_is_to_blame() -> None:
    assert suspects([(0, 0), (1, 1), (2, 2), (3, 3)], [(0, 0), (1, 1), (2, 2), (3, 3)]).points == ()
