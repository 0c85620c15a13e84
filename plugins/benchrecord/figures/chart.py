"""A chart as SVG: fixed margins, text as text, colours as variables of the page."""

from __future__ import annotations

import html
import io
import re
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.colors import to_hex, to_rgba_array
from matplotlib.figure import Figure

from benchrecord.figures.style import BAND, FOUND, FOUND_MARKER, GRID, INK, LEFT, LEFT_MARKER, PAPER, QUIET, ROLES, WIDTH, Chart

DPI = 72
NAME_AT, GAP, DIGIT, TICK = (
    15.0,
    4.0,
    8.3,
    6.0,
)  # where the name of an upright axis stands, how wide a digit is, how long a tick
BOTTOM, TOP, RIGHT = 46.0, 34.0, 14.0  # margins in drawing units
UNNAMED = 20.0  # of the lower one, where nothing but numbers stand there
LOOK: Any = {
    "svg.fonttype": "none",
    "font.size": 13,
    "axes.edgecolor": GRID,
    "axes.labelcolor": QUIET,
    "axes.facecolor": "none",
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": QUIET,
    "ytick.labelcolor": INK,
    "axes.unicode_minus": True,
}
FONT = re.compile(r"; font-family: [^;\"]+")  # a drawing speaks in the page's own letters
EMPTY = re.compile(r"<defs>\s*</defs>\s*|<g[^>]*/>\s*|<g[^>]*(?<!/)>\s*</g>\s*")


def draw(chart: Chart, *, name: str) -> str:
    """Return the drawing as an SVG element; ids in it start with ``name``, so that several can stand on one page."""
    with mpl.rc_context(LOOK | {"svg.hashsalt": name}):
        figure = Figure((WIDTH / DPI, chart.height / DPI), dpi=DPI)
        figure.patch.set_visible(False)
        bottom, top = BOTTOM / chart.height, 1 - TOP / chart.height
        axes = figure.add_axes((chart.left_margin, bottom, 1 - chart.left_margin - RIGHT / WIDTH, top - bottom))
        chart.paint(axes)
        _room_for_labels(axes)
        _legend(axes, chart.band)
        out = io.StringIO()
        FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return _for_page(out.getvalue(), name, chart, chart.height - _spare(axes))


def _spare(axes: Axes) -> float:
    """Return how much of the lower margin is empty: its axis has no name there, and its numbers stand upright."""
    return 0.0 if axes.get_xlabel() or any(label.get_rotation() for label in axes.get_xticklabels()) else UNNAMED


def _room_for_labels(axes: Axes) -> None:
    """Move the axis to the right where its numbers are so long that its name would be cut off at the edge."""
    if not axes.get_ylabel():
        return
    axes.yaxis.set_label_coords(
        NAME_AT / WIDTH, axes.get_position().y0 + axes.get_position().height / 2, axes.figure.transFigure
    )
    low, high = axes.get_ylim()
    ticks = [tick for tick in axes.get_yticks() if low <= tick <= high]
    longest = max(map(len, axes.yaxis.get_major_formatter().format_ticks(ticks)), default=0)
    box, needed = axes.get_position(), (NAME_AT + GAP + longest * DIGIT + TICK) / WIDTH
    if needed > box.x0:
        axes.set_position((needed, box.y0, box.x1 - needed, box.height))


def _legend(axes: Axes, band: str) -> None:
    """One legend for all charts, in the margin above the axes: found, left and the band of the limits, each where it is drawn."""
    figure = axes.get_figure()
    if not isinstance(figure, Figure):
        return
    width, height = figure.get_size_inches() * DPI
    x, y, drawn = 14.0, 1 - 14.0 / height, _colours(axes)
    look: dict[str, Any] = {"transform": figure.transFigure, "clip_on": False}
    for colour, words, room in ((FOUND, "as found", 100.0), (LEFT, "as left", 86.0), (BAND, band, 0.0)):
        if colour not in drawn:
            continue
        if colour == BAND:
            axes.plot([x / width, (x + 16) / width], [y, y], color=BAND, lw=9, solid_capstyle="butt", **look)
        else:
            face, marker = (PAPER, FOUND_MARKER) if colour == FOUND else (colour, LEFT_MARKER)
            axes.plot([x / width], [y], marker=marker, color=colour, mfc=face, ms=6, ls="", **look)
        ink, beside = (QUIET, 24) if colour == BAND else (colour, 12)
        axes.text((x + beside) / width, y, words, va="center_baseline", color=ink, transform=figure.transFigure)
        x += room


def _colours(axes: Axes) -> set[str]:
    """Return the colours that anything in a chart has."""
    getters = ("get_color", "get_facecolor", "get_edgecolor")
    artists = [artist for artist in axes.findobj() if artist.get_visible()]
    given = [getattr(artist, name)() for artist in artists for name in getters if hasattr(artist, name)]
    return {to_hex(row) for colours in given for row in to_rgba_array(colours)}


def _for_page(svg: str, name: str, chart: Chart, height: float) -> str:
    svg = re.sub(r"\A.*?(?=<svg)", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->|<style.*?</style>", "", svg, flags=re.DOTALL)  # a style sheet in a drawing rules the whole page
    svg = EMPTY.sub("", svg)
    svg = re.sub(r'(?<=[ "])(id="|xlink:href="#|url\(#)', rf"\1{name}-", svg)
    svg = re.sub(r"url\(#(?!" + re.escape(name) + ")", f"url(#{name}-", svg)
    svg = svg.replace("xlink:href", "href")
    svg = FONT.sub("", svg)
    for stand_in, role in ROLES.items():
        svg = svg.replace(stand_in, f"var(--br-{role})")
    head = f'<svg class="br-drawing" viewBox="0 0 {WIDTH} {height:g}" role="img" aria-label="{html.escape(chart.alt, quote=True)}">'
    svg = re.sub(r"\A<svg[^>]*>", head, svg)
    return re.sub(r"\n\s*", "\n", svg).strip()
