"""What the stages of a contour last, from a table or from recordings, and what they are held against."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from benchrecord.bench.attacks import sudden_attacks
from benchrecord.bench.beating import Beating, beating_of
from benchrecord.bench.clicks import blanked, bridged, clicks_in
from benchrecord.bench.contour_shapes import EXPONENTIAL
from benchrecord.bench.contour_sight import tone_periods_s
from benchrecord.bench.envelope import Contour, Stage, read_contour
from benchrecord.bench.last_digit import last_digit
from benchrecord.bench.level_trail import Trail, level_trail, voltage_trail
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import clipping, hum, silence
from benchrecord.checks.channels import RISE_AND_FALL
from benchrecord.checks.kind import Bench
from benchrecord.checks.meters import NO_RANGE, reading_uncertainty
from benchrecord.checks.non_negative import non_negative
from benchrecord.checks.recordings import Heard, listen, lossy_words, takes_of, unless_damaged, warnings_if
from benchrecord.model.findings import Results, ResultWarning, Value
from benchrecord.model.job import Check, Take
from benchrecord.model.numbers import roughly

STAGES = ("attack", "hold", "decay", "gap", "period")
COLUMNS = {"as_found": "as_found_s", "as_left": "as_left_s"}
LONGEST_S = 600.0  # of a recording: ten minutes hold a contour often enough
BLOCK_S = 5.0
NO_TONE = 0.0, 0.0  # periods, s
TIMES = tuple(f"{stage}_s" for stage in STAGES)
BENT = TIMES[:-1]
LISTED_CLICKS = 3
UNDERSHOT, DEEP_BEAT = 0.005, 0.1  # of the peak, and of the level
UNDERSHOOT = "It goes {:.2g} % of its peak below its rest: the recorder's input blocks direct voltage, which bends and shortens slow stages."


@dataclass(frozen=True, slots=True)
class Timed:
    """One stage at one position of its control: what it lasts in s, and from what to what it may."""

    stage: str
    at: str
    value: Value
    low: float | None = None
    high: float | None = None
    ref: int = 0  # number of its row in the table, from 1
    more: Results = field(default_factory=dict)  # its shape, and what goes with that

    @property
    def seconds(self) -> float | None:
        """What it lasts; None where that is not known."""
        return self.value.value if isinstance(self.value.value, float) else None

    @property
    def name(self) -> str:
        """The stage and its position: ``attack at 5``."""
        return f"{self.stage} at {self.at}" if self.at else self.stage


@dataclass(frozen=True, slots=True)
class Listened:
    """A contour in a recording, or why there is none; ``words`` name what was analysed, ``warnings`` what makes its times doubtful."""

    at: str
    contour: Contour | NotHad
    words: str = ""
    tone_s: float = 0.0
    warnings: tuple[ResultWarning, ...] = ()


@dataclass(frozen=True, slots=True)
class _Followed:
    """What is kept of a recording: its trail, the periods of its tone and of the power of that in s, and what is wrong with it."""

    course: Trail
    periods_s: tuple[float, float]
    words: str
    cut_off: str
    beating: Beating | None
    digit: float
    warnings: tuple[ResultWarning, ...]


def of_table(check: Check, bench: Bench, side: str) -> list[Timed]:
    """Return the stages that a table has for one side, in its order."""
    found = []
    for number, row in enumerate(check.table.rows if check.table else (), 1):
        seconds = row.number(COLUMNS[side])
        if seconds is not None:
            u = reading_uncertainty(check, bench, seconds, "s")
            value = Value(seconds, "s", u, row.decimals(COLUMNS[side]), "" if u is not None else NO_RANGE)
            limits = row.number("low"), row.number("high")
            found.append(Timed(row.text("stage").lower(), row.text("setting"), value, *limits, number))
    return _held(check, found)


def listened(check: Check, bench: Bench, side: str) -> list[Listened]:
    """Read the contours of the recordings of one side."""
    return [_listened(check, bench, take) for take in takes_of(check, side)]


def _listened(check: Check, bench: Bench, take: Take) -> Listened:
    voltage = check.keys.get("source") == "voltage"
    followed = _followed(check, bench, take, voltage=voltage)
    if isinstance(followed, NotHad):
        return Listened(take.at, followed)
    repeating = {"one-shot": False, "repeating": True}.get(str(check.keys.get("mode")))
    beating, period_s = followed.beating, followed.periods_s[1]
    faint = beating.ratio if beating and beating.certain else 0.0
    contour = (
        NotHad(f"{_beats(beating)}: record one oscillator alone")
        if beating and faint > DEEP_BEAT
        else read_contour(
            followed.course, power=not voltage, period_s=period_s, repeating=repeating, beat=faint, digit=followed.digit
        )
    )
    warnings = _warnings(followed, contour, lossy_words(bench, take))
    return Listened(take.at, contour, followed.words, followed.periods_s[0], warnings)


def _followed(check: Check, bench: Bench, take: Take, *, voltage: bool) -> _Followed | NotHad:
    heard = listen(check, bench, take, target=RISE_AND_FALL)
    if isinstance(heard, NotHad):
        return heard
    silent = silence(heard.samples)
    if silent is not None:
        return silent
    cut_off, words = clipping(heard.samples, flat=True), heard.words
    periods = NO_TONE if voltage else tone_periods_s(heard.samples, heard.rate)
    whole = heard.stop - heard.start <= len(heard.samples)
    noisy = not voltage and not periods[0]
    clicks = clicks_in(heard.samples, heard.rate, period_s=periods[0], noisy=noisy) if whole else ()
    heard = replace(heard, samples=blanked(heard.samples, clicks))
    beating = beating_of(heard.samples, heard.rate, periods[0]) if periods[0] else None
    digit = last_digit(heard.samples) if voltage else 0.0
    course = unless_damaged(partial(_course, _bounded(heard), periods[0], periods[1], voltage=voltage))
    if isinstance(course, NotHad):
        return course
    whole_course = bridged(course, clicks, period_s=periods[0])
    hums = "" if voltage else hum(heard.samples, heard.rate, harmonics_of_hz=1 / periods[0] if periods[0] else None)
    return _Followed(whole_course, periods, words, cut_off, beating, digit, (*heard.warnings, *warnings_if("hum", hums)))


def _course(excerpt: Heard, period_s: float, of_power_s: float, *, voltage: bool) -> Trail:
    """Follow the voltage of a recording, or the level of its tone of such a period."""
    frames, rate = excerpt.stop - excerpt.start, excerpt.rate
    if voltage:
        return voltage_trail(excerpt.blocks(BLOCK_S), rate, frames)
    attacks = sudden_attacks(excerpt.blocks(BLOCK_S), rate, period_s)
    return level_trail(excerpt.blocks(BLOCK_S), rate, frames, periods_s=(period_s, of_power_s), attacks=attacks)


def _warnings(followed: _Followed, contour: Contour | NotHad, lossy: str) -> tuple[ResultWarning, ...]:
    """Return what makes times doubtful; a period outlives what bends the stages of every cycle alike."""
    below = contour.undershoot if isinstance(contour, Contour) else 0.0
    return (
        *followed.warnings,
        *warnings_if("clipped", followed.cut_off, *BENT, of_measurement=True),
        *warnings_if("dc-blocked", UNDERSHOOT.format(100 * below) if below > UNDERSHOT else "", *TIMES, of_measurement=True),
        *warnings_if("beating", f"{_beats(followed.beating)}, and its level with it." if followed.beating else "", *TIMES),
        *warnings_if("tremolo", _tremolo(contour), *TIMES),
        *warnings_if("click", *_clicks(followed.course, contour)),
        *warnings_if("lossy-coding", lossy, *TIMES),
    )


def _tremolo(contour: Contour | NotHad) -> str:
    if isinstance(contour, NotHad) or not contour.tremolo_hz:
        return ""
    return f"Its level goes up and down about {roughly(contour.tremolo_hz)} times a second within the contour: turn the tremolo off, and record it again."


def _clicks(course: Trail, contour: Contour | NotHad) -> tuple[str, ...]:
    """Word where clicks were left out, and name the times of the stages that they lie in."""
    if not course.bridges:
        return ("",)
    at = ", ".join(f"{start * course.step_s:.3f} s" for start, _ in course.bridges[:LISTED_CLICKS])
    more = f" and {len(course.bridges) - LISTED_CLICKS} more" if len(course.bridges) > LISTED_CLICKS else ""
    stages = contour.clicked if isinstance(contour, Contour) else ()
    return f"Clicks were left out at {at}{more}.", *(f"{stage}_s" for stage in stages)


def _beats(beating: Beating | None) -> str:
    """Word what beats: ``two tones under it beat about 4 times a second``."""
    if beating is None:
        return ""
    often = f"about {roughly(beating.hz)} times a second"
    return f"two tones under it beat {often}" if beating.certain else f"the tone under it is not steady: it swings {often}"


def _bounded(heard: Heard) -> Heard:
    """Return a stretch of ten minutes at most; what is longer than what is held of it is read piece by piece, and not held."""
    stop = min(heard.stop, heard.start + round(LONGEST_S * heard.rate))
    whole = stop - heard.start <= len(heard.samples)
    return replace(heard, stop=stop, samples=heard.samples if whole else heard.samples[:0].copy())


def of_contours(check: Check, contours: Sequence[Listened]) -> list[Timed]:
    """Return the stages of contours that were heard."""
    return _held(check, [timed for one in contours for timed in _of_contour(one)])


def _of_contour(one: Listened) -> Iterator[Timed]:
    for name in STAGES:
        stage = one.contour.stages[name] if isinstance(one.contour, Contour) else one.contour
        if isinstance(stage, NotHad):
            yield Timed(name, one.at, Value(None, "s", reason=stage.reason))
        else:
            value = non_negative(Value(stage.seconds, "s", stage.expanded_uncertainty))
            yield Timed(name, one.at, value, more={} if value.value is None else dict(_shape(name, stage)))


def _shape(name: str, stage: Stage) -> Iterator[tuple[str, Value]]:
    if stage.spread_s is not None:
        yield f"{name}_spread_s", Value(stage.spread_s, "s")
    if stage.shape is None:
        return
    yield f"{name}_shape", Value(stage.shape.name)
    if stage.shape.name == EXPONENTIAL:
        yield (
            f"{name}_time_constant_s",
            non_negative(Value(stage.shape.time_constant_s, "s", stage.shape.expanded_uncertainty), bounded=False),
        )
        yield f"{name}_aim_percent", Value(100 * (stage.shape.aim or 1.0), "%", None, 0)


def wanted_of(check: Check) -> Mapping[str, tuple[float, float]]:
    """Return the range that each control is wanted to cover, in s, by its stage."""
    return {str(stage).lower(): ends for stage, ends in check.keys.get("wanted", {}).items()}


def slack_of(check: Check) -> float:
    """Return the limit as a share: by so much may a limit in seconds be missed."""
    return abs(check.limit.value) / 100 if check.limit else 0.0


def _held(check: Check, times: list[Timed]) -> list[Timed]:
    """Set what each stage is held against.

    Its own low and high; else the range wanted of its control, which the shortest must come down to and the longest must come up to
    (a single one must lie in it). The check's limit widens all of them by its percent.
    """
    slack, wanted = slack_of(check), wanted_of(check)
    found = []
    for own in times:
        low, high = own.low, own.high
        if low is None and high is None and own.stage in wanted and own.seconds is not None:
            low, high = _end(own, [t for t in times if t.stage == own.stage and t.seconds is not None], wanted[own.stage])
        found.append(
            replace(own, low=None if low is None else low * (1 - slack), high=None if high is None else high * (1 + slack))
        )
    return found


def _end(own: Timed, alike: Sequence[Timed], wanted: tuple[float, float]) -> tuple[float | None, float | None]:
    if len(alike) == 1:
        return wanted
    shortest, longest = (pick(alike, key=lambda t: t.seconds or 0.0) for pick in (min, max))
    if own is shortest:
        return None, wanted[0]
    return (wanted[1], None) if own is longest else (None, None)
