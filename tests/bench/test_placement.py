"""Where a board's places lie in a photograph: published cases, laws, and the demo's pictures, whose truth is known."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from skimage.transform import ProjectiveTransform

from benchrecord.bench.homography import dlt, project
from benchrecord.bench.lens import BEYOND, Lens
from benchrecord.bench.placement import Placement, fit, in_percent, tail_of_f
from benchrecord.bench.reasons import NotHad
from reference.published import checks, data

PUBLISHED = data("13-homography.json")
TRUTH = sorted((Path(__file__).parents[1] / "demo_scenes/truth").glob("*.json"))
ABOVE = next(path for path in TRUTH if path.stem == "psu-after-top")
STAGES = ("before", "after")


def placed(board: list[tuple[float, float]], px: list[tuple[float, float]]) -> Placement:
    found = fit(board, px)
    assert isinstance(found, Placement)
    return found


def test_four_points_give_the_exact_matrix_and_nothing_over() -> None:
    """Source: 13-homography.json, exact rational elimination."""
    case = PUBLISHED["four_points"]
    found = placed(case["source"], case["destination"])
    assert [n for row in found.homography for n in row] == pytest.approx(
        [n for row in case["H"] for n in row], rel=1e-9, abs=1e-12
    )
    assert (found.residual, found.residual_px) == (None, None)
    for probe in case["probes"]:
        assert found.px(*probe["source"]) == pytest.approx(probe["destination"], abs=1e-9)


def test_twelve_points_with_noise_leave_the_least_residual_that_there_is() -> None:
    """Source: 13-checks.csv, the smallest possible one; before it is refined, a normalised DLT leaves what a library's leaves."""
    case, known = PUBLISHED["twelve_points_noisy"], checks("13")
    found = placed(case["source"], case["destination"])
    assert found.residual_px == pytest.approx(float(known["h-rms-min"]["value"]), abs=1e-9)
    places, pixels = np.array(case["source"]), np.array(case["destination"])
    first = dlt(places, pixels)
    assert first is not None
    off = np.linalg.norm(project(first, places) - pixels, axis=1)
    assert np.sqrt(np.mean(off**2)) == pytest.approx(float(known["h-rms-sk"]["value"]), abs=1e-6)


def test_a_second_and_a_third_witness_agree() -> None:
    """Source: OpenCV and scikit-image, asked here: the exact case to a millionth of a pixel, the noisy one to their own methods."""
    for name, close_px in (("four_points", 1e-6), ("twelve_points_noisy", 0.05)):
        case = PUBLISHED[name]
        places, pixels = np.array(case["source"], float), np.array(case["destination"], float)
        found = placed(case["source"], case["destination"])
        by_opencv, _ = cv2.findHomography(places, pixels, method=0)
        by_skimage = ProjectiveTransform.from_estimate(places, pixels).params
        here = np.array([found.px(*p) for p in places.tolist()])
        for other in (by_opencv, by_skimage):
            assert np.max(np.abs(project(other / other[2, 2], places) - here)) < close_px, name


def test_a_lens_bends_as_opencv_s_does() -> None:
    """Source: OpenCV's projectPoints with k1 alone; its focal length is the distance of a corner from the middle, so that r = 1 there."""
    lens = Lens(1600, 1200, -0.03)
    pixels = np.array([(100.0, 80.0), (800.0, 600.0), (1500.0, 700.0), (0.0, 1200.0)])
    rays = np.column_stack([(pixels - lens.middle) / lens.corner, np.ones(len(pixels))])
    camera = np.array([[lens.corner, 0, 800], [0, lens.corner, 600], [0, 0, 1.0]])
    bent, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), camera, np.array([-0.03, 0, 0, 0]))
    assert np.allclose(bent[:, 0], [lens.bent(*p) for p in pixels.tolist()], atol=1e-9)


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
    assert found.px(25, 20) == pytest.approx((750, 600))


def test_three_points_are_too_few() -> None:
    assert not fit([(0, 0), (1, 0), (0, 1)], [(0, 0), (1, 0), (0, 1)])


TILT = st.floats(-2e-3, 2e-3)
SIZE = st.floats(0.5, 20)


@given(SIZE, SIZE, st.floats(-2, 2), st.floats(-2, 2), TILT, TILT)
def test_a_placement_is_found_again_from_its_own_points(a: float, d: float, b: float, c: float, g: float, h: float) -> None:
    if abs(a * d - b * c) < 0.2:
        return
    true = Placement(((a, b, 100.0), (c, d, 50.0), (g, h, 1.0)))
    places = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0), (50.0, 10.0), (20.0, 60.0)]
    if min(g * x + h * y + 1 for x, y in places) < 0.3:
        return
    found = placed(places, [true.px(*p) for p in places])
    assert found.px(37, 41) == pytest.approx(true.px(37, 41), abs=1e-5)
    assert found.residual_px == pytest.approx(0, abs=1e-6)


