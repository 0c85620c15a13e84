"""A crowded board, made by chance from a fixed seed: parts of usual sizes, as close as they can stand."""

from __future__ import annotations

import random

SIZES = {
    "R": ("resistor", 7.0, 2.8),
    "C": ("film", 7.5, 4.0),
    "Q": ("to92", 4.8, 4.2),
    "U": ("dil", 19.0, 7.6),
    "RV": ("trim-multi", 9.6, 5.0),
}
LETTERS = ["R"] * 6 + ["C"] * 3 + ["Q"] * 3 + ["U", "RV"]
APART = 0.6  # mm between two bodies at least


def crowded(
    count: int = 200, width: float = 160.0, height: float = 100.0, seed: int = 4
) -> list[tuple[str, float, float, str]]:
    """Return (designator, x in mm, y in mm, kind) of ``count`` parts on a board."""
    chance = random.Random(seed)  # noqa: S311  # no secret
    placed: list[tuple[float, float, float, float]] = []
    parts: list[tuple[str, float, float, str]] = []
    tries = 0
    while len(parts) < count:
        tries += 1
        letter = chance.choice(LETTERS) if tries < 3000 else "Q"
        kind, w, h = SIZES[letter]
        x, y = chance.uniform(w / 2, width - w / 2), chance.uniform(h / 2, height - h / 2)
        if all(abs(x - a) >= (w + c) / 2 + APART or abs(y - b) >= (h + d) / 2 + APART for a, b, c, d in placed):
            placed.append((x, y, w, h))
            number = 1 + sum(ref.rstrip("0123456789") == letter for ref, *_ in parts)
            parts.append((f"{letter}{number}", round(x, 2), round(y, 2), kind))
    return parts


def as_csv(parts: list[tuple[str, float, float, str]]) -> str:
    """Return the parts as a board's table."""
    return "ref,x_mm,y_mm,kind\n" + "".join(f"{ref},{x:g},{y:g},{kind}\n" for ref, x, y, kind in parts)
