"""The one look of all charts.

Colours are named by role. A chart is drawn with stand-in colours that ``figures.chart`` turns into CSS variables, so that one
drawing serves light, dark and print. *As found* and *as left* differ in colour and in marker.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Stand-ins: colours that nothing else uses, each replaced by var(--br-ROLE).
FOUND, LEFT, BAND, INK, QUIET, GRID, PAPER = "#010101", "#010102", "#010103", "#010104", "#010105", "#010106", "#010107"
ROLES = {FOUND: "found", LEFT: "left", BAND: "band", INK: "ink", QUIET: "quiet", GRID: "grid", PAPER: "paper"}
FOUND_MARKER, LEFT_MARKER = "D", "o"
WIDTH, HEIGHT = 420, 280  # drawing units; shown at 350 to 560 px wide
COMPRESS_BEYOND = 8  # an error of so many limits would leave the limits too thin to see
LONGEST_LABEL = 20  # letters beside the axes; a longer one would be cut off at the edge
WIDE_SPAN, KILO = 200, 1000  # from lowest to highest: beyond it only tens and twenties are named; from here on in kilohertz
SKY = 0.22  # of the height of a chart, for what is written above its curves
EDGE = 2.4  # limits away from the middle; what lies farther out is drawn here, with an arrow


@dataclass(frozen=True)
class Chart:
    """A chart that has not been drawn yet: ``paint`` draws on given axes.

    ``caption`` says what to see, ``alt`` the same for who cannot see it; ``left_margin`` is a share of the width; ``band`` says what
    the shaded band stands for.
    """

    title: str
    caption: str
    alt: str
    paint: Callable[[Axes], None]
    height: float = HEIGHT
    left_margin: float = 0.14
    band: str = "within limits"


def found_line(axes: Axes, x: list[float], y: list[float], *, line: bool = True) -> None:
    """Draw the values as found."""
    axes.plot(
        x, y, color=FOUND, marker=FOUND_MARKER, ms=5, lw=1.4, ls="--" if line else "", mfc=PAPER, label="as found", zorder=3
    )


def left_line(axes: Axes, x: list[float], y: list[float], *, line: bool = True) -> None:
    """Draw the values as left."""
    axes.plot(x, y, color=LEFT, marker=LEFT_MARKER, ms=5, lw=1.6, ls="-" if line else "", label="as left", zorder=4)


def limit_band(axes: Axes, low: float | None, high: float | None) -> None:
    """Shade the part of the value axis that lies within the limits."""
    bottom, top = axes.get_ylim()
    axes.axhspan(
        bottom if low is None else low, top if high is None else high, color=BAND, lw=0, zorder=0, label="within limits"
    )
    axes.set_ylim(bottom, top)


def spans(
    labels: Sequence[str],
    found: Sequence[float | None],
    left: Sequence[float | None],
    *,
    ends: tuple[str, str] = ("low", "high"),
) -> tuple[Callable[[Axes], None], float]:
    """Return a painter, and a height, for items below each other, each on a scale where -1 … 1 is the width of its limits.

    A value far outside stands at the edge, with an arrow.
    """

    def paint(axes: Axes) -> None:
        rows = list(range(len(labels)))
        axes.axvspan(-1, 1, color=BAND, lw=0, zorder=0)
        for offset, values, colour in ((-0.14, found, FOUND), (0.14, left, LEFT)):
            for row, value in zip(rows, values, strict=True):
                if value is not None:
                    _span_point(axes, value, row + offset, colour)
        axes.set_yticks(rows, [shortened(label) for label in labels])
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_xlim(-EDGE - 0.3, EDGE + 0.3)
        axes.set_xticks([-1, 1], ends)
        axes.tick_params(axis="y", length=0)
        axes.grid(axis="x")

    return paint, 84.0 + 26.0 * len(labels)


def shortened(label: str) -> str:
    """Return a label that fits beside the axes: its beginning and its end, which tells ``at 0 V`` from ``at 5 V``."""
    if len(label) <= LONGEST_LABEL:
        return label
    return f"{label[:11].rstrip()}…{label[-(LONGEST_LABEL - 12) :].lstrip()}"


def _span_point(axes: Axes, value: float, row: float, colour: str) -> None:
    at = max(-EDGE, min(EDGE, value))
    face, marker = (PAPER, FOUND_MARKER) if colour == FOUND else (colour, LEFT_MARKER)
    axes.plot([0, at], [row, row], color=colour, lw=1.2, alpha=0.55, zorder=2)
    axes.plot([at], [row], color=colour, marker=marker, ms=5.5, mfc=face, ls="", zorder=4)
    if at != value:
        axes.annotate(
            "",
            (at + (0.28 if value > 0 else -0.28), row),
            (at, row),
            arrowprops={"arrowstyle": "->", "color": colour, "lw": 1.2},
        )


def error_curves(
    found: Sequence[tuple[float, float]], left: Sequence[tuple[float, float]], *, limit: float | None, unit: str
) -> Callable[[Axes], None]:
    """Return a painter for errors over the control voltage, with the limit as a band."""

    def paint(axes: Axes) -> None:
        for pairs, line in ((found, found_line), (left, left_line)):
            if pairs:
                line(axes, [x for x, _ in pairs], [y for _, y in pairs])
        axes.axhline(0, color=QUIET, lw=0.6, zorder=1)
        worst = max((abs(y) for _, y in (*found, *left)), default=0.0)
        if limit and worst > COMPRESS_BEYOND * limit:
            _compress(axes, limit, worst)
        elif limit:
            bottom, top = axes.get_ylim()
            axes.set_ylim(min(bottom, -1.6 * limit), max(top, 1.6 * limit))
        if limit is not None:
            limit_band(axes, -limit, limit)
        axes.set_xlabel("control voltage in V")
        compressed = axes.get_yscale() == "symlog"
        axes.set_ylabel(f"error in {unit}" + (", compressed" if compressed else ""))
        axes.grid()

    return paint


def beside(
    paint: Callable[[Axes], None], interval: Sequence[tuple[float, float]], beats: Sequence[float], *, words: str
) -> Callable[[Axes], None]:
    """Return a painter that adds, over what another draws, a thin line for how a second oscillator runs beside the first.

    ``beats`` stand in a line above, each over its point, every other one where there are many; ``words`` say what they are.
    """

    def over(axes: Axes) -> None:
        paint(axes)
        low, high = axes.get_ylim()
        axes.plot(*zip(*interval, strict=True), color=QUIET, lw=1.0, ls=(0, (4, 2)), zorder=2)
        room = SKY * (4 if axes.get_yscale() == "symlog" else 1)
        axes.set_ylim(low, high + room * (high - low))
        above: dict[str, Any] = {"xycoords": axes.get_xaxis_transform(), "color": QUIET, "ha": "center", "va": "center"}
        every = 1 + len(interval) // 7
        for (x, _), beat in list(zip(interval, beats, strict=True))[::every]:
            axes.annotate(f"{beat:.2f}", (x, 0.87), fontsize=9, **above)
        axes.annotate(words, (sum(axes.get_xlim()) / 2, 0.96), fontsize=9, **above)

    return over


Points = Sequence[tuple[float, float]]
Limits = tuple[float | None, float | None]


def curves(
    found: Points,
    left: Points,
    *,
    labels: tuple[str, str],
    log_x: bool = False,
    markers: bool = False,
    limits: Limits | None = None,
) -> Callable[[Axes], None]:
    """Return a painter for two curves over one scale; ``labels`` name the axes, x first, ``limits`` shade what is allowed of y."""

    def paint(axes: Axes) -> None:
        for pairs, line in ((found, found_line), (left, left_line)):
            if pairs:
                line(axes, [x for x, _ in pairs], [y for _, y in pairs])
                if not markers:
                    axes.lines[-1].set_marker("")
        if log_x:
            frequency_axis(axes)
        if limits is not None:
            limit_band(axes, *limits)
        axes.set_xlabel(labels[0])
        axes.set_ylabel(labels[1])
        axes.grid()

    return paint


@dataclass(frozen=True, slots=True)
class Mark:
    """A straight line in a chart from one point to another, such as a fitted slope or a cut-off.

    ``words`` stand behind its end, or before it.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    words: str = ""
    before: bool = False


