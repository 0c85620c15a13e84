"""How a decay ends: the slope with which it runs into the noise, and the noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used

from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad

BLOCKS = 200  # the whole decay is looked at in so many pieces
LATE_DB = 20.0  # above the end of the recording: from there on the slope counts
END_SHARE = 10  # a tenth of the recording is long enough to tell what it ends with
LEAST_BLOCKS = 6
ROUNDS, TRIALS, SETTLED, FARTHEST_STEP = 20, 8, 1e-5, 3.0
REACHED = 0.25  # of the noise: what the decay may still be at the end, if the noise is to be told from it
TOLD_APART = 3.0  # standard uncertainties of the noise: a decay below them is not followed
FAINTEST = 0.05  # of the noise: no decay is followed farther down
SILENT_STEPS = 11
STANDS_OUT, MUCH_LONGER = 4.0, 3
LEAST_FALL = 0.5  # of the logarithm of the decay's power, over the part that is fitted
TOO_SOON = "the recording ends too soon after the strike"
MOST = 300.0  # a logarithm that has a power
NOTHING = 1e-300  # a power that has a logarithm


@dataclass(frozen=True, slots=True)
class Quiet:
    """Noise by itself: its mean power, the relative variance of that times the time it is averaged over, and how long it was heard, s."""

    power: float
    fluctuation_s: float
    seconds: float

    @property
    def relative_u(self) -> float:
        """The standard uncertainty of its power, as a share of it."""
        return math.sqrt(self.fluctuation_s / self.seconds)


@dataclass(frozen=True, slots=True)
class Ending:
    """A decay's end: its power is A·exp(−k·t) + N, with t from the start of the decay.

    ``noise`` is N, zero where the recording ends before it; ``last`` is the power of the decay alone at the end. ``cut_s`` is where
    the decay is left, and ``beyond`` the energy that lies beyond. ``noise_fluctuation_s`` is the relative variance of the noise's
    power times the time that it is averaged over. Uncertainties are standard ones of the value before.
    """

    noise: float
    noise_u: float
    noise_fluctuation_s: float
    last: float
    cut_s: float
    beyond: float
    beyond_u: float


@dataclass(frozen=True, slots=True)
class _Fit:
    """A·exp(−k·t) + N, with t from the first block, and the covariance of ln A, k and ln N."""

    log_amplitude: float
    rate: float
    noise: float
    variance: float  # relative, of a block's power about the fit
    covariance: Floats

    def at(self, seconds: float) -> float:
        """Return the power of the decay alone, so long after the first block."""
        return math.exp(min(self.log_amplitude - self.rate * seconds, MOST))


def ending_of(power: Floats, step_s: float, *, quiet: Quiet | None = None) -> Ending | NotHad:
    """Fit the end of a decay, which is what lies less than 20 dB above the last tenth of the recording.

    Where the recording goes on long after the decay is lost, the noise is the mean of the farther half of what follows, which owes
    nothing to how the decay bends. The decay is followed down to three standard uncertainties of the noise, a twentieth of it at
    the least.

    Parameters
    ----------
    power : (n,) mean power of each step, from the start of the decay
    step_s : length of a step
    quiet : the noise as it is heard elsewhere, used if the recording ends before it

    """
    if len(power) < LEAST_BLOCKS:
        return NotHad(TOO_SOON)
    size = max(1, len(power) // BLOCKS)
    blocks = power[: len(power) // size * size].reshape(-1, size).mean(axis=1)
    late = _late(blocks)
    if len(blocks) - late < LEAST_BLOCKS:
        return NotHad(TOO_SOON)
    time_s, late_power = np.arange(len(blocks) - late, dtype=np.float64) * (size * step_s), blocks[late:]
    late_s, seconds = (late + 0.5) * size * step_s, len(power) * step_s
    fit, known = _fit(time_s, late_power, None), None
    if fit.at(seconds - late_s) > REACHED * fit.noise:
        known = quiet if quiet and quiet.power < late_power.min() else None
        fit = _fit(time_s, late_power, known.power if known and known.power > NOTHING else NOTHING)
    if fit.rate * time_s[-1] < LEAST_FALL:
        return NotHad("the level does not fall")
    found = _ending(fit, late_s, seconds, size * step_s, quiet=known)
    alone = power[(math.ceil(found.cut_s / step_s) + len(power)) // 2 :]
    if not found.noise or len(alone) * END_SHARE < len(power):
        return found
    known = Quiet(float(alone.mean()), found.noise_fluctuation_s, len(alone) * step_s)
    again = _fit(time_s, late_power, known.power)
    return _ending(again, late_s, seconds, size * step_s, quiet=known) if again.rate * time_s[-1] > LEAST_FALL else found


def quiet_of(power: Floats, step_s: float) -> Quiet:
    """Return the noise that (n,) steps hold, n ≥ 2."""
    mean = float(power.mean())
    return Quiet(mean, float(power.var(ddof=1)) / max(mean**2, NOTHING) * step_s, len(power) * step_s)


def of_interest(power: Floats) -> Floats:
    """Return a decay without most of the noise that follows it: three times as long as it stands out of its end, no more."""
    size = max(1, len(power) // BLOCKS)
    blocks = power[: len(power) // size * size].reshape(-1, size).mean(axis=1)
    end = blocks[-max(1, len(blocks) // END_SHARE) :].mean() if len(blocks) else 0.0
    above = np.flatnonzero(blocks > STANDS_OUT * end)
    return power[: MUCH_LONGER * (int(above[-1]) + 1) * size] if len(above) else power


def until_silent(power: Floats) -> Floats:
    """Return the power up to where a recording has no more sound at all, not even noise: it ends there."""
    silent = np.flatnonzero(scipy.ndimage.maximum_filter1d(power, SILENT_STEPS, origin=-(SILENT_STEPS // 2)) <= 0)
    return power[: int(silent[0])] if len(silent) else power


def _late(blocks: Floats) -> int:
    """Return the first block of the end: as many lie before it as are louder, which a loud one or a faint one hardly moves."""
    end = blocks[-max(1, len(blocks) // END_SHARE) :].mean()
    return int(np.count_nonzero(blocks > end * 10 ** (LATE_DB / 10)))


def _ending(fit: _Fit, late_s: float, seconds: float, block_s: float, *, quiet: Quiet | None) -> Ending:
    """Cut the decay where it can no longer be told from the noise, or where the recording ends."""
    relative = quiet.relative_u if quiet else math.sqrt(fit.covariance[2, 2])
    share = min(1.0, max(TOLD_APART * relative, FAINTEST))
    lost_s = late_s + (fit.log_amplitude - math.log(share * fit.noise)) / fit.rate
    cut_s = max(0.0, min(seconds, lost_s))
    beyond = fit.at(cut_s - late_s) / fit.rate
    to_beyond = np.array([1.0, -(cut_s - late_s) - 1 / fit.rate, 0.0])
    noise = fit.noise if fit.noise > NOTHING else 0.0
    return Ending(
        noise=noise,
        noise_u=relative * noise,
        noise_fluctuation_s=quiet.fluctuation_s if quiet else fit.variance * block_s,
        last=fit.at(seconds - late_s),
        cut_s=cut_s,
        beyond=beyond,
        beyond_u=beyond * math.sqrt(max(0.0, float(to_beyond @ fit.covariance @ to_beyond))),
    )


def _fit(time_s: Floats, power: Floats, noise: float | None) -> _Fit:
    """Fit by the likelihood of power that fluctuates in proportion to itself (gamma); the noise too unless it is given.

    Fisher's scoring with Levenberg's and Marquardt's damping (P. McCullagh and J. A. Nelder, Generalized Linear Models, 2.5 and 8.3,
    from memory). Unlike a fit of logarithms it is not misled by the gaps between echoes.
    """
    p, free, damping = _first_guess(time_s, power, noise), 3 if noise is None else 2, 1e-3
    misfit = _misfit(p, time_s, power)
    for _ in range(ROUNDS):
        before = misfit
        p, misfit, damping = _better(p, time_s, power, free=free, misfit=misfit, damping=damping)
        if before - misfit <= SETTLED * before:
            break
    derivatives, off = _linear(p, time_s, power)
    jacobian, variance = derivatives[:, :free], float(off @ off) / max(1, len(time_s) - free)
    covariance = np.zeros((3, 3))
    covariance[:free, :free] = variance * np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12)
    return _Fit(float(p[0]), float(p[1]), math.exp(min(p[2], MOST)) if noise is None else noise, variance, covariance)


def _better(
    p: Floats, time_s: Floats, power: Floats, *, free: int, misfit: float, damping: float
) -> tuple[Floats, float, float]:
    """Take one step from parameters that leave a misfit; return those after it, what they leave, and the damping for the next."""
    jacobian, off = _linear(p, time_s, power)
    normal, pull = (jacobian.T @ jacobian)[:free, :free], (jacobian.T @ off)[:free]
    for _ in range(TRIALS):
        tried = p.copy()
        step = np.linalg.solve(normal + np.diag(damping * (normal.diagonal() + 1e-12)), pull)
        tried[:free] += np.clip(step, -FARTHEST_STEP, FARTHEST_STEP)
        left = _misfit(tried, time_s, power)
        if left <= misfit:
            return tried, left, max(damping / 8, 1e-9)
        damping *= 8
    return p, misfit, damping


def _first_guess(time_s: Floats, power: Floats, noise: float | None) -> Floats:
    floor = float(np.mean(power[-max(1, len(power) // END_SHARE) :]))
    louder = int(np.count_nonzero(power > 2 * floor))  # as many as lie before the knee, whatever gaps are between echoes
    knee = min(max(1, louder), len(power) - 1)
    first, end = math.log(max(power[0], floor)), math.log(floor)
    rate = max(first - end, 0.1) / time_s[knee]
    return np.array([first, rate, end - 1 if noise is None else math.log(noise)])


def _linear(p: Floats, time_s: Floats, power: Floats) -> tuple[Floats, Floats]:
    """Return the derivatives of the logarithm to ln A, k and ln N, (n, 3), and how far the power is off, relative to the fit, (n,)."""
    decay, noise = np.exp(p[0] - p[1] * time_s), math.exp(p[2])
    share = decay / (decay + noise)
    return np.stack([share, -time_s * share, 1 - share], axis=1), power / (decay + noise) - 1


def _misfit(p: Floats, time_s: Floats, power: Floats) -> float:
    """Return half the deviance: Σ (e/m − 1 − ln(e/m))."""
    with np.errstate(over="ignore"):
        ratio = power / np.exp(np.logaddexp(p[0] - p[1] * time_s, p[2]))
    total = float(np.sum(ratio - 1 - np.log(np.maximum(ratio, NOTHING))))
    return total if math.isfinite(total) else math.inf
