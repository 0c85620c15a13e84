"""What the archive works out: which day it is told for, what is due, what a job took, and how old its parts are."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.findings.archive import account, dues, gather, in_a_year, latest_day
from benchrecord.model.job import (
    Board,
    BoardPart,
    Costs,
    DateCode,
    DatedBy,
    Dates,
    Fault,
    Instrument,
    Job,
    Note,
    PartWork,
    Photo,
)

DAY = date(2026, 5, 23)


def a_job(name: str = "a", **fields: object) -> Job:
    return Job(name, "T", **fields)  # type: ignore[arg-type]  # fields of a job


def note(hours: float | None = None, day: date | None = None) -> Note:
    return Note("n", "notes/n.md", "N", "", hours=hours, date=day)


def test_the_day_is_the_latest_on_which_something_was_done() -> None:
    jobs = [
        a_job(dates=Dates(received=date(2026, 2, 3), warranty_until=date(2027, 2, 3), next_service="2031-04")),
        a_job(notes=(note(day=date(2026, 4, 1)),)),
        a_job(
            photos=(
                Photo("photos/a.jpg", 1, 1, date=date(2038, 1, 1), dated=DatedBy.CAMERA),
                Photo("photos/b.jpg", 1, 1, date=date(2026, 4, 2)),
            )
        ),
    ]
    assert latest_day(jobs) == date(2026, 4, 2)
    assert gather(jobs).as_of == date(2026, 4, 2)
    assert gather(jobs, DAY).as_of == DAY


def test_without_any_date_nothing_is_due() -> None:
    archive = gather([a_job()])
    assert archive.as_of is None
    assert archive.dues.coming == archive.dues.over == archive.dues.later == ()


@pytest.mark.parametrize(
    ("service", "where"),
    [
        ("2026-04", "over"), ("2026-05", "coming"), ("2026-05-22", "over"), ("2026-05-23", "coming"), ("2027-05-23", "coming"),
        ("2027-05-24", "later"), ("2027-05", "coming"), ("2027-06", "later"),
    ],
)  # fmt: skip
def test_a_service_is_over_coming_or_later(service: str, where: str) -> None:
    found = dues([a_job(dates=Dates(next_service=service))], DAY)
    assert {name: len(getattr(found, name)) for name in ("over", "coming", "later")} == {
        "over": 0,
        "coming": 0,
        "later": 0,
        where: 1,
    }


def test_a_warranty_that_has_ended_asks_for_nothing() -> None:
    ended, ending = Dates(warranty_until=date(2026, 5, 22)), Dates(warranty_until=date(2026, 5, 23))
    found = dues([a_job(dates=ended), a_job(dates=ending)], DAY)
    assert ([d.first for d in found.coming], found.over, found.later) == ([date(2026, 5, 23)], (), ())


def test_an_instrument_that_came_again_is_not_overdue_for_its_earlier_service() -> None:
    own = Instrument(maker="Ostermay", model="Loopwell 2", serial="7")
    first = a_job("first", instrument=own, dates=Dates(received=date(2020, 1, 1), next_service="2022-01"))
    again = a_job("again", instrument=own, dates=Dates(received=date(2022, 2, 1), next_service="2024-02"))
    assert [d.job.id for d in dues([first, again], DAY).over] == ["again"]
    another = a_job(
        "another", instrument=Instrument(maker="Ostermay", model="Loopwell 2"), dates=Dates(received=date(2025, 1, 1))
    )
    assert [d.job.id for d in dues([first, another], DAY).over] == ["first"]


@given(st.dates())
def test_a_year_ends_on_the_same_day_or_the_last_of_february(day: date) -> None:
    end = in_a_year(day)
    assert day <= end <= date.max
    if day.year < date.max.year:
        assert (end.year, end.month) == (day.year + 1, day.month)
        assert end.day == day.day or (day.month, day.day, end.day) == (2, 29, 28)


PRICED = PartWork("", "R1", "replaced", qty=2, unit_cost=1.5)
UNPRICED = PartWork("", "R2", "replaced")
ORDERED = PartWork("", "U1", "replaced", unit_cost=18, status="ordered")
CLEANED = PartWork("", "J1", "cleaned")


@pytest.mark.parametrize(
    ("notes", "rate", "parts", "sums"),
    [
        ((2.5, 1), 40, (PRICED, ORDERED, CLEANED), (3.5, 140.0, 3.0, 143.0)),
        ((2.5,), 40, (CLEANED,), (2.5, 100.0, 0.0, 100.0)),
        ((2.5,), 40, (), (2.5, 100.0, 0.0, 100.0)),
        ((2.5,), 40, (PRICED, UNPRICED), (2.5, 100.0, None, None)),
        ((2.5,), None, (PRICED,), (2.5, None, 3.0, None)),
        ((), 40, (PRICED,), (None, None, 3.0, None)),
    ],
)
def test_a_sum_stands_only_where_all_of_it_is_known(
    notes: tuple[float, ...], rate: float | None, parts: tuple[PartWork, ...], sums: tuple[float | None, ...]
) -> None:
    took = account(a_job(notes=tuple(note(h) for h in notes), costs=Costs("EUR", rate), parts=parts))
    assert (took.hours, took.labour, took.parts, took.total) == sums
    assert bool(took.reason) is (None in sums)


def test_rows_know_their_part_exactly_and_their_place_in_their_table() -> None:
    board = Board("psu", "Supply", parts=(BoardPart("R1", 1, 1),))
    job = a_job(
        boards=(board,), parts=(PartWork("", "R1", "replaced"),), faults=(Fault("hum"), Fault("hiss", board="psu", ref="R1"))
    )
    archive = gather([job])
    assert [(e.key, e.number) for e in archive.works] == [("psu:R1", 1)]
    assert [(e.key, e.number) for e in archive.faults] == [("", 1), ("psu:R1", 2)]


def test_date_codes_are_read_by_the_instruments_year() -> None:
    codes = tuple(DateCode("", f"C{n}", code) for n, code in enumerate(("7642", "8319", "x"), 1))
    read = gather([a_job(instrument=Instrument(year=1977), date_codes=codes)]).codes
    assert [(c.iso, c.younger) for c in read] == [("1976-W42", False), ("1983-W19", True), ("", False)]
    assert "no form of a date code" in read[2].words
