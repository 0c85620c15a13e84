"""Noise: how its density goes from octave to octave, and what noise theory says of resistors and filters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # loads its parts when they are first used
from numpy.typing import NDArray

from benchrecord.bench.bands import Band, bands
from benchrecord.bench.estimate import TINY
from benchrecord.bench.fits import Floats
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.spectra import frames_in, transforms

LOWEST_HZ, HIGHEST_HZ = 125.0, 8000.0  # mid-bands of the octaves that a slope is read from
FINENESS = 16.0  # bins across the lowest octave, at least
LEAST_BANDS, LEAST_FRAMES = 3, 16
FRAMES, LONGEST_FRAME_S = 12.0, 1.0  # that a recording is as long as; longer ones tell lines no better
WELCH = 1.12  # half-overlapping Hann windows leave a little of what a time could tell (seen in trials of noise of five colours)
OVERLAPPED = 0.947  # of such frames count (Welch, IEEE Trans. AU-15 (1967) 70, from memory)
AROUND, LOBE = 15, 2  # bins to either side that tell the noise about one; and that a line fills
CLEAR = 0.2  # of an octave, at least, that no line fills
CHANCE = 1e-7  # that noise alone stands out so far
SPREAD = 1.1  # what the median of few bins may lie beside the noise
SKIRT = 6  # power of the distance in bins with which the skirt of a line falls
READ_BINS = 0.3  # to which the frequency of a line is read: that of one near to another
STEADY = 0.5  # relative variance of the power of a line, over that of noise
LINES_SHARE = 0.3  # of the power, of lines that are no hum: a sound with more is no noise
# Spectral kurtosis: 0 of steady noise, −1 of steady tones, more than 0 of what comes and goes. One octave, two, or half of them all tell.
ONE_TONAL, TWO_TONAL, COMES_AND_GOES = -0.45, -0.3, 0.5
MOST_LINES = 100
NAMED_LINES, MULTIPLES, SURELY = 4, 12, 4.0  # of the mains that are looked at; standard deviations above the noise
NOTES = 0.5  # of the power in lines
MOVES = 1.6  # times as unsteady as bins on their own would be: noise is 1.4 times, as windows blur bins into each other
MAINS_HZ, MAINS_OFF = (50.0, 60.0), 0.002  # of their frequency
SILENT_OCTAVE = "there is silence in one of its octaves"
PER_OCTAVE_DB = 10 * math.log10(2)
BOLTZMANN = 1.380649e-23  # J/K, exact (SI Brochure, 9th edition)


@dataclass(frozen=True, slots=True)
class NoiseBand:
    """The density in one octave: level in dB of full scale² per hertz (a sine of full scale has −3 dB in all), standard uncertainty."""

    hz: float
    level_db: float
    u_db: float


@dataclass(frozen=True, slots=True)
class NoiseColour:
    """How the density level goes: its slope in dB per octave with the standard uncertainty, and the octaves it was read from.

    ``lines_hz`` are steady lines that were taken out of the octaves, the strongest first, ``lines_share`` is what they have of the power
    of the octaves.
    """

    slope_db: float
    slope_u_db: float
    bands: tuple[NoiseBand, ...]
    lines_hz: tuple[float, ...] = ()
    lines_share: float = 0.0

    def line(self) -> tuple[float, ...]:
        """Return the fitted level at each octave, in dB."""
        octaves = np.log2([band.hz for band in self.bands])
        mean = float(np.mean([band.level_db for band in self.bands]))
        return tuple((mean + self.slope_db * (octaves - octaves.mean())).tolist())


@dataclass(frozen=True, slots=True)
class _Spectrogram:
    """Power density of each frame and bin, (frames, bins); the width of a bin in Hz, and how long all is in s.

    ``clear`` says which bins hold no steady line, ``excess`` is the mean power of each over that of the noise about it.
    """

    density: Floats
    step_hz: float
    seconds: float
    clear: NDArray[np.bool_]
    excess: Floats

    @property
    def out(self) -> NDArray[np.bool_]:
        """Which bins stand out of the noise about them."""
        return np.asarray(self.excess > _apart(len(self.density)))

    @property
    def hz(self) -> Floats:
        return np.asarray(np.arange(self.density.shape[1]) * self.step_hz, float)

    @property
    def averages(self) -> float:
        """How many frames apart they are worth."""
        return max(1.0, OVERLAPPED * len(self.density))

    @property
    def noise(self) -> Floats:
        """The mean density of each bin, (bins,); of one that holds a line, that of the clear ones beside it."""
        mean = self.density.mean(axis=0)
        if self.clear.all() or not self.clear.any():
            return np.asarray(mean)
        beside = scipy.ndimage.uniform_filter1d(mean[self.clear], LOBE * 2 + 1, mode="nearest")
        return np.asarray(np.where(self.clear, mean, np.interp(self.hz, self.hz[self.clear], beside)), float)

    def shares(self, band: Band, *, clear: bool = True) -> Floats:
        """Return the part of each bin that lies in a band, (bins,), with or without those that hold a line."""
        low, high = self.hz - self.step_hz / 2, self.hz + self.step_hz / 2
        inside = (np.minimum(high, band.high_hz) - np.maximum(low, band.low_hz)) / self.step_hz
        return np.where(self.clear | (not clear), np.clip(inside, 0.0, 1.0), 0.0)


def colour(samples: Floats, rate: float) -> NoiseColour | NotHad:
    """Return how the density of a noise goes over the octaves from 125 Hz to 8 kHz: white 0, pink −3.01 dB per octave.

    Averaged spectra (Welch, IEEE Trans. AU-15, 1967) give the mean density in each octave, without steady lines
    such as those of hum; the slope is the least-squares line of its level on log2 of the frequency. A density averaged over a bandwidth
    B and a time T scatters by 1/√(B·T) (Bendat and Piersol, from memory), which is 4.34/√(B·T) dB; the slope's uncertainty is propagated
    from the octaves', or is how the slopes of single frames scatter where that is more.

    The power of noise in a bin varies from frame to frame by its own mean, tones are steadier, and what is struck or played comes and
    goes: the spectral kurtosis ⟨P²⟩/⟨P⟩² − 2 (J. Antoni, Mech. Syst. Signal Process. 20 (2006) 282, from memory) tells what is no noise.

    Parameters
    ----------
    samples : (n,) where full scale is 1
    rate : Hz

    """
    wanted = [b for b in bands(1, LOWEST_HZ, HIGHEST_HZ) if b.high_hz < rate / 2]
    if len(wanted) < LEAST_BANDS:
        return NotHad(f"a rate of {rate:g} Hz has no room for {LEAST_BANDS} octaves from {LOWEST_HZ:g} Hz up")
    least = math.ceil(FINENESS * rate / wanted[0].width_hz)
    size = scipy.fft.next_fast_len(max(least, min(round(LONGEST_FRAME_S * rate), int(len(samples) / FRAMES))), real=True)
    needed = size * (1 + (LEAST_FRAMES - 1) / 2)
    if len(samples) < needed:
        return NotHad(f"too short: {len(samples) / rate:.2f} s, and {needed / rate:.1f} s are needed")
    whole = _spectrogram(samples, rate, size, wanted[-1].high_hz)
    lines, power = ~whole.clear, whole.density.mean(axis=0)
    inside = whole.hz >= wanted[0].low_hz
    if not float(power[inside].sum()):
        return NotHad(SILENT_OCTAVE)
    found = _lines(whole, wanted[0].low_hz)
    wrong = _no_noise(whole, wanted, found, float(power[inside].sum()))
    if wrong is not None:
        return wrong
    read = [_band(whole, band) for band in wanted]
    known = tuple(band for band in read if band)
    if len(known) < len(wanted):
        return NotHad(
            "lines fill one of its octaves: a longer recording would tell them apart" if lines.any() else SILENT_OCTAVE
        )
    share = max(0.0, float((power - whole.noise)[lines & inside].sum() / power[inside].sum()))
    return _slope(known, _slopes(whole, wanted), tuple(found), share)


def _spectrogram(samples: Floats, rate: float, size: int, top_hz: float) -> _Spectrogram:
    window = np.asarray(scipy.signal.get_window("hann", size), float)
    bins = min(size // 2 + 1, math.ceil(top_hz * size / rate) + AROUND)
    frames = frames_in(len(samples), size, 2)
    parts = [np.abs(some[:, :bins]) ** 2 for some in transforms(samples, frames, window)]
    density = 2 * np.concatenate(parts) / (rate * float(window @ window))
    excess = density.mean(axis=0) / np.maximum(_about(density.mean(axis=0)), TINY)
    held = _holds_line(density, excess) | _holds_hum(excess, len(density), rate / size)
    return _Spectrogram(density, rate / size, len(samples) / rate, ~held, excess)


def _about(power: Floats) -> Floats:
    """Return the noise about each bin: the median of some to either side."""
    return np.asarray(scipy.ndimage.median_filter(power, 2 * AROUND + 1, mode="nearest"), float)


def _apart(frames: int) -> float:
    """Return by what factor the mean power of a bin surely stands out of the noise: that of so many frames follows χ²."""
    freedom = 2 * OVERLAPPED * frames
    return SPREAD * float(scipy.stats.chi2.isf(CHANCE, freedom)) / freedom


def _holds_line(density: Floats, excess: Floats) -> NDArray[np.bool_]:
    """Say which bins hold a steady line, (bins,): they stand out of the noise about them and vary less than noise does.

    Beside a line that stands out by a factor R the side lobes of a Hann window fall as the sixth power of the distance: ⁶√(4·R) bins away
    they are a twentieth of the noise.
    """
    label, count = scipy.ndimage.label(excess > _apart(len(density)))
    if not count:
        return np.zeros(len(excess), bool)
    power, varies = density.mean(axis=0), density.var(axis=0, ddof=1)
    square, variance = (np.bincount(label, weights)[1:] for weights in (power**2, varies))
    held = np.zeros(len(excess), bool)
    for n in np.flatnonzero(variance < STEADY * square) + 1:
        first, last = np.flatnonzero(label == n)[[0, -1]]
        reach = max(LOBE, math.ceil((4 * float(excess[first : last + 1].max())) ** (1 / 6)))
        held[max(0, first - reach) : last + reach + 1] = True
    return held


def _holds_hum(excess: Floats, frames: int, step_hz: float) -> NDArray[np.bool_]:
    """Say which bins hold a multiple of the mains, (bins,), where several together stand out of the noise, if none alone."""
    held = np.zeros(len(excess), bool)
    for mains in MAINS_HZ:
        places = np.rint(mains * np.arange(1, MULTIPLES + 1) / step_hz).astype(int)
        own = np.minimum(excess[places[places < len(excess)]], _apart(frames))  # one strong line alone is no hum
        if len(own) and float(own.mean()) > 1 + SURELY / math.sqrt(OVERLAPPED * frames * len(own)):
            held[places[places < len(excess)]] = True
    return np.asarray(scipy.ndimage.binary_dilation(held, iterations=LOBE))


def _lines(whole: _Spectrogram, lowest_hz: float) -> dict[float, float]:
    """Return the power of each line by its frequency, the strongest first, from a frequency on.

    A line is the top of what is held where it stands out of the noise itself: neither noise at a multiple of the mains nor the skirt of
    a stronger line, which a Hann window lets fall as the sixth power of the distance.
    """
    power, excess = whole.density.mean(axis=0), whole.excess
    inner = slice(1, -1)
    top = np.zeros(len(power), bool)
    top[inner] = (power[inner] >= power[:-2]) & (power[inner] > power[2:]) & ~whole.clear[inner] & whole.out[inner]
    found: list[int] = []
    for at in sorted(np.flatnonzero(top & (whole.hz >= lowest_hz)).tolist(), key=lambda n: -power[n]):
        skirt = sum(excess[n] / max(abs(n - at), 1) ** SKIRT for n in found)
        if excess[at] > _apart(len(whole.density)) + skirt and len(found) < MOST_LINES:
            found.append(at)
    return {_top_hz(whole, power, at): float(power[max(0, at - 2 * LOBE) : at + 2 * LOBE + 1].sum()) for at in found}


def _top_hz(whole: _Spectrogram, power: Floats, at: int) -> float:
    """Return where the top of a line lies between bins: of the parabola through the logarithms of three."""
    below, top, above = np.log(np.maximum(power[at - 1 : at + 2], TINY))
    bend = 2 * top - below - above
    return float((at + 0.5 * (above - below) / bend if bend > 0 else at) * whole.step_hz)


def _is_hum(hz: float, step_hz: float) -> bool:
    """Say whether a line lies at a multiple of the mains, as far as its bins tell."""
    return any(abs(hz - max(1, round(hz / mains)) * mains) < MAINS_OFF * hz + READ_BINS * step_hz for mains in MAINS_HZ)


def _no_noise(whole: _Spectrogram, wanted: Sequence[Band], lines: Mapping[float, float], power: float) -> NotHad | None:
    """Say why a sound is no steady noise; None where it may be."""
    own = {hz: p for hz, p in lines.items() if not _is_hum(hz, whole.step_hz)}
    if sum(own.values()) > LINES_SHARE * power:
        return NotHad(
            f"it is no noise: lines at {_named(list(own))} Hz have {100 * min(1.0, sum(own.values()) / power):.0f} % of its power"
        )
    kurtosis = sorted(_kurtosis(whole, band) for band in wanted)
    half = kurtosis[len(kurtosis) // 2]
    if half > COMES_AND_GOES:
        return NotHad(f"it is no steady noise but comes and goes: its spectral kurtosis is {half:.1f}, that of steady noise 0")
    if kurtosis[0] < ONE_TONAL or kurtosis[1] < TWO_TONAL:
        if not own and not whole.clear.all():
            return NotHad("hum hides the noise in one of its octaves")
        return NotHad(f"it is no noise but tones: its spectral kurtosis is −{-kurtosis[0]:.1f}, that of noise 0")
    if np.median([_notes(whole, band) for band in wanted]) > NOTES:
        return NotHad("it is no steady noise but notes: most of its power is in lines that come and go")
    return None


def _notes(whole: _Spectrogram, band: Band) -> float:
    """Return the share of a band's power in lines, or none where its level is as steady as that of noise."""
    share, power = whole.shares(band), whole.density.mean(axis=0)
    each = whole.density @ share
    by_chance = math.sqrt(float(share @ power**2)) / max(float(share @ power), TINY)
    steady = float(each.std(ddof=1)) < MOVES * by_chance * float(each.mean())
    return 0.0 if steady else float((share * whole.out) @ power) / max(float(share @ power), TINY)


