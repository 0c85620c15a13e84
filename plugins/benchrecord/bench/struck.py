"""A recording of something struck: how each strike dies away, and the loudest one in octave bands."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchrecord.bench.bands import OCTAVE, Band, bands, filtered
from benchrecord.bench.decay import Decay, DecayTime, decay_of
from benchrecord.bench.estimate import Estimate
from benchrecord.bench.fits import Floats
from benchrecord.bench.late_decay import Quiet, of_interest, quiet_of
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.strikes import Strike, evened_power_of, power_of, step_size, strikes

LOWEST_HZ, HIGHEST_HZ = 63.0, 8000.0
LEAD_S = 0.05  # before the first strike: enough to tell the noise from
NARROWEST = 4.0  # bandwidth times decay time (F. Jacobsen and J. H. Rindel, J. Sound Vib. 117 (1987) 187, from memory)
TOO_NARROW = "the band's own ringing hides so short a decay"


@dataclass(frozen=True, slots=True)
class Struck:
    """One strike and its decay; ``start_s`` is where the decay starts in the recording, ``stop_s`` where it is followed to."""

    start_s: float
    stop_s: float
    predelay_s: Estimate | NotHad
    loudest: float
    decay: Decay | NotHad


@dataclass(frozen=True, slots=True)
class Together:
    """What several strikes tell of one time: their mean, its standard uncertainty, how many tell it, and how they scatter."""

    seconds: float
    seconds_u: float
    count: int
    scatter: float


def together(times: Sequence[DecayTime | NotHad]) -> Together | NotHad:
    """Return the mean of the times of several strikes; where none has one, the first reason.

    Its uncertainty is the mean of their own, since every strike rings the same spring, and the standard deviation of the mean
    (JCGM 100:2008, 4.2.3) beside it.
    """
    known = [time for time in times if isinstance(time, DecayTime)]
    if not known:
        return next((time for time in times if isinstance(time, NotHad)), NotHad("nothing was struck"))
    scatter = statistics.stdev(t.seconds for t in known) if len(known) > 1 else 0.0
    own = statistics.fmean(t.seconds_u for t in known)
    mean = statistics.fmean(t.seconds for t in known)
    return Together(mean, math.hypot(own, scatter / math.sqrt(len(known))), len(known), scatter)


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
    quiet = quiet_of(lead, step_s) if len(lead) * step_s >= LEAD_S else None
    followed = [replace(one, stop=one.start + len(of_interest(power[one.start : one.stop]))) for one in found]
    return tuple(_one(samples, rate, strike, quiet) for strike in followed)


def _one(samples: Floats, rate: float, strike: Strike, quiet: Quiet | None) -> Struck:
    start_s, stop_s = (step * step_size(rate) / rate for step in (strike.start, strike.stop))
    own = samples[strike.start * step_size(rate) : strike.stop * step_size(rate)]
    decay = decay_of(*evened_power_of(own, rate), quiet=quiet)
    return Struck(start_s, stop_s, strike.predelay_s, strike.loudest, decay)


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
        (band, _slow_enough(decay_of(*evened_power_of(own[::-1], own_rate), bandwidth_hz=band.width_hz), band))
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