def marked(paint: Callable[[Axes], None], *, found: Sequence[Mark] = (), left: Sequence[Mark] = ()) -> Callable[[Axes], None]:
    """Return a painter that draws thin lines over what another draws, in the colours of their sides and without moving its scales."""

    def over(axes: Axes) -> None:
        paint(axes)
        x, y = axes.get_xlim(), axes.get_ylim()
        for marks, colour, below in ((found, FOUND, 11), (left, LEFT, 0)):
            for mark in marks:
                axes.plot(*zip(mark.start, mark.end, strict=True), color=colour, lw=0.9, ls=(0, (1, 1.6)), zorder=2)
                axes.annotate(
                    mark.words,
                    mark.end,
                    (-3 if mark.before else 3, 3 - below),
                    textcoords="offset points",
                    ha="right" if mark.before else "left",
                    fontsize=9,
                    color=colour,
                    bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},  # over the lines of the other side
                    annotation_clip=True,
                )
        axes.set_xlim(x)
        axes.set_ylim(y)

    return over


def channel_curves(
    found: Mapping[str, Points], left: Mapping[str, Points], *, labels: tuple[str, str], limits: Limits | None = None
) -> Callable[[Axes], None]:
    """Return a painter for the curves of several channels, each named: as found at its end, as left at its beginning.

    ``labels`` name the axes, x first; every channel after the first has lines of dots.
    """

    def paint(axes: Axes) -> None:
        for curves_of_side, line, end in ((found, found_line, -1), (left, left_line, 0)):
            for number, (name, pairs) in enumerate((name, pairs) for name, pairs in curves_of_side.items() if pairs):
                line(axes, [x for x, _ in pairs], [y for _, y in pairs])
                drawn = axes.lines[-1]
                drawn.set_linestyle(":" if number else drawn.get_linestyle())
                above = -12 if number else 6  # names of curves that run together stand apart
                axes.annotate(
                    name, pairs[end], (0, above), textcoords="offset points", ha="center", fontsize=9, color=drawn.get_color()
                )
        axes.margins(y=0.12)
        if limits is not None:
            bottom, top = axes.get_ylim()
            axes.set_ylim(min(bottom, 1.4 * (limits[0] or 0.0)), max(top, 1.4 * (limits[1] or 0.0)))
            limit_band(axes, *limits)
        axes.set_xlabel(labels[0])
        axes.set_ylabel(labels[1])
        axes.grid()

    return paint


