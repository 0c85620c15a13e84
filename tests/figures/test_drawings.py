"""Charts, maps and overlays: well-formed, the same twice, in the page's colours, every part a link with a name."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from benchrecord.figures.chart import draw
from benchrecord.figures.style import ROLES, Chart, GridCell, error_curves, grid, magnitudes, shortened, spans
from benchrecord.figures.style import curves as bench_curves
from benchrecord.model.job import Board, BoardPart

ROOT = Path(__file__).parents[2]
STRANGE = "<script>\"&'</script>"
PARTS = (
    BoardPart("R1", 10, 10, "resistor", "4k7", "feeds the lamp"),
    BoardPart("C1", 30, 20, "electrolytic", STRANGE, STRANGE),
    BoardPart("X9", 45, 35, "nobody knows"),
)
BOARD = Board("b", STRANGE, (50.0, 40.0), "mm", (), PARTS)
LAYERS = {"replaced": frozenset({"R1"}), "trimmed": frozenset({"X9"}), "faulty": frozenset({"C1"})}


def chart(found: list[float | None], left: list[float | None], title: str = "T") -> Chart:
    paint, height = spans([f"item {n}" for n in range(len(found))], found, left)
    return Chart(title, "caption", f"alt {STRANGE}", paint, height, 0.3)


def curves(worst: float) -> str:
    paint = error_curves([(0, 0), (5, worst)], [(0, 0), (5, 1)], limit=3, unit="cents")
    return draw(Chart("T", "c", "a", paint), name="n")


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314  # our own drawing


def by_class(tree: ET.Element, name: str) -> list[ET.Element]:
    return [e for e in tree.iter() if name in e.get("class", "").split()]


def test_a_chart_is_well_formed_names_what_it_shows_and_has_a_fixed_shape() -> None:
    tree = drawn(draw(chart([0.5], [0.1]), name="n"))
    assert tree.get("viewBox") == "0 0 420 90"
    assert tree.get("aria-label") == f"alt {STRANGE}"
    assert tree.get("width") is None


def test_a_chart_has_text_as_text_in_the_page_s_own_letters() -> None:
    svg = draw(chart([0.5], [0.1]), name="n")
    texts = {"".join(e.itertext()) for e in drawn(svg).iter("text")}
    assert {"item 0", "as found", "as left", "within limits", "low", "high"} <= texts
    assert "font-family" not in svg
    assert "<style" not in svg


def test_a_chart_has_no_colour_of_its_own() -> None:
    svg = draw(chart([0.5, None, 7], [0.1, -9, None]), name="n")
    assert not any(stand_in in svg for stand_in in ROLES)
    assert set(re.findall(r"#[0-9a-fA-F]{6}\b", svg)) == set()
    assert {"var(--br-found)", "var(--br-left)", "var(--br-band)"} <= set(re.findall(r"var\(--br-\w+\)", svg))


def test_found_and_left_differ_by_their_marker_too() -> None:
    found, left = draw(chart([0.5], [None]), name="n"), draw(chart([None], [0.5]), name="n")
    shapes = [re.sub(r"var\(--br-\w+\)", "", s) for s in (found, left)]
    assert shapes[0] != shapes[1]


def test_two_charts_can_stand_on_one_page() -> None:
    one, other = (draw(chart([0.5], [0.1]), name=name) for name in ("one", "other"))
    ids = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (one, other)]
    assert ids[0]
    assert not ids[0] & ids[1]
    for svg, known in zip((one, other), ids, strict=True):
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg)) <= known


def test_the_same_chart_is_the_same_twice() -> None:
    assert draw(chart([0.5], [0.1]), name="n") == draw(chart([0.5], [0.1]), name="n")


def test_a_value_far_outside_stands_at_the_edge() -> None:
    positions = [float(x) for x in re.findall(r'<use[^>]*x="([\d.]+)"', draw(chart([1000.0], [-1000.0]), name="n"))]
    assert positions
    assert all(0 < x < 420 for x in positions)


@pytest.mark.parametrize(("worst", "compressed"), [(-120.0, True), (-8.0, False)])
def test_large_errors_are_compressed_and_say_so(worst: float, compressed: bool) -> None:  # noqa: FBT001
    assert ("error in cents, compressed" in curves(worst)) is compressed
    drawn(curves(worst))


def test_a_long_label_keeps_its_beginning_and_its_end() -> None:
    assert shortened("F three octaves up") == "F three octaves up"
    long = [f"output of the summing amplifier at {n} V" for n in (0, 5)]
    short = [shortened(label) for label in long]
    assert short == ["output of t…r at 0 V", "output of t…r at 5 V"]
    texts = {
        "".join(e.itertext()) for e in drawn(draw(Chart("T", "c", "a", *spans(long, [0, 0], [0, 0])), name="n")).iter("text")
    }
    assert set(short) <= texts


@pytest.mark.parametrize("values", [[0.0], [1e9, -1e9], [None, None], [-2.4, 2.4, 0.0]])
def test_a_chart_is_drawn_whatever_was_read(values: list[float | None]) -> None:
    drawn(draw(chart(values, list(reversed(values))), name="n"))


@pytest.mark.parametrize("unit", ["cents", "%"])
def test_curves_of_one_side_alone_and_without_a_limit(unit: str) -> None:
    for found, left in (([(0.0, 0.0), (1.0, 2.0)], []), ([], [(0.0, 0.0), (1.0, -2.0)])):
        svg = draw(Chart("T", "c", "a", error_curves(found, left, limit=None, unit=unit)), name="n")
        assert f"error in {unit}" in svg
        drawn(svg)


def test_the_alternative_text_of_a_chart_is_no_markup() -> None:
    svg = draw(chart([0.1], [0.1]), name="n")
    assert "<script" not in svg


@pytest.mark.parametrize(
    ("values", "ticks"), [([[100.0], [50_000.0]], ["100", "1000", "10000"]), ([[300.0], []], ["200", "500"])]
)
def test_magnitudes_have_ticks_in_tens_or_between_them(values: list[list[float]], ticks: list[str]) -> None:
    paint, height = magnitudes(["a", "b"], values, [[], []], limits=[(None, 400.0), (None, None)], name=lambda v: f"{v:g}")
    svg = draw(Chart("T", "c", "a", paint, height, 0.3), name="n")
    assert [t for t in re.findall(r">(\d+)</text>", svg) if t in ticks] == ticks


def test_a_legend_names_what_is_drawn_and_nothing_else() -> None:
    def legend(found: list[tuple[float, float]], left: list[tuple[float, float]], limit: float | None) -> list[str]:
        svg = draw(Chart("T", "c", "a", error_curves(found, left, limit=limit, unit="cents")), name="n")
        return re.findall(r">(as found|as left|within limits)</text>", svg)

    curve = [(0.0, 0.0), (1.0, 2.0)]
    assert legend(curve, curve, 3.0) == ["as found", "as left", "within limits"]
    assert legend(curve, [], None) == ["as found"]
    assert legend([], curve, 3.0) == ["as left", "within limits"]


def test_a_label_of_nothing_leaves_a_drawing_well_formed() -> None:
    paint, height = grid(["low", "high"], [""], None, [[GridCell("0.1", "·", inside=True)], [GridCell("×", "×", inside=False)]])
    tree = drawn(draw(Chart("T", "c", "a", paint, height, 0.2), name="n"))
    assert [e.text for e in tree.iter() if e.text in ("low", "high", "0.1", "×")] == ["low", "high", "0.1", "×"]


@pytest.mark.parametrize(("columns", "text", "height"), [(3, "0.5", 141), (8, "0.5", 198), (16, "x", 198)])
def test_a_grid_puts_both_sides_where_there_is_room(columns: int, text: str, height: float) -> None:
    line = [GridCell("0.5", "x", inside=True)] * columns
    paint, tall = grid(["a", "b"], [f"{n}" for n in range(columns)], [line, line], [line, line])
    svg = draw(Chart("T", "c", "a", paint, tall, 0.2), name="n")
    assert tall == height
    assert svg.count(f">{text}</text>") == 4 * columns


@pytest.mark.parametrize("size", [1e-5, 1e-3, 0.1, 1.0, 1e3, 1e6])
def test_the_name_of_an_upright_axis_stands_free_of_its_numbers_and_of_the_edge(size: float) -> None:
    paint = bench_curves([(0, -size), (1, size)], [(0, 0), (1, size / 3)], labels=("seconds", "name of it"))
    svg = draw(Chart("T", "c", "a", paint), name="n")
    name = float(re.findall(r'x="([\d.]+)"[^>]*>name of it', svg)[0])
    numbers = [(float(x), len(text)) for x, text in re.findall(r'text-anchor: end[^>]* x="([\d.]+)"[^>]*>([^<]+)', svg)]
    assert name >= 11  # the baseline of letters 13 px high, upright
    assert numbers
    assert all(x - 8.3 * long > name + 3 for x, long in numbers)
