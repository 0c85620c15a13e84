"""Levels: decibels, and the volts that dBu, dBV, dBm and dBFS stand for."""

from __future__ import annotations

import math

from benchrecord.bench.reasons import NotHad

MILLIWATT = 0.001
DBU_OHM = 600.0
DBU_REFERENCE_V = math.sqrt(MILLIWATT * DBU_OHM)  # 0.7746 V: what a milliwatt brings across 600 Ω
DBV_REFERENCE_V = 1.0
ZERO_VU_DBU = 4.0  # IEC 60268-17: 0 VU of a sine (as encyclopaedias give it)
NO_LEVEL = "nothing has no level in decibels"


def ratio_db(amplitude: float, reference: float) -> float | NotHad:
    """Return the level of an amplitude against another of the same unit: 20·log10(|a/b|), in dB."""
    if not amplitude or not reference:
        return NotHad(NO_LEVEL)
    return 20 * (math.log10(abs(amplitude)) - math.log10(abs(reference)))


def amplitude_ratio(level_db: float) -> float:
    """Return the ratio of two amplitudes that lie so many dB apart: 10^(x/20)."""
    return float(10 ** (level_db / 20))


def power_sum_db(*levels_db: float) -> float:
    """Return the level of several powers together: 10·log10(Σ 10^(x/10)), in dB."""
    loudest = max(levels_db)
    return loudest + 10 * math.log10(sum(10 ** ((level - loudest) / 10) for level in levels_db))


def dbu(volts: float) -> float | NotHad:
    """Return the level of a voltage (V rms) against 0.7746 V, in dBu."""
    return ratio_db(volts, DBU_REFERENCE_V)


def volts_of_dbu(level_dbu: float) -> float:
    """Return the voltage of a level in dBu, V rms."""
    return DBU_REFERENCE_V * amplitude_ratio(level_dbu)


def dbv(volts: float) -> float | NotHad:
    """Return the level of a voltage (V rms) against 1 V, in dBV."""
    return ratio_db(volts, DBV_REFERENCE_V)


def volts_of_dbv(level_dbv: float) -> float:
    """Return the voltage of a level in dBV, V rms."""
    return DBV_REFERENCE_V * amplitude_ratio(level_dbv)


def volts_of_dbm(level_dbm: float, ohm: float) -> float:
    """Return the voltage that brings a level in dBm (against a milliwatt) into a load: √(P·R), V rms."""
    return math.sqrt(MILLIWATT * ohm) * amplitude_ratio(level_dbm)


def dbfs(rms: float) -> float | NotHad:
    """Return a level in dBFS, where a sine that just reaches full scale (1) is 0 (AES17, from memory)."""
    return ratio_db(rms, math.sqrt(0.5))


def amplitude_of(level: float, unit: str) -> float:
    """Return what a level stands for: volts of dBu and dBV, else its ratio to 0 dB.

    ``unit`` is dB, dBu, dBV or dBFS; what is no level at all is returned as it is.
    """
    if unit == "dBu":
        return volts_of_dbu(level)
    return amplitude_ratio(level) if unit in ("dB", "dBV", "dBFS") else level


def db_uncertainty(amplitude_u: float, amplitude_read: float) -> float:
    """Return the uncertainty of a level from that of its amplitude: (20/ln 10)·u/|a|, in dB (JCGM 100:2008, 5.1.3)."""
    return 20 / math.log(10) * amplitude_u / abs(amplitude_read)


def amplitude_uncertainty(level_u_db: float, amplitude_read: float) -> float:
    """Return the uncertainty of an amplitude from that of its level in dB: |a|·(ln 10/20)·u (JCGM 100:2008, 5.1.3)."""
    return abs(amplitude_read) * math.log(10) / 20 * level_u_db