def frequency_axis(axes: Axes) -> None:
    """Let the x axis count in octaves, with frequencies as they are spoken: 100, 1k, 10k."""
    axes.set_xscale("log")
    low, high = axes.get_xlim()
    ticks = [f for f in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000) if low <= f <= high]
    wide = high / low > WIDE_SPAN
    shown = [f for f in ticks if not wide or f"{f:g}"[0] in "12"] if wide else ticks
    axes.set_xticks(shown, [f"{f // 1000}k" if f >= KILO else f"{f}" for f in shown])
    axes.minorticks_off()


def bars(
    labels: Sequence[str],
    found: Sequence[float | None],
    left: Sequence[float | None],
    *,
    axes_labels: tuple[str, str],
    floor: float = 0.0,
    limits: Limits | None = None,
) -> Callable[[Axes], None]:
    """Return a painter for pairs of bars that stand on ``floor``; those as found are hollow, so that they differ without colour.

    ``axes_labels`` name the axes, x first; ``limits`` shade what is allowed of the height.
    """

    def paint(axes: Axes) -> None:
        for offset, values, colour, face in ((-0.2, found, FOUND, PAPER), (0.2, left, LEFT, LEFT)):
            known = [(n + offset, v) for n, v in enumerate(values) if v is not None]
            heights = [max(0.0, v - floor) for _, v in known]
            axes.bar([x for x, _ in known], heights, 0.36, bottom=floor, color=face, edgecolor=colour, lw=1.4, zorder=3)
        axes.set_xticks(range(len(labels)), labels)
        axes.set_xlim(-0.6, len(labels) - 0.4)
        if limits is not None:
            limit_band(axes, *limits)
        axes.set_xlabel(axes_labels[0])
        axes.set_ylabel(axes_labels[1])
        axes.tick_params(axis="x", length=0)
        axes.grid(axis="y")

    return paint


def one_or_none(value: float | None) -> Sequence[float]:
    """Return what stands on a line where one value at most was read."""
    return () if value is None else (value,)