@given(st.floats(0.01, 100), st.floats(-1000, 1000))
def test_another_unit_or_origin_of_the_board_changes_no_pixel(scale: float, shift: float) -> None:
    places = [(4.0, 4.0), (156.0, 4.0), (156.0, 96.0), (4.0, 96.0), (30.0, 86.0)]
    pixels = [(206.0, 959.0), (1393.0, 950.0), (1380.0, 240.0), (210.0, 241.0), (410.0, 318.0)]
    one = placed(places, pixels)
    other = placed([(x * scale + shift, y * scale - shift) for x, y in places], pixels)
    assert other.px(80 * scale + shift, 50 * scale - shift) == pytest.approx(one.px(80, 50), abs=1e-3)


def test_the_worst_point_is_named() -> None:
    places = [(0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0), (50.0, 40.0), (20.0, 60.0), (70.0, 20.0)]
    pixels = [(10 * x, 10 * y) for x, y in places]
    pixels[4] = (pixels[4][0] + 12, pixels[4][1])
    found = placed(places, pixels)
    assert found.worst == 4
    assert found.residual
    assert found.residual_px == pytest.approx(10 * found.residual, rel=0.05)


HOLES, EIGHT = 4, 8
Pair = tuple[tuple[float, float], tuple[float, float]]  # a place of a board in mm, and its pixel


def boards_seen() -> Iterator[tuple[Path, str]]:
    """Yield each demo picture that shows all holes of a board, and what the names of that board's parts begin with."""
    for path in TRUTH:
        holes = json.loads(path.read_text("utf-8"))["holes"]
        for board in dict.fromkeys(h["ref"].rpartition("H")[0] for h in holes):
            if all(h["in_frame"] for h in holes if h["ref"].startswith(board)):
                yield path, board


SEEN = [pytest.param(path, board, id=f"{path.stem} {board}".strip()) for path, board in boards_seen()]


def scene(path: Path, board: str = "", k1: float = 0.0) -> tuple[Lens, list[Pair]]:
    """Return a lens, and a board's holes and parts in a demo picture: places in mm with the true pixels, as that lens bends them."""
    truth = json.loads(path.read_text("utf-8"))
    had, lens = (Lens(truth["width_px"], truth["height_px"], bend) for bend in (truth["k1"], k1))
    known = [c for c in (*truth["holes"], *truth["components"]) if c["in_frame"] and c["ref"].startswith(board)]
    return lens, [((c["x_mm"], c["y_mm"]), lens.bent(*had.straight(*c["px"]))) for c in known]


