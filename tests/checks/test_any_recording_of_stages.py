"""Any recording: an envelope or a tracking comes to something or says why not, and no number of it is endless."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.checks import all_kinds
from benchrecord.findings import _check_json
from benchrecord.model.findings import CheckFinding, Value
from benchrecord.model.quantity import Quantity
from sounds import MemorySound, check_of

KINDS = all_kinds()
KEYS: list[tuple[str, dict[str, Any]]] = [
    ("envelope", {}),
    ("envelope", {"source": "voltage", "mode": "repeating", "wanted": {"attack": (0.1, 1.0)}}),
    ("decay", {"wanted_s": 1.0}),
    ("tracking", {"steps": (0.0, 1.0)}),
    ("tracking", {"steps": ("A3",), "hertz_per_volt": 100.0}),
    ("tracking", {"not_tracking": True, "range_hz": (1.0, 10.0)}),
]


def odd(seed: int) -> Floats:
    """Return a piece of what a recorder may hold: noise, clicks, steps, hum, silence, at any level and of any length."""
    g = np.random.default_rng(seed)
    n = int(g.choice([1, 7, 100, 3000, 30_000, 100_000]))
    t = np.arange(n) / 48_000
    parts = [
        np.zeros(n),
        g.normal(0, 0.1, n),
        (g.random(n) > 0.999).astype(float),
        np.sin(2 * np.pi * g.uniform(0.5, 20_000) * t),
        np.sign(np.sin(2 * np.pi * g.uniform(0.5, 300) * t)),
        np.cumsum(g.normal(0, 1e-3, n)),
        np.exp(-t / g.uniform(1e-4, 1)),
        np.full(n, 0.7),
    ]
    chosen = g.choice(len(parts), size=2)
    return np.clip(sum(10 ** g.uniform(-6, 0.5) * parts[c] for c in chosen), -1, 1)


def values(finding: CheckFinding) -> list[Value]:
    sides = [side for side in (finding.found, finding.left) if side]
    told = [v for side in sides for r in (side.results, *(i.results for i in side.items)) for v in r.values()]
    assert all(v.reason for v in told if v.value is None)
    return told + [cell for row in finding.table.rows for cell in row if isinstance(cell, Value)]


@pytest.mark.parametrize(("kind", "keys"), KEYS)
def test_any_recording_comes_to_something(kind: str, keys: dict[str, Any]) -> None:
    for seed in range(40):
        limit = Quantity(3.0, "cents" if kind == "tracking" else "%", "3")
        sides = {"as_left": MemorySound(odd(seed)), "as_found": MemorySound(odd(seed + 1000))}
        check, bench = check_of(kind, sides, limit=limit, **keys)
        finding = KINDS[kind].examine(check, bench)
        assert json.dumps(_check_json(finding), allow_nan=False)
        for value in values(finding):
            assert not isinstance(value.value, float) or math.isfinite(value.value)
            assert value.uncertainty is None or (math.isfinite(value.uncertainty) and value.uncertainty >= 0)
        assert finding.plain.endswith(".")
        drawn = KINDS[kind].chart(finding)
        assert drawn is None or (drawn.caption and drawn.alt)
