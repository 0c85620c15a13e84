"""The one look of all charts.

Colours are named by role. A chart is drawn with stand-in colours that ``figures.chart`` turns into CSS variables, so that one
drawing serves light, dark and print. *As found* and *as left* differ in colour and in marker.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Stand-ins: colours that nothing else uses, each replaced by var(--br-ROLE).
FOUND, LEFT, BAND, INK, QUIET, GRID, PAPER = "#010101", "#010102", "#010103", "#010104", "#010105", "#010106", "#010107"
ROLES = {FOUND: "found", LEFT: "left", BAND: "band", INK: "ink", QUIET: "quiet", GRID: "grid", PAPER: "paper"}
FOUND_MARKER, LEFT_MARKER = "D", "o"
WIDTH, HEIGHT = 420, 280  # drawing units; shown at 350 to 560 px wide


@dataclass(frozen=True)
class Chart:
    """A chart that has not been drawn yet: ``paint`` draws on given axes.

    ``caption`` says what to see, ``alt`` the same for who cannot see it; ``left_margin`` is a share of the width.
    """

    title: str
    caption: str
    alt: str
    paint: Callable[[Axes], None]
    height: float = HEIGHT
    left_margin: float = 0.14


def found_line(axes: Axes, x: list[float], y: list[float], *, line: bool = True) -> None:
    """Draw the values as found."""
    axes.plot(x, y, color=FOUND, marker=FOUND_MARKER, ms=5, lw=1.4, ls="--" if line else "", mfc=PAPER, label="as found", zorder=3)


def left_line(axes: Axes, x: list[float], y: list[float], *, line: bool = True) -> None:
    """Draw the values as left."""
    axes.plot(x, y, color=LEFT, marker=LEFT_MARKER, ms=5, lw=1.6, ls="-" if line else "", label="as left", zorder=4)


def limit_band(axes: Axes, low: float | None, high: float | None) -> None:
    """Shade the part of the value axis that lies within the limits."""
    bottom, top = axes.get_ylim()
    axes.axhspan(bottom if low is None else low, top if high is None else high, color=BAND, lw=0, zorder=0, label="within limits")
    axes.set_ylim(bottom, top)
