"""A recording of something struck: how each strike dies away, and the loudest one in octave bands."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.bands import OCTAVE, Band, bands, filtered
from benchrecord.bench.decay import Decay, DecayTime, decay_of
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.strikes import Strike, power_of, strikes

LOWEST_HZ, HIGHEST_HZ = 63.0, 8000.0
LEAD_S = 0.05  # before the first strike: enough to tell the noise from
NARROWEST = 4.0  # bandwidth times decay time (F. Jacobsen and J. H. Rindel, J. Sound Vib. 117 (1987) 187, from memory)
TOO_NARROW = "the band's own ringing hides so short a decay"


@dataclass(frozen=True, slots=True)
class Struck:
    """One strike and its decay; ``start_s`` is where the decay starts in the recording, ``stop_s`` where it is followed to."""

    start_s: float
    stop_s: float
    predelay_s: float | NotHad
    loudest: float
    decay: Decay | NotHad


def struck(samples: Floats, rate: float) -> tuple[Struck, ...]:
    """Return the decay of every strike in a recording, in their order.

    Parameters
    ----------
    samples : (n,) one channel
    rate : frames a second

    """
    power, step_s = power_of(samples, rate)
    found = strikes(power, step_s)
    lead = power[: max(0, found[0].start - round(LEAD_S / step_s))] if found else power[:0]
    noise = float(lead.mean()) if len(lead) * step_s >= LEAD_S else None
    return tuple(_one(power, step_s, strike, noise) for strike in found)


def _one(power: Floats, step_s: float, strike: Strike, noise: float | None) -> Struck:
    decay = decay_of(power[strike.start : strike.stop], step_s, noise=noise)
    return Struck(strike.start * step_s, strike.stop * step_s, strike.predelay_s, strike.loudest, decay)


def in_octaves(samples: Floats, rate: float) -> tuple[tuple[Band, Decay | NotHad], ...]:
    """Return the decay in each octave band from 63 Hz to 8 kHz that the rate reaches, from the lowest.

    The bands are filtered backwards in time, so that a filter rings before the decay and not into it; a decay time that the ringing
    still hides is left out (F. Jacobsen and J. H. Rindel, J. Sound Vib. 117 (1987) 187, from memory).

    Parameters
    ----------
    samples : (n,) one channel, from the start of the decay to where it is followed to
    rate : frames a second

    """
    found = [
        (band, _slow_enough(decay_of(*power_of(own[::-1], own_rate), bandwidth_hz=band.width_hz), band))
        for band, own, own_rate in filtered(np.ascontiguousarray(samples[::-1]), rate, bands(OCTAVE, LOWEST_HZ, HIGHEST_HZ))
    ]
    return tuple(reversed(found))


def _slow_enough(decay: Decay | NotHad, band: Band) -> Decay | NotHad:
    """Leave out the times that a band is too narrow for."""
    if isinstance(decay, NotHad):
        return decay
    edt, t20, t30 = (
        NotHad(TOO_NARROW) if isinstance(time, DecayTime) and time.seconds * band.width_hz < NARROWEST else time
        for time in (decay.edt, decay.t20, decay.t30)
    )
    if isinstance(t20, NotHad) or isinstance(t30, NotHad):
        return replace(decay, edt=edt, t20=t20, t30=t30, curvature_percent=NotHad("it needs T20 and T30"), curvature_u=0.0)
    return replace(decay, edt=edt, t20=t20, t30=t30)
