"""What a filter passes: its pass band, cut-offs, slopes and peak, from levels over frequency."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import ArrayLike

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad

LOW_PASS, HIGH_PASS, BAND_PASS, FLAT = "low-pass", "high-pass", "band-pass", "flat"
HALF_POWER_DB = 10 * math.log10(2)  # 3.01 dB
STEEP_FROM_DB, STEEP_TO_DB = -12.0, -36.0  # below the pass band: where a slope is taken
# Above the lowest reading: from there on it may be the floor of what was measured, as where one is so uncertain.
LOWEST_DB = 1.0
# Of what the pass band rises over its octave: where that bends like one pole its median lies two thirds of it off.
RISING = 0.75
OF_TEN = 1.54  # standard deviations: the flattest of ten octaves looks so much flatter by chance (the mean of the least of ten normals)
PLATEAU_OCTAVES = 1.0  # the flattest part so wide is the pass band
END_OCTAVES, WIDE_OCTAVES = 2 / 3, 2.0  # over which the level at an end is taken; of a pass band that is surely flat
NEAR_RISE = 1.5
ROUNDED_OCTAVES = 4.5  # a band pass that is narrower has no flat part and goes by its top
LEAST = 3  # readings
SAME = 6  # decimals of an octave: closer readings are of one frequency
NEAR_OCTAVES, WIDEST_OCTAVES = 1 / 12, 2 / 3  # to either side of a cut-off: there its slope is taken,
SURE_SLOPE = 0.15  # from the narrowest part that leaves no more than this share of it uncertain
COARSE_OCTAVES = 1 / 3  # between readings: so far apart, no curve through them is surer than a straight line
HEARD_DB, FALLS_DB = 30.0, 6.0  # a pass band lies so close to the top, and an end that is cut off so far below it
STANDS_OUT_DB = 0.5  # of a peak above the pass band
OVERSHOOT_DB = 1.5  # of the top between readings that stand far apart, no more
PIECES = 200  # a slope is fitted on so many points of the curve between readings
MEDIAN = math.sqrt(math.pi / 2)  # its standard deviation is so many times that of a mean
NEVER = "it does not fall by 3 dB within the readings"


@dataclass(frozen=True, slots=True)
class Figure:
    """A result with its standard uncertainty."""

    value: float
    u: float


@dataclass(frozen=True, slots=True)
class PassBand:
    """The level of the pass band, dB, with its standard uncertainty, and the frequencies that it was taken between, Hz."""

    level_db: Figure
    from_hz: float
    to_hz: float


@dataclass(frozen=True, slots=True)
class Response:
    """What a filter passes.

    Slopes are in dB per octave upwards: that of a low-pass is negative. ``peak_db`` is the highest reading above the pass band.
    """

    shape: str
    pass_band: PassBand
    minus_3_db_low_hz: Figure | NotHad
    minus_3_db_high_hz: Figure | NotHad
    slope_low: Figure | NotHad
    slope_high: Figure | NotHad
    peak_db: Figure
    peak_hz: float | NotHad

    @property
    def centre_hz(self) -> float | NotHad:
        """The middle between both cut-offs, √(f1·f2)."""
        low, high = self.minus_3_db_low_hz, self.minus_3_db_high_hz
        return math.sqrt(low.value * high.value) if low and high else NotHad("it has no two cut-offs")  # type: ignore[union-attr]

    @property
    def quality(self) -> float | NotHad:
        """The quality factor √(f1·f2)/(f2 − f1)."""
        low, high, centre = self.minus_3_db_low_hz, self.minus_3_db_high_hz, self.centre_hz
        if isinstance(low, NotHad) or isinstance(high, NotHad) or isinstance(centre, NotHad):
            return NotHad("it has no two cut-offs")
        return centre / (high.value - low.value)


@dataclass(frozen=True, slots=True)
class _Curve:
    """Readings over octaves (log2 of Hz), and the smooth line through them."""

    octave: Floats
    level: Floats
    u: Floats
    shared_u: Floats
    line: Any  # a PchipInterpolator


def response_of(
    hz: ArrayLike,
    level_db: ArrayLike,
    *,
    shape: str | None = None,
    level_u_db: ArrayLike | None = None,
    shared_u_db: ArrayLike | None = None,
) -> Response | NotHad:
    """Find pass band, cut-offs, slopes and peak.

    The pass band is the median of the part, an octave wide, whose level is surest: flat, and told by sure readings; a band pass
    goes by its top. Cut-offs are where the level has fallen by 3.01 dB (half the power), outwards from the pass band; between
    readings the level follows a monotone cubic through their logarithm of frequency (F. N. Fritsch and R. E. Carlson, SIAM J.
    Numer. Anal. 17 (1980) 238). A slope is that of the least-squares line from −12 dB to −36 dB or the lowest reading.

    The uncertainty of a cut-off: those of its level and of the pass band (of a low or high pass with what its level may still change by
    beyond the readings) over the slope there, and, as rectangular, the difference to
    a straight line between the readings, which counts the less the closer they stand.

    Parameters
    ----------
    hz, level_db : (n,) readings in any order, those of one frequency averaged; n ≥ 4
    shape : ``low-pass``, ``high-pass``, ``band-pass`` or ``flat``; found out where it is None
    level_u_db : (n,) standard uncertainty of each level
    shared_u_db : (n,) the part of it that neighbours share, so that their mean is no surer than one of them

    """
    u, shared_u = (np.zeros(np.shape(hz)) if each is None else np.asarray(each, float) for each in (level_u_db, shared_u_db))
    curve = _curve(np.asarray(hz, float), np.asarray(level_db, float), u, shared_u)
    if isinstance(curve, NotHad):
        return curve
    kind = shape or _shape(curve)
    first, last = _candidates(curve, kind)
    rounded = kind == BAND_PASS and curve.octave[last - 1] - curve.octave[first] < ROUNDED_OCTAVES
    band = _top_of_band(curve) if rounded else _pass_band(curve, kind, *_flattest(curve, first, last, PLATEAU_OCTAVES))
    low, high = (_edge(curve, band, step) for step in (-1, 1))
    peak_db, peak_hz = _peak(curve, band, low, high)
    return Response(
        kind,
        band,
        _cutoff(curve, band, low, -1),
        _cutoff(curve, band, high, 1),
        _slope(curve, band, low, -1),
        _slope(curve, band, high, 1),
        peak_db,
        peak_hz,
    )


def _curve(hz: Floats, level: Floats, u: Floats, shared_u: Floats) -> _Curve | NotHad:
    good = (hz > 0) & np.isfinite(level)
    octave, where = np.unique(np.round(np.log2(hz[good]), SAME), return_inverse=True)
    if len(octave) <= LEAST:
        return NotHad("fewer than four readings tell no response")
    count = np.bincount(where)
    mean, shared = (np.bincount(where, each[good]) / count for each in (level, shared_u))
    mean_u = np.maximum(np.sqrt(np.bincount(where, u[good] ** 2)) / count, shared)
    return _Curve(np.asarray(octave, float), mean, mean_u, shared, scipy.interpolate.PchipInterpolator(octave, mean))


def _shape(curve: _Curve) -> str:
    """Tell what kind of filter it is: which ends lie well below the flattest part of what is passed at all."""
    heard = np.flatnonzero(curve.level >= curve.level.max() - HEARD_DB)
    first, last = _flattest(curve, int(heard[0]), max(int(heard[-1]) + 1, int(heard[0]) + LEAST), PLATEAU_OCTAVES)
    passed = float(np.median(curve.level[first:last]))
    low, high = (_end(curve, side) < passed - FALLS_DB for side in (slice(None), slice(None, None, -1)))
    if low and high:
        return BAND_PASS
    return HIGH_PASS if low else LOW_PASS if high else FLAT


def _end(curve: _Curve, side: slice) -> float:
    """Return the level at one end, over an octave or three readings."""
    octave = np.abs(curve.octave[side] - curve.octave[side][0])
    return float(np.median(curve.level[side][: max(LEAST, int(np.count_nonzero(octave <= 1)))]))


def _flattest(curve: _Curve, first: int, last: int, width: float) -> tuple[int, int]:
    """Return the first reading of the part of so many octaves whose level is surest, and the one after its last.

    Where nothing is uncertain that is the flattest. Noise is less where a part of an octave holds more of a spectrum: what is flat for
    that alone, and what is sure though a little less flat, are weighed against each other.
    """
    octave, best, chosen = curve.octave[first:last], math.inf, (first, last)
    for start in range(len(octave)):
        stop = max(int(np.searchsorted(octave, octave[start] + width * (1 + 1e-9), "right")), start + LEAST)
        if stop > len(octave) or (best < math.inf and octave[start] + width * (1 - 1e-9) > octave[-1]):
            break  # a part that the end cuts short looks flat for that alone
        doubt = math.hypot(*_doubts(curve, first + start, first + stop))
        if doubt < best:
            best, chosen = doubt, (first + start, first + stop)
    return chosen


def _doubts(curve: _Curve, first: int, last: int) -> tuple[float, float]:
    """Return how uncertain the median of readings is, as the level of a pass band, and how much more they scatter than they are uncertain.

    It is uncertain by their scatter about a line, by what they share, and by most of what that line may rise: what is seen, and what is
    hidden by their scatter or by what is shared at either end, since that part is chosen of many which looks the flattest.
    """
    octave, level, count = curve.octave[first:last], curve.level[first:last], last - first
    around = octave - octave.mean()
    across = float(around @ around)
    rise = float(around @ level) / across
    left = level - level.mean() - rise * around
    scatter = math.sqrt(float(left @ left) / (count - 2)) if count > LEAST else 0.0
    read = float(np.median(curve.u[first:last]))  # as the level: few that are unsure, at the end of a sweep, move neither
    each, width = max(scatter, read), float(octave[-1] - octave[0])
    shared = float(np.median(curve.shared_u[first:last]))
    hidden = math.hypot(each * width / math.sqrt(across), math.sqrt(2) * shared)
    rising = abs(rise) * width + OF_TEN * hidden
    u = math.hypot(MEDIAN * each / math.sqrt(count), RISING * rising, shared)
    return u, math.sqrt(max(scatter**2 - read**2, 0.0))


def _candidates(curve: _Curve, shape: str) -> tuple[int, int]:
    """Return the readings among which the pass band lies."""
    count, level = len(curve.level), curve.level
    if shape == LOW_PASS:
        passed = np.flatnonzero(level >= _end(curve, slice(None)) - HALF_POWER_DB)
        return 0, max(LEAST, int(passed[-1]) + 1)
    if shape == HIGH_PASS:
        passed = np.flatnonzero(level >= _end(curve, slice(None, None, -1)) - HALF_POWER_DB)
        return min(count - LEAST, int(passed[0])), count
    top = int(np.argmax(level)) if shape == BAND_PASS else int(np.argmin(np.abs(level - np.median(level))))
    first, last = (_run(level >= level[top] - HALF_POWER_DB, top, step) for step in (-1, 1))
    short = max(0, LEAST - (last - first + 1))
    first = max(0, first - (short + 1) // 2)
    return first, min(count, max(last + 1, first + LEAST))


def _run(passed: Floats, at: int, step: int) -> int:
    """Return the last reading that is passed, going one way."""
    while 0 <= at + step < len(passed) and passed[at + step]:
        at += step
    return at


def _pass_band(curve: _Curve, kind: str, first: int, last: int) -> PassBand:
    level = float(np.median(curve.level[first:last]))
    beyond = _beyond(curve, kind, level) / math.sqrt(3)
    return PassBand(
        Figure(level, math.hypot(_doubts(curve, first, last)[0], beyond)),
        *(float(2 ** curve.octave[n]) for n in (first, last - 1)),
    )


def _beyond(curve: _Curve, kind: str, level_db: float) -> float:
    """Return by how much the level towards zero of a low pass (or infinity of a high pass) may differ from that of its flattest part.

    A filter with feedback is flattest at the top of a gentle rise. Far from it a level goes with the square of the frequency, so that what
    it still changes by beyond the readings is their slope at the end over 2·ln 2 (class derived), and up to half as much again where the
    rise is near (seen with filters of four poles). A part that is flat for two octaves is the pass band, and what bends away beyond it
    is something else, such as a coupling capacitor.
    """
    if kind not in (LOW_PASS, HIGH_PASS):
        return 0.0
    outwards = curve.octave[0] if kind == LOW_PASS else curve.octave[-1]
    beside = np.abs(curve.octave - outwards)
    near = beside <= max(END_OCTAVES, float(np.sort(beside)[LEAST - 1]))
    at_end, inwards = np.polynomial.polynomial.polyfit(beside[near] - beside[near].mean(), curve.level[near], 1)
    apart = abs(level_db - float(at_end)) + abs(float(inwards)) / (2 * math.log(2))
    flat = curve.octave[np.abs(curve.level - level_db) <= apart / 3]
    return NEAR_RISE * apart if not len(flat) or np.ptp(flat) < WIDE_OCTAVES else 0.0


def _top_of_band(curve: _Curve) -> PassBand:
    """Take the top of a band that is too narrow to be flat; it is uncertain by how far it lies above the highest reading."""
    octave, level, at = _highest(curve, 0, len(curve.level))
    u = math.hypot(float(curve.u[at]), (level - float(curve.level[at])) / math.sqrt(3))
    return PassBand(Figure(level, u), 2**octave, 2**octave)


def _highest(curve: _Curve, first: int, last: int) -> tuple[float, float, int]:
    """Return octave and level of the top, by a parabola through three readings, and the highest reading itself."""
    at = first + int(np.argmax(curve.level[first:last]))
    if not 0 < at < len(curve.level) - 1:
        return float(curve.octave[at]), float(curve.level[at]), at
    octave, level = _top(curve.octave[at - 1 : at + 2], curve.level[at - 1 : at + 2])
    return octave, min(level, float(curve.level[at]) + OVERSHOOT_DB), at


def _edge(curve: _Curve, band: PassBand, step: int) -> int | NotHad:
    """Return the first reading below half the power, going outwards from the pass band; one alone may be chance."""
    below = curve.level < band.level_db.value - HALF_POWER_DB
    at = int(np.argmin(np.abs(curve.octave - math.log2(band.from_hz if step < 0 else band.to_hz))))
    at = int(np.argmax(curve.level)) if below[at] else at
    while 0 <= at < len(below) and not (below[at] and below[max(0, min(at + step, len(below) - 1))]):
        at += step
    return at if 0 <= at < len(below) else NotHad(NEVER)


def _at_level(curve: _Curve, level: float, inside: int, outside: int) -> tuple[float, float]:
    """Return where a level is passed between two neighbouring readings, in octaves: by the smooth line, and by a straight one."""
    a, b = curve.octave[inside], curve.octave[outside]
    straight = a + (b - a) * (curve.level[inside] - level) / (curve.level[inside] - curve.level[outside])
    smooth = scipy.optimize.brentq(lambda x: float(curve.line(x)) - level, min(a, b), max(a, b))
    return float(smooth), float(straight)


def _cutoff(curve: _Curve, band: PassBand, edge: int | NotHad, step: int) -> Figure | NotHad:
    if isinstance(edge, NotHad):
        return edge
    inside = edge - step
    smooth, straight = _at_level(curve, band.level_db.value - HALF_POWER_DB, inside, edge)
    steep, steep_u = _steepness(curve, smooth, inside, edge)
    read = math.hypot(band.level_db.u, float(max(curve.u[inside], curve.u[edge]))) * (1 + steep_u / steep)
    apart = min(1.0, abs(float(curve.octave[edge] - curve.octave[inside])) / COARSE_OCTAVES)
    octaves = math.hypot(read / steep, apart * abs(smooth - straight) / math.sqrt(3))
    return Figure(2**smooth, 2**smooth * math.log(2) * octaves)


def _steepness(curve: _Curve, at: float, inside: int, outside: int) -> tuple[float, float]:
    """Return the slope about a cut-off, dB per octave, without its sign, with its standard uncertainty."""
    wide = NEAR_OCTAVES
    while True:
        near = np.flatnonzero(np.abs(curve.octave - at) <= wide)
        part = slice(min(inside, outside, *near), max(inside, outside, *near) + 1)
        steep = abs(float(np.polynomial.polynomial.polyfit(curve.octave[part], curve.level[part], 1)[1]))
        u = _line_u(curve.octave[part], curve.u[part])
        if u <= SURE_SLOPE * steep or 2 * wide > WIDEST_OCTAVES:
            return steep, u
        wide *= 2


def _slope(curve: _Curve, band: PassBand, edge: int | NotHad, step: int) -> Figure | NotHad:
    """Fit the fall from −12 dB on, as far as its readings are sure; it is as uncertain as they are, and as which part is fitted."""
    if isinstance(edge, NotHad):
        return edge
    outwards = slice(edge, None) if step > 0 else slice(edge, None, -1)
    level, unsure = curve.level[outwards] - band.level_db.value, np.flatnonzero(curve.u[outwards] > LOWEST_DB)
    lowest = float(level[: unsure[0] if len(unsure) else None].min(initial=0.0))
    end_db = max(STEEP_TO_DB, lowest + LOWEST_DB)
    if end_db > STEEP_FROM_DB - LOWEST_DB:
        return NotHad(f"the lowest reading lies {-lowest:.0f} dB below the pass band: too little for a slope from −12 dB on")
    higher = min(band.level_db.u, -LOWEST_DB - STEEP_FROM_DB - HALF_POWER_DB)
    parts = [(band.level_db.value + up + STEEP_FROM_DB, band.level_db.value + up + end_db) for up in (0.0, higher)]
    (fall, u), (beside, _) = (_fall(curve, part, edge, step) for part in parts)
    return Figure(fall, math.hypot(u, beside - fall))


def _fall(curve: _Curve, levels: tuple[float, float], edge: int, step: int) -> tuple[float, float]:
    """Return the slope of the smooth line from one level down to another, and what the readings there leave uncertain of it."""
    passed = (edge + step * int(np.argmax(curve.level[edge::step] <= wanted)) for wanted in levels)
    start, end = sorted(_at_level(curve, wanted, at - step, at)[0] for wanted, at in zip(levels, passed, strict=True))
    octaves = start + (end - start) * (np.arange(PIECES) + 0.5) / PIECES
    slope = float(np.polynomial.polynomial.polyfit(octaves, curve.line(octaves), 1)[1])
    within = (curve.octave >= start) & (curve.octave <= end)
    shared = math.hypot(*np.interp([start, end], curve.octave, curve.shared_u)) / (end - start)
    return slope, math.hypot(_slope_u(curve.octave[within], curve.u[within], end - start), shared)


def _slope_u(octave: Floats, u: Floats, width: float) -> float:
    """Return what the readings leave uncertain of a line's slope; of fewer than two, as if both ends had been read."""
    if len(octave) < 2:  # noqa: PLR2004  # a line has two ends
        return math.sqrt(2) * float(u.max(initial=0.0)) / width
    return _line_u(octave, u)


