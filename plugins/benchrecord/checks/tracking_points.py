"""What frequency an oscillator has at which control voltage: from a table, a stepped recording, or a recording for each voltage."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.fits import Floats
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, note_frequency_hz, note_number
from benchrecord.bench.pitch_track import pitch_track
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import silence
from benchrecord.bench.sound import stretch
from benchrecord.bench.steps import Heard as Frequency
from benchrecord.bench.steps import Step, find_steps, frequency_of
from benchrecord.checks.channels import Target, tone_target
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import reading_uncertainty
from benchrecord.checks.recordings import Heard, listen, takes_of, unless_damaged
from benchrecord.model.job import Check, Take
from benchrecord.model.notation import parse_quantity
from benchrecord.model.numbers import MINUS
from benchrecord.model.quantity import dimension, in_unit
from benchrecord.model.table import Row

COLUMNS = {"as_found": "as_found_hz", "as_left": "as_left_hz"}
BLOCK_S, HELD_S, STILL_S = (
    5.0,
    1.0,
    5.0,
)  # read at a time; held at once; of a step, its frequency is taken from
HEARD_DECIMALS = 4  # of a frequency in Hz that was heard: a page shows no more, whatever its uncertainty would support
SETTLED_S, SLOW_S = 0.2, 60.0  # left out at the beginning of a recording of one voltage; the most of it that is heard


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: control voltage, frequency and its expanded uncertainty in Hz, and what a reader calls it.

    ``key`` tells readings of one voltage apart: the row of the table, or the place among the steps. ``heard`` is there where it comes
    from a recording.
    """

    volts: float
    hz: float
    hz_u: float | None
    name: str
    key: int
    note: str = ""
    decimals: int | None = None
    heard: Frequency | None = None


@dataclass(frozen=True, slots=True)
class Points:
    """The readings of one side, from the lowest control voltage up; ``words`` say what was heard, ``reason`` why there are none."""

    points: tuple[Point, ...] = ()
    words: str = ""
    reason: str = ""

    @property
    def volts(self) -> tuple[float, ...]:
        """The control voltages."""
        return tuple(p.volts for p in self.points)

    @property
    def hz(self) -> tuple[float, ...]:
        """The frequencies."""
        return tuple(p.hz for p in self.points)


def nominal(check: Check) -> tuple[float, bool]:
    """Return the nominal scale and whether it is linear: hertz per volt, else volts per octave (1 unless given)."""
    linear = check.keys.get("hertz_per_volt")
    return (float(linear), True) if linear else (float(check.keys.get("volts_per_octave") or 1.0), False)


def limit_of(check: Check, *, percent: bool | None = None) -> float | None:
    """Return the limit in what the errors count in, cents or percent; None where there is none."""
    if check.limit is None:
        return None
    wanted = "%" if (nominal(check)[1] if percent is None else percent) else "cents"
    limit, unit = check.limit.in_base(), dimension(check.limit.unit)
    if unit in (None, wanted):
        return limit
    if unit == "cents":
        return 100 * (2 ** (limit / CENTS_PER_OCTAVE) - 1)
    return CENTS_PER_OCTAVE * math.log2(1 + limit / 100)


def points_of(check: Check, bench: Bench, stage: str) -> Points:
    """Return the readings of one side, which its twin asks for too: of its recordings where there are any, else of the table."""
    return bench.once(("points", check.id, stage), lambda: _points(check, bench, stage))


def _points(check: Check, bench: Bench, stage: str) -> Points:
    takes = takes_of(check, stage)
    if not takes:
        return Points(_sorted(_of_table(check, bench, stage)))
    return _of_takes(check, bench, takes) if takes[0].at else _of_steps(check, bench, takes[0])


def _sorted(points: Sequence[Point]) -> tuple[Point, ...]:
    return tuple(sorted(points, key=lambda p: (p.volts, p.key)))


def _of_table(check: Check, bench: Bench, stage: str) -> list[Point]:
    column, found = COLUMNS[stage], []
    for number, row in enumerate(check.table.rows if check.table else ()):
        volts, hz = _volts(check, row), row.number(column)
        if volts is not None and hz is not None:
            u, note = reading_uncertainty(check, bench, hz, "Hz"), "" if row.number("volts") is not None else row.text("note")
            found.append(Point(volts, hz, u, note or _named(volts), number, note, row.decimals(column)))
    return found


def _volts(check: Check, row: Row) -> float | None:
    volts = row.number("volts")
    return volts if volts is not None else _of_note(check, row.text("note"))


def _of_note(check: Check, note: str) -> float | None:
    """Return the control voltage of a note, twelve to an octave; None for what is none, and for a linear scale."""
    scale, linear = nominal(check)
    try:
        return None if linear or not note else note_number(note) / 12 * scale
    except ValueError:
        return None


def _named(volts: float) -> str:
    return f"{volts:g} V".replace("-", MINUS)


