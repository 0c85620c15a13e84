"""Changes to a table's file: a row more, cells of a row, a row less. Every other byte stays as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from benchrecord.intake.csv_file import LINE, SEPARATOR_LINE, RawTable, open_after, parse_table
from benchrecord.intake.edits import CannotChangeError, Text, number
from benchrecord.intake.tables import decimal_comma
from benchrecord.model.file_names import nfc
from benchrecord.model.table import Column
from benchrecord.problems import Problem

Cells = Mapping[str, str | float]
Span = tuple[int, int]
COMMA = ","
NAME = "table"  # of the file, in problems that only this room sees
SPREADSHEET = ";"  # a table has semicolons where its numbers have commas; common practice, no source


@dataclass(frozen=True, slots=True)
class Record:
    """A row as it is written: its first line, and from where to where each cell reaches, between the delimiters."""

    line: int
    cells: tuple[Span, ...]

    @property
    def end(self) -> int:
        """Where the row ends, before its line end."""
        return self.cells[-1][1]


@dataclass(frozen=True, slots=True)
class Written:
    """A table as it is written: its text, how intake reads it, where its rows stand, and whether numbers have a decimal comma."""

    text: Text
    table: RawTable
    records: tuple[Record, ...]
    comma: bool

    @property
    def rows(self) -> list[tuple[str, ...]]:
        """All rows below the header, as wide as it."""
        return [_as_wide(cells, self.table.header) for _, cells in self.table.rows]

    def words(self, value: str | float) -> str:
        """Write a value as the table's reader gives it back."""
        if isinstance(value, str):
            return nfc(value.strip())
        return number(value).replace(".", ",") if self.comma else number(value)

    def cell(self, value: str | float, column: int) -> str:
        """Write a cell as its column writes them: in quotes where it needs them, or where all others have them."""
        words = self.words(value)
        if self._needs_quotes(words) or (words and self._quotes(column)):
            return '"' + words.replace('"', '""') + '"'
        return words

    def core(self, span: Span) -> Span:
        """Return where a cell's words stand, without the spaces about them."""
        raw = self.text.text[slice(*span)]
        start = span[0] + len(raw) - len(raw.lstrip())
        return start, start + len(raw.strip())

    def _quotes(self, column: int) -> bool:
        said = [self.text.text[slice(*self.core(r.cells[column]))] for r in self.records if column < len(r.cells)]
        filled = [cell for cell in said if cell]
        return all(c.startswith('"') for c in filled) and any(not self._needs_quotes(c[1:-1]) for c in filled)

    def _needs_quotes(self, words: str) -> bool:
        return any(sign in words for sign in (self.table.delimiter, '"', "\r", "\n")) or words.startswith("#")


def add_row(data: bytes, cells: Cells, columns: Sequence[Column], *, like: bytes = b"") -> bytes:
    """Return a table with a row more at its end; a column that its header lacks, and that is filled, comes behind the others.

    An empty table gets a header of the names of ``cells``, written as ``like``, another table of the folder, is.

    Raises
    ------
    CannotChangeError
        Where the table cannot be read without a problem, or is written so that more than the row would change.
    """
    written = _read(data, columns)
    if not written.records:
        return _begun(written.text, cells, columns, like)
    written = _with_columns(written, cells, columns)
    row = written.table.delimiter.join(written.cell(cells.get(name, ""), n) for n, name in enumerate(written.table.header))
    changed = written.text.with_lines_after(len(written.text.text.rstrip()), row)
    wanted = tuple(written.words(cells.get(name, "")) for name in written.table.header)
    return _sure(changed, [*written.rows, wanted], written.table.header, columns)


def set_cells(data: bytes, line: int, cells: Cells, columns: Sequence[Column]) -> bytes:
    """Return a table with other words in cells of the row that begins at ``line``, counted as the user counts.

    Raises
    ------
    CannotChangeError
        Where no row begins there, or as ``add_row`` does.
    """
    written = _with_columns(_read(data, columns), cells, columns)
    at, header = _row_at(written, line), written.table.header
    places = {header.index(name): value for name, value in cells.items() if name in header}
    written = _long_enough(written, at, max(places, default=0) + 1, columns)
    text = written.text
    for column, value in sorted(places.items(), reverse=True):
        text = text.changed(*_replacement(written, written.records[at].cells[column], value, column))
    wanted = written.rows
    wanted[at - 1] = tuple(written.words(places[n]) if n in places else old for n, old in enumerate(wanted[at - 1]))
    return _sure(text, wanted, header, columns)


def remove_row(data: bytes, line: int, columns: Sequence[Column]) -> bytes:
    """Return a table without the row that begins at ``line``, counted as the user counts.

    Raises
    ------
    CannotChangeError
        Where no row begins there, or as ``add_row`` does.
    """
    written = _read(data, columns)
    at = _row_at(written, line)
    start, end = written.records[at].cells[0][0], written.records[at].end
    after = LINE.match(written.text.text, end)
    wanted = written.rows
    del wanted[at - 1]
    changed = written.text.changed(start, after.end() if after else end, "")
    return _sure(changed, wanted, written.table.header, columns)


def line_of(data: bytes, column: str, words: str, columns: Sequence[Column]) -> int | None:
    """Return the line of the first row that has these words in a column; None where no row has.

    Raises
    ------
    CannotChangeError
        Where the table cannot be read without a problem.
    """
    table = _read(data, columns).table
    at = table.header.index(column) if column in table.header else len(table.header)
    return next((line for line, cells in table.rows if cells[at : at + 1] == (words,)), None)


