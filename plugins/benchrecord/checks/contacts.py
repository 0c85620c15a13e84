"""Contacts: resistance by row and column, of a patch field, a key bed or a switch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.bench.conformity import verdict
from benchrecord.bench.contacts import Contacts, sort_out
from benchrecord.checks.kind import Bench, Kind
from benchrecord.checks.meters import NO_RANGE, reading_uncertainty, settled_by
from benchrecord.checks.wording import NOT_YET, SAID, counted, sides_said
from benchrecord.figures.style import VALUES_IN, Chart, GridCell, grid
from benchrecord.model.findings import CheckFinding, DataTable, Results, Side, Value, Verdict, worst_of
from benchrecord.model.job import Check
from benchrecord.model.numbers import shown
from benchrecord.model.table import Column, Holds, KindSchema, Row

COLUMNS = {"as_found": "as_found_ohm", "as_left": "as_left_ohm"}
LISTED, NAMED = 40, 8  # rows of a table on a page; contacts that a sentence names
OPEN, HIGH, WORST = "×", "▲", "■"
KILO = 1000.0
NOTHING_CLOSES, NO_HIGH = "no contact closes", "nothing says above what a contact is high"

SCHEMA = KindSchema(
    "contacts",
    columns=(
        Column("row"),
        Column("column"),
        *(Column(name, Holds.NUMBER, unit="ohm", bounded=True) for name in COLUMNS.values()),
    ),
    keys=tuple(Column(name, Holds.QUANTITY, unit="ohm", positive=True) for name in ("open_above", "high_above")),
    one_of=(("row", "column"), tuple(COLUMNS.values())),
    limit_unit="ohm",
)


@dataclass(frozen=True, slots=True)
class Field:
    """The contacts of one side in the order of the table: their readings, what they come to, and a verdict on each."""

    ohms: tuple[float | None, ...]
    sorted: Contacts
    verdicts: tuple[Verdict, ...]


def examine(check: Check, bench: Bench) -> CheckFinding:
    """Sort the contacts of both sides, and hold each against the limit."""
    fields = {stage: field_of(check, bench, stage) for stage in COLUMNS}
    found, left = (_side(check, bench, own) if own else None for own in fields.values())
    return CheckFinding(
        check,
        limit=_limit_words(check),
        found=found,
        left=left,
        table=_table(check, fields),
        plain=_plain(fields["as_found"], fields["as_left"]),
        method=_method(check, bench, found, left),
        advice=_advice(check, fields["as_left"] or fields["as_found"]),
        basis=_basis(check, fields, left or found),
        curve=_all(check, fields) if len(_rows(check)) > LISTED else None,
    )


def _rows(check: Check) -> tuple[Row, ...]:
    return check.table.rows if check.table else ()


def name_of(row: Row) -> str:
    """Name a contact by its row and column: ``lowest F#``; one without either by its line in the table."""
    return f"{row.text('row')} {row.text('column')}".strip() or f"the one of line {row.place.line}"


def field_of(check: Check, bench: Bench, stage: str) -> Field | None:
    """Return the contacts of one side; None where none of them was read then.

    An empty cell is an open contact where others of its column were read, and tells nothing where the whole column is empty.
    """
    if not any(row.text(COLUMNS[stage]) for row in _rows(check)):
        return None
    ohms, found = _sorted(check, stage)
    return Field(ohms, found, tuple(_judge(check, bench, ohm, n in found.open) for n, ohm in enumerate(ohms)))


def _sorted(check: Check, stage: str) -> tuple[tuple[float | None, ...], Contacts]:
    ohms = tuple(_ohm(check, row, COLUMNS[stage]) for row in _rows(check))
    return ohms, sort_out(ohms, open_above=check.keys.get("open_above"), high_above=_high_above(check))


def _high_above(check: Check) -> float | None:
    return check.keys.get("high_above") or limit_of(check)


def _ohm(check: Check, row: Row, name: str) -> float | None:
    """Return a reading; one beyond the meter's range is none, unless what counts as open lies farther up still."""
    ohm, opened = row.number(name), check.keys.get("open_above")
    beyond = row.bound(name) == "least" and (opened is None or (ohm or 0.0) >= opened)
    return None if beyond else ohm


def limit_of(check: Check) -> float | None:
    """Return the most that a contact may have: the limit, else what counts as high, else what counts as open."""
    if check.limit:
        return check.limit.in_base()
    return check.keys.get("high_above") or check.keys.get("open_above")


def _limit_words(check: Check) -> str:
    if check.limit:
        return check.limit.text
    limit = limit_of(check)
    return (
        ""
        if limit is None
        else f"{_round(limit)}, above which a contact counts as {'high' if check.keys.get('high_above') else 'open'}"
    )


