"""What a circuit makes of a swept sine: its magnitude over frequency, with its uncertainty."""

from __future__ import annotations

import math

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import NDArray

from benchrecord.bench.fits import Floats
from benchrecord.bench.magnitude import DB, FAINT, Magnitude, no_faster, points
from benchrecord.bench.reasons import NotHad

Spectrum = NDArray[np.complex64]
Singles = NDArray[np.float32]

PER_OCTAVE = 48  # points of a swept sine
LOW_FADE_OCTAVES, HIGH_FADE_OCTAVES = 2.0, 1 / 3  # beyond the ends of a sweep, to keep out what it does not hold
BEFORE_S, LONGEST_S, SHORTEST_S = 0.05, 1.0, 0.15  # of an answer to an impulse: before its top, and behind it
FADE_SHARE = 0.25  # of the part behind
STEP_S, LEFT_OVER = 0.005, 1e-8  # of an answer's energy: what is cut off
CHANCE = 10.0  # standard deviations of the noise, which is slow and sums up badly
COARSE, MOST = 8, 0.9  # of the power in the lower eighth of the spectrum: then that is enough to see where an answer lies
LEAST_SHARE = 0.5  # of the power that must be an answer to the sweep
SMOOTH_OCTAVES = 1 / 6
LOST, MOST_LOST = 3.0, 0.9  # of an amplitude by compression, times its third harmonic
PASSES, SHORTEST_PIECE = 0.7, 32  # of the highest gain, where a harmonic is read; samples
CLEAR_OF_END = 0.7  # of the highest frequency: where a sweep ends, all it holds is in one moment
CLEAR, LITTLE_THIRD = 3.0, 2e-4  # times what lies between harmonics; a share that moves a level by 0.005 dB
TERMS = 3  # of the series of what a window blurs: an octave above the start of a sweep, or where it passes all, one would do


def exponential_sweep(rate: float, seconds: float, low_hz: float, high_hz: float) -> Floats:
    """Return a sine whose frequency grows by as many octaves in each second (A. Farina, AES 108th Convention (2000) 5093)."""
    octaves = math.log(high_hz / low_hz)
    phase = np.arange(round(seconds * rate), dtype=np.float64)
    phase *= octaves / (seconds * rate)
    np.expm1(phase, out=phase)  # in place: a minute of it is not small
    phase *= 2 * math.pi * low_hz * seconds / octaves
    return np.sin(phase, out=phase)


def swept(recorded: Floats, reference: Floats, rate: float, span_hz: tuple[float, float]) -> Magnitude | NotHad:
    """Return the magnitude from a swept sine.

    The spectrum of what came out is divided by that of what went in, no matter when the recording was started. The answer to an
    impulse that this gives is cut out where it stands above the noise: distortion of an exponential sweep comes before it and is
    left out. What the noise leaves uncertain is found from pieces of the same length behind the answer. A circuit that is overdriven
    compresses what it passes, most where it passes most: by three times its third harmonic, as a cubic does (class derived; a clipped
    sine loses as much), and by so much every level may be off, rectangular, and all alike.

    Parameters
    ----------
    recorded, reference : (n,), (m,) what came out and what went in
    rate : of both, Hz
    span_hz : ends of the sweep

    """
    (recorded, reference), rate = no_faster([recorded, reference], rate, span_hz[1])
    recorded, reference = recorded.astype(np.float32), reference.astype(np.float32)  # half the memory
    answer, cut = _answer(recorded, reference, rate, span_hz)
    if isinstance(cut, NotHad):
        return cut
    window = _window(round(BEFORE_S * rate), round(cut[1] * rate))
    whole, top = 2 * scipy.fft.next_fast_len(round(2 * LONGEST_S * rate), real=True), round(cut[0] * rate)
    own_hz = np.asarray(scipy.fft.rfftfreq(whole, 1 / rate))
    gain, blur = _seen(_piece(answer, top, window, rate), window, _taper(own_hz, span_hz).astype(np.float32), rate)
    hz = points(span_hz[0], min(span_hz[1], 0.499 * rate), PER_OCTAVE)
    level = np.interp(np.log(hz), np.log(own_hz[1:]), DB * np.log(np.maximum(np.abs(gain[1:]), FAINT)))
    faint = np.interp(hz, own_hz, _noise(answer, rate, top, window, whole=whole))
    blurred = DB * np.interp(hz, own_hz, blur)
    lasts = _sounds_s(reference, rate) / math.log(span_hz[1] / span_hz[0])
    third = _third_harmonic(answer, gain, rate, top, lasts_s=lasts, span_hz=span_hz)
    shared = np.hypot(blurred, -DB * math.log(1 - min(LOST * third, MOST_LOST)) / math.sqrt(3))
    u = np.hypot(DB * np.sqrt((faint / 10 ** (level / 20)) ** 2 / 2 + cut[2] / 3), shared)
    return Magnitude(hz, level, u, shared, "swept sine", third)


