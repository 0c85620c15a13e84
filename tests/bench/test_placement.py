"""Where a board's places lie in a photograph: published cases, laws, and the demo's pictures, whose truth is known."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.placement import Placement, fit, in_percent
from benchrecord.bench.reasons import NotHad
from reference.published import checks, data

PUBLISHED = data("13-homography.json")
TRUTH = sorted((Path(__file__).parents[1] / "demo_scenes/truth").glob("*.json"))


def placed(board: list[tuple[float, float]], px: list[tuple[float, float]]) -> Placement:
    found = fit(board, px)
    assert isinstance(found, Placement)
    return found


def test_four_points_give_the_exact_matrix_and_nothing_over() -> None:
    """Source: 13-homography.json, exact rational elimination."""
    case = PUBLISHED["four_points"]
    found = placed(case["source"], case["destination"])
    assert [n for row in found.matrix for n in row] == pytest.approx([n for row in case["H"] for n in row], rel=1e-9, abs=1e-12)
    assert (found.residual, found.residual_px) == (None, None)
    for probe in case["probes"]:
        assert found.px(probe["source"]) == pytest.approx(probe["destination"], abs=1e-9)


def test_twelve_points_with_noise_lie_between_the_least_residual_and_that_of_a_reference_library() -> None:
    """Source: 13-checks.csv; the upper one is a normalised DLT of a reference library, tolerance 1e-6."""
    case, known = PUBLISHED["twelve_points_noisy"], checks("13")
    found = placed(case["source"], case["destination"])
    assert found.residual_px
    assert float(known["h-rms-min"]["value"]) - 1e-9 <= found.residual_px <= float(known["h-rms-sk"]["value"]) + 1e-6


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (10, 10), (20, 20), (0, 30)],
        [(0, 0), (0, 0), (10, 0), (0, 10)],
        [(5, 5)] * 4,
        [(0, 0), (1, 1), (2, 2), (3, 3), (4, 4), (5, 5)],
    ],
)
def test_points_that_do_not_fix_a_board_are_refused_with_a_reason(points: list[tuple[float, float]]) -> None:
    """Source of the first: 13-checks.csv, three points on a line must be refused."""
    found = fit(points, [(x * 2.0, y * 2.0) for x, y in points])
    assert not found
    assert "on a line" in found.reason  # type: ignore[union-attr]  # it is no placement


SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0)]


@pytest.mark.parametrize(
    "pixels",
    [
        [(0, 0), (500, 500), (1000, 1000), (0, 800)],
        [(10, 10), (10, 10), (500, 0), (0, 400)],
        [(0, 0), (1, 1), (2, 2), (3, 3)],
    ],
)
def test_pixels_that_lie_on_a_line_or_twice_on_one_place_are_refused_too(pixels: list[tuple[float, float]]) -> None:
    """A slip of the hand: every part would be pinned on that line."""
    found = fit(SQUARE, pixels)
    assert isinstance(found, NotHad)
    assert "on a line" in found.reason


def test_pixels_on_a_line_are_refused_however_many() -> None:
    found = fit([*SQUARE, (50.0, 40.0), (20.0, 20.0)], [(float(n), float(n)) for n in range(6)])
    assert isinstance(found, NotHad)


def test_two_points_that_were_swapped_are_told_of() -> None:
    """The square would be folded over: its middle would lie on the horizon."""
    found = fit(SQUARE, [(0, 800), (1000, 0), (1000, 800), (0, 0)])
    assert isinstance(found, NotHad)
    assert "swapped" in found.reason


def test_a_board_seen_from_behind_is_no_swap() -> None:
    found = placed(SQUARE, [(1000, 800), (0, 800), (0, 0), (1000, 0)])
    assert found.px((25, 20)) == pytest.approx((750, 600))


def test_three_points_are_too_few() -> None:
    assert not fit([(0, 0), (1, 0), (0, 1)], [(0, 0), (1, 0), (0, 1)])


TILT = st.floats(-2e-3, 2e-3)
SIZE = st.floats(0.5, 20)


@given(SIZE, SIZE, st.floats(-2, 2), st.floats(-2, 2), TILT, TILT)
def test_a_placement_is_found_again_from_its_own_points(a: float, d: float, b: float, c: float, g: float, h: float) -> None:
    if abs(a * d - b * c) < 0.2:
        return
    true = Placement(((a, b, 100.0), (c, d, 50.0), (g, h, 1.0)), 0, None, None, 0)
    places = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0), (50.0, 10.0), (20.0, 60.0)]
    if min(g * x + h * y + 1 for x, y in places) < 0.3:
        return
    found = placed(places, [true.px(p) for p in places])
    assert found.px((37, 41)) == pytest.approx(true.px((37, 41)), abs=1e-5)
    assert found.residual_px == pytest.approx(0, abs=1e-6)


@given(st.floats(0.01, 100), st.floats(-1000, 1000))
def test_another_unit_or_origin_of_the_board_changes_no_pixel(scale: float, shift: float) -> None:
    places = [(4.0, 4.0), (156.0, 4.0), (156.0, 96.0), (4.0, 96.0), (30.0, 86.0)]
    pixels = [(206.0, 959.0), (1393.0, 950.0), (1380.0, 240.0), (210.0, 241.0), (410.0, 318.0)]
    one = placed(places, pixels)
    other = placed([(x * scale + shift, y * scale - shift) for x, y in places], pixels)
    assert other.px((80 * scale + shift, 50 * scale - shift)) == pytest.approx(one.px((80, 50)), abs=1e-3)


def test_the_worst_point_is_named() -> None:
    places = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0), (50.0, 40.0), (20.0, 60.0), (70.0, 20.0)]
    pixels = [(10 * x, 10 * y) for x, y in places]
    pixels[4] = (pixels[4][0] + 12, pixels[4][1])
    found = placed(places, pixels)
    assert found.worst == 4
    assert found.residual
    assert found.residual_px == pytest.approx(10 * found.residual, rel=0.05)


@pytest.mark.parametrize("path", TRUTH, ids=lambda p: p.stem)
def test_parts_are_found_where_they_are_in_the_demo_s_pictures(path: Path) -> None:
    """The renderer wrote down the true pixel of every part."""
    truth = json.loads(path.read_text("utf-8"))
    found = placed([(h["x_mm"], h["y_mm"]) for h in truth["holes"]], [tuple(h["px"]) for h in truth["holes"]])
    off = [math.dist(found.px((c["x_mm"], c["y_mm"])), c["px"]) for c in truth["components"]]
    assert len(off) > 40
    assert max(off) < 0.05


def test_percent_of_a_picture_need_no_points() -> None:
    assert in_percent(1200, 900).px((50, 10)) == (600, 90)
    assert in_percent(1200, 900).px_per_unit((50, 10)) == pytest.approx(math.sqrt(12 * 9))