def _read(data: bytes, columns: Sequence[Column]) -> Written:
    text = Text.of(data)
    report: list[Problem] = []
    table = parse_table(text.text, NAME, report)
    comma = decimal_comma(table, {c.name: c for c in columns}, report)
    if report:
        problem = report[0]
        raise CannotChangeError(f"line {problem.place.line}: {problem.got}: {problem.remedy}")
    records = tuple(_records(text.text, table.delimiter))
    lines = [table.header_line, *(line for line, _ in table.rows)] if table.header else []
    if [r.line for r in records] != lines:
        raise CannotChangeError("its rows cannot be told apart: save it anew")
    return Written(text, table, records, bool(comma) or _as_spreadsheets(table, columns))


def _as_spreadsheets(table: RawTable, columns: Sequence[Column]) -> bool:
    """Say whether a table that shows no decimal sign yet is one of those with a comma."""
    names = {c.name for c in columns if c.unit is not None}
    cells = [c for _, row in table.rows for name, c in zip(table.header, row, strict=False) if name in names]
    return table.delimiter == SPREADSHEET and not any("." in c for c in cells)


def _records(text: str, delimiter: str) -> Iterator[Record]:
    """Yield each row that holds anything, as the reader finds them."""
    skipped = SEPARATOR_LINE.match(text)
    start, line, is_open = 0, 0, False
    for count, match in enumerate(LINE.finditer(text), 1):
        here = match.group()
        if not is_open and (not here.strip() or here.lstrip().startswith("#") or (skipped and count == 1)):
            continue
        if not is_open:
            start, line = match.start(), count
        is_open = open_after(here, delimiter, is_open=is_open)
        if not is_open:
            record = Record(line, tuple(_cells(text, start, match.start() + len(here.rstrip("\r\n")), delimiter)))
            if any(text[a:b].strip().strip('"').strip() for a, b in record.cells):
                yield record


def _cells(text: str, start: int, end: int, delimiter: str) -> Iterator[Span]:
    """Yield from where to where each cell of a row reaches, its quotes and the spaces about it counted in."""
    begun, at_start, quoted, closed = start, True, False, False
    for at in range(start, end):
        char = text[at]
        if char == delimiter and not quoted:
            yield begun, at
            begun, at_start, closed = at + 1, True, False
        elif char == '"' and (quoted or closed or at_start):
            quoted, closed, at_start = not quoted, quoted, False  # of a doubled quote the second opens again
        else:
            at_start, closed = at_start and char == " ", False
    yield begun, end


def _begun(text: Text, cells: Cells, columns: Sequence[Column], like: bytes) -> bytes:
    """Begin a table that has no header yet."""
    model = Text.of(like)
    table = parse_table(model.text, NAME, [])
    text = text if text.text else Text("", model.marked, model.line_end)
    delimiter = table.delimiter if len(table.header) > 1 else COMMA
    own = Written(text, RawTable(NAME, tuple(cells), delimiter=delimiter), (), delimiter == SPREADSHEET)
    rows = (cells, [own.cell(value, n) for n, value in enumerate(cells.values())])
    whole = text.with_lines_after(len(text.text.rstrip()), text.line_end.join(delimiter.join(row) for row in rows))
    return _sure(whole, [tuple(own.words(v) for v in cells.values())], tuple(cells), columns)


def _with_columns(written: Written, cells: Cells, columns: Sequence[Column]) -> Written:
    """Put the names of cells that are filled behind the header where it lacks them; rows may be shorter than it."""
    header = written.table.header
    if not header:
        raise CannotChangeError("it has no header: write the names of its columns into the first line")
    doubled = next((n for n in header if n and header.count(n) > 1), None)
    if doubled:
        raise CannotChangeError(f"the column {doubled} stands twice in its header: take one of the two out")
    missing = [name for name, value in cells.items() if name not in header and value != ""]
    if not missing:
        return written
    end = written.records[0].end
    quote = '"' if written.text.text[end - 1 : end] == '"' else ""
    more = "".join(f"{written.table.delimiter}{quote}{name}{quote}" for name in missing)
    return _read(written.text.changed(end, end, more).data, columns)


def _row_at(written: Written, line: int) -> int:
    """Return the number of the row that begins at a line; the header is row 0."""
    found = next((n for n, r in enumerate(written.records) if n and r.line == line), None)
    if found is None:
        raise CannotChangeError(f"no row begins at line {line}")
    return found


def _long_enough(written: Written, at: int, cells: int, columns: Sequence[Column]) -> Written:
    """Give a row that ends too early the delimiters that are missing."""
    row = written.records[at]
    short = cells - len(row.cells)
    if short <= 0:
        return written
    return _read(written.text.changed(row.end, row.end, written.table.delimiter * short).data, columns)


def _replacement(written: Written, span: Span, value: str | float, column: int) -> tuple[int, int, str]:
    """Return from where to where a cell is replaced, and by what; quotes that it has stay."""
    start, end = written.core(span)
    words = written.cell(value, column)
    if written.text.text[start : start + 1] == '"' and not words.startswith('"'):
        words = f'"{words}"'
    return start, end, words


def _sure(text: Text, wanted: list[tuple[str, ...]], header: tuple[str, ...], columns: Sequence[Column]) -> bytes:
    """Return the bytes of a table, once it is read back as what was wanted."""
    read = _read(text.data, columns)
    if read.table.header != header or read.rows != [_as_wide(row, header) for row in wanted]:
        raise CannotChangeError("it is written so that other rows would change too: change it by hand")
    return text.data


def _as_wide(cells: Sequence[str], header: Sequence[str]) -> tuple[str, ...]:
    return tuple(cells[n] if n < len(cells) else "" for n in range(len(header)))
