"""Which channel of a recording a check is about: the one that holds what is looked for, and why it was chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.channels import Score, alike, any_tone, channel_samples, level, level_swing, tone_near
from benchrecord.bench.fits import Floats
from benchrecord.bench.fundamental import rough_hz
from benchrecord.bench.pitch import cents
from benchrecord.bench.reasons import NotHad
from benchrecord.bench.recording_faults import silence
from benchrecord.bench.sound import Sound
from benchrecord.model.findings import ALL_RESULTS, ResultWarning

LISTENED_S = 10.0  # of each channel, unless a target asks for more
MOST_SAMPLES = 6_000_000  # of all channels that are compared: a minute of stereo at 48 kHz
FAINT = 10 ** (-60 / 20)  # of the loudest channel: what is fainter is crosstalk
SAME = 0.98  # of correlation: two channels of one sound
NEARLY, LEAST = (
    0.5,
    0.02,
)  # of the best score: as good a channel; no channel holds the target where none has more than the other
SAME_CENTS = 1.0
STEREO = 2
SAME_BOTH, SAME_ALL = "the louder; both", "the loudest; all"


@dataclass(frozen=True, slots=True)
class Target:
    """What a check looks for in a recording.

    Attributes
    ----------
    words : ``a tone near 440 Hz``
    score : how much of it a channel holds; None where any sound will do
    listened_s : how much of each channel is scored
    pitched : its pitch is what counts, so that two channels of different pitch cannot both be right

    """

    words: str
    score: Score | None = None
    listened_s: float = LISTENED_S
    pitched: bool = False


ANY_SOUND = Target("sound")
RISE_AND_FALL = Target("a level that rises and falls", level_swing, 60.0)


def tone_target(nominal_hz: float | None = None) -> Target:
    """Return the target of a tone: near a frequency where one is given, else any that is no mains hum."""
    if nominal_hz:
        return Target(f"a tone near {nominal_hz:g} Hz", tone_near(float(nominal_hz)), pitched=True)
    return Target("a tone other than mains hum", any_tone, pitched=True)


@dataclass(frozen=True, slots=True)
class Choice:
    """A channel, counted from 0, why it was chosen, and what is doubtful about that."""

    channel: int
    why: str = ""
    warnings: tuple[ResultWarning, ...] = ()


def choose_channel(sound: Sound, start: int, stop: int, *, target: Target) -> Choice:
    """Choose the channel of a stretch that holds the target: of several that hold it about as well, the loudest.

    Raises
    ------
    DamagedError
        Where the recording cannot be read on before its end.

    """
    if sound.channels == 1:
        return Choice(0)
    count = min(round(target.listened_s * sound.rate), MOST_SAMPLES // sound.channels)
    held = channel_samples(sound, start, min(stop, start + count))
    levels = [level(samples) for samples in held]
    loudest = levels.index(max(levels))
    sounding = [n for n, one in enumerate(held) if silence(one) is None and levels[n] > FAINT * levels[loudest]]
    if len(sounding) < STEREO:
        return Choice(loudest, "the other is silent" if sound.channels == STEREO else "the others are silent")
    if all(alike(held[n], held[loudest]) > SAME for n in sounding):
        return Choice(loudest, f"{SAME_BOTH if sound.channels == STEREO else SAME_ALL} hold the same sound")
    return _by_target(held, levels, sounding, rate=sound.rate, target=target)


def _by_target(
    held: Sequence[Floats], levels: Sequence[float], sounding: Sequence[int], *, rate: float, target: Target
) -> Choice:
    """Choose among channels of different sound."""
    scores = {n: target.score(held[n], rate) if target.score else 1.0 for n in sounding}
    best = max(scores.values())
    holding = [n for n in sounding if scores[n] >= NEARLY * best]
    chosen = max(holding, key=lambda n: levels[n])
    if best < LEAST:
        return Choice(
            chosen, f"the louder; no channel holds {target.words}", _unclear(held, holding, chosen, rate=rate, target=target)
        )
    if len(holding) == 1:
        return Choice(chosen, f"it holds {target.words}")
    return Choice(
        chosen,
        f"the loudest of {len(holding)} that hold {target.words}",
        _unclear(held, holding, chosen, rate=rate, target=target),
    )


def _unclear(
    held: Sequence[Floats], holding: Sequence[int], chosen: int, *, rate: float, target: Target
) -> tuple[ResultWarning, ...]:
    """Warn that another channel could be meant as well; where they differ in the pitch that counts, every result is doubtful."""
    analysed = f"the {channel_name(chosen, len(held))} was analysed; write channel: to choose"
    if not target.pitched:
        return (ResultWarning("channels", f"The channels hold different sounds: {analysed}."),)
    pitches = {n: rough_hz(held[n], rate) for n in holding}
    own = pitches[chosen]
    other = next((hz for hz in pitches.values() if _differ(hz, own)), own)
    if isinstance(own, NotHad) or isinstance(other, NotHad) or own == other:
        return ()
    message = f"The channels hold tones of different pitch, {own:.6g} Hz and {other:.6g} Hz: {analysed}."
    return (ResultWarning("channels", message, (ALL_RESULTS,)),)


def _differ(one: float | NotHad, other: float | NotHad) -> bool:
    return isinstance(one, float) and isinstance(other, float) and abs(cents(one, other)) > SAME_CENTS


def channel_name(channel: int, channels: int) -> str:
    """Name a channel: ``left channel``, ``channel 3``."""
    return f"{('left', 'right')[channel]} channel" if channels == STEREO else f"channel {channel + 1}"
