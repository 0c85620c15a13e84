"""Date codes: when a part was made, by what is stamped on it.

The forms are common practice: year and week of semiconductors and capacitors, month and year or a whole date on cans and labels; a
maker's number before them on controls and transformers, as a trade association registered it; a letter for the year and a sign for the month as in IEC 60062, clause 6. None of them says the
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
FIRST_YEAR = 1940  # where nobody knows the instrument's year, two digits count from here on; a year in full is no earlier
LAST_YEAR = FIRST_YEAR + CENTURY - 1
YEAR, FULL_WEEK, FULL_MONTH = "year in full", "year and week in full", "year and month in full"
YEAR_WEEK, WEEK_YEAR, DIGIT_WEEK = "year and week", "week and year", "last digit of the year and week"
MONTH_YEAR, YEAR_MONTH, LETTER_MONTH = "month and year", "year and month", "year letter and month"
YEAR_FIRST, DAY_FIRST, MONTH_FIRST = "year, month and day", "day, month and year", "month, day and year"
AFTER_MAKER = "maker, "
NO_FORM = "it has no form of a date code that is known here"
NO_DATE = "its digits name no week, month or day of a year"
NO_YEAR = "its decade is open, since the instrument's year is not given"
_FULL, _TWO, _MONTH = r"(?P<year>(?:19|20)\d\d)", r"(?P<year>\d\d)", r"(?P<month>0[1-9]|1[0-2])"
_ANY_YEAR, _WEEK, _DAY = r"(?P<year>(?:19|20)?\d\d)", r"(?P<week>\d\d)", r"(?P<day>\d\d)"
_SHORT_MONTH, _SHORT_DAY = r"(?P<month>\d\d?)", r"(?P<day>\d\d?)"
_PATTERNS = {  # the usual form first; a stroke or point parts a month from its year, and four digits in one are year and week
    YEAR: [_FULL],
    FULL_MONTH: [rf"{_FULL}[-/. ]{_MONTH}"],
    FULL_WEEK: [rf"{_FULL}[-/ ]?W?{_WEEK}"],
    MONTH_YEAR: [rf"{_SHORT_MONTH}[/.]{_ANY_YEAR}"],
    YEAR_MONTH: [rf"{_TWO}[/.]{_MONTH}"],
    YEAR_WEEK: [rf"[A-Z]{{0,2}}-?{_TWO}[-/. ]?{_WEEK}-?[A-Z]{{0,2}}"],
    WEEK_YEAR: [rf"[A-Z]{{0,2}}-?{_WEEK}[-/. ]?{_TWO}-?[A-Z]{{0,2}}"],
    DIGIT_WEEK: [rf"(?P<year>\d)[-/ ]?{_WEEK}"],
    YEAR_FIRST: [rf"{_ANY_YEAR}{_MONTH}{_DAY}", rf"{_ANY_YEAR}[-/. ]{_SHORT_MONTH}[-/. ]{_SHORT_DAY}"],
    DAY_FIRST: [rf"{_DAY}{_MONTH}{_ANY_YEAR}", rf"{_SHORT_DAY}[-/. ]{_SHORT_MONTH}[-/. ]{_ANY_YEAR}"],
    MONTH_FIRST: [rf"{_MONTH}{_DAY}{_ANY_YEAR}", rf"{_SHORT_MONTH}[-/. ]{_SHORT_DAY}[-/. ]{_ANY_YEAR}"],
    AFTER_MAKER + YEAR_WEEK: [rf"\d{{3}}[-/ ]{_TWO}[-/ ]?{_WEEK}", rf"\d{{3}}{_TWO}{_WEEK}"],
    AFTER_MAKER + DIGIT_WEEK: [rf"\d{{3}}[-/ ](?P<year>\d)[-/ ]?{_WEEK}", rf"\d{{3}}(?P<year>\d){_WEEK}"],
    LETTER_MONTH: [rf"(?P<letter>[{YEAR_LETTERS}])(?P<sign>[{MONTHS}])"],
}
FORMS = [(form, re.compile(pattern)) for form, patterns in _PATTERNS.items() for pattern in patterns]


class Sure(StrEnum):
    """How sure a date is: one reading, one that is likelier than others, or several that are as likely."""

    SURE = "sure"
    LIKELY = "likely"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Made:
    """One way to read a code: the year with its week, its month or its day, where the code has them, and the form it was read in."""

    year: int
    form: str
    week: int | None = None
    month: int | None = None
    day: int | None = None

    @property
    def at(self) -> float:
        """The middle of that day, week, month or year in years, as 1977.48."""
        if self.week:
            return self.year + (self.week - 0.5) / WEEKS
        if self.day:
            return self.year + (date(self.year, self.month or 1, self.day).timetuple().tm_yday - 0.5) / 366
        return self.year + ((self.month or 6.5) - 0.5) / 12

    @property
    def exists(self) -> bool:
        """Whether the calendar has it: of weeks, those of ISO 8601."""
        if self.week is not None:
            return 1 <= self.week <= date(self.year, 12, 28).isocalendar().week
        try:
            date(self.year, 1 if self.month is None else self.month, 1 if self.day is None else self.day)
        except ValueError:
            return False
        return True

    @property
    def iso(self) -> str:
        """The date as ISO 8601 writes it: ``1977``, ``1977-W25``, ``1977-06`` or ``1977-06-21``."""
        if self.week:
            return f"{self.year}-W{self.week:02d}"
        return "-".join([str(self.year), *(f"{part:02d}" for part in (self.month, self.day) if part)])

    @property
    def words(self) -> str:
        """The date in words; the month of a week is about right, since makers began their weeks on different days."""
        if self.week:
            return f"week {self.week} of {self.year} ({date.fromisocalendar(self.year, self.week, 4):%B})"
        month = f"{date(self.year, self.month, 1):%B %Y}" if self.month else str(self.year)
        return f"{self.day} {month}" if self.day else month


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
    matches = [(form, found) for form, pattern in FORMS if (found := pattern.fullmatch(" ".join(code.upper().split())))]
    readings = [made for form, found in matches for made in _made(form, found, year)]
    possible = [made for made in readings if made.exists]
    if not possible:
        return NotHad(NO_FORM if not matches else NO_DATE if readings or year is not None else NO_YEAR)
    full = {made.year for made in possible if made.form == YEAR}
    ordered: dict[str, Made] = {}
    for made in sorted(possible, key=lambda made: not _likely(made, year)):
        if made.form == YEAR or made.year not in full:  # a week of that very year says no other year
            ordered.setdefault(made.iso, made)  # two forms that tell the same date do not disagree
    best, *others = ordered.values()
    return Dated(best, tuple(others), _sureness(best, others, year))


def _likely(made: Made, year: int | None) -> bool:
    return year is not None and year - STOCK_YEARS <= made.year <= year


def _sureness(best: Made, others: Sequence[Made], year: int | None) -> Sure:
    """Conclude how sure the best reading is; the only decade with such a week is none the surer for that."""
    if not others and not best.form.endswith(DIGIT_WEEK):
        return Sure.SURE if best.form != WEEK_YEAR else Sure.LIKELY
    rivals = [
        o for o in others if not (best.day and o.form.startswith(AFTER_MAKER))
    ]  # by chance few digits make a day of a calendar
    alone = _likely(best, year) and not any(_likely(other, year) for other in rivals)
    return Sure.LIKELY if alone else Sure.OPEN


def _made(form: str, found: re.Match[str], year: int | None) -> Iterator[Made]:
    """Yield the dates that one form may mean: of a digit or a letter those of several decades, the likeliest first."""
    parts = found.groupdict()
    if form == LETTER_MONTH:
        years = _years(LETTERS_FROM + YEAR_LETTERS.index(parts["letter"]), len(YEAR_LETTERS), year)
        yield from (Made(y, form, month=MONTHS.index(parts["sign"]) + 1) for y in years)
        return
    digits = parts.pop("year")
    in_full = len(digits) > 2  # noqa: PLR2004  # two digits and fewer recur
    years = [y for y in [int(digits)] if y in range(FIRST_YEAR, LAST_YEAR + 1)] if in_full else []
    numbers = {name: int(part) for name, part in parts.items()}
    for y in years if in_full else _years(int(digits), 10 ** len(digits), year):
        yield Made(y, form, numbers.get("week"), numbers.get("month"), numbers.get("day"))


def _years(ending: int, cycle: int, year: int | None) -> list[int]:
    """Return the years that recur with a cycle: the last one up to the instrument's, the one after, and of decades the one before.

    Of two digits it is the one nearest to the instrument's year; without an instrument's year only they can be told.
    """
    if cycle == CENTURY:
        start = FIRST_YEAR if year is None else year - cycle // 2 + 1
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
