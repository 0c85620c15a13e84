"""What frequency an oscillator has at which control voltage: from a table, a stepped recording, or a recording for each voltage."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import NOMINAL_CENTS
from benchrecord.bench.misreading import misread_ones
from benchrecord.bench.pitch import CENTS_PER_OCTAVE, cents, note_frequency_hz, note_number
from benchrecord.bench.pitch_track import PitchTrack, pitch_track
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import silence, sounding
from benchrecord.bench.sound import stretch
from benchrecord.bench.steps import PitchReading, Step, drift_over, find_steps, frequency_of, settled_pitch
from benchrecord.bench.tracking import of_an_oscillator
from benchrecord.bench.wander import Wander
from benchrecord.checks.channels import Target, tone_target
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import reading_uncertainty
from benchrecord.checks.recordings import Heard, listen, lossy_words, takes_of, unless_damaged, warnings_if
from benchrecord.checks.tone_warnings import inharmonic, leaking, of_recording, too_fast, weak_fundamental
from benchrecord.checks.tracking_order import miscounted, other_order
from benchrecord.model.findings import ALL_RESULTS, ResultWarning
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
NO_VOLTAGE = NotHad("no voltage and no note")
SETTLED_S, SLOW_S = 0.2, 60.0  # left out at the beginning of a recording of one voltage; the most of it that is heard


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: control voltage, frequency and its expanded uncertainty in Hz, and what a reader calls it.

    ``key`` tells readings of one voltage apart: the row of the table, or the place among the steps. ``reading`` and ``warnings`` are
    there where it comes from a recording.
    """

    volts: float
    hz: float
    hz_u: float | None
    name: str
    key: int
    note: str = ""
    decimals: int | None = None
    reading: PitchReading | None = None
    warnings: tuple[ResultWarning, ...] = ()


@dataclass(frozen=True, slots=True)
class Points:
    """The readings of one side, from the lowest control voltage up.

    ``words`` say what was analysed, ``reason`` why there are none or some are left out, ``left_out`` how many are, ``warnings`` what is
    doubtful about the recordings.
    """

    points: tuple[Point, ...] = ()
    words: str = ""
    reason: str = ""
    warnings: tuple[ResultWarning, ...] = ()
    left_out: int = 0

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
    own = _of_takes(check, bench, takes) if takes[0].at else _of_steps(check, bench, takes[0])
    lossy = warnings_if("lossy-coding", lossy_words(bench, *takes))
    left_out = warnings_if("left-out", f"Left out: {own.reason}." if own.points and own.reason else "", ALL_RESULTS)
    return replace(own, warnings=(*own.warnings, *_of_points(own.points), *left_out, *lossy))


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
    found: list[Point] = []
    channels: list[ResultWarning] = []
    words, reasons = "", []
    for number, take in enumerate(takes):
        heard = listen(check, bench, take, target=tone_target(), longest_s=SLOW_S)
        point = heard if isinstance(heard, NotHad) else _of_take(check, heard, take, number)
        if isinstance(point, NotHad):
            reasons.append(f"at {take.at}, {point.reason}")
            continue
        found.append(point)
        if isinstance(heard, Heard):
            words, channels = words or heard.words, [*channels, *heard.warnings]

    def again(point: Point, nominal_hz: float) -> Point | NotHad:
        take = takes[point.key]
        heard = listen(check, bench, take, target=tone_target(), longest_s=SLOW_S)
        return heard if isinstance(heard, NotHad) else _of_take(check, heard, take, point.key, nominal_hz=nominal_hz)

    points = _read_again(check, _sorted(found), again)
    return Points(points, words, "; ".join(reasons), tuple(dict.fromkeys(channels)), len(reasons))


