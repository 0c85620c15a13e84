"""Date codes: how old the parts are, what they tell of the instrument's age, and which were put in later."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from benchrecord.bench.date_codes import LETTER_MONTH, Dated, Dating, Made, Sure, date_instrument, read_code
from benchrecord.bench.reasons import NotHad
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.wording import counted
from benchrecord.figures.style import Chart, timeline
from benchrecord.model.findings import CheckFinding, DataTable, Item, Side, Value, Verdict
from benchrecord.model.job import Check, DateCode
from benchrecord.model.references import part_key
from benchrecord.model.table import KindSchema

LISTED = 40
NO_CODES, NO_YEAR = "no date codes are written in date-codes.csv", "the instrument's year is not given"
PRACTICE = "The forms of the codes are common practice: four digits are year and week, or a year in full (1977); a month and its year are parted by a stroke or a point (06/77)."

SCHEMA = KindSchema("date-codes")


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Date every part, and the instrument by them."""
    codes = bench.date_codes
    dating = date_instrument([code.code for code in codes], bench.year)
    order = _by_date(dating)
    return CheckFinding(
        check,
        limit="",
        found=_side(codes, dating, bench.year) if codes else None,
        left=None,
        table=_table(codes, dating, order[-LISTED:]),
        plain=_plain(codes, dating, bench.year),
        method=_method(dating, bench.year),
        advice=_advice(codes, dating),
        basis=_basis(codes, dating, bench.year),
        curve=_table(codes, dating, order) if len(order) > LISTED else None,
    )


def name_of(code: DateCode) -> str:
    """Name the part that a code was found on: ``voice:U2``."""
    return part_key(code.board, code.ref)


def _by_date(dating: Dating) -> list[int]:
    """Return the numbers of the codes from the oldest to the newest, those that could not be read first."""
    return sorted(range(len(dating.dated)), key=lambda n: _at(dating.dated[n]))


def _at(dated: Dated | NotHad) -> float:
    return dated.made.at if isinstance(dated, Dated) else 0.0


def _made(dating: Dating, n: int) -> Made | None:
    dated = dating.dated[n]
    return dated.made if isinstance(dated, Dated) else None


def _newest(dating: Dating) -> Made | None:
    return None if dating.newest is None else _made(dating, dating.newest)


def _side(codes: Sequence[DateCode], dating: Dating, year: int | None) -> Side:
    newest = _newest(dating)
    why = "" if newest else "no code that is sure enough is of the instrument's year or before"
    results = {
        "not_before": Value(newest.iso if newest else None, reason=why),
        "newest_original": Value(name_of(codes[dating.newest]) if dating.newest is not None else None, reason=why),
        "younger_parts": Value(len(dating.younger)) if year else Value(None, reason=NO_YEAR),
        "ambiguous_codes": Value(len(dating.open)),
        "unread_codes": Value(len(dating.unread)),
    }
    if year is not None:
        results["instrument_year"] = Value(year)
    return Side(Verdict.INFORMATION, results, tuple(_item(c, d) for c, d in zip(codes, dating.dated, strict=True)))


def _item(code: DateCode, dated: Dated | NotHad) -> Item:
    verdict = Verdict.INFORMATION
    if not isinstance(dated, Dated):
        return Item(name_of(code), verdict, {"code": Value(code.code), "date": Value(None, reason=dated.reason)}, name_of(code))
    others = ", ".join(made.iso for made in dated.others)
    results = {
        "code": Value(code.code),
        "date": Value(dated.made.iso),
        "sure": Value(dated.sure.value),
        **({"others": Value(others)} if others else {}),
    }
    return Item(name_of(code), verdict, results, name_of(code))


def _plain(codes: Sequence[DateCode], dating: Dating, year: int | None) -> str:
    """Say for a client how old it is at most, and what was put in later."""
    newest = _newest(dating)
    if not codes:
        return f"Nothing can be told: {NO_CODES}."
    if newest is None:
        return "No date code that is sure enough tells when the instrument was built."
    if year is None:
        return f"The newest date code is of {newest.words}; without the instrument's year nobody can tell original parts from later ones."
    said = f"The newest part that can be original was made in {newest.words}, so the instrument was not built before then."
    return f"{said} {_younger_words(codes, dating, year)}"


def _younger_words(codes: Sequence[DateCode], dating: Dating, year: int) -> str:
    if not dating.younger:
        return f"No part with a date that is sure is younger than {year}."
    first = min((made for n in dating.younger if (made := _made(dating, n))), key=lambda made: made.at)
    number = len(dating.younger)
    said = f"{counted(number, 'part')} of {len(codes)} {'is' if number == 1 else 'are'} younger than {year}"
    if number > len(dating.dated) / 2:
        return f"{said}, from {first.words} on: more than half, so that the instrument may itself be younger than is thought."
    return f"{said}, from {first.words} on: it was repaired before, or parts were fitted in this work."


