"""What is left of carrier and signal beside their product: recordings made with known truth."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.rejection import Rejection, rejection
from sounds import seconds, with_noise

RATE = 48_000


def ring(
    carrier_db: float, signal_db: float, *, hz: tuple[float, float] = (440.0, 1000.0), rate: int = RATE, length_s: float = 3.0
) -> Floats:
    """Return a product whose sum and difference are each −20 dB of full scale, and inputs so many dB below them."""
    t = seconds(length_s, rate)
    carrier, signal = (2 * np.pi * f * t for f in hz)
    product = 0.2 * np.sin(carrier) * np.sin(signal)  # 0.1 each for sum and difference
    leaks = 0.1 * 10 ** (carrier_db / 20) * np.sin(carrier + 1) + 0.1 * 10 ** (signal_db / 20) * np.sin(signal + 2)
    return np.asarray(product + leaks)


def found(samples: Floats, rate: float = RATE, **hz: float) -> Rejection:
    """Return what is found of a product that has one."""
    own = rejection(samples, rate, **({"carrier_hz": 440.0, "signal_hz": 1000.0} | hz))
    assert isinstance(own, Rejection)
    return own


def test_levels_without_noise_are_those_that_were_made() -> None:
    own = found(ring(-40, -60))
    assert (own.carrier_db, own.signal_db) == pytest.approx((-40, -60), abs=1e-3)
    assert (own.sum.level_db, own.difference.level_db) == pytest.approx((-20, -20), abs=1e-3)
    assert own.carrier.hz == pytest.approx(440, abs=0.01)


def test_an_oscillator_beside_its_mark_is_found() -> None:
    own = found(ring(-40, -60, hz=(443.7, 994.1)))
    assert (own.carrier.hz, own.signal.hz) == pytest.approx((443.7, 994.1), abs=0.01)
    assert (own.carrier_db, own.signal_db) == pytest.approx((-40, -60), abs=0.01)


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_the_stated_uncertainty_of_a_rejection_is_honest(rate: int) -> None:
    """Noise 20 to 80 dB down, twenty recordings each: 95 of 100 within 2·u, and 2·u no more than three times what is seen."""
    off, u = [], []
    for seed, snr_db in enumerate(n for n in (20, 40, 60, 80) for _ in range(20)):
        carrier_db, signal_db = -20.0 - seed % 20, -15.0 - 0.7 * (seed % 20)
        samples = with_noise(ring(carrier_db, signal_db, rate=rate, hz=(440 + 0.07 * seed, 1000)), snr_db, seed=seed + rate)
        own = found(samples, rate)
        for line, truth in ((own.carrier, carrier_db), (own.signal, signal_db)):
            off.append(line.level_db - own.product.level_db - truth)
            u.append(2 * own.u_db(line))
    assert np.mean(np.abs(off) <= np.array(u)) >= 0.95
    assert np.mean(u) <= 3 * 2 * math.sqrt(np.mean(np.square(off)))


def switched(hz: tuple[float, float], leaks_db: tuple[float, float], *, depth: float = 1.0, seed: int = 0) -> Floats:
    """Return the product of a square carrier, whose odd harmonics count by a depth, and a sine, and what leaks of both inputs."""
    (carrier_hz, signal_hz), (carrier_db, signal_db) = hz, leaks_db
    t, made = seconds(3), np.zeros(3 * RATE)
    for k in range(1, 60, 2):
        for sign in (1, -1):
            made_hz = k * carrier_hz + sign * signal_hz
            if abs(made_hz) < 0.47 * RATE:
                made -= sign * 0.1 / k * (depth if k > 1 else 1) * np.cos(2 * np.pi * made_hz * t + 0.3 * k)
    made += 0.1 * 10 ** (carrier_db / 20) * np.sin(2 * np.pi * carrier_hz * t + 1)
    made += 0.1 * 10 ** (signal_db / 20) * np.sin(2 * np.pi * signal_hz * t + 2)
    return with_noise(made, 80, seed=seed)


@pytest.mark.parametrize(
    ("hz", "told"),
    [
        ((400, 600), "falls on the"),
        ((220, 330), "falls on the"),
        ((500, 1500), "2·carrier falls on the difference, 1000 Hz"),
        ((200, 2300), "23·carrier − signal falls on the signal, 2300 Hz"),
        ((6000, 9000), "falls on the"),  # the twin of 3·carrier − signal lies beyond the band
    ],
)
def test_harmonics_that_fall_on_a_line_refuse_it_and_name_tones_that_are_free_of_them(
    hz: tuple[float, float], told: str
) -> None:
    own = rejection(switched(hz, (-40, -50)), RATE, carrier_hz=hz[0], signal_hz=hz[1])
    assert isinstance(own, NotHad)
    assert told in own.reason
    free = re.search(r"record it with ([\d.]+) Hz and ([\d.]+) Hz", own.reason)
    assert free is not None
    carrier, signal = float(free[1]), float(free[2])
    again = found(switched((carrier, signal), (-40, -50)), carrier_hz=carrier, signal_hz=signal)
    assert (again.carrier_db, again.signal_db) == pytest.approx((-40, -50), abs=0.1)


def test_tones_in_a_simple_ratio_are_read_where_no_harmonics_are_heard() -> None:
    own = found(switched((400, 600), (-40, -50), depth=0.0), carrier_hz=400, signal_hz=600)
    assert (own.carrier_db, own.signal_db) == pytest.approx((-40, -50), abs=0.05)


def test_a_rejection_is_right_or_refused_whatever_the_tones() -> None:
    """Tones and leaks by chance, harmonics strong, faint or none: 95 of 100 within U, none far off, half of them off by a tenth of U."""
    off, refused = [], 0
    for seed in range(60):
        random = np.random.default_rng(seed)
        hz, leaks = random.uniform(150, 2500, 2), random.uniform(-70, -15, 2)
        hz = np.round(hz, -2) if seed % 3 == 0 else hz
        samples = switched((hz[0], hz[1]), (leaks[0], leaks[1]), depth=(0.0, 0.03, 1.0)[seed % 3 - seed % 2], seed=seed)
        own = rejection(samples, RATE, carrier_hz=hz[0], signal_hz=hz[1])
        if isinstance(own, NotHad):
            refused += 1
            continue
        for line, truth in zip((own.carrier, own.signal), leaks, strict=True):
            if not line.hidden:
                off.append(abs(line.level_db - own.product.level_db - truth) / (2 * own.u_db(line)))
    assert np.mean(np.array(off) <= 1) >= 0.95
    assert max(off) < 3
    assert np.median(off) >= 0.1
    assert refused < 20


def test_what_the_noise_hides_is_told_as_the_most_it_could_be() -> None:
    own = found(with_noise(ring(-200, -200), 40))
    assert own.carrier.hidden
    assert -95 < own.carrier_db < -60


def test_what_cannot_be_told_has_a_reason() -> None:
    t = seconds(3)
    hz = {"carrier_hz": 440.0, "signal_hz": 1000.0}
    assert "too short" in str(rejection(ring(-40, -40)[:20_000], RATE, **hz))
    assert "no product" in str(rejection(np.sin(2 * np.pi * 440 * t), RATE, **hz))
    assert "must lie" in str(rejection(ring(-40, -40), RATE, carrier_hz=440, signal_hz=445))
    same = str(rejection(ring(-40, -40), RATE, carrier_hz=440, signal_hz=880))  # their difference is the carrier
    assert "must lie" in same
    assert "record it with 440 Hz and 924 Hz" in same
    assert "beyond what" in str(rejection(ring(-40, -40), RATE, carrier_hz=20_000, signal_hz=5000))
    assert isinstance(rejection(np.zeros(3 * RATE), RATE, **hz), NotHad)