def _of_take(check: Check, heard: Heard, take: Take, number: int, *, nominal_hz: float | None = None) -> Point | NotHad:
    (volts, note), name = _voltage(check, take.at), f"at {take.at}" if check.keys.get("not_tracking") else ""
    point = NO_VOLTAGE if volts is None else _whole(check, heard, volts, note, nominal_hz=nominal_hz)
    return point if isinstance(point, NotHad) else replace(point, key=number, name=name or point.name)


def misread_points(check: Check, points: Sequence[Point]) -> dict[int, Fraction]:
    """Return the places of readings that are a multiple or a fraction of what most of the others let expect, and which."""
    scale, linear = nominal(check)
    volts, hz = [p.volts for p in points], [p.hz for p in points]
    if not points or (linear and min(volts) <= 0) or not of_an_oscillator(volts, hz) or min(hz) <= 0:
        return {}
    return misread_ones([v if linear else 2.0 ** ((v - volts[0]) / scale) for v in volts], hz)


def _read_again(check: Check, points: tuple[Point, ...], again: Callable[[Point, float], Point | NotHad]) -> tuple[Point, ...]:
    """Read those again that are a multiple of what the others let expect: the line that fits them may be there too."""
    if check.keys.get("not_tracking"):
        return points
    read = list(points)
    for n, factor in misread_points(check, points).items():
        nominal_hz = points[n].hz / float(factor)
        new = again(points[n], nominal_hz)
        if isinstance(new, Point) and abs(cents(new.hz, nominal_hz)) < NOMINAL_CENTS:
            read[n] = new
    return tuple(read)


def _whole(check: Check, heard: Heard, volts: float, note: str, *, nominal_hz: float | None = None) -> Point | NotHad:
    """Return the reading of a recording of one voltage, without its pauses and the moment in which it settles."""
    silent = silence(heard.samples)
    if silent is not None:
        return silent
    free = bool(check.keys.get("not_tracking"))
    within, pauses = sounding(heard.samples, heard.rate)
    samples = heard.samples[within] if pauses else heard.samples
    seconds = len(samples) / heard.rate
    samples = samples[round(SETTLED_S * heard.rate) :]
    found = frequency_of(samples, heard.rate, wander=True) if free else settled_pitch(samples, heard.rate, nominal_hz)
    if isinstance(found, NotHad):
        return found
    found = drift_over(found, seconds) if free else found
    point = _point(found, volts, note, 0, samples=samples, leaks=nominal_hz is not None)
    return replace(point, warnings=(*warnings_if("pauses", pauses), *point.warnings))


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
    track = unless_damaged(lambda: pitch_track(heard.blocks(BLOCK_S), heard.rate))
    found = track if isinstance(track, NotHad) else _listed_steps(check, track)
    if isinstance(found, NotHad):
        return Points(reason=found.reason)
    read = [_in_step(check, heard, step, number) for number, step in enumerate(found)]
    reasons = [f"step {n}: {r.reason}" for n, r in enumerate(read, 1) if isinstance(r, NotHad)]
    spans = f"{len(found)} steps between {found[0].start_s:.2f} s and {found[-1].stop_s:.2f} s of it"
    own = _sorted([point for point in read if isinstance(point, Point)])
    points = _read_again(check, own, lambda point, hz: _in_step(check, heard, found[point.key], point.key, nominal_hz=hz))
    return Points(points, f"{_channel(heard)}{spans}", "; ".join(reasons), heard.warnings, len(reasons))


def _octaves(check: Check) -> list[float] | None:
    """Return the nominal octaves of the listed steps; None where one has none."""
    scale, linear = nominal(check)
    volts = [_voltage(check, step)[0] for step in check.keys.get("steps") or ()]
    if any(v is None or (linear and v <= 0) for v in volts):
        return None
    return [math.log2(v) if linear else v / scale for v in volts if v is not None]


