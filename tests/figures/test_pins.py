"""Pins on maps and photographs: a link for each part, as large as it is seen, told apart by shape, readable however crowded."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from benchrecord.bench.placement import Placement, in_percent
from benchrecord.checks import all_kinds, schemas
from benchrecord.figures.board_map import BoardMap, board_map, map_frame
from benchrecord.figures.labels import Box
from benchrecord.figures.photo_pins import PhotoPins, photo_pins, photo_sheet
from benchrecord.figures.pins import SHOWN, TEXT, Layers, _outline, sample
from benchrecord.intake import read_job
from benchrecord.model.job import Board, BoardPart
from crowded import crowded

ROOT = Path(__file__).parents[2]
STRANGE = "<script>\"&'</script>"
PARTS = (
    BoardPart("R1", 10, 10, "resistor", "4k7", "feeds the lamp"),
    BoardPart("C1", 30, 20, "electrolytic", STRANGE, STRANGE),
    BoardPart("X9", 45, 35, "nobody knows"),
)
BOARD = Board("b", STRANGE, (50.0, 40.0), "mm", (), PARTS)
LAYERS = {"replaced": frozenset({"R1"}), "trimmed": frozenset({"X9"}), "faulty": frozenset({"C1"})}
CROWDED = Board("b", "B", (160.0, 100.0), "mm", (), tuple(BoardPart(ref, x, y, kind) for ref, x, y, kind in crowded()))
PIXELS = 10.0  # a millimetre, in the photographs below
STRAIGHT = Placement(((PIXELS, 0.0, 0.0), (0.0, -PIXELS, 600.0), (0.0, 0.0, 1.0)))


def map_of(board: Board, layers: Layers = LAYERS, name: str = "", size: tuple[int, int] | None = None) -> BoardMap:
    return board_map(board, map_frame(board, size), layers=layers, href=lambda ref: f"to-{ref}", name=name)


def pins_of(board: Board, placement: Placement, size: tuple[int, int], layers: Layers = LAYERS) -> PhotoPins:
    sheet = photo_sheet(placement, size, map_frame(board, size).unit)
    return photo_pins(board, sheet, layers=layers, href=lambda ref: f"to-{ref}", name="p")


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # our own drawing


def links(svg: str) -> dict[str, ET.Element]:
    return {a.get("id", ""): a for a in drawn(svg).iter("a")}


def by_class(tree: ET.Element, name: str) -> list[ET.Element]:
    return [e for e in tree.iter() if name in e.get("class", "").split()]


def size_of(svg: str) -> tuple[float, float]:
    width, height = (float(n) for n in drawn(svg).get("viewBox", "").split()[2:])
    return width, height


def reach(link: ET.Element, name: str = "br-shape") -> Box:
    """Return the box about the corners of a path."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", by_class(link, name)[0].get("d", ""))]
    xs, ys = numbers[::2], numbers[1::2]
    return Box((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2, max(xs) - min(xs), max(ys) - min(ys))


def label_of(link: ET.Element) -> tuple[float, float]:
    (text,) = link.iter("text")
    return float(text.get("x", "")), float(text.get("y", ""))


def test_a_map_has_a_link_for_each_part_with_its_name() -> None:
    made = map_of(BOARD)
    found = links(made.svg)
    assert set(found) == {"R1", "C1", "X9"}
    assert found["R1"].get("href") == "to-R1"
    assert found["R1"].get("aria-label") == "R1 4k7, feeds the lamp, replaced"
    assert found["R1"].findtext("title") == found["R1"].get("aria-label")
    assert made.alt == f"Map of {STRANGE}: 3 parts, 1 replaced, 1 trim, 1 with a share in a fault."


def test_words_of_a_board_are_never_markup() -> None:
    assert "<script" not in map_of(BOARD).svg
    drawn(map_of(BOARD).svg)


def test_a_map_within_a_note_has_names_of_its_own() -> None:
    assert sorted(links(map_of(BOARD, name="note").svg)) == ["note-C1", "note-R1", "note-X9"]


def test_millimetres_grow_upwards() -> None:
    found = links(map_of(BOARD).svg)
    assert reach(found["X9"]).y < reach(found["C1"]).y < reach(found["R1"]).y


def test_percent_grow_downwards_and_the_map_ends_beyond_the_outermost_parts() -> None:
    board = Board("b", "B", None, "percent", (), (BoardPart("A1", 40, 40), BoardPart("A2", 60, 60)))
    svg = map_of(board, size=(800, 600)).svg
    found = links(svg)
    assert reach(found["A1"]).y < reach(found["A2"]).y
    width, height = size_of(svg)
    assert width / height == pytest.approx((20 + 14) / (15 + 14), rel=0.02)


@pytest.mark.parametrize("frame", ["mm", "percent"])
def test_what_a_map_shows_is_found_again_from_its_shares(frame: str) -> None:
    seen = map_frame(Board("b", "B", (50.0, 40.0), frame, (), PARTS), (800, 600))
    assert seen.board(*seen.place(12.0, 34.0)) == pytest.approx((12.0, 34.0))


def test_a_map_of_parts_that_nobody_sized_holds_them_all() -> None:
    svg = map_of(Board("b", "B", None, "mm", (), (BoardPart("A1", 0, 0), BoardPart("A2", 300, 200)))).svg
    width, height = size_of(svg)
    assert all(0 <= b.x <= width and 0 <= b.y <= height for b in map(reach, links(svg).values()))
    assert len(links(svg)) == 2


def test_every_kind_has_a_class_words_and_a_shape_of_its_own() -> None:
    kinds = ("replaced", "trimmed", "measured", "faulty")
    layers = {name: frozenset({"R1"}) for name in kinds}
    link = links(map_of(BOARD, layers).svg)["R1"]
    assert link.get("class") == "br-pin br-is-replaced br-is-trimmed br-is-measured br-is-faulty"
    assert link.get("aria-label") == "R1 4k7, feeds the lamp, replaced, trim, measured, had a share in a fault"
    shapes = [re.sub(r"br-is-\w+", "", sample(kind)) for kind in ("replaced", "measured", "faulty", "plain")]
    assert len(set(shapes)) == 4
    css = (ROOT / "plugins/benchrecord/publish/theme/assets/boards.css").read_text("utf-8")
    assert re.search(r"\.br-is-trimmed \.br-shape {[^}]*stroke-dasharray", css)


def test_a_part_of_which_nothing_is_known_is_plain() -> None:
    assert links(map_of(BOARD, {}).svg)["R1"].get("class") == "br-pin br-is-plain"


def test_pins_lie_only_on_parts_inside_the_picture() -> None:
    board = Board("b", "B", None, "percent", (), (BoardPart("A1", 50, 50), BoardPart("A2", 120, 50)))
    made = pins_of(board, in_percent(800, 600), (800, 600))
    ((name, link),) = links(made.svg).items()
    assert (name, link.get("href"), made.count) == ("p-A1", "to-A1", 1)
    assert (reach(link).x, reach(link).y) == (360, 270)  # of 720 × 540 drawing units


def test_an_outline_is_as_large_as_its_part_in_the_picture() -> None:
    """Ten pixels a millimetre, 720 units over 1000 pixels: a cement resistor of 22 mm × 9.5 mm; a small part has the least size."""
    parts = (BoardPart("R1", 50, 30, "cement"), BoardPart("R2", 20, 30, "nobody knows"))
    found = links(pins_of(Board("b", "B", (100.0, 60.0), "mm", (), parts), STRAIGHT, (1000, 600)).svg)
    large, small = reach(found["p-R1"]), reach(found["p-R2"])
    assert (large.w, large.h) == (pytest.approx(22 * PIXELS * 0.72, abs=0.2), pytest.approx(9.5 * PIXELS * 0.72, abs=0.2))
    assert small.w == pytest.approx(4 * PIXELS * 0.72, abs=0.2)
    far = Placement(((1.0, 0.0, 0.0), (0.0, -1.0, 600.0), (0.0, 0.0, 1.0)))
    assert reach(links(pins_of(Board("b", "B", None, "mm", (), parts), far, (1000, 600)).svg)["p-R2"]).w == pytest.approx(11)


def test_a_camera_that_looks_from_the_side_draws_outlines_together() -> None:
    parts = (BoardPart("R1", 50, 10, "cement"), BoardPart("R2", 50, 50, "cement"))
    oblique = Placement(((10.0, 0.0, 0.0), (0.0, -5.0, 500.0), (0.0, 0.01, 1.0)))
    found = links(pins_of(Board("b", "B", (100.0, 60.0), "mm", (), parts), oblique, (1000, 600)).svg)
    assert reach(found["p-R2"]).w < reach(found["p-R1"]).w


@pytest.mark.parametrize("frame", ["mm", "percent"])
def test_drawings_of_one_board_are_the_same_twice(frame: str) -> None:
    board = Board("b", "B", (50.0, 40.0), frame, (), PARTS)
    assert map_of(board) == map_of(board)


def demo_maps() -> list[BoardMap]:
    job, _ = read_job(ROOT / "sample_job", schemas(all_kinds()))
    assert job
    return [map_of(board, {}) for board in job.boards if board.parts]


def texts(svg: str) -> list[Box]:
    """Return where every designator that is shown stands, as wide as the widest usual letters make it."""
    shown = [(label_of(a), next(a.iter("text")).text or "") for a in links(svg).values() if not by_class(a, "br-hidden")]
    return [Box(x, y, TEXT * sum(0.64 if c.isdigit() else 0.79 for c in word), TEXT * 0.8) for (x, y), word in shown]


@pytest.mark.parametrize("made", [*demo_maps(), map_of(CROWDED), pins_of(CROWDED, STRAIGHT, (1600, 1000))])
def test_no_designator_lies_on_another_or_over_the_edge(made: BoardMap | PhotoPins) -> None:
    boxes, (width, height) = texts(made.svg), size_of(made.svg)
    assert len(boxes) == len(links(made.svg)) > 15
    assert sum(a.shared(b) for n, a in enumerate(boxes) for b in boxes[:n]) == 0
    sheet = Box(width / 2, height / 2, width, height)
    assert all(b.shared(sheet) == pytest.approx(b.w * b.h) for b in boxes)


def test_a_crowded_board_is_drawn_larger_and_says_how_wide_it_must_be() -> None:
    crowd, roomy = map_of(CROWDED), map_of(BOARD)
    assert roomy.least_px == int(720 * SHOWN) <= 358  # what a telephone of 390 px leaves between the margins
    assert roomy.least_px < crowd.least_px < 1000
    assert crowd.least_px == int(size_of(crowd.svg)[0] * SHOWN)
    assert TEXT * SHOWN > 9  # px: the height of a designator at that width


def test_no_finger_s_place_reaches_into_another_s() -> None:
    places = [by_class(a, "br-touch")[0] for a in links(map_of(CROWDED).svg).values()]
    circles = [tuple(float(c.get(name, "")) for name in ("cx", "cy", "r")) for c in places]
    for n, (x, y, r) in enumerate(circles):
        for u, v, s in circles[:n]:
            assert ((x - u) ** 2 + (y - v) ** 2) ** 0.5 >= r + s - 0.2


@pytest.mark.parametrize(
    ("rotation", "upright"),
    [(None, False), (0.0, False), (90.0, True), (180.0, False), (-90.0, True), (100.0, True), (359.0, False)],
)
def test_a_part_lies_as_its_table_says(rotation: float | None, upright: bool) -> None:  # noqa: FBT001
    part = BoardPart("R1", 30, 20, "resistor", rotation=rotation)
    outline = _outline(Board("b", "B", (60.0, 40.0), "mm", (), (part,)), part, lambda x, y: (10 * x, 10 * y), (1.0, 1.0))
    assert (abs(outline.along[0]) < abs(outline.across[1])) is upright
