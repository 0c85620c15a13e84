"""What can be wrong with a recording: silence, pauses, clipping, mains hum. Each is told in a sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from benchrecord.bench.bands import slowed
from benchrecord.bench.fits import Floats
from benchrecord.bench.levels import dbfs
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import REACH_BINS, Frames, frame_size, frames_in, kaiser, mean_power

SILENT_DBFS = -80.0  # what is fainter is the recorder's own noise (common practice, no source)
BLOCK_S = 0.05
PAUSE, LOUDEST_PERCENT = 10 ** (-40 / 20), 95  # a pause is so much fainter than the loudest blocks
TOLD_PAUSE = 0.05  # of the recording
FULL_SCALE = 0.9999  # the highest sample of 16 bits is 0.99997
TOP = 0.005  # of half the height: so close to its highest value is the top of a wave
CROWDED = 0.08  # of all samples, at the top: a sine has 0.032 there
STEEPER = 6.0  # times as many samples at the top as just below it; a sine has 2.4 times as many
SHORT_PERIOD = 24.0  # samples
FEWEST = 20  # samples that tell a flat top from chance
MAINS_HZ, MULTIPLES = (50.0, 60.0), 8
LISTENED_S, HUM_FRAME_S = 10.0, 2.0
LOW_RATE = 2000.0  # twice what is needed for the multiples: what folds back onto them is 90 dB down
AROUND_BINS = 30
LINE = 64.0  # times the power around it
TOLD_HUM_DB, ALONE_DB = -70.0, 30.0  # relative to the sound
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
    first, last = _longest(loud.tolist())
    within = slice((first + (first > 0)) * size, (last - (last < count)) * size)
    pause, whole = float(np.mean(~loud)) * count * size / rate, len(samples) / rate
    told = f"It pauses for {pause:.2g} s of {whole:.3g} s: only its longest stretch without a pause is analysed."
    return within, told if pause > TOLD_PAUSE * whole else ""


def _longest(flags: Sequence[bool]) -> tuple[int, int]:
    """Return where the longest run of true flags starts, and where it has ended."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.asarray(flags, int), [0]))))
    at = 2 * int(np.argmax(edges[1::2] - edges[::2]))
    return int(edges[at]), int(edges[at + 1])


def clipping(samples: Floats, *, flat: bool = False, period: float | None = None) -> str:
    """Say that a recording is cut off at its highest or lowest values; empty where it is not.

    A top is cut off where too many samples crowd there: 8 % of a periodic wave, of which even a sine has but 3 % so close to its
    highest value; of other sounds six times as many as just below the top. A wave of few samples a period shows no top.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    flat : the sound itself may have flat tops, or the same ones again and again: only values that stand still at full scale tell then
    period : of a periodic wave, in samples

    """
    cut_off = _stands_still if flat else _crowded if period is None else _crowded_wave
    if not flat and period is not None and period < SHORT_PERIOD:
        return ""
    lowest, highest = float(samples.min()), float(samples.max())
    half = (highest - lowest) / 2
    sides = [name for name, end, inward in (("top", highest, -half), ("bottom", lowest, half)) if cut_off(samples, end, inward)]
    if not sides:
        return ""
    peak = max(-lowest, highest)
    where = "at full scale" if peak >= FULL_SCALE else f"{-20 * math.log10(peak):.1f} dB below full scale"
    why = "the recorder was overdriven" if peak >= FULL_SCALE else "it was clipped on its way to the recorder"
    return f"It is cut off at its {' and '.join(sides)}, {where}: {why}, and what is worked out holds for the clipped sound."


def _stands_still(samples: Floats, end: float, _inward: float) -> bool:
    """Say whether neighbouring samples stand at the same highest value, at full scale, more than now and then."""
    if abs(end) < FULL_SCALE:
        return False
    at_end = samples == end
    return int(np.count_nonzero(at_end[1:] & at_end[:-1])) > FEWEST


def _crowded_wave(samples: Floats, end: float, inward: float) -> bool:
    return len(_near(samples, end, TOP * inward)) > CROWDED * len(samples)


def _crowded(samples: Floats, end: float, inward: float) -> bool:
    both = _near(samples, end, 2 * TOP * inward)
    top = len(_near(both, end, TOP * inward))
    return top > max(FEWEST, STEEPER * (len(both) - top))


def _near(samples: Floats, end: float, inward: float) -> Floats:
    """Return the samples that lie between the highest and what is a little lower, or between the lowest and what is higher."""
    return samples[samples > end + inward if inward < 0 else samples < end + inward]


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
    if len(heard) < rate / MAINS_HZ[0] * REACH_BINS * 4:
        return ""
    own = [*beside_hz, *_multiples(harmonics_of_hz, rate)] if harmonics_of_hz else list(beside_hz)
    low, low_rate = _at_low_rate(heard, rate)
    frames = frames_in(len(low), min(frame_size(HUM_FRAME_S * low_rate), len(low)))
    found, at_its_end = (
        {mains: _mains_power(power, frames.size / low_rate, mains, own) for mains in MAINS_HZ}
        for power in _mean_and_last(low, frames)
    )
    found = {hz: power if at_its_end[hz] else 0.0 for hz, power in found.items()}  # hum stays: what dies away is the sound
    mains = max(found, key=lambda hz: found[hz])
    sound = max(_rms(heard) ** 2 - 2 * found[mains], 0.0)
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


def _multiples(hz: float, rate: float) -> list[float]:
    highest = MULTIPLES * max(MAINS_HZ) + hz
    return [n * hz for n in range(1, int(min(highest, rate / 2) / hz) + 1)]


def _at_low_rate(samples: Floats, rate: float) -> tuple[Floats, float]:
    """Return a recording without its mean at a low rate that has room for the harmonics of the mains, and that rate."""
    times = max(1, int(rate / LOW_RATE))
    return slowed(samples - samples.mean(), times), rate / times


def _mean_and_last(samples: Floats, frames: Frames) -> tuple[Floats, Floats]:
    """Return the squared transform on the mean over all frames, and that of the last one."""
    before, last = (
        mean_power(samples[first * frames.hop :], replace(frames, count=count), kaiser(frames.size))
        for first, count in ((0, frames.count - 1), (frames.count - 1, 1))
    )
    return before + (last - before) / frames.count, last


def _mains_power(power: Floats, bins_a_hz: float, mains: float, own_hz: Sequence[float]) -> float:
    """Return the squared amplitudes over four of the mains' harmonics that stand out, none of which lies on a line of the sound.

    Hum is more than one line: its own frequency or twice that is among them, or a single line is no hum.
    """
    lines = {n: _hum_line(power, n * mains * bins_a_hz, [hz * bins_a_hz for hz in own_hz]) for n in range(1, MULTIPLES + 1)}
    known = {n: p for n, p in lines.items() if p > 0}
    return sum(known.values()) if known and min(known) <= 2 else 0.0  # noqa: PLR2004  # of a full-wave rectifier


def _hum_line(power: Floats, place: float, own: Sequence[float]) -> float:
    at = round(place)
    if at + AROUND_BINS >= len(power) or any(abs(place - other) < 2 * REACH_BINS for other in own):
        return 0.0
    top = at - 1 + int(np.argmax(power[at - 1 : at + 2]))
    around = power[max(1, at - AROUND_BINS) : at + AROUND_BINS + 1]
    return float(power[top]) if power[top] > LINE * np.median(around) and power[top] >= power[top - 1 : top + 2].max() else 0.0