def _judge(check: Check, bench: Bench, ohm: float | None, is_open: bool) -> Verdict:  # noqa: FBT001  # what was found of it
    limit = limit_of(check)
    if is_open or ohm is None:
        return Verdict.INFORMATION if limit is None else Verdict.OUT
    return Verdict(verdict(ohm, reading_uncertainty(check, bench, ohm, "ohm"), None, limit, rule=bench.rule.value))


def _side(check: Check, bench: Bench, own: Field) -> Side:
    worst = None if own.sorted.worst is None else own.ohms[own.sorted.worst]
    u = None if worst is None else reading_uncertainty(check, bench, worst, "ohm")
    return Side(worst_of(own.verdicts), _results(check, own, worst, u), (), _worst_words(check, own))


def _results(check: Check, own: Field, worst: float | None, u: float | None) -> Results:
    why = "" if worst is not None else NOTHING_CLOSES
    decimals = max((d for row in _rows(check) for c in COLUMNS.values() if (d := row.decimals(c)) is not None), default=None)
    return {
        "worst_ohm": Value(worst, "ohm", u, decimals, why),
        "median_ohm": Value(own.sorted.median_ohm, "ohm", None, decimals, why),
        "open_contacts": Value(len(own.sorted.open)),
        "high_contacts": Value(len(own.sorted.high)) if _high_above(check) is not None else Value(None, reason=NO_HIGH),
        "contacts": Value(len(own.ohms)),
        "expanded_uncertainty": Value(u, "ohm", reason="" if u is not None else why or NO_RANGE),
    }


def _worst_words(check: Check, own: Field) -> str:
    verdict_of_all = worst_of(own.verdicts)
    if verdict_of_all not in SAID:
        return ""
    if own.sorted.open and verdict_of_all is Verdict.OUT:
        return f"{_names(check, own.sorted.open)}: open"
    return f"{_highest(check, own)}, {SAID[verdict_of_all]}"


def _highest(check: Check, own: Field) -> str:
    at = own.sorted.worst
    return "" if at is None else f"{name_of(_rows(check)[at])} with {short(own.ohms[at])} Ω"


def _names(check: Check, at: Sequence[int]) -> str:
    names = [name_of(_rows(check)[n]) for n in at[:NAMED]]
    more = f" and {len(at) - NAMED} more" if len(at) > NAMED else ""
    return f"{', '.join(names)}{more}"


def short(ohm: float | None, read: int | None = None) -> str:
    """Write a resistance in as few letters as three digits take, and no finer than it was read: ``0.43``, ``4.87``, ``184``, ``1.2k``."""
    if ohm is None:
        return OPEN
    if abs(ohm) >= KILO:
        return f"{ohm / KILO:.3g}k" if abs(ohm) < KILO**2 else f"{ohm / KILO**2:.3g}M"
    decimals = 3 - len(f"{abs(ohm):.0f}")
    return shown(Value(ohm, decimals=decimals if read is None else max(0, min(decimals, read))))


def _round(ohm: float) -> str:
    """Write a number that somebody chose: ``10 Ω``, ``1 kΩ``."""
    return f"{ohm:g} Ω" if ohm < KILO else f"{ohm / KILO:g} kΩ"


def _plain(found: Field | None, left: Field | None) -> str:
    """Tell a client how many close: ``As left, all 44 contacts close, the highest with 0.67 Ω; as found 3 were open and 4 high``."""
    own = left or found
    if own is None:
        return NOT_YET
    total, shut = len(own.ohms), len(own.ohms) - len(own.sorted.open)
    which = f"all {counted(total, 'contact')}" if shut == total > 1 else f"{shut} of {counted(total, 'contact')}"
    highest = "" if own.sorted.worst is None else f", the highest with {short(own.ohms[own.sorted.worst])} Ω"
    said = f"As {'left' if left else 'found'}, {which} {'closes' if 1 in (shut, total) else 'close'}{highest}"
    if not left:
        return f"{said}; not measured as left yet."
    if not found:
        return f"{said}."
    opened = len(found.sorted.open)
    return f"{said}; as found {opened} {'was' if opened == 1 else 'were'} open and {len(found.sorted.high)} high."


def _method(check: Check, bench: Bench, *sides: Side | None) -> str:
    opened, high = check.keys.get("open_above"), _high_above(check)
    said = ["A contact without a reading counts as open" + (f", and so does one above {_round(opened)}." if opened else ".")]
    if high is not None:
        said.append(f"Above {_round(high)} it counts as high.")
    return " ".join([settled_by(check, bench, *sides), *said, "Worst and median are of the contacts that close."])


def _advice(check: Check, own: Field | None) -> str:
    if own is None:
        return ""
    groups = (("Open", own.sorted.open), ("High", own.sorted.high))
    return " ".join(f"{words}: {_names(check, at)}." for words, at in groups if at)