def _listed_steps(check: Check, track: PitchTrack) -> tuple[Step, ...] | NotHad:
    """Return the steps of a recording where they are those that are listed, in their order."""
    steps, octaves = tuple(check.keys.get("steps") or ()), _octaves(check)
    found = find_steps(track, len(steps))
    if octaves is None:
        return found
    if isinstance(found, NotHad):
        every = find_steps(track)
        return found if isinstance(every, NotHad) else NotHad(miscounted(found.reason, steps, octaves, [s.hz for s in every]))
    order = "" if check.keys.get("not_tracking") else other_order(steps, octaves, [step.hz for step in found])
    return NotHad(order) if order else found


def _steps_target(count: int) -> Target:
    """Return the target of so many steps: a channel scores by how near it comes to their number."""

    def score(samples: Floats, rate: float) -> float:
        found = find_steps(pitch_track([samples], round(rate)))
        number = 0 if isinstance(found, NotHad) else len(found)
        return min(number, count) / max(number, count)

    return Target(f"{count} steps", score, SLOW_S, pitched=True)


def _of_one(check: Check, heard: Heard, steps: Sequence[float | str]) -> Points:
    """Return the single reading of an oscillator that need not track."""
    volts, note = _voltage(check, steps[0]) if steps else (0.0, "")
    point = _whole(check, heard, volts or 0.0, note)
    if isinstance(point, NotHad):
        return Points(reason=point.reason)
    return Points((point if steps else replace(point, name="the only position"),), heard.words, "", heard.warnings)


def _channel(heard: Heard) -> str:
    """Name the channel of a recording that has several."""
    return f"{heard.channel_words}, " if heard.channel_words else ""


def _point(found: PitchReading, volts: float, note: str, key: int, *, samples: Floats, leaks: bool = False) -> Point:
    tone = found.tone
    warnings = (*of_recording(samples, tone), *inharmonic(tone), *weak_fundamental(tone)) if tone else ()
    # what glides before leaves lines that are none
    warnings += leaking(samples[len(samples) // 2 :], tone) if tone and leaks else ()
    if tone and isinstance(found.wander, Wander):
        warnings += too_fast(samples, tone, "wander_rms_cents", "wander_peak_cents")
    return Point(volts, found.hz.value, found.hz.expanded, note or _named(volts), key, note, HEARD_DECIMALS, found, warnings)


def _of_points(points: Sequence[Point]) -> tuple[ResultWarning, ...]:
    """Return the warnings of all readings, each with the names of those that it belongs to."""
    named: dict[ResultWarning, list[str]] = {}
    for point in points:
        for warning in point.warnings:
            named.setdefault(warning, []).append(point.name)
    return tuple(replace(warning, message=f"{', '.join(names)}: {warning.message}") for warning, names in named.items())


def _in_step(check: Check, heard: Heard, step: Step, number: int, *, nominal_hz: float | None = None) -> Point | NotHad:
    """Return the reading of a step, from the last seconds of its steady part."""
    free = bool(check.keys.get("not_tracking"))
    volts, note = _voltage(check, check.keys["steps"][number])
    if volts is None:
        return NO_VOLTAGE
    start = step.start_s if free else max(step.start_s, step.stop_s - STILL_S)
    first, last = (heard.start + round(s * heard.rate) for s in (start, step.stop_s))
    samples = _read(heard, first, min(last, heard.stop))
    found = frequency_of(samples, heard.rate, wander=True) if free else settled_pitch(samples, heard.rate, nominal_hz)
    leaks = nominal_hz is not None
    return found if isinstance(found, NotHad) else _point(found, volts, note, number, samples=samples, leaks=leaks)


def _read(heard: Heard, first: int, last: int) -> Floats:
    return stretch(heard.sound, first, last, heard.channel)


def offset_cents(points: Points, at: int) -> float | None:
    """Return how far the reading at a place is from its own note, in cents; None where it was given as a voltage."""
    point = points.points[at]
    return CENTS_PER_OCTAVE * math.log2(point.hz / note_frequency_hz(note_number(point.note))) if point.note else None