def _method(dating: Dating, year: int | None) -> str:
    decade = (
        f"Decade and century are those nearest to {year}, the instrument's year"
        if year
        else f"No decade can be settled: {NO_YEAR}"
    )
    letters = any(isinstance(d, Dated) and d.made.form == LETTER_MONTH for d in dating.dated)
    after = (
        " A letter for the year and a sign for the month are read after IEC 60062, its table in part from memory."
        if letters
        else ""
    )
    return f"{PRACTICE} {decade}.{after}"


def _advice(codes: Sequence[DateCode], dating: Dating) -> str:
    said = [f"{name_of(codes[n])} ({codes[n].code}) may be of {_either(dating.dated[n])}" for n in dating.open]
    unread = [f"{name_of(codes[n])} ({codes[n].code}): {dating.dated[n].reason}" for n in dating.unread]  # type: ignore[union-attr]  # unread is NotHad
    open_words = f"To be read in more than one way: {'; '.join(said)}." if said else ""
    return " ".join(filter(None, [open_words, f"Not read: {'; '.join(unread)}." if unread else ""]))


def _either(dated: Dated | NotHad) -> str:
    return " or ".join(made.words for made in (dated.made, *dated.others)) if isinstance(dated, Dated) else ""


def _basis(codes: Sequence[DateCode], dating: Dating, year: int | None) -> str:
    if not codes:
        return ""
    kinds = Counter(d.sure for d in dating.dated if isinstance(d, Dated))
    ways = (f"{kinds[Sure.SURE]} can be read in one way only", f"{kinds[Sure.LIKELY]} in one way that is likelier than others")
    rest = f"{kinds[Sure.OPEN]} in several that are as likely, and {len(dating.unread)} not at all"
    said = [f"{counted(len(codes), 'code')} were found: {', '.join(ways)}, {rest}."]
    if dating.newest is not None and year is not None:
        said.append(
            f"Of the first two groups {name_of(codes[dating.newest])} ({codes[dating.newest].code}) is the newest up to {year}; a part is"
            " made some weeks before it is fitted, and the week of a code may begin a few days earlier or later than the calendar's."
        )
    return " ".join([*said, "A part made after the instrument's year cannot have been in it from the start."])


def _table(codes: Sequence[DateCode], dating: Dating, order: Sequence[int]) -> DataTable:
    lines = []
    for n in order:
        code, dated = codes[n], dating.dated[n]
        read = (dated.made.words, dated.sure.value) if isinstance(dated, Dated) else (f"not read: {dated.reason}", "")
        others = ", ".join(made.words for made in dated.others) if isinstance(dated, Dated) else ""
        younger = (
            "younger than the instrument"
            if n in dating.younger
            else "newest that can be original"
            if n == dating.newest
            else ""
        )
        lines.append((name_of(code), code.code, *read, others, younger, code.note))
    columns = ("Part", "Code", "Made", "How sure", "Or", "What it tells", "Note")
    return DataTable(columns, tuple(lines), tuple(line[0] for line in lines))


def chart(finding: CheckFinding) -> Chart | None:
    """Draw the dates of the parts on a line of time, with the instrument's year as a band."""
    year = _year(finding)
    dated = _dated(finding, year)
    if not dated:
        return None
    paint, height = timeline(
        [f"{name}  {own.made.iso}" for name, own in dated],
        [own.made.at for _, own in dated],
        [[made.at for made in own.others] for _, own in dated],
        band=(None, None) if year is None else (float(year), year + 1.0),
    )
    said = [finding.plain]
    if year is not None:
        said.append(f"The band is {year}, the instrument's year.")
    if any(own.others for _, own in dated):
        said.append("A stroke is another date that the same code may mean.")
    caption = " ".join(said)
    alt = f"{finding.check.title}: dates of {counted(len(dated), 'part')} on a line of time. {caption}"
    return Chart(
        finding.check.title, caption, alt, paint, height, left_margin=0.36, band="the instrument's year" if year else ""
    )


def _year(finding: CheckFinding) -> int | None:
    year = finding.found.results.get("instrument_year") if finding.found else None
    return year.value if year and isinstance(year.value, int) else None


def _dated(finding: CheckFinding, year: int | None) -> list[tuple[str, Dated]]:
    """Return the parts with a date, the newest of them where there are many, from the oldest on."""
    items = finding.found.items if finding.found else ()
    read = [(item.item, read_code(str(item.results["code"].value), year)) for item in items]
    dated = [(name, own) for name, own in read if isinstance(own, Dated)]
    return sorted(dated, key=lambda one: one[1].made.at)[-LISTED:]


KIND = Kind(
    SCHEMA, "Date codes", examine, chart, lambda check: "no limit, for dates are not held against one," if check.limit else ""
)
