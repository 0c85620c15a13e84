"""What can be wrong with a recording: silence, pauses, clipping, mains hum. Each is told in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchrecord.bench.bands import slowed
from benchrecord.bench.fits import Floats
from benchrecord.bench.last_digit import last_digit
from benchrecord.bench.levels import dbfs
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, Frames, frame_size, frames_in, kaiser, transforms

SILENT_DBFS = -80.0  # what is fainter is the recorder's own noise (common practice, no source)
BLOCK_S = 0.05
PAUSE, LOUDEST_PERCENT = 10 ** (-40 / 20), 95  # a pause is so much fainter than the loudest blocks
TOLD_PAUSE = 0.05  # of the recording
FULL_SCALE = 0.9999  # the highest sample of 16 bits is 0.99997
TOP = 0.005  # of half the height: so close to its highest value is the top of a wave
CROWDED = 2.5  # times as many samples at the top as a sine has there: of its half height 3 %
STEEPER = 6.0  # times as many samples at the top as just below it; a sine has 2.4 times as many
SHORT_PERIOD = 24.0  # samples
STANDS = 0.01  # of the samples: fewer stand still by chance
STEPPED = 0.25  # of the samples that stand still: so many do so elsewhere than at the ends of a staircase
FEWEST = 20  # samples that tell a flat top from chance
LEAST_RUN, FEWEST_RUNS = 3, 3  # samples that share the top, and how often
NEAR_TOP, NEXT_VALUES, OUTNUMBERS = (
    0.05,
    3,
    12.0,
)  # of the height; values just below the top, and times as many samples as each has
ALIKE = 1e-6  # of the height: values that count as one where the recording has no last digit
MAINS_HZ, MULTIPLES = (50.0, 60.0), 8
LISTENED_S, HUM_FRAME_S = 10.0, 2.0
LOW_RATE = 2000.0  # twice what is needed for the multiples: what folds back onto them is 90 dB down
AROUND_BINS = 30
LINE = 64.0  # times the power around it
TOLD_HUM_DB, ALONE_DB = -70.0, 30.0  # relative to the sound
STAYS = 2.5  # times the least power of a line of hum in the second half of a recording: 4 dB
LEAST_OF_RECTIFIER = 3  # lines
# Of a harmonic that folds back: how near hum is not looked for; the highest, 70 dB down in a saw.
FOLDED_BINS, FOLDED = 2.0, 3000
LITTLE = 1e-6


def silence(samples: Floats) -> NotHad | None:
    """Return why nothing can be heard in a recording, (n,) where full scale is 1; None where there is something."""
    level = dbfs(_rms(samples)) if len(samples) and np.ptp(samples) else NotHad("")
    if isinstance(level, NotHad):
        return NotHad("the recording is silent: all its samples are the same")
    if level >= SILENT_DBFS:
        return None
    return NotHad(f"the recording is silent: −{-level:.0f} dBFS is no more than a recorder's noise")


def _rms(samples: Floats) -> float:
    """Return the rms without the mean, and without a copy of a long recording."""
    return math.sqrt(max(float(np.einsum("i,i->", samples, samples)) / len(samples) - float(samples.mean()) ** 2, 0.0))


def sounding(samples: Floats, rate: float) -> tuple[slice, str]:
    """Return the longest stretch without a pause, and a sentence on the pauses, empty where there are none to speak of.

    A pause is 40 dB fainter than the loudest parts; beside one the stretch starts and ends a twentieth of a second away from it.
    """
    size = max(1, round(BLOCK_S * rate))
    count = len(samples) // size
    blocks = samples[: count * size].reshape(count, size)
    mean = float(samples.mean())
    levels = np.einsum("ij,ij->i", blocks, blocks) / size - 2 * mean * blocks.mean(axis=1) + mean**2
    loud = levels > PAUSE**2 * np.percentile(levels, LOUDEST_PERCENT) if count else np.zeros(0, bool)
    if loud.all() or not loud.any():
        return slice(0, len(samples)), ""
    first, last = _longest(loud)
    within = slice((first + (first > 0)) * size, (last - (last < count)) * size)
    pause, whole = float(np.mean(~loud)) * count * size / rate, len(samples) / rate
    told = f"It pauses for {pause:.2g} s of {whole:.3g} s: only its longest stretch without a pause is analysed."
    return within, told if pause > TOLD_PAUSE * whole else ""


def _longest(flags: NDArray[np.bool_]) -> tuple[int, int]:
    """Return where the longest run of true flags starts, and where it has ended."""
    starts, ends = _runs(flags)
    at = int(np.argmax(ends - starts))
    return int(starts[at]), int(ends[at])


def clipping(samples: Floats, *, flat: bool = False, period: float | None = None) -> str:
    """Say that a recording is cut off at its highest or lowest values; empty where it is not.

    What cut it off is not seen in it: below full scale that may be the recorder's input, the instrument, or anything between.

    A converter cuts off hard, however little: samples stand still at the same extreme value, entered through a corner, again and again;
    or far more of them share that very value than share any of those just below it. What was cut off softly, or before noise was added,
    crowds at its top: two and a half times as many samples of a periodic wave as of a sine; of other sounds six times as many as just
    below the top.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    flat : the sound itself may have flat tops, or the same ones again and again: only values that stand still at full scale tell then
    period : of a periodic wave, in samples

    """
    lowest, highest = float(samples.min()), float(samples.max())
    step = last_digit(samples) or ALIKE * (highest - lowest)
    sides = [
        name for name, sign in (("top", 1.0), ("bottom", -1.0)) if _cut_off(sign * samples, step, flat=flat, period=period)
    ]
    if not sides:
        return ""
    peak = max(-lowest, highest)
    where = f"It is cut off at its {' and '.join(sides)}"
    if peak >= FULL_SCALE:
        return f"{where}, at full scale: most likely the recorder was overdriven. Record it again, fainter."
    return (
        f"{where}, {-20 * math.log10(peak):.1f} dB below full scale: its samples run level at its largest value. The instrument may do that,"
        " or anything up to the recorder. Record it again with less gain: a fault of the recorder is gone then."
    )


def _cut_off(samples: Floats, step: float, *, flat: bool, period: float | None) -> bool:
    """Say whether samples are cut off at their top."""
    top = float(samples.max())
    if flat:
        return top >= FULL_SCALE and (_stands_still(samples, top, step) or _outnumbers(samples, top, step))
    if _outnumbers(samples, top, step):
        return True
    if _stepped(samples, top, step):
        return False
    if _enters_by_corners(samples, top, step):
        return True
    half = (top - float(samples.min())) / 2
    if period is None:
        return _crowded(samples, top, half, step)
    return period >= SHORT_PERIOD and _crowded_wave(samples, top, half, step)


def _stands_still(samples: Floats, top: float, step: float) -> bool:
    """Say whether neighbouring samples share the top, more than now and then."""
    at_top = samples > top - step / 2
    return int(np.count_nonzero(at_top[1:] & at_top[:-1])) > FEWEST


def _enters_by_corners(samples: Floats, top: float, step: float) -> bool:
    """Say whether most runs of samples that share the top are too long for what lies beside them.

    Rounding holds a smooth top for a run of n samples where it falls by no more than a step within (n − 1)/2 of them; a parabola then
    falls by no more than ((n + 1)/(n − 1))² steps to either neighbour (derived; one step is for the rounding of that).
    """
    starts, ends = _runs(samples > top - step / 2)
    long = (ends - starts >= LEAST_RUN) & (starts > 0) & (ends < len(samples))
    starts, ends = starts[long], ends[long]
    count = ends - starts
    deep = top - np.minimum(samples[starts - 1], samples[np.minimum(ends, len(samples) - 1)])
    corners = int(np.count_nonzero(deep > step * (((count + 1) / (count - 1)) ** 2 + 1)))
    return corners >= FEWEST_RUNS and 2 * corners >= len(count)


def _stepped(samples: Floats, top: float, step: float) -> bool:
    """Say whether a wave stands still elsewhere than at its ends: a staircase, or one that is slow for its steps."""
    still = np.abs(np.diff(samples)) < step / 2
    standing, middle = still[1:] & still[:-1], samples[1:-1]
    inside = (middle < top - step / 2) & (middle > float(samples.min()) + step / 2)
    count = int(np.count_nonzero(standing))
    return count > STANDS * len(samples) and int(np.count_nonzero(standing & inside)) > STEPPED * count


def _outnumbers(samples: Floats, top: float, step: float) -> bool:
    """Say whether far more samples share the top than each of the next values below: even of a wave as flat as 1 − x⁶ but twelve times as many."""
    near = samples[samples > top - NEAR_TOP * (top - float(samples.min()))]
    count = np.unique(np.rint((top - near) / step), return_counts=True)[1]
    below = count[1 : 1 + NEXT_VALUES]
    return bool(len(below) == NEXT_VALUES and count[0] >= FEWEST and count[0] > OUTNUMBERS * float(below.mean()))


def _runs(flags: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where each run of true flags starts, and where it has ended."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return edges[::2], edges[1::2]


def _crowded_wave(samples: Floats, top: float, half: float, step: float) -> bool:
    """Say whether far more samples lie at the top than those of a sine, as coarse as it may be rounded."""
    depth = max(TOP * half, step)
    sine = math.acos(max(1 - depth / half, -1.0)) / math.pi
    return _count_above(samples, top - depth + step / 2) > CROWDED * sine * len(samples)


def _crowded(samples: Floats, top: float, half: float, step: float) -> bool:
    depth = max(TOP * half, step)
    uppermost, both = (_count_above(samples, top - part * depth + step / 2) for part in (1, 2))
    return uppermost > max(FEWEST, STEEPER * (both - uppermost))


def _count_above(samples: Floats, level: float) -> int:
    return int(np.count_nonzero(samples > level))


@dataclass(frozen=True, slots=True)
class _Own:
    """A line of the sound itself: its place in bins, how near to it hum is not looked for, and the most power it can have."""

    place: float
    reach: float
    most: float = math.inf

    def is_at(self, place: float, power: float) -> bool:
        return abs(place - self.place) < self.reach and power <= self.most


def hum(samples: Floats, rate: float, *, beside_hz: Sequence[float] = (), harmonics_of_hz: float | None = None) -> str:
    """Say that mains hum lies in a recording, how loud it is and at which frequency; empty where there is none to speak of.

    Parameters
    ----------
    samples : (n,)
    rate : Hz
    beside_hz : lines of the sound itself
    harmonics_of_hz : a tone in it, whose harmonics are no hum

    """
    heard = samples[: round(LISTENED_S * rate)]
    if len(heard) < 2 * rate / MAINS_HZ[0] * REACH_BINS * 4:
        return ""
    low, low_rate = _at_low_rate(heard, rate)
    frames = frames_in(len(low), min(frame_size(HUM_FRAME_S * low_rate), len(low) // 2))
    bins_a_hz = frames.size / low_rate
    whole = _rms(heard) ** 2
    own = [_Own(hz * bins_a_hz, 2 * REACH_BINS) for hz in (*beside_hz, *_multiples(harmonics_of_hz, rate))]
    own += [_Own(hz * bins_a_hz, FOLDED_BINS, whole / k**2) for k, hz in _folded(harmonics_of_hz, rate)]
    powers = _powers(low, frames)
    found = {mains: _mains_power(powers, mains * bins_a_hz, own) for mains in MAINS_HZ}
    mains = max(found, key=lambda hz: found[hz])
    sound = max(whole - 2 * found[mains], 0.0)
    if not found[mains]:
        return ""
    level = 10 * math.log10(2 * found[mains] / max(sound, LITTLE * found[mains]))
    return "" if level <= TOLD_HUM_DB else f"Mains hum at {mains:g} Hz and its multiples lies in it, {_beside(level)}."


def _beside(level_db: float) -> str:
    """Say how loud something is beside the sound."""
    if level_db > ALONE_DB:
        return "and little else"
    if abs(level_db) < 1:
        return "as loud as the sound"
    return f"{abs(level_db):.0f} dB {'below' if level_db < 0 else 'above'} the sound"


def _multiples(hz: float | None, rate: float) -> list[float]:
    if hz is None:
        return []
    highest = MULTIPLES * max(MAINS_HZ) + hz
    return [n * hz for n in range(1, int(min(highest, rate / 2) / hz) + 1)]


def _folded(hz: float | None, rate: float) -> list[tuple[int, float]]:
    """Return the number of each harmonic that folds back to among the multiples of the mains, and where to."""
    if hz is None:
        return []
    highest, found = MULTIPLES * max(MAINS_HZ) + hz, []
    for n in range(1, int(FOLDED * hz / rate) + 1):
        every = range(math.ceil((n * rate - highest) / hz), int((n * rate + highest) / hz) + 1)
        found += [(k, abs(k * hz - n * rate)) for k in every]
    return found


def _at_low_rate(samples: Floats, rate: float) -> tuple[Floats, float]:
    """Return a recording without its mean at a low rate that has room for the harmonics of the mains, and that rate."""
    times = max(1, int(rate / LOW_RATE))
    return slowed(samples - samples.mean(), times), rate / times


def _powers(samples: Floats, frames: Frames) -> Floats:
    """Return the squared transform of each frame, (frames, bins)."""
    return np.concatenate([np.abs(some) ** 2 for some in transforms(samples, frames, kaiser(frames.size))])


def _mains_power(powers: Floats, mains: float, own: Sequence[_Own]) -> float:
    """Return the squared amplitudes over four of the mains' harmonics that stand out, none of which lies on a line of the sound.

    Hum lies at the mains frequency itself; or at twice that and more multiples, as behind a rectifier: one line there is no hum.

    Parameters
    ----------
    powers : (frames, bins)
    mains : its place, in bins
    own : lines of the sound itself

    """
    mean = powers.mean(axis=0)
    lines = {n: _hum_line(powers, mean, n * mains, own) for n in range(1, MULTIPLES + 1)}
    known = {n: p for n, p in lines.items() if p > 0}
    rectified = 2 in known and len(known) >= LEAST_OF_RECTIFIER  # noqa: PLR2004  # full-wave
    return sum(known.values()) if 1 in known or rectified else 0.0


def _hum_line(powers: Floats, power: Floats, place: float, own: Sequence[_Own]) -> float:
    """Return the mean power of a line that stands out, to the end and without dying away: hum stays, and what does not is the sound."""
    at = round(place)
    if at + AROUND_BINS >= len(power) or any(line.is_at(place, float(power[at - 1 : at + 2].max())) for line in own):
        return 0.0
    later = powers[len(powers) // 2 :, at - 1 : at + 2].max(axis=1)
    if later.max() > STAYS * later.min():
        return 0.0
    return float(power[at - 1 : at + 2].max()) if _stands_out(power, at) and _stands_out(powers[-1], at) else 0.0


def _stands_out(power: Floats, at: int) -> bool:
    top = at - 1 + int(np.argmax(power[at - 1 : at + 2]))
    around = power[max(1, at - AROUND_BINS) : at + AROUND_BINS + 1]
    return bool(power[top] > LINE * np.median(around) and power[top] >= power[top - 1 : top + 2].max())