def _basis(check: Check, fields: dict[str, Field | None], side: Side | None) -> str:
    own = fields["as_left"] or fields["as_found"]
    if own is None or side is None:
        return ""
    highest = _highest(check, own)
    tried, none = counted(len(own.ohms), "contact"), len(own.sorted.open)
    said = [f"Of {tried} that {'was' if len(own.ohms) == 1 else 'were'} tried, {none} gave no reading that counts as closed."]
    if highest:
        said.append(f"The highest of the others is {highest}, their median {shown(side.results['median_ohm'])}.")
    u = side.results["expanded_uncertainty"].value
    if isinstance(u, float):
        said.append(
            f"The uncertainty of the highest, {shown(Value(u, 'ohm', u))}, is that of the meter's range for it: limits of error over √3,"
            " doubled (k = 2)."
        )
    else:
        said.append("No range of a meter is given for these readings, so that no uncertainty is known.")
    return " ".join([*said, "A blank among readings is an open contact; a column of blanks alone was not measured."])


def _all(check: Check, fields: dict[str, Field | None]) -> DataTable:
    return _lines(check, fields, range(len(_rows(check))))


def _table(check: Check, fields: dict[str, Field | None]) -> DataTable:
    """List every contact, or of many those that stand out on either side, the worst first."""
    everything = range(len(_rows(check)))
    if len(everything) <= LISTED:
        return _lines(check, fields, everything)
    last = fields["as_left"] or fields["as_found"]
    rank = (
        {n: max(_badness(own, n) for own in (fields["as_found"], fields["as_left"]) if own) for n in everything} if last else {}
    )
    return _lines(check, fields, sorted(sorted(rank, key=lambda n: -rank[n])[:LISTED]))


def _badness(own: Field, n: int) -> float:
    ohm = own.ohms[n]
    return float("inf") if n in own.sorted.open or ohm is None else ohm


def _lines(check: Check, fields: dict[str, Field | None], numbers: Sequence[int]) -> DataTable:
    lines = []
    for n in numbers:
        row = _rows(check)[n]
        cells = (cell for stage, own in fields.items() for cell in _cells(row, COLUMNS[stage], own, n))
        lines.append((row.text("row"), row.text("column"), *cells))
    titles = (title for when in ("as found", "as left") for title in (f"{when.capitalize()} in Ω", f"Verdict {when}"))
    return DataTable(("Row", "Column", *titles), tuple(lines))


def _cells(row: Row, name: str, own: Field | None, n: int) -> tuple[Value | str, str]:
    if own is None:
        return Value(None), Verdict.NOT_MEASURED.value
    if n in own.sorted.open and own.ohms[n] is None:
        return "open", own.verdicts[n].value
    return Value(own.ohms[n], decimals=row.decimals(name)), own.verdicts[n].value


def chart(finding: CheckFinding) -> Chart | None:
    """Draw the field of contacts as found and as left, with a value or a sign in every cell."""
    check = finding.check
    if not sides_said(finding):
        return None
    down, across = (tuple(dict.fromkeys(row.text(name) for row in _rows(check))) for name in ("row", "column"))
    turned = len(down) <= VALUES_IN < len(across)  # a long row reads better from top to bottom
    fields = [_drawn(check, stage, side) for stage, side in (("as_found", finding.found), ("as_left", finding.left))]
    rows, columns = (across, down) if turned else (down, across)
    found, left = (
        None if own is None else [[own.get((c, r) if turned else (r, c)) for c in columns] for r in rows] for own in fields
    )
    paint, height = grid(rows, columns, found, left)
    small = len(columns) > VALUES_IN
    signs = f"{OPEN} is open{f', {HIGH} high, {WORST} the worst that closes, a dot a good one' if small else ''}"
    caption = f"{finding.plain} {'Signs' if small else 'Values in Ω'}: {signs}; what is outside its limit has a frame, the worst a thick one."
    alt = (
        f"{check.title}: {len(down)} by {len(across)} contacts {sides_said(finding)}. {finding.plain} {finding.advice}".strip()
    )
    return Chart(check.title, caption, alt, paint, height, left_margin=0.16)


def _drawn(check: Check, stage: str, side: Side | None) -> dict[tuple[str, str], GridCell] | None:
    """Return the cells of one side by row and column."""
    if side is None:
        return None
    ohms, found = _sorted(check, stage)
    judged = limit_of(check) is not None
    cells = {}
    for n, row in enumerate(_rows(check)):
        bad, worst = n in found.open or n in found.high, n == found.worst
        symbol = OPEN if n in found.open else WORST if worst else HIGH if bad else ""
        text = OPEN if n in found.open else short(ohms[n], row.decimals(COLUMNS[stage]))
        cells[row.text("row"), row.text("column")] = GridCell(text, symbol, not bad if judged else None, worst)
    return cells


KIND = Kind(SCHEMA, "Contacts", examine, chart)
