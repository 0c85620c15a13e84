"""Date codes: published examples, and laws that hold for every code.

Sources: the registry of source codes of a trade association (its own page gives 113-9910 as a hypothetical example, read); a public
encyclopaedia's article on ceramic capacitors (1208, and the year letters R to X, read) and a public almanac (E to M, read), both after
IEC 60062, whose own text was not readable; the order of the other letters is from memory.
"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.date_codes import (
    MONTHS,
    NO_DATE,
    NO_FORM,
    NO_YEAR,
    STOCK_YEARS,
    WEEK_YEAR,
    YEAR_LETTERS,
    Dated,
    Sure,
    date_instrument,
    read_code,
)
from benchrecord.bench.reasons import NotHad

YEARS = st.integers(1955, 1995)
WEEKS = st.integers(1, 52)


def read(code: str, year: int | None = 1977) -> Dated:
    found = read_code(code, year)
    assert isinstance(found, Dated), found
    return found


@pytest.mark.parametrize(
    ("code", "year", "iso"),
    [
        ("113-9910", 1999, "1999-W10"),
        ("1208", 2012, "2012-W08"),
        *((f"{letter}1", year, f"{year}-01") for year, letter in zip(range(2003, 2010), "RSTUVWX", strict=True)),
        *(
            (f"{letter}1", year, f"{year}-01")
            for year, letter in zip((1994, 1995, 1996, 1997, 1998, 1999, 2000), "EFHJKLM", strict=True)
        ),
        ("RO", 2003, "2003-10"),
        ("RN", 2003, "2003-11"),
        ("RD", 2003, "2003-12"),
    ],
)
def test_published(code: str, year: int, iso: str) -> None:
    assert read(code, year).made.iso == iso


@pytest.mark.parametrize(
    ("code", "iso", "sure", "others"),
    [
        ("7712", "1977-W12", Sure.SURE, ()),
        ("77-12", "1977-W12", Sure.SURE, ()),
        ("H7712", "1977-W12", Sure.SURE, ()),
        ("7712A", "1977-W12", Sure.SURE, ()),
        ("1277", "1977-W12", Sure.LIKELY, ()),  # week first: no year has a week 77
        ("999-7712", "1977-W12", Sure.SURE, ()),
        ("9997712", "1977-W12", Sure.SURE, ()),
        ("999-712", "1977-W12", Sure.LIKELY, ("1987-W12", "1967-W12")),
        ("712", "1977-W12", Sure.LIKELY, ("1987-W12", "1967-W12")),
        ("812", "1968-W12", Sure.OPEN, ("1978-W12", "1958-W12")),  # old stock, or a year too late: nobody can tell
        ("J3", "1977-03", Sure.LIKELY, ("1997-03",)),
        ("8319", "1983-W19", Sure.SURE, ()),
        ("0512", "2005-W12", Sure.OPEN, ("2012-W05",)),
        ("1977-W12", "1977-W12", Sure.SURE, ()),
        ("1977", "1977", Sure.SURE, ()),  # week 19 of 1977 would say no other year
        ("1952", "1952", Sure.OPEN, ("2019-W52",)),
        ("06/77", "1977-06", Sure.OPEN, ("1977-W06",)),
        ("13/77", "1977-W13", Sure.LIKELY, ()),
        ("77/06", "1977-06", Sure.OPEN, ("1977-W06",)),
        ("6.1977", "1977-06", Sure.SURE, ()),
        ("1977-06", "1977-06", Sure.OPEN, ("1977-W06",)),
        (
            "770325",
            "1977-03-25",
            Sure.LIKELY,
            ("1973-W25", "1983-W25", "1963-W25"),
        ),  # a day, or a maker's number before the week
        ("19770325", "1977-03-25", Sure.SURE, ()),
        ("25.3.77", "1977-03-25", Sure.SURE, ()),
        ("25.03.1977", "1977-03-25", Sure.SURE, ()),
        ("3/25/77", "1977-03-25", Sure.SURE, ()),
        ("3/4/77", "1977-04-03", Sure.OPEN, ("1977-03-04",)),
        ("7653", "1976-W53", Sure.SURE, ()),
        ("753", "1987-W53", Sure.OPEN, ()),  # neither 1977 nor 1967 has a week 53
        ("197712", "1977-W12", Sure.LIKELY, ("1987-W12", "1967-W12")),  # the year in full, or a maker's number before it
    ],
)
def test_a_code_of_an_instrument_of_1977(code: str, iso: str, sure: Sure, others: tuple[str, ...]) -> None:
    found = read(code)
    assert (found.made.iso, found.sure, tuple(o.iso for o in found.others)) == (iso, sure, others)


@pytest.mark.parametrize(
    ("code", "year", "reason"),
    [
        ("ABC", 1977, NO_FORM),
        ("7", 1977, NO_FORM),
        ("G3", 1977, NO_FORM),
        ("7754", 1977, NO_DATE),
        ("7753", 1977, NO_DATE),
        ("77-02-30", 1983, NO_DATE),
        ("31.4.1977", 1977, NO_DATE),
        ("7700", 1977, NO_DATE),
        ("712", None, NO_YEAR),
        ("J3", None, NO_YEAR),
    ],
)
def test_what_cannot_be_read_says_why(code: str, year: int | None, reason: str) -> None:
    found = read_code(code, year)
    assert isinstance(found, NotHad)
    assert found.reason == reason


def test_two_digits_are_told_without_the_instrument_s_year() -> None:
    assert read("7712", None).made.iso == "1977-W12"
    assert read("0412", None).made.iso == "2004-W12"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("7725", "week 25 of 1977 (June)"),
        ("7653", "week 53 of 1976 (December)"),
        ("1977", "1977"),
        ("770325", "25 March 1977"),
        ("J6", "June 1977"),
    ],
)
def test_a_date_in_words(code: str, words: str) -> None:
    assert read(code).made.words == words


@given(YEARS, WEEKS, st.integers(-STOCK_YEARS, 0))
def test_a_part_of_the_years_before_is_dated_to_its_year(year: int, week: int, back: int) -> None:
    made = year + back
    assert read(f"{made % 100:02d}{week:02d}", year).made.iso == f"{made}-W{week:02d}"
    assert read(f"500-{made % 100:02d}{week:02d}", year).made.iso == f"{made}-W{week:02d}"
    assert read(f"{made % 10}{week:02d}", year).made.iso == f"{made}-W{week:02d}"
    assert read(f"{YEAR_LETTERS[(made - 1970) % 20]}{MONTHS[week % 12]}", year).made.iso == f"{made}-{week % 12 + 1:02d}"


@given(st.text("0123456789ABCJRWX-/. ", min_size=1, max_size=9), st.none() | YEARS)
def test_any_code_is_read_or_says_why_not(code: str, year: int | None) -> None:
    found = read_code(code, year)
    if isinstance(found, NotHad):
        assert found.reason
        return
    assert len({m.iso for m in (found.made, *found.others)}) == 1 + len(found.others)
    assert found.made.words
    assert 0 < found.made.at - found.made.year < 1
    assert found.sure is not Sure.SURE or (not found.others and found.made.form != WEEK_YEAR)


@given(st.dates(date(1955, 1, 1), date(1995, 12, 31)))
def test_a_whole_date_is_that_day_however_it_is_parted(day: date) -> None:
    for form in ("{d.year}{d.month:02d}{d.day:02d}", "{d.year}-{d.month}-{d.day}", "{d.day:02d}.{d.month:02d}.{d.year}"):
        found = read(form.format(d=day), day.year)
        assert day.isoformat() in (found.made.iso, *(other.iso for other in found.others))
        assert found.made.year == day.year
        assert found.made.at == pytest.approx(day.year + day.timetuple().tm_yday / 365.25, abs=0.005)


@given(st.integers(1955, 1995))
def test_a_week_that_the_calendar_lacks_is_not_read(year: int) -> None:
    weeks = date(year, 12, 28).isocalendar().week
    found = read_code(f"{year % 100:02d}53", year)
    assert isinstance(found, Dated) == (weeks == 53)


@given(YEARS, WEEKS)
def test_the_middle_of_a_week_lies_within_a_week_of_the_calendar_s(year: int, week: int) -> None:
    monday = date.fromisocalendar(year, week, 1)
    assert (
        read(f"{year % 100:02d}{week:02d}", year).made.at
        == pytest.approx(monday.year + monday.timetuple().tm_yday / 365.25, abs=0.035)
        or week == 1
    )


def test_an_instrument_is_not_built_before_its_newest_original_part() -> None:
    codes = ["7642", "7718", "7725", "8319", "1277", "0512", "oops"]
    found = date_instrument(codes, 1977)
    assert codes[found.newest or 0] == "7725"
    assert [codes[n] for n in found.younger] == ["8319"]
    assert [codes[n] for n in found.open] == ["0512"]
    assert [codes[n] for n in found.unread] == ["oops"]


def test_without_its_year_nothing_is_younger() -> None:
    found = date_instrument(["7642", "8319"], None)
    assert (found.newest, found.younger) == (1, ())
    assert date_instrument([], 1977).newest is None
