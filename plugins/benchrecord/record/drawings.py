"""Drawings of the pages as they are printed: each a file of its own, in the colours of paper, without links."""

from __future__ import annotations

import re
from collections.abc import Mapping

INKS = {
    "paper": "#ffffff", "ink": "#16191c", "quiet": "#565c62", "grid": "#c9c7c1", "line": "#d8d5ce", "found": "#a8480a", "left": "#1b5796",
    "band": "#e4ece5", "accent": "#1f5f6b", "good": "#2b6a3b", "bad": "#a3231d", "shade": "#f6f4ef",
}  # fmt: skip
# What the site's style sheet says of drawings, in words that hold without a page around them.
STYLE = """
text { font-family: 'Noto Sans', 'DejaVu Sans', sans-serif }
.br-edge { fill: SHADE; stroke: GRID; stroke-width: 2 }
.br-touch { fill: none; stroke: none }
.br-shape { fill: PAPER; stroke: QUIET; stroke-width: 1.4 }
.br-outline { fill: none; stroke: LEFT; stroke-width: 2 }
.br-notch { fill: LEFT }
.br-bar { fill: none; stroke: INK; stroke-width: 4 }
.br-cross { fill: none; stroke: FOUND; stroke-width: 3.2 }
.br-leader { fill: none; stroke: QUIET; stroke-width: 1.2 }
.br-is-trimmed .br-shape { stroke: GOOD; stroke-width: 2.2; stroke-dasharray: 5 3 }
.br-is-faulty .br-shape { stroke: FOUND; stroke-width: 3.2 }
.br-pin text { fill: INK; text-anchor: middle; font-size: 13px }
.br-pin text.br-hidden { display: none }
"""
VARIABLE = re.compile(r"var\(--br-([a-z]+)\)")
TITLE = re.compile(r"<title>[^<]*</title>")
MIDDLE = re.compile(r'(<text x="[^"]+" y=")([\d.]+)(")')
DROP = 4.6  # how far below its middle a line of 13 units stands


def for_print(svg: str) -> bytes:
    """Return a drawing that stood inside a page as an SVG file."""
    inked = VARIABLE.sub(lambda m: INKS.get(m[1], INKS["ink"]), svg)
    inked = TITLE.sub("", re.sub(r"<a\b", "<g", inked).replace("</a>", "</g>"))
    if "br-board" in inked:
        inked = MIDDLE.sub(lambda m: f"{m[1]}{float(m[2]) + DROP:g}{m[3]}", inked)
    style = re.sub(r"\b[A-Z]{3,}\b", lambda m: INKS[m[0].lower()], STYLE)
    head = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return re.sub(r"\A\s*<svg\b([^>]*)>", lambda m: f"{head}{m[1]}><style>{style}</style>", inked, count=1).encode()


def drawn(svgs: Mapping[str, str]) -> dict[str, bytes]:
    """Return each drawing as a file by its ``drawing:`` address."""
    return {f"drawing:{name}": for_print(svg) for name, svg in svgs.items()}
