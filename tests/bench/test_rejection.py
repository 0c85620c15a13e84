"""What is left of carrier and signal beside their product: recordings made with known truth."""

from __future__ import annotations

import math

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
    assert "must lie" in str(rejection(ring(-40, -40), RATE, carrier_hz=440, signal_hz=880))  # their difference is the carrier
    assert "beyond what" in str(rejection(ring(-40, -40), RATE, carrier_hz=20_000, signal_hz=5000))
    assert isinstance(rejection(np.zeros(3 * RATE), RATE, **hz), NotHad)
