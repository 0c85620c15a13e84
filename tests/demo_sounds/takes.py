"""Every recording of the demo: the file, the samples, and the truth that whoever analyses it should find."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from . import model
from .model import AS_FOUND, AS_LEFT, Faults
from .waves import (
    Floats,
    coloured_noise,
    hiss,
    jitter,
    partials,
    phase_of,
    pulse_series,
    rms_of,
    sine,
    sweep,
    through,
    times,
    triangle_series,
)

RATE = 48000
FULL_SCALE_V = 10.0  # the peak that the recorder takes
SOCKET_V = 5.0  # the peak of an oscillator at its socket
RECORDER_HISS_V = 0.1e-3
AMPLIFIER_HISS_V = 5e-3
CARRIER_HZ, SIGNAL_HZ, PRODUCT_V = 440.0, 1000.0, 0.95
STEP_S, SWEEP_S, SWEEP_HZ, SWEEP_V, LEAD_S = 1.5, 4.0, (20.0, 20000.0), 1.0, 0.25
WAVE_HZ, CONTOUR_AT, REPEAT_AT, REPEAT_HZ = 220.0, 7.5, 5.0, 1397.848
SHAPE_AT, COLOUR_AT, PEAK_AT = ("0", "5", "10"), ("0", "5", "10"), ("0", "2.5", "5", "7.5", "10")
SIDES = {"found": AS_FOUND, "left": AS_LEFT}


@dataclass(frozen=True, slots=True)
class Recorded:
    """One recording: ``samples`` in volts, ``truth`` by the names of results."""

    file: str
    samples: Floats
    truth: Mapping[str, float]
    bits: int = 16


def every() -> Iterator[Recorded]:
    """Yield every recording, one at a time."""
    yield Recorded("sweep.flac", _tried(SWEEP_V * sweep(SWEEP_S, RATE, *SWEEP_HZ)), {})
    for side, faults in SIDES.items():
        makers: tuple[Callable[[Faults], Iterator[Recorded]], ...] = (
            _steps, _shapes, _pulse, _noises, _ring, _filter, _contours, _lfo, _tank, _output,
        )  # fmt: skip
        for number, make in enumerate(makers):
            for take, one in enumerate(make(faults)):
                seed = 1000 * number + 10 * take + (side == "left")
                yield Recorded(f"{one.file}-{side}.flac", one.samples + _recorder(len(one.samples), seed), one.truth, one.bits)


def _recorder(count: int, seed: int) -> Floats:
    return hiss(count, RECORDER_HISS_V, 100_000 + seed)


def _steps(faults: Faults) -> Iterator[Recorded]:
    """Both oscillators at each octave of the calibrator, one after the other without a pause."""
    for number, name in enumerate(("osc1", "osc2")):
        own = (getattr(faults, f"{name}_{what}") for what in ("base_hz", "volts_per_octave", "errors_cents"))
        hz = model.pitches(*own)
        phases = _phase(np.repeat(hz, round(STEP_S * RATE)), faults, 700 + number).reshape(len(hz), -1)
        waves = [SOCKET_V * partials(p, triangle_series(0.97, f, RATE)) for p, f in zip(phases, hz, strict=True)]
        truth = {"worst_cents": max(abs(1200 * (math.log2(f / hz[0]) - v)) for v, f in zip(model.OCTAVES, hz, strict=True))}
        yield Recorded(f"{name}-steps", np.concatenate(waves), truth)


def _shapes(faults: Faults) -> Iterator[Recorded]:
    """Oscillator 1 at 220 Hz across its shape control: a fall, a triangle, a rise."""
    for number, (at, rise) in enumerate(zip(SHAPE_AT, faults.shape_rises, strict=True)):
        phase = _phase(np.full(2 * RATE, WAVE_HZ), faults, 710 + number)
        yield _wave(f"osc1-shape-{at}", phase, triangle_series(rise, WAVE_HZ, RATE), {"rise_percent": 100 * rise})


def _pulse(faults: Faults) -> Iterator[Recorded]:
    phase, duty = _phase(np.full(3 * RATE, WAVE_HZ), faults, 720), faults.pulse_duty
    yield _wave("osc2-pulse", phase, pulse_series(duty, WAVE_HZ, RATE), {"duty_percent": 100 * duty})


def _phase(hz: Floats, faults: Faults, seed: int) -> Floats:
    """Return the phase, in periods, of an oscillator that is as restless as those of the instrument."""
    return phase_of(hz, RATE) + jitter(len(hz), RATE, faults.jitter_periods, 2 * seed + (faults is AS_LEFT))


def _wave(file: str, phase: Floats, series: list[complex], shape: dict[str, float]) -> Recorded:
    truth = {"fundamental_hz": WAVE_HZ, "level_dbfs": _dbfs(SOCKET_V * rms_of(series)), "dc_offset": 0.0}
    return Recorded(file, SOCKET_V * partials(phase, series), truth | shape)


def _dbfs(rms_v: float) -> float:
    """Return a level of which a sine of full scale is 0."""
    return 20 * math.log10(rms_v * math.sqrt(2) / FULL_SCALE_V)


def _noises(faults: Faults) -> Iterator[Recorded]:
    for n, (at, slope) in enumerate(zip(COLOUR_AT, faults.noise_slopes_db, strict=True)):
        seed = 500 + 10 * n + (faults is AS_LEFT)
        samples = faults.noise_v * coloured_noise(6 * RATE, RATE, slope, seed)
        yield Recorded(f"noise-{at}", samples, {"slope_db_per_octave": slope, "level_dbfs": _dbfs(faults.noise_v)})


def _ring(faults: Faults) -> Iterator[Recorded]:
    """Sum and difference, and what leaks of either input; all levels are rms."""
    t = times(3.0, RATE)
    tones = {SIGNAL_HZ - CARRIER_HZ: PRODUCT_V, SIGNAL_HZ + CARRIER_HZ: PRODUCT_V}
    tones |= {CARRIER_HZ: faults.ring_carrier_v, SIGNAL_HZ: faults.ring_signal_v}
    leaks = {"carrier_rejection_db": faults.ring_carrier_v, "signal_rejection_db": faults.ring_signal_v}
    samples = np.sum([math.sqrt(2) * v * sine(hz * t + n / 7) for n, (hz, v) in enumerate(tones.items())], axis=0)
    yield Recorded("ring", samples, {name: 20 * math.log10(v / PRODUCT_V) for name, v in leaks.items()}, 24)


def _filter(faults: Faults) -> Iterator[Recorded]:
    """A sweep through the filter, its cut-off at 3 V, at each position of its peak control."""
    tried = _tried(SWEEP_V * sweep(SWEEP_S, RATE, *SWEEP_HZ))
    for at, quality in zip(PEAK_AT, faults.filter_qualities, strict=True):
        made = through(tried, RATE, partial(model.low_pass, cutoff_hz=faults.filter_hz, quality=quality))
        truth = {
            "minus_3_db_hz": model.filter_minus_3_db_hz(faults.filter_hz, quality),
            "peak_db": model.filter_peak_db(quality),
        }
        yield Recorded(f"filter-peak-{at}", made, truth)


def _tried(signal: Floats) -> Floats:
    silence = np.zeros(round(LEAD_S * RATE))
    return np.concatenate((silence, signal, silence))


def _contours(faults: Faults) -> Iterator[Recorded]:
    """The voltage of contour 1 after one gate, and a tone under the same contour while it repeats."""
    one = model.contour(CONTOUR_AT, CONTOUR_AT, faults.contour_scale)
    truth = {"attack_s": one.attack_s, "decay_s": one.decay_s, "hold_s": one.hold_s}
    yield Recorded("contour-voltage", SOCKET_V * one.course(times(5.5, RATE) - LEAD_S), truth)
    again, t = model.contour(REPEAT_AT, REPEAT_AT, faults.contour_scale), times(6.0, RATE)
    truth = {"attack_s": again.attack_s, "decay_s": again.decay_s, "hold_s": again.hold_s, "gap_s": again.gap_s}
    tone = 2.0 * again.repeated(t) * sine(REPEAT_HZ * t) + hiss(len(t), AMPLIFIER_HISS_V, 800 + (faults is AS_LEFT))
    yield Recorded("contour-repeat", tone, truth | {"period_s": again.period_s})


def _lfo(faults: Faults) -> Iterator[Recorded]:
    series = triangle_series(faults.lfo_rise, faults.lfo_hz, 2000)  # its edges are round: nothing above 900 Hz
    phase = _phase(np.full(8 * RATE, faults.lfo_hz), faults, 730)
    samples = SOCKET_V * partials(phase, series) + faults.lfo_offset_v
    truth = {
        "fundamental_hz": faults.lfo_hz,
        "rise_percent": 100 * faults.lfo_rise,
        "dc_offset": faults.lfo_offset_v / FULL_SCALE_V,
    }
    yield Recorded("lfo", samples, truth)


def _tank(faults: Faults) -> Iterator[Recorded]:
    """The tank struck once, a third of a second after the recorder was started; a click of the case comes straight through."""
    strike, knock = np.zeros(2**19), 2.5 * sine(2400 * times(0.001, RATE)) * np.hanning(RATE // 1000)
    strike[RATE // 3] = 1.0
    rung = through(strike, RATE, lambda hz: model.tank(hz, faults.spring_t60_s, faults.spring_trips_s))[: 5 * RATE]
    t = times(5.0, RATE)
    hum = math.sqrt(2) * faults.spring_hum_v * (sine(50 * t) + 0.4 * sine(150 * t + 0.1))
    noise = hiss(len(t), faults.spring_hiss_v, 900 + (faults is AS_LEFT))
    made = 4.0 * rung / np.abs(rung).max() + hum + noise
    made[RATE // 3 : RATE // 3 + len(knock)] += knock
    truth = {"predelay_s": faults.spring_trips_s[0], "t20_s": faults.spring_t60_s, "t30_s": faults.spring_t60_s}
    yield Recorded("spring", made, truth)


def _output(faults: Faults) -> Iterator[Recorded]:
    """A tone of 1 kHz at the line output; the output was dead as found."""
    if faults.output_seconds_percent is None or faults.output_thirds_percent is None:
        return
    series = [-1j, faults.output_seconds_percent / 100, -1j * faults.output_thirds_percent / 100]
    samples = 2.21 * math.sqrt(2) * partials(1000.0 * times(3.0, RATE), series)
    thd = math.hypot(faults.output_seconds_percent, faults.output_thirds_percent)
    yield Recorded(
        "output-tone",
        samples,
        {"fundamental_hz": 1000.0, "thd_percent": thd, "level_dbfs": _dbfs(2.21 * rms_of(series) * math.sqrt(2))},
    )