SMALLEST, LARGEST = 1e-9, 1e15  # what is not between these is nothing that a bench meets


def magnitudes(
    labels: Sequence[str],
    found: Sequence[Sequence[float]],
    left: Sequence[Sequence[float]],
    *,
    limits: Sequence[Limits],
    name: Callable[[float], str],
) -> tuple[Callable[[Axes], None], float]:
    """Return a painter, and a height, for positive values below each other on one scale in tens, each line with a band of its own.

    A line has the values that were read there, none or several. ``name`` writes a tick of the scale.
    """
    ends = [end for pair in limits for end in pair if end]
    known = [v for v in (*(v for line in (*found, *left) for v in line), *ends) if SMALLEST < v < LARGEST]
    low, high = min(known, default=1.0) / 2.5, max(known, default=1.0) * 2.5

    def paint(axes: Axes) -> None:
        axes.set_xscale("log")
        axes.set_xlim(low, high)
        for row, (least, most) in enumerate(limits):
            if least is not None or most is not None:
                start, end = least or low, high if most is None else most
                axes.broken_barh([(start, end - start)], (row - 0.36, 0.72), color=BAND, lw=0, zorder=0)
        for offset, values, colour, marker in ((-0.14, found, FOUND, FOUND_MARKER), (0.14, left, LEFT, LEFT_MARKER)):
            at = [(v, row + offset) for row, line in enumerate(values) for v in line]
            face = PAPER if colour == FOUND else colour
            axes.plot([x for x, _ in at], [y for _, y in at], color=colour, marker=marker, ms=5.5, mfc=face, ls="", zorder=4)
        decades, finer = (
            [m * 10.0**n for n in range(-9, 15) for m in steps if low <= m * 10.0**n <= high] for steps in ((1,), (1, 2, 5))
        )
        ticks = decades if len(decades) > 1 else finer
        axes.set_xticks(ticks, [name(tick) for tick in ticks])
        axes.minorticks_off()
        axes.set_yticks(range(len(labels)), [shortened(label) for label in labels])
        axes.set_ylim(len(labels) - 0.4, -0.6)
        axes.tick_params(axis="y", length=0)
        axes.grid(axis="x")

    return paint, 84.0 + 26.0 * len(labels)


@dataclass(frozen=True, slots=True)
class GridCell:
    """One cell of a grid: what is written in it, whether it is within limits (None: nobody knows), and whether it is the worst.

    ``symbol`` stands for the text where cells are small; a cell without one has a dot there.
    """

    text: str
    symbol: str
    inside: bool | None = None
    worst: bool = False


Cells = Sequence[Sequence[GridCell | None]]
VALUES_IN, SIDE_BY_SIDE, GRID_ROW = (
    15,
    7,
    19.0,
)  # columns that leave room for values; for both sides beside each other; a row's height


