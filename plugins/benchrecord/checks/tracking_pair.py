"""Two oscillators against each other: the interval between them and how often they beat, at the voltages that both were read at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from benchrecord.bench.pitch import CENTS_PER_OCTAVE
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.tracking import Beat, of_an_oscillator, oscillator_beats
from benchrecord.bench.uncertainty import combine
from benchrecord.checks.tracking_points import Points
from benchrecord.model.findings import Results, Value

Pair = tuple[Beat, ...] | NotHad


def beats_with(own: Points, other: Points, other_id: str) -> Pair:
    """Return the intervals and beats of two oscillators; one that runs octaves away from the other is moved by as many."""
    shared = {round(v, 9) for v in own.volts} & {round(v, 9) for v in other.volts}
    pairs = [(p.hz, q.hz) for p in own.points for q in other.points if round(p.volts, 9) == round(q.volts, 9)]
    plausible = all(of_an_oscillator(side.volts, side.hz) for side in (own, other))
    if not shared or not plausible or not all(a > 0 and b > 0 for a, b in pairs):
        return NotHad(f"no voltage at which {other_id} was read too")
    moved = 2.0 ** round(median(math.log2(a / b) for a, b in pairs))
    return oscillator_beats(own.volts, own.hz, other.volts, [moved * hz for hz in other.hz])


def pair_results(pair: Pair | None, own: Points, other: Points) -> Results:
    """Return what a pair comes to; nothing where a check has no other oscillator."""
    if pair is None:
        return {}
    if isinstance(pair, NotHad):
        return {"spread_cents": Value(None, "cents", reason=pair.reason)}
    apart = [b.cents for b in pair]
    return {
        "spread_cents": Value(max(apart) - min(apart), "cents", _spread_u(pair, own, other), 1),
        "interval_volts": Value(tuple(b.volts for b in pair), "V"),
        "interval_cents": Value(tuple(apart), "cents"),
        "beats_hz": Value(tuple(b.hz for b in pair), "Hz"),
    }


def _spread_u(pair: Sequence[Beat], own: Points, other: Points) -> float | None:
    """Return the expanded uncertainty of the difference between the widest and the narrowest interval; None where one is not known."""
    ends = {round(pick(pair, key=lambda b: b.cents).volts, 9) for pick in (min, max)}
    read = [p for side in (own, other) for p in side.points if round(p.volts, 9) in ends]
    if any(p.hz_u is None for p in read):
        return None
    return combine(*(CENTS_PER_OCTAVE / math.log(2) * (p.hz_u or 0.0) / p.hz for p in read))