def _named(hz: Sequence[float]) -> str:
    """Name the strongest lines, by their frequency."""
    words = [f"{each:.0f}" for each in sorted(hz[:NAMED_LINES])]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _kurtosis(whole: _Spectrogram, band: Band) -> float:
    """Return the spectral kurtosis of a band, its bins weighted as they are strong."""
    share, power = whole.shares(band), whole.density.mean(axis=0)
    weights = share * power**2
    return float(share @ whole.density.var(axis=0, ddof=1)) / max(float(weights.sum()), TINY) - 1


def _band(whole: _Spectrogram, band: Band) -> NoiseBand | None:
    """Return the mean density in a band; where a line hides the noise, that beside it stands in, so that no part of a slope is left out."""
    share, every, density = whole.shares(band), whole.shares(band, clear=False), whole.noise
    if float(share.sum()) < CLEAR * float(every.sum()) or not float(share @ density):
        return None
    mean = float(every @ density) / float(every.sum())
    # in a steep noise the strong bins outweigh the others, so that fewer of them count than there are
    counts = float((share @ density) ** 2 / (share @ density**2)) * whole.step_hz
    each = whole.density @ share
    seen = float(each.std(ddof=1) / each.mean()) / math.sqrt(whole.averages)
    return NoiseBand(
        band.middle_hz, 10 * math.log10(mean), 10 / math.log(10) * max(WELCH / math.sqrt(counts * whole.seconds), seen)
    )


