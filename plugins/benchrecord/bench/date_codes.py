"""Date codes: when a part was made, by what is stamped on it.

The forms are common practice: year and week of semiconductors and capacitors; a maker's number before them on controls and transformers,
as a trade association registered it; a letter for the year and a sign for the month as in IEC 60062, clause 6. None of them says the
decade or century, so that the year of the instrument settles it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from benchrecord.bench.reasons import NotHad

WEEKS, MONTHS = 53, "123456789OND"
# IEC 60062: A is 1970, 1990, 2010. E to M (1994 to 2000) and R to X (2003 to 2009) were read in public pages; the rest follows by order.
YEAR_LETTERS, LETTERS_FROM = "ABCDEFHJKLMNPRSTUVWX", 1970
STOCK_YEARS = 5  # parts older than this in a new instrument are unlikely (common practice, no source)
DECADE, CENTURY = 10, 100
WITHOUT_YEAR_FROM = 1940  # where nobody knows the instrument's year, two digits count from here on
YEAR_WEEK, WEEK_YEAR, DIGIT_WEEK, LETTER_MONTH = (
    "year and week",
    "week and year",
    "last digit of the year and week",
    "year letter and month",
)
AFTER_MAKER = "maker, "
NO_FORM = "it has no form of a date code that is known here"
NO_WEEK = "its digits name no week of a year"
NO_YEAR = "its decade is open, since the instrument's year is not given"
_FULL = re.compile(r"((?:19|20)\d\d)[-/ ]?W?(\d\d)")
_FOUR = re.compile(r"[A-Z]{0,2}-?(\d\d)[-/. ]?(\d\d)-?[A-Z]{0,2}")
_THREE = re.compile(r"(\d)[-/ ]?(\d\d)")
_MAKER = re.compile(r"(\d{3})[-/ ]?(\d{1,2})[-/ ]?(\d\d)")
_LETTER = re.compile(rf"([{YEAR_LETTERS}])([{MONTHS}])")


class Sure(StrEnum):
    """How sure a date is: one reading, one that is likelier than others, or several that are as likely."""

    SURE = "sure"
    LIKELY = "likely"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Made:
    """One way to read a code: the year with its week or month, and the form it was read in."""

    year: int
    form: str
    week: int | None = None
    month: int | None = None

    @property
    def at(self) -> float:
        """The middle of that week or month in years, as 1977.48."""
        return self.year + ((self.week - 0.5) / WEEKS if self.week else ((self.month or 6.5) - 0.5) / 12)

    @property
    def iso(self) -> str:
        """The date as ISO 8601 writes it: ``1977-W25`` or ``1977-06``."""
        return f"{self.year}-W{self.week:02d}" if self.week else f"{self.year}-{self.month:02d}"

    @property
    def words(self) -> str:
        """The date in words; the month of a week is about right, since makers began their weeks on different days."""
        if not self.week:
            return f"{date(self.year, self.month or 1, 1):%B %Y}"
        month = date.fromisocalendar(self.year, min(self.week, 52), 4)
        return f"week {self.week} of {self.year} ({month:%B})"


@dataclass(frozen=True, slots=True)
class Dated:
    """A code as it is most likely read, and the other ways to take it, the likelier first."""

    made: Made
    others: tuple[Made, ...]
    sure: Sure


@dataclass(frozen=True, slots=True)
class Dating:
    """What the codes of an instrument tell together; numbers count in the order of the codes.

    ``newest`` is the newest part that can be original: the instrument was not built before it. ``younger`` are those made after the
    instrument's year.
    """

    dated: tuple[Dated | NotHad, ...]
    newest: int | None
    younger: tuple[int, ...]
    open: tuple[int, ...]
    unread: tuple[int, ...]


def read_code(code: str, year: int | None) -> Dated | NotHad:
    """Read a date code; ``year`` is the instrument's, which settles decade and century.

    A reading is likely where it is of the instrument's year or up to five years before; one without others is sure.
    """
    ways = list(_ways(" ".join(code.upper().split())))
    readings = [made for form, first, second in ways for made in _made(form, first, second, year)]
    if not readings:
        return NotHad(NO_FORM if not ways else NO_YEAR if year is None else NO_WEEK)
    ordered: dict[str, Made] = {}
    for made in sorted(readings, key=lambda made: not _likely(made, year)):
        ordered.setdefault(made.iso, made)  # two forms that tell the same date do not disagree
    best, *others = ordered.values()
    return Dated(best, tuple(others), _sureness(best, others, year))


def _likely(made: Made, year: int | None) -> bool:
    return year is not None and year - STOCK_YEARS <= made.year <= year


def _sureness(best: Made, others: Sequence[Made], year: int | None) -> Sure:
    if not others:
        return Sure.SURE if best.form != WEEK_YEAR else Sure.LIKELY
    alone = _likely(best, year) and not any(_likely(other, year) for other in others)
    return Sure.LIKELY if alone else Sure.OPEN


def _ways(code: str) -> Iterator[tuple[str, str, str]]:
    """Yield each form that a code has, the usual one first, with its year and its week or month as written."""
    if match := _FULL.fullmatch(code):
        yield "year and week in full", match[1], match[2]
    if match := _FOUR.fullmatch(code):
        yield YEAR_WEEK, match[1], match[2]
        yield WEEK_YEAR, match[2], match[1]
    if match := _THREE.fullmatch(code):
        yield DIGIT_WEEK, match[1], match[2]
    if match := _MAKER.fullmatch(code):
        yield AFTER_MAKER + (YEAR_WEEK if len(match[2]) > 1 else DIGIT_WEEK), match[2], match[3]
    if match := _LETTER.fullmatch(code):
        yield LETTER_MONTH, match[1], match[2]


def _made(form: str, first: str, second: str, year: int | None) -> Iterator[Made]:
    """Yield the dates that one form may mean: of a digit or a letter those of several decades, the likeliest first."""
    if form == LETTER_MONTH:
        years = _years(LETTERS_FROM + YEAR_LETTERS.index(first), len(YEAR_LETTERS), year)
        yield from (Made(y, form, month=MONTHS.index(second) + 1) for y in years)
    elif 1 <= int(second) <= WEEKS:
        years = [int(first)] if len(first) > 2 else _years(int(first), 10 ** len(first), year)  # noqa: PLR2004  # a year in full
        yield from (Made(y, form, week=int(second)) for y in years)


def _years(ending: int, cycle: int, year: int | None) -> list[int]:
    """Return the years that recur with a cycle: the last one up to the instrument's, the one after, and of decades the one before.

    Of two digits it is the one nearest to the instrument's year; without an instrument's year only they can be told.
    """
    if cycle == CENTURY:
        start = WITHOUT_YEAR_FROM if year is None else year - cycle // 2 + 1
        return [start + (ending - start) % cycle]
    if year is None:
        return []
    latest = year - (year - ending) % cycle
    return [latest, latest + cycle, *([latest - cycle] if cycle == DECADE else [])]


def date_instrument(codes: Sequence[str], year: int | None) -> Dating:
    """Read all codes of an instrument and conclude what they tell of its age.

    Parts whose reading is open do not count for ``newest`` and ``younger``. Without the instrument's year nothing is younger than it.
    """
    dated = tuple(read_code(code, year) for code in codes)
    told = {n: d.made for n, d in enumerate(dated) if isinstance(d, Dated) and d.sure is not Sure.OPEN}
    original = {n: made for n, made in told.items() if year is None or made.year <= year}
    return Dating(
        dated,
        newest=max(original, key=lambda n: original[n].at, default=None),
        younger=tuple(n for n in told if n not in original),
        open=tuple(n for n, d in enumerate(dated) if isinstance(d, Dated) and d.sure is Sure.OPEN),
        unread=tuple(n for n, d in enumerate(dated) if isinstance(d, NotHad)),
    )