def grid(
    rows: Sequence[str], columns: Sequence[str], found: Cells | None, left: Cells | None
) -> tuple[Callable[[Axes], None], float]:
    """Return a painter, and a height, for a field of cells as found and as left: beside each other where they are narrow, else below.

    Many columns leave room for symbols alone. What is outside has a frame, the worst a thick one.
    """
    wide, tall = len(columns), len(rows) + 1  # a line above each block names it
    beside = wide <= SIDE_BY_SIDE
    blocks = [block for block in (("as found", FOUND, found), ("as left", LEFT, left)) if block[2] is not None]
    steps = [(n * (wide + 1), 0) if beside else (0, n * tall) for n in range(len(blocks))]

    def paint(axes: Axes) -> None:
        for (name, colour, cells), (x, y) in zip(blocks, steps, strict=True):
            axes.text(x, y + 0.55, name, color=colour, va="center_baseline", fontsize=11)
            for n, line in enumerate(cells or ()):
                _grid_line(
                    axes, [(x + m, cell) for m, cell in enumerate(line) if cell], y + n + 1, colour, small=wide > VALUES_IN
                )
        across = [(x + m + 0.5, label) for x in dict.fromkeys(x for x, _ in steps) for m, label in enumerate(columns)]
        down = [(y + n + 1.5, label) for y in dict.fromkeys(y for _, y in steps) for n, label in enumerate(rows)]
        axes.set_xticks([x for x, _ in across], [label for _, label in across], fontsize=9)
        axes.set_yticks([y for y, _ in down], [shortened(label) for _, label in down], fontsize=9)
        axes.set_xlim(0, steps[-1][0] + wide)
        axes.set_ylim(steps[-1][1] + tall, 0)
        axes.tick_params(length=0)
        axes.tick_params(axis="x", rotation=90 if max(map(len, columns)) > 2 + VALUES_IN // wide else 0)
        axes.spines[:].set_visible(False)

    return paint, 84.0 + GRID_ROW * (steps[-1][1] + tall)


def _grid_line(axes: Axes, cells: Sequence[tuple[int, GridCell]], y: int, colour: str, *, small: bool) -> None:
    """Draw one line of a grid; what all its cells share is drawn at once, since a field may have hundreds."""
    plain = [x for x, cell in cells if cell.inside and not cell.worst]
    axes.broken_barh([(x + 0.05, 0.9) for x in plain], (y + 0.06, 0.88), color=BAND, lw=0, zorder=2)
    for x, cell in cells:
        if cell.worst or cell.inside is False:
            edge, width = (INK, 2.0) if cell.worst else (colour, 1.2)
            face = {True: BAND, False: PAPER, None: "none"}[cell.inside]
            axes.broken_barh([(x + 0.05, 0.9)], (y + 0.06, 0.88), facecolor=face, edgecolor=edge, lw=width, zorder=3)
        if words := cell.symbol if small else cell.text:
            axes.text(x + 0.5, y + 0.52, words, ha="center", va="center_baseline", fontsize=9, color=INK, zorder=5)
    dots = [x + 0.5 for x, cell in cells if small and not cell.symbol]
    axes.plot(dots, [y + 0.5] * len(dots), color=INK, marker=".", ms=2.5, ls="", zorder=5)


def timeline(
    labels: Sequence[str], at: Sequence[float], others: Sequence[Sequence[float]], *, band: Limits
) -> tuple[Callable[[Axes], None], float]:
    """Return a painter, and a height, for dates below each other, in years; ``others`` are further dates that the same item may have.

    ``band`` are the years that something else took, from its beginning to its end.
    """
    ends = [*at, *(y for y in band if y is not None)]
    low, high = min(ends) - 1.0, max(ends) + 1.0

    def paint(axes: Axes) -> None:
        if band[0] is not None and band[1] is not None:
            axes.axvspan(band[0], band[1], color=BAND, lw=0, zorder=0)
        axes.set_xlim(low, high)
        for row, (date, more) in enumerate(zip(at, others, strict=True)):
            seen = [y for y in more if low <= y <= high]
            if seen:
                axes.plot([date, *seen], [row] * (1 + len(seen)), color=QUIET, lw=0.8, ls=":", zorder=1)
                axes.plot(seen, [row] * len(seen), color=FOUND, marker="|", ms=8, ls="", zorder=3)
            axes.plot([date], [row], color=FOUND, marker=FOUND_MARKER, ms=5.5, mfc=PAPER, ls="", zorder=4)
        axes.locator_params(axis="x", integer=True, nbins=7)
        axes.xaxis.set_major_formatter("{x:.0f}")
        axes.set_yticks(range(len(labels)), [shortened(label) for label in labels])
        axes.set_ylim(len(labels) - 0.4, -0.6)
        axes.tick_params(axis="y", length=0)
        axes.grid(axis="x")

    return paint, 84.0 + 20.0 * len(labels)


def _compress(axes: Axes, limit: float, worst: float) -> None:
    """Show small errors and large ones in one picture: even steps up to twice the limit, tenfold steps beyond."""
    axes.set_yscale("symlog", linthresh=2 * limit, linscale=1.2)
    reach = 1.4 * worst
    axes.set_ylim(-reach, reach)
    steps = [s for s in (10, 30, 100, 300, 1000, 3000) if 2.5 * limit < s < reach]
    ticks = [limit, *steps]
    axes.set_yticks(
        [*(-t for t in reversed(ticks)), 0, *ticks],
        [f"{t:+g}".replace("-", "−") if t else "0" for t in (*(-t for t in reversed(ticks)), 0, *ticks)],
    )
    axes.minorticks_off()
