"""Which error of an oscillator is which, and what to turn: scale first, then offset; a bend needs the high-frequency trim."""

from __future__ import annotations

from collections.abc import Sequence

from benchrecord.bench.fits import polynomial_fit
from benchrecord.bench.reasons import NotHad
from benchrecord.model.findings import Value
from benchrecord.model.numbers import shown

WORTH_A_TRIM = (
    0.5  # of the limit, and of the largest error: what a scale or a bend must bring at the far end (common practice, no source)
)
LEFT_OVER = 0.5  # of the largest error: beyond it neither scale nor bend explains the errors (common practice, no source)
NO_TRIM = (
    "The errors follow neither the scale nor a bend at the top: no trim takes them away. Measure the readings that stand out again,"
    " and the steps of the control voltage."
)

MEASURE_AGAIN = "No reading that can be relied on is out of its limit: measure the others again, and hold each step until its pitch has settled."


def what_to_turn(octaves: Sequence[float], errors: Sequence[float], *, limit: float, trim: str = "") -> str:
    """Advise on errors in cents at so many octaves above the lowest reading, which are in their order."""
    course = _course(octaves, errors)
    if course is None:
        return NO_TRIM
    slope, bend = course
    least = WORTH_A_TRIM * max(limit, *map(abs, errors))
    said = []
    if abs(slope) * octaves[-1] > least:
        said.append(_scale_words(slope, trim))
    if abs(bend) * octaves[-1] ** 2 > least:
        said.append(_bend_words(bend * octaves[-1] ** 2, alone=not said))
    return " ".join(said) or NO_TRIM


def _course(octaves: Sequence[float], errors: Sequence[float]) -> tuple[float, float] | None:
    """Return what the errors grow by at the low end (cents per octave) and how they bend (cents per octave²)."""
    fit = polynomial_fit(octaves, errors, 2 if len(set(octaves)) > 2 else 1)  # noqa: PLR2004  # a parabola has three unknowns
    if isinstance(fit, NotHad):
        return None
    offset, slope, bend = (*fit.coefficients, 0.0)[:3]
    over = max(abs(e - offset - slope * x - bend * x * x) for x, e in zip(octaves, errors, strict=True))
    return (slope, bend) if over <= LEFT_OVER * max(map(abs, errors)) else None


def what_to_turn_of_linear(volts: Sequence[float], errors: Sequence[float], *, limit: float, trim: str = "") -> str:
    """Advise on errors in percent of a linear oscillator: one of its scale is the same everywhere, an offset grows to the low end."""
    line = polynomial_fit(volts, [v * (1 + e / 100) for v, e in zip(volts, errors, strict=True)], 1)
    if isinstance(line, NotHad):
        return NO_TRIM
    offset, slope = line.coefficients
    lowest = min(volts, key=abs)
    everywhere, at_low_end = 100 * (slope - 1), 100 * offset / lowest
    over = max(abs(e - everywhere - 100 * offset / v) for v, e in zip(volts, errors, strict=True))
    if over > LEFT_OVER * max(map(abs, errors)):
        return NO_TRIM
    said = []
    if abs(everywhere) > WORTH_A_TRIM * limit:
        much = everywhere > 0
        said.append(
            f"The scale brings {_size(everywhere, '%')} too {'much' if much else 'little'} frequency for a volt:"
            f" {'lower' if much else 'raise'} it{f' with {trim}' if trim else ''} at the top."
        )
    if abs(at_low_end) > WORTH_A_TRIM * limit:
        sharp = at_low_end > 0
        said.append(
            f"An offset leaves the low end {_size(at_low_end, '%')} {'sharp' if sharp else 'flat'}:"
            f" {'lower' if sharp else 'raise'} it with the offset at the lowest reading."
        )
    return " ".join([*said, *(["Each moves the other: go round until both stay."] if len(said) > 1 else [])]) or NO_TRIM


def _scale_words(slope: float, trim: str) -> str:
    narrow = slope < 0
    return (
        f"Scale first: an octave takes too {'much' if narrow else 'little'} voltage and comes out"
        f" {_size(slope)} {'narrow' if narrow else 'wide'}, so that the pitch runs {'flat' if narrow else 'sharp'} towards the top."
        f" {'Widen' if narrow else 'Narrow'} the octaves{f' with {trim}' if trim else ''}, then set the offset."
    )


def _bend_words(at_top: float, *, alone: bool) -> str:
    flat = at_top < 0
    said = f"the top end bends {'flat' if flat else 'sharp'}, by {_size(at_top)} at the last reading"
    trim = f"{'raise' if flat else 'lower'} it with the high-frequency trim, if there is one"
    return f"The scale is right, but {said}: {trim}." if alone else f"After that, {said}: {trim}."


def _size(number: float, unit: str = "cents") -> str:
    return shown(Value(abs(number), unit, None, 1))