def spread(pairs: list[Pair]) -> list[Pair]:
    """Return eight points: the holes, and four parts from all over the list."""
    parts = pairs[HOLES:]
    return [*pairs[:HOLES], *(parts[n * (len(parts) - 1) // 3] for n in range(EIGHT - HOLES))]


def farthest_mm(found: Placement, pairs: list[Pair]) -> float:
    return max(math.dist(found.board(*pixel), place) for place, pixel in pairs)


def test_the_demo_shows_its_boards_from_above_from_the_side_and_in_the_case() -> None:
    names = {path.stem for path, _ in boards_seen()}
    whole = {f"{board}-{stage}-{view}" for board in ("psu", "tone", "voice") for stage in STAGES for view in ("top", "oblique")}
    assert names == whole | {f"inside-{stage}" for stage in STAGES}


@pytest.mark.parametrize(("path", "board"), SEEN)
def test_parts_are_found_where_they_are_in_the_demo_s_pictures(path: Path, board: str) -> None:
    """The renderer wrote down the true pixel of every part; four holes are enough for a straight lens."""
    _, pairs = scene(path, board)
    assert len(pairs) > 44
    found = placed(*map(list, zip(*pairs[:HOLES], strict=True)))  # type: ignore[arg-type]  # places and pixels
    assert farthest_mm(found, pairs) < 0.3 / 10
    assert max(math.dist(found.px(*place), pixel) for place, pixel in pairs) < 0.05


@pytest.mark.parametrize("k1", [-0.03, 0.03])
@pytest.mark.parametrize(("path", "board"), SEEN)
def test_a_bent_lens_is_found_from_eight_points(path: Path, board: str, k1: float) -> None:
    lens, pairs = scene(path, board, k1)
    places, pixels = map(list, zip(*spread(pairs), strict=True))
    found = fit(places, pixels, size_px=(lens.width, lens.height))
    assert isinstance(found, Placement)
    assert found.k1 == pytest.approx(
        k1, rel=0.1 if board else 0.01
    )  # boards in the case are small there, and tell less of the lens
    assert farthest_mm(found, pairs) < 0.5 / 10
    straight = placed(places, pixels)
    assert straight.k1 is None
    assert straight.residual
    assert straight.residual > 10 * (found.residual or 0)


@pytest.mark.parametrize(("k1", "least", "most"), [(0.0, 0.0, 0.03), (-0.03, 0.99, 1.0)])
def test_a_lens_is_taken_out_only_where_the_points_give_reason(k1: float, least: float, most: float) -> None:
    """Half a pixel of a hand's error: a straight lens is taken for a bent one about once in a hundred times, and pins stay close."""
    lens, pairs = scene(ABOVE, k1=k1)
    chance, taken, farthest = random.Random(13), 0, 0.0  # noqa: S311  # no secret
    for _ in range(150):
        placed_by_hand = [(p, (x + chance.gauss(0, 0.5), y + chance.gauss(0, 0.5))) for p, (x, y) in spread(pairs)]
        found = fit(*map(list, zip(*placed_by_hand, strict=True)), size_px=(lens.width, lens.height))  # type: ignore[misc, arg-type]
        assert isinstance(found, Placement)
        taken += found.k1 is not None
        farthest = max(farthest, farthest_mm(found, pairs))
    assert least <= taken / 150 <= most
    assert farthest < 0.5


def test_seven_points_are_too_few_to_judge_a_lens_by() -> None:
    lens, pairs = scene(ABOVE, k1=-0.03)
    places, pixels = map(list, zip(*spread(pairs)[:7], strict=True))
    found = fit(places, pixels, size_px=(lens.width, lens.height))
    assert isinstance(found, Placement)
    assert (found.k1, found.lens_gain) == (None, None)


@pytest.mark.parametrize("freedom", [7, 9, 31])
@pytest.mark.parametrize("value", [0.0, 0.3, 5.0, 12.25, 400.0])
def test_the_tail_of_f_is_that_of_a_reference_library(freedom: int, value: float) -> None:
    """Source: scipy.stats.f."""
    assert tail_of_f(value, freedom) == pytest.approx(float(scipy.stats.f.sf(value, 1, freedom)), abs=1e-12)


@given(st.floats(-0.3, 0.9), st.floats(0, 1600), st.floats(0, 1200))
def test_what_a_lens_bends_is_straightened_again(k1: float, x: float, y: float) -> None:
    lens = Lens(1600, 1200, k1)
    assert lens.straight(*lens.bent(x, y)) == pytest.approx((x, y), abs=1e-6)


def test_a_barrel_s_fold_shows_nothing_of_what_lies_far_outside() -> None:
    """Beyond the fold the cubic comes back into the picture; a part there would be pinned on another's place."""
    lens = Lens(1600, 1200, -0.03)
    assert lens.bent(800 + 5.5 * 1000, 600) == BEYOND


@given(SIZE, SIZE, TILT, TILT, st.floats(-0.1, 0.1), st.booleans())
def test_board_is_the_inverse_of_px(a: float, d: float, g: float, h: float, k1: float, behind: bool) -> None:  # noqa: FBT001
    rows = ((-a if behind else a, 0.2, 900.0), (0.1, -d, 700.0), (g, h, 1.0))
    placement = Placement(rows, lens=Lens(1800, 1400, k1))
    for place in ((0.0, 0.0), (30.0, 20.0), (-12.0, 25.0)):
        pixel = placement.px(*place)
        if pixel != BEYOND:
            assert placement.board(*pixel) == pytest.approx(place, abs=1e-5)


def test_a_view_from_behind_is_named_so_in_either_frame() -> None:
    front, behind = [(10 * x, 900 - 10 * y) for x, y in SQUARE], [(1100 - 10 * x, 900 - 10 * y) for x, y in SQUARE]
    assert not placed(SQUARE, front).mirrored
    assert placed(SQUARE, behind).mirrored
    percent = [(x, 100 - y) for x, y in SQUARE]
    for pixels, mirrored in ((front, False), (behind, True)):
        found = fit(percent, pixels, upwards=False)
        assert isinstance(found, Placement)
        assert found.mirrored is mirrored


def test_a_place_behind_the_camera_has_no_pixel() -> None:
    steep = Placement(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -0.01, 1.0)))
    assert steep.px(0, 101) == BEYOND
    assert steep.px_per_unit(0, 101) == 0


def test_a_board_whose_origin_lies_behind_the_camera_is_placed_all_the_same() -> None:
    camera = Placement(((500.0, 0.0, 0.0), (0.0, 500.0, 0.0), (0.0, 1.0, -10.0)))
    places = [(0.0, 20.0), (10.0, 20.0), (10.0, 40.0), (0.0, 40.0), (4.0, 33.0)]
    found = placed(places, [camera.px(*p) for p in places])
    assert found.px(6, 28) == pytest.approx(camera.px(6, 28))
    assert found.px(0, 0) == BEYOND


def test_percent_of_a_picture_need_no_points() -> None:
    assert in_percent(1200, 900).px(50, 10) == (600, 90)
    assert in_percent(1200, 900).px_per_unit(50, 10) == pytest.approx(math.sqrt(12 * 9))