def _weights(hz: Sequence[float]) -> Floats:
    """Return what makes a slope per octave of the levels at some frequencies."""
    octaves = np.log2(hz)
    octaves = octaves - octaves.mean()
    return np.asarray(octaves / float(octaves @ octaves))


def _slopes(whole: _Spectrogram, wanted: Sequence[Band]) -> float:
    """Return what the slopes of single frames make the standard uncertainty of their mean: what all octaves share does not count."""
    levels = np.array([10 * np.log10(np.maximum(whole.density @ whole.shares(band), TINY)) for band in wanted])
    return float(np.std(_weights([b.middle_hz for b in wanted]) @ levels, ddof=1)) / math.sqrt(whole.averages)


def _slope(read: tuple[NoiseBand, ...], seen_u: float, lines_hz: tuple[float, ...], share: float) -> NoiseColour:
    weights = _weights([b.hz for b in read])
    levels, u = np.array([b.level_db for b in read]), np.array([b.u_db for b in read])
    propagated = math.sqrt(float(np.sum((weights * u) ** 2)))
    return NoiseColour(float(weights @ levels), max(propagated, seen_u), read, lines_hz, share)


def density_slope_db(exponent: float) -> float:
    """Return the slope per octave of a density that goes with frequency to a power: 10·log10(2^e)."""
    return exponent * PER_OCTAVE_DB


def johnson_noise_v(ohms: float, kelvin: float, bandwidth_hz: float) -> float:
    """Return the noise voltage of a resistor, rms: √(4·k·T·R·B) (Johnson and Nyquist, Phys. Rev. 32, 1928)."""
    return math.sqrt(4 * BOLTZMANN * kelvin * ohms * bandwidth_hz)


def capacitor_noise_v(farads: float, kelvin: float) -> float:
    """Return the noise voltage that a switch leaves on a capacitor, rms: √(k·T/C)."""
    return math.sqrt(BOLTZMANN * kelvin / farads)


def butterworth_noise_bandwidth(order: int) -> float:
    """Return the noise bandwidth of a low-pass of n poles after Butterworth over its cut-off: (π/2n)/sin(π/2n)."""
    return math.pi / (2 * order) / math.sin(math.pi / (2 * order))


def equal_poles_noise_bandwidth(poles: int) -> float:
    """Return the noise bandwidth of equal buffered poles over their frequency: ∫ dx/(1 + x²)^n = √π·Γ(n − ½)/(2·Γ(n))."""
    return math.sqrt(math.pi) * math.gamma(poles - 0.5) / (2 * math.gamma(poles))