def _voltage(check: Check, given: float | str) -> tuple[float | None, str]:
    """Return the voltage of a step, and its note where it is named by one."""
    if isinstance(given, float | int):
        return float(given), ""
    quantity = parse_quantity(given)
    volts = in_unit(quantity, "V") if quantity else None
    if volts is not None:
        return volts, ""
    return _of_note(check, given), given


def _of_takes(check: Check, bench: Bench, takes: Sequence[Take]) -> Points:
    """Return a reading for each recording, each of one voltage, which is its position."""
    found, words, reason = [], "", ""
    for number, take in enumerate(takes):
        heard = listen(check, bench, take, target=tone_target(), longest_s=SLOW_S)
        tone = heard if isinstance(heard, NotHad) else _whole(check, heard)
        volts, note = _voltage(check, take.at)
        if isinstance(tone, NotHad) or volts is None:
            reason = reason or f"at {take.at}, {tone.reason if isinstance(tone, NotHad) else 'no voltage and no note'}"
        else:
            name = f"at {take.at}" if check.keys.get("not_tracking") else ""
            found.append(_point(tone, volts, note, number, name=name))
            words = words or (heard.words if isinstance(heard, Heard) else "")
    return Points(_sorted(found), words, reason)


def _whole(check: Check, heard: Heard) -> Frequency | NotHad:
    silent = silence(heard.samples)
    if silent is not None:
        return silent
    skipped = round(SETTLED_S * heard.rate)
    return frequency_of(heard.samples[skipped:], heard.rate, wander=bool(check.keys.get("not_tracking")))


def _of_steps(check: Check, bench: Bench, take: Take) -> Points:
    """Return the readings of a stepped recording."""
    steps = tuple(check.keys.get("steps") or ())
    free = bool(check.keys.get("not_tracking"))
    target = _steps_target(len(steps)) if len(steps) > 1 else tone_target()
    heard = listen(check, bench, take, target=target, longest_s=SLOW_S if free else HELD_S)
    if isinstance(heard, NotHad):
        return Points(reason=heard.reason)
    if not steps and not free:
        return Points(reason="its steps are not listed: write steps: and the volts or the notes, in their order")
    if free and len(steps) <= 1:
        return _of_one(check, heard, steps)
    found = unless_damaged(lambda: find_steps(pitch_track(heard.blocks(BLOCK_S), heard.rate), len(steps)))
    if isinstance(found, NotHad):
        return Points(reason=found.reason)
    read = [_in_step(heard, step, wander=free) for step in found]
    reasons = [f"step {n}: {r.reason}" for n, r in enumerate(read, 1) if isinstance(r, NotHad)]
    points = [
        _point(tone, volts, note, number)
        for number, (tone, (volts, note)) in enumerate(zip(read, (_voltage(check, s) for s in steps), strict=True))
        if not isinstance(tone, NotHad) and volts is not None
    ]
    spans = f"{len(found)} steps between {found[0].start_s:.2f} s and {found[-1].stop_s:.2f} s of it"
    return Points(_sorted(points), f"{_channel(heard)}{spans}", "; ".join(reasons))


def _steps_target(count: int) -> Target:
    """Return the target of so many steps: a channel scores by how near it comes to their number."""

    def score(samples: Floats, rate: float) -> float:
        found = find_steps(pitch_track([samples], round(rate)))
        number = 0 if isinstance(found, NotHad) else len(found)
        return min(number, count) / max(number, count)

    return Target(f"{count} steps", score, SLOW_S, pitched=True)


def _of_one(check: Check, heard: Heard, steps: Sequence[float | str]) -> Points:
    """Return the single reading of an oscillator that need not track."""
    tone = _whole(check, heard)
    if isinstance(tone, NotHad):
        return Points(reason=tone.reason)
    volts, note = _voltage(check, steps[0]) if steps else (0.0, "")
    return Points((_point(tone, volts or 0.0, note, 0, name="" if steps else "the only position"),), heard.words)


def _channel(heard: Heard) -> str:
    """Name the channel of a recording that has several."""
    return f"{heard.channel_words}, " if heard.channel_words else ""


def _point(tone: Frequency, volts: float, note: str, key: int, *, name: str = "") -> Point:
    return Point(volts, tone.hz.value, tone.hz.expanded, name or note or _named(volts), key, note, HEARD_DECIMALS, tone)


def _in_step(heard: Heard, step: Step, *, wander: bool) -> Frequency | NotHad:
    """Return the frequency of a step, from the last seconds of its steady part."""
    start = step.start_s if wander else max(step.start_s, step.stop_s - STILL_S)
    first, last = (heard.start + round(s * heard.rate) for s in (start, step.stop_s))
    return frequency_of(_read(heard, first, min(last, heard.stop)), heard.rate, wander=wander)


def _read(heard: Heard, first: int, last: int) -> Floats:
    return stretch(heard.sound, first, last, heard.channel)


def offset_cents(points: Points, at: int) -> float | None:
    """Return how far the reading at a place is from its own note, in cents; None where it was given as a voltage."""
    point = points.points[at]
    return CENTS_PER_OCTAVE * math.log2(point.hz / note_frequency_hz(note_number(point.note))) if point.note else None
