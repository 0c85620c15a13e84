"""The invented instrument as a model: what is wrong with it, and what then comes out of its sockets, in volts."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .waves import Floats, Spectrum

OCTAVES = (0, 1, 2, 3, 4, 5)  # volts of the calibrator when the oscillators were recorded
OVERSHOOT = 1.3  # what a contour's attack heads for, of the peak at which it turns
RESTART = 0.04  # of its peak: where a repeating contour starts anew
BUTTERWORTH = (0.541196, 1.306563)  # quality of the two sections of the filter with its peak at 0
TANK_TOP_HZ = 4000.0


@dataclass(frozen=True, slots=True)
class Faults:
    """Everything in which one instrument differs from another of its kind; the instrument itself is the rest of this file.

    Tuples follow the positions of a control, or the octaves of the calibrator.
    """

    jitter_periods: float
    osc1_base_hz: float
    osc1_volts_per_octave: float
    osc1_errors_cents: tuple[float, ...]
    osc2_base_hz: float
    osc2_volts_per_octave: float
    osc2_errors_cents: tuple[float, ...]
    shape_rises: tuple[float, ...]
    pulse_duty: float
    noise_v: float
    noise_slopes_db: tuple[float, ...]
    ring_carrier_v: float
    ring_signal_v: float
    filter_hz: float
    filter_qualities: tuple[float, ...]
    contour_scale: float
    lfo_hz: float
    lfo_rise: float
    lfo_offset_v: float
    spring_t60_s: float
    spring_trips_s: tuple[float, ...]
    spring_hiss_v: float
    spring_hum_v: float
    output_seconds_percent: float | None = None
    output_thirds_percent: float | None = None


AS_FOUND = Faults(
    jitter_periods=4e-4,
    osc1_base_hz=85.9,
    osc1_volts_per_octave=1.023,
    osc1_errors_cents=(0, 0, 0, 0, 0, 0),
    osc2_base_hz=88.7,
    osc2_volts_per_octave=1.017,
    osc2_errors_cents=(0, 0, 0, 0, 0, 0),
    shape_rises=(0.09, 0.44, 0.83),
    pulse_duty=0.372,
    noise_v=0.31,
    noise_slopes_db=(-1.1, 1.9, 3.6),
    ring_carrier_v=41.2e-3,
    ring_signal_v=23.7e-3,
    filter_hz=627.7,
    filter_qualities=(1.31, 1.38, 2.45, 2.30, 4.60),
    contour_scale=0.45,
    lfo_hz=16.4,
    lfo_rise=0.43,
    lfo_offset_v=0.188,
    spring_t60_s=1.15,
    spring_trips_s=(0.0331,),
    spring_hiss_v=9e-3,
    spring_hum_v=14e-3,
)
AS_LEFT = Faults(
    jitter_periods=1e-4,
    osc1_base_hz=87.31,
    osc1_volts_per_octave=1.0,
    osc1_errors_cents=(0, 0.6, -0.4, 0.5, 1.1, 1.8),
    osc2_base_hz=87.31,
    osc2_volts_per_octave=1.0,
    osc2_errors_cents=(0, 0.2, 0.9, 1.1, 2.1, 4.6),
    shape_rises=(0.03, 0.502, 0.97),
    pulse_duty=0.501,
    noise_v=1.02,
    noise_slopes_db=(-3.0, 0.0, 3.0),
    ring_carrier_v=1.9e-3,
    ring_signal_v=2.4e-3,
    filter_hz=812.2,
    filter_qualities=(1.31, 2.15, 3.05, 4.65, 7.60),
    contour_scale=0.945,
    lfo_hz=20.1,
    lfo_rise=0.504,
    lfo_offset_v=0.0124,
    spring_t60_s=2.45,
    spring_trips_s=(0.0331, 0.0412),
    spring_hiss_v=0.35e-3,
    spring_hum_v=0.3e-3,
    output_seconds_percent=0.21,
    output_thirds_percent=0.08,
)


def pitches(base_hz: float, volts_per_octave: float, errors_cents: tuple[float, ...]) -> tuple[float, ...]:
    """Return an oscillator's frequency at each octave of the calibrator, Hz."""
    return tuple(base_hz * 2 ** (v / volts_per_octave + e / 1200) for v, e in zip(OCTAVES, errors_cents, strict=True))


def low_pass(hz: Floats, cutoff_hz: float, quality: float) -> Spectrum:
    """Return the complex gain of the filter: two sections of second order, the second of which is the sharper the higher the peak."""
    s = 1j * hz / cutoff_hz
    return np.asarray(1 / (s**2 + s / BUTTERWORTH[0] + 1) / (s**2 + s / quality + 1))


