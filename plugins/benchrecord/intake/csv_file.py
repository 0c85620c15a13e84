"""Tables: delimiter, decimal sign, header, and each row with the user's own line number."""

from __future__ import annotations

import csv
import re
from _csv import Reader
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchrecord.intake.paths import TABLE_BYTES, TABLE_ROWS, read_text
from benchrecord.model.file_names import nfc
from benchrecord.problems import Place, Problem, nearest, write_one_of

LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")  # as editors count them: a form feed ends no line
SEPARATOR_LINE = re.compile(r"\A[\"']?sep=.[\"']?(?=[\r\n])")  # some spreadsheets write it before the header
NO_DELIMITER = re.compile(r"[|:]|\s{2}|\S\s+\S")
DELIMITERS = ("\t", ";", ",")
CELL_CHARACTERS = 131_072


@dataclass(frozen=True, slots=True)
class RawTable:
    """A table as text: the header's names, and each row's line and cells."""

    file: str
    header: tuple[str, ...] = ()
    header_line: int = 1
    rows: tuple[tuple[int, tuple[str, ...]], ...] = ()
    delimiter: str = ","


@dataclass
class _Lines:
    """Hands lines to the csv reader, leaves out comments and blank lines, and remembers which line a record began on."""

    lines: Sequence[str]
    delimiter: str
    started: int = 0
    open_quote: bool = False

    def __iter__(self) -> Iterator[str]:
        for number, line in enumerate(self.lines, 1):
            if not self.open_quote and (not line.strip() or line.lstrip().startswith("#")):
                continue
            if not self.open_quote:
                self.started = number
            self.open_quote = open_after(line, self.delimiter, is_open=self.open_quote)
            yield line


def open_after(line: str, delimiter: str, *, is_open: bool) -> bool:
    """Say whether a quote is still open at the end of a line. A quote opens only where a cell begins."""
    quoted, at_start = is_open, True
    for char in line:
        if quoted and char == '"':
            is_open = not is_open
        elif quoted and char == delimiter and not is_open:
            quoted, at_start = False, True
        elif not quoted and char == '"' and at_start:
            quoted = is_open = True
        elif not quoted:
            at_start = char == delimiter or (at_start and char == " ")
    return is_open


def records(lines: Iterable[str], delimiter: str) -> Reader:
    """Read the cells of each record, of up to ``CELL_CHARACTERS`` each.

    Raises
    ------
    csv.Error : while they are read, where a cell is longer or a line cannot be read

    """
    csv.field_size_limit(CELL_CHARACTERS)  # one for the whole process, which other libraries change
    return csv.reader(lines, delimiter=delimiter, skipinitialspace=delimiter != "\t")


def read_table(folder: Path, name: str, report: list[Problem]) -> RawTable | None:
    """Read a table's text; None where it cannot be read at all."""
    text, problem = read_text(folder, name, TABLE_BYTES)
    if problem:
        report.append(problem)
    return None if text is None else parse_table(text, name, report)


def parse_table(text: str, name: str, report: list[Problem]) -> RawTable:
    """Split a table into rows; what is wrong goes to ``report``."""
    lines = LINE.findall(SEPARATOR_LINE.sub(r"#\g<0>", text))
    first = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    delimiter = _delimiter(first)
    feed = _Lines(lines, delimiter)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        for record in records(feed, delimiter):
            if any(cell.strip() for cell in record):
                rows.append((feed.started, tuple(nfc(cell.strip()) for cell in record)))
    except csv.Error as error:
        report.append(
            Problem("csv-syntax", Place(name, feed.started), str(error)[:80], "cells between delimiters", "mend this line")
        )
    if feed.open_quote:
        line, cells = rows.pop() if rows else (feed.started, ("",))
        said = '"' + cells[-1].splitlines()[0][:80] if cells[-1] else '"'
        report.append(Problem("csv-syntax", Place(name, line), said, "a closing quote", 'close the cell with "'))
    return _checked(RawTable(name, rows=tuple(rows), delimiter=delimiter), report)


def _delimiter(header: str) -> str:
    counts = Counter(header)
    return max(DELIMITERS, key=lambda d: (counts[d], -DELIMITERS.index(d)))


def _checked(whole: RawTable, report: list[Problem]) -> RawTable:
    """Take the header off the rows, and complain of rows and cells that are too many."""
    name = whole.file
    if not whole.rows:
        return whole
    (header_line, header), body = whole.rows[0], whole.rows[1:]
    if len(body) > TABLE_ROWS:
        report.append(
            Problem("too-many-rows", Place(name), f"{len(body)} rows", f"at most {TABLE_ROWS} rows", "split the table")
        )
        body = body[:TABLE_ROWS]
    nameless = {n for n, column in enumerate(header) if not column}
    for line, cells in body:
        extra = [c for c in cells[len(header) :] if c]
        under_none = next((n for n in sorted(nameless) if n < len(cells) and cells[n]), None)
        if extra:
            said, expected = f"{len(cells)} cells, the last: {extra[-1]}", f"{len(header)} cells, as in the header"
            remedy = 'put a cell that holds the delimiter in "quotes"'
            report.append(Problem("csv-syntax", Place(name, line), said[:80], expected, remedy))
        elif under_none is not None:
            nameless.discard(under_none)
            remedy = f"write a name above it in line {header_line}, or empty the cells"
            report.append(Problem("csv-syntax", Place(name, line), cells[under_none][:80], "a name above each column", remedy))
    return RawTable(name, header, header_line, body, whole.delimiter)


def in_one_cell(header: Sequence[str], known: Sequence[str]) -> bool:
    """Say whether all names of a header stand in one cell, as with a delimiter that is none."""
    return len(header) == 1 and header[0] not in known and bool(NO_DELIMITER.search(header[0]))


def meant(header: Sequence[str], known: Sequence[str]) -> set[str]:
    """Return the columns that misspelt ones of a header were most likely meant to be."""
    if in_one_cell(header, known):
        return {*known}
    return {guess for name in header if name and name not in known and (guess := nearest(name, known))}


def check_header(table: RawTable, known: Sequence[str], required: Sequence[str], report: list[Problem]) -> None:
    """Complain of unknown, doubled and missing columns."""
    at = Place(table.file, table.header_line)
    if in_one_cell(table.header, known):
        said, expected = table.header[0][:80], "names with a comma, a semicolon or a tab between them"
        report.append(Problem("csv-syntax", at, said, expected, "save the table as CSV with commas or semicolons"))
        return
    for name, count in Counter(h for h in table.header if h).items():
        place = Place(table.file, table.header_line, name)
        if name not in known:
            report.append(Problem("unknown-column", place, name, f"one of: {', '.join(known)}", write_one_of(name, known)))
        elif count > 1:
            report.append(Problem("duplicate-column", place, name, "each column once", "take one of the two out"))
    for name in required:
        if table.header and name not in {*table.header, *meant(table.header, known)}:
            report.append(
                Problem("missing-column", at, ", ".join(table.header)[:80], f"a column {name}", f"add the column {name}")
            )