def _line_u(octave: Floats, u: Floats) -> float:
    around = octave - octave.mean()
    return math.sqrt(float(np.sum((around * u) ** 2))) / float(around @ around)


def _peak(curve: _Curve, band: PassBand, low: int | NotHad, high: int | NotHad) -> tuple[Figure, float | NotHad]:
    """Return the highest point of what is passed, by a parabola through three readings, above the pass band."""
    first, last = sorted((0 if isinstance(low, NotHad) else low, len(curve.level) if isinstance(high, NotHad) else high))
    octave, level, at = _highest(curve, first, max(last, first + 1))
    above, u = level - band.level_db.value, math.hypot(float(curve.u[at]), band.level_db.u)
    stands_out = above > max(STANDS_OUT_DB, 4 * u)
    doubt = (level - float(curve.level[at]), 0.0 if stands_out else above)  # a small one may be chance
    figure = Figure(above, math.hypot(u, *(d / math.sqrt(3) for d in doubt)))
    return figure, 2**octave if stands_out else NotHad("nothing stands surely, and by 0.5 dB, above the pass band")


def _top(x: Floats, y: Floats) -> tuple[float, float]:
    """Return the top of the parabola through three points whose middle one is the highest."""
    left, right = (y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1])
    bend = (right - left) / (x[2] - x[0])
    if bend >= 0:
        return float(x[1]), float(y[1])
    at = (x[0] + x[1]) / 2 - left / (2 * bend)
    return float(at), float(y[1] + left * (at - x[1]) + bend * (at - x[1]) * (at - x[0]))


def shape_of(*, low_pass: bool, high_pass: bool, band_pass: bool) -> str | None:
    """Return the shape that is said to be meant; None where nothing is said."""
    if band_pass or (low_pass and high_pass):
        return BAND_PASS
    return LOW_PASS if low_pass else HIGH_PASS if high_pass else None


def worst_of(figures: Sequence[Figure | NotHad]) -> Figure | NotHad:
    """Return the figure farthest from zero; the first reason where there is none."""
    known = [f for f in figures if isinstance(f, Figure)]
    return max(known, key=lambda f: abs(f.value)) if known else next(f for f in figures if isinstance(f, NotHad))