def filter_peak_db(quality: float) -> float:
    """Return the highest gain of the filter, dB, where it lies above the pass band; its place is that of the cut-off."""
    gain = np.abs(low_pass(np.geomspace(0.3, 1.2, 20001), 1.0, quality))
    return float(20 * np.log10(gain.max()))


def filter_minus_3_db_hz(cutoff_hz: float, quality: float) -> float:
    """Return where the gain has fallen to half the power of the pass band, Hz."""
    ratio = np.geomspace(0.5, 3, 200001)
    gain = np.abs(low_pass(ratio, 1.0, quality))
    return float(cutoff_hz * ratio[np.nonzero(gain >= math.sqrt(0.5))[0][-1]])


@dataclass(frozen=True, slots=True)
class Contour:
    """A contour: its attack heads for 1.3 of the peak and turns there, its decay falls by the same law to nothing.

    ``attack_s`` and ``decay_s`` are times from 10 to 90 % and back.
    """

    attack_s: float
    decay_s: float

    @property
    def attack_tau_s(self) -> float:
        """Time constant of the attack: from 10 to 90 % it takes ln 3 of it."""
        return self.attack_s / math.log((OVERSHOOT - 0.1) / (OVERSHOOT - 0.9))

    @property
    def decay_tau_s(self) -> float:
        """Time constant of the decay: from 90 to 10 % it takes ln 9 of it."""
        return self.decay_s / math.log(9)

    @property
    def hold_s(self) -> float:
        """Time above 90 % of the peak."""
        rising = self.attack_tau_s * math.log((OVERSHOOT - 0.9) / (OVERSHOOT - 1))
        return rising - self.decay_tau_s * math.log(0.9)

    def reaches_peak_s(self, start: float = 0.0) -> float:
        """Time that the attack takes from a level to the peak."""
        return self.attack_tau_s * math.log((OVERSHOOT - start) / (OVERSHOOT - 1))

    @property
    def period_s(self) -> float:
        """Time between two attacks of a contour that repeats."""
        return self.reaches_peak_s(RESTART) - self.decay_tau_s * math.log(RESTART)

    @property
    def gap_s(self) -> float:
        """Time below 10 % of a contour that repeats."""
        return self.decay_tau_s * math.log(0.1 / RESTART) + self.attack_tau_s * math.log(
            (OVERSHOOT - RESTART) / (OVERSHOOT - 0.1)
        )

    def course(self, t: Floats, start: float = 0.0) -> Floats:
        """Return the level at instants after the gate, the peak being 1; before the gate it is zero."""
        turns = self.reaches_peak_s(start)
        up = OVERSHOOT - (OVERSHOOT - start) * np.exp(-t / self.attack_tau_s)
        down = np.exp(-np.maximum(t - turns, 0.0) / self.decay_tau_s)
        return np.where(t < 0, 0.0, np.where(t < turns, up, down))

    def repeated(self, t: Floats) -> Floats:
        """Return the level of a contour that starts anew whenever it has fallen far enough."""
        return self.course(np.mod(t, self.period_s), RESTART)


def contour(attack_at: float, decay_at: float, scale: float) -> Contour:
    """Return a contour from the positions of its controls: every quarter of a turn makes it eight times as long.

    At 10 an attack of the drawing takes 8 s, a decay 12 s; ``scale`` is what its capacitor has left, and its tolerance.
    """
    return Contour(8.0 * scale * 8.0 ** ((attack_at - 10) / 2.5), 12.0 * scale * 8.0 ** ((decay_at - 10) / 2.5))


def tank(hz: Floats, t60_s: float, trips_s: tuple[float, ...]) -> Spectrum:
    """Return the complex gain of a spring tank: in each spring a chirp runs to and fro and loses as much in each second.

    High tones take longer for a trip than low ones, by two thirds at the top of the band, and then lose as much more: all tones
    decay in the same time. What is above the top of the band does not pass.
    """
    share = hz / TANK_TOP_HZ
    total = np.zeros(len(hz), np.complex128)
    for trip in trips_s:
        delay = trip * (1 + 2 / 3 * np.minimum(share, 1.2) ** 2)
        loss = 10 ** (-3 * delay / t60_s)
        round_trip = loss * np.exp(-2j * np.pi * hz * trip * (1 + 2 / 9 * np.minimum(share, 1.2) ** 2))
        total += round_trip / (1 - round_trip)
    band = (hz / 90) ** 2 / (1 + (hz / 90) ** 2) / np.sqrt(1 + share**16)
    return np.asarray(total * band / len(trips_s))