def _sounds_s(reference: Floats | Singles, rate: float) -> float:
    """Return for how long a sweep sounds, s: from where it first to where it last comes to half its height."""
    loud = np.flatnonzero(np.abs(reference) > float(np.abs(reference).max()) / 2)
    return float(loud[-1] - loud[0] + 1) / rate


def _third_harmonic(
    answer: Singles, gain: Spectrum, rate: float, top: int, *, lasts_s: float, span_hz: tuple[float, float]
) -> float:
    """Return the third harmonic as a share of what passes, where most of it passes; 0 where it does not stand out.

    ``lasts_s`` is T/ln(f₂/f₁) of an exponential sweep that lasts T. The harmonic of order k comes T·ln k/ln(f₂/f₁) before the linear
    answer, and has at k·f the amplitude, as a share of what went in, that it has while the sweep is at f (A. Farina, AES 108th
    Convention (2000) 5093).
    """
    second, third, fourth = (top - round(lasts_s * math.log(k) * rate) for k in (2, 3, 4))
    half = min(third - fourth, second - third, round(LONGEST_S * rate)) // 2
    window = np.hanning(2 * half + 2)[1:-1].astype(np.float32)
    whole = 2 * (len(gain) - 1)

    def around(middle: int) -> Floats:
        piece = window * answer[np.arange(middle - half, middle + half) % len(answer)]
        return np.asarray(np.abs(scipy.fft.rfft(piece, whole)), float)

    own_hz = np.arange(len(gain)) * (rate / whole)
    held = (own_hz >= 2 * span_hz[0]) & (3 * own_hz <= CLEAR_OF_END * min(span_hz[1], rate / 2))
    passed = np.abs(gain)
    at, through = own_hz[held], passed[held]
    most = through > through.max(initial=0.0) * PASSES
    if half < SHORTEST_PIECE or not most.any():
        return 0.0
    made, beside = (
        np.interp(3 * at[most], own_hz, _smooth(around(middle) ** 2, np.arange(len(gain), dtype=np.float64)))
        for middle in (third, (third + fourth) // 2)
    )
    shares, chance = (float(np.sqrt(np.mean((x / through[most]) ** 2))) for x in (made, beside))
    return shares if shares > CLEAR * chance and shares > LITTLE_THIRD else 0.0


def _answer(
    recorded: Floats, reference: Floats, rate: float, span_hz: tuple[float, float]
) -> tuple[Singles, tuple[float, float, float] | NotHad]:
    """Return the answer to an impulse, and where it is cut; in the precision of both, with no more at hand than is needed."""
    size = scipy.fft.next_fast_len(len(recorded) + len(reference), real=True)
    put_in, matched = (scipy.fft.rfft(x, size) for x in (reference, recorded))
    even = put_in.real**2
    even += put_in.imag**2
    even += np.float32(FAINT * even.max())
    matched *= np.conj(put_in, out=put_in)
    del put_in
    matched *= _taper(np.arange(len(matched), dtype=np.float32) * np.float32(rate / size), span_hz)
    cut = _cut(*_coarse(matched, size, rate))
    matched /= even
    del even
    return scipy.fft.irfft(matched, size, overwrite_x=True), cut


def _seen(piece: Singles, window: Singles, passed: Singles, rate: float) -> tuple[Spectrum, Floats]:
    """Return the gain that an answer tells through its window, and how far the window may have put it off, as parts of it.

    A window blurs, most of all where a sweep begins. The answer to a wire, of what the sweep holds alone, is seen through it as well, and
    divided by: that puts right what is alike in both. What is found is still G̃ = R·G where a gain G changes its level or its phase. By
    Neumann's series G = Σ (1 − R)ⁿ·G̃: what is wrong is what R, done again and again, makes of what was found.
    """
    whole = 2 * (len(passed) - 1)

    def through(gain: Spectrum | float) -> Spectrum:
        answer = _piece(scipy.fft.irfft(gain * passed, whole), 0, window, rate)
        return np.asarray(scipy.fft.rfft(window * answer, whole))

    wire = through(1.0) + np.float32(FAINT)
    gain = scipy.fft.rfft(window * piece, whole) / wire
    left, wrong = gain, np.zeros_like(gain)
    for _ in range(TERMS):
        left = left - through(left) / wire
        wrong += left
    return gain, np.abs(wrong) / np.maximum(np.abs(gain), FAINT)


def _taper(hz: NDArray[np.floating], span_hz: tuple[float, float]) -> NDArray[np.floating]:
    """Pass what a sweep holds and fade out beyond its ends: slowly at the lower one, so that it does not ring for long."""
    octave = np.log2(np.maximum(hz, FAINT))
    below, above = (math.log2(span_hz[0]) - octave) / LOW_FADE_OCTAVES, (octave - math.log2(span_hz[1])) / HIGH_FADE_OCTAVES
    return np.asarray(np.cos(np.pi / 2 * np.clip(np.maximum(below, above), 0, 1)) ** 2)


def _coarse(matched: Spectrum, size: int, rate: float) -> tuple[Floats, float]:
    """Return the correlation of what came out with what went in, and its rate: from the lower eighth where most of its power is."""
    count = len(matched) // COARSE
    low = float(np.vdot(matched[:count], matched[:count]).real)
    if low < MOST * float(np.vdot(matched, matched).real):
        return scipy.fft.irfft(matched, size), rate
    short = 2 * (count - 1)
    return scipy.fft.irfft(matched[:count], short), rate * short / size


def _cut(matched: Floats, rate: float) -> tuple[float, float, float] | NotHad:
    """Return when the answer has its top, how many seconds behind it hold nearly all of it, and the share of power beyond."""
    power = matched**2
    top, step = int(np.argmax(power)), max(1, round(STEP_S * rate))
    behind = np.roll(power, -top)[: round(2 * LONGEST_S * rate)]
    pieces = behind[: len(behind) // step * step].reshape(-1, step).sum(axis=1, dtype=np.float64)
    late = pieces[len(pieces) // 2 :]
    left = np.cumsum((pieces - np.median(late))[::-1])[::-1] / pieces.sum()
    left -= CHANCE * np.std(late) * np.sqrt(np.arange(len(pieces), 0, -1)) / pieces.sum()  # what is not surely more than noise
    over = np.flatnonzero(left > LEFT_OVER)
    last = min(max(int(over[-1]) + 1 if len(over) else 0, round(SHORTEST_S / STEP_S)), round(LONGEST_S / STEP_S))
    held = power[np.arange(top - round(BEFORE_S * rate), top + last * step) % len(power)].sum(dtype=np.float64)
    if held < LEAST_SHARE * power.sum(dtype=np.float64):
        return NotHad("what is heard does not follow the sweep that went in")
    return top / rate, last * step / rate, max(0.0, float(left[min(last, len(left) - 1)]))


def _window(before: int, length: int) -> Singles:
    """Return the window of an answer: rising before its top, flat, and falling over the last quarter."""
    fade = max(1, int(FADE_SHARE * length))
    rise, fall = (np.sin(np.pi / 2 * (np.arange(n) + 0.5) / n) ** 2 for n in (max(1, before // 2), fade))
    return np.concatenate([rise, np.ones(before - before // 2 + length - fade), fall[::-1]]).astype(np.float32)


def _piece(answer: Singles, top: int, window: Singles, rate: float) -> Singles:
    first = top - round(BEFORE_S * rate)
    return answer[np.arange(first, first + len(window)) % len(answer)]


def _noise(answer: Singles, rate: float, top: int, window: Singles, *, whole: int) -> Floats:
    """Return the rms magnitude of pieces beside the answer: where one lacks what the recording no longer holds, another has it."""
    pieces = [_piece(answer, top + n * len(window), window, rate) for n in (-1, 1, 2)]
    before, *behind = (np.abs(scipy.fft.rfft(window * piece, whole)) ** 2 for piece in pieces)
    hz = np.arange(len(before), dtype=np.float64)
    return np.maximum(_smooth(before, hz), _smooth(sum(behind) / len(behind), hz))


def _smooth(power: Floats, bins: Floats) -> Floats:
    """Return the root of the mean over a sixth of an octave about each bin."""
    total, half = np.concatenate([[0.0], np.cumsum(power, dtype=np.float64)]), 2 ** (SMOOTH_OCTAVES / 2)
    low, high = np.floor(bins / half).astype(int), np.minimum(np.ceil(bins * half).astype(int) + 1, len(power))
    return np.asarray(np.sqrt((total[high] - total[low]) / (high - low)))
