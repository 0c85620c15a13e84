"""Tables that a spreadsheet opens: no cell may be taken for a formula.

Source of the first characters: OWASP, CSV Injection, and ASVS 5.0, requirement 1.2.10; full-width signs from memory. Plain numbers pass.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

TRIGGER = re.compile(r"[=+\-@\t\r\n\0＝＋－＠]")
NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


def formulas(data: bytes) -> Iterator[int]:
    """Yield the line of each cell of a table that a spreadsheet may take for a formula."""
    text = data.decode("utf-8-sig", "replace")
    csv.field_size_limit(max(len(text), 1))  # one for the whole process, which other libraries change
    for separator in (",", ";", "\t"):  # which one a spreadsheet takes depends on where its user lives
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        first = 0 if separator == "," else 1  # a line begins with the same cell, whatever ends that
        try:
            yield from sorted({rows.line_num for row in rows for cell in row[first:] if is_formula(cell)})
        except csv.Error:
            yield rows.line_num


def is_formula(cell: str) -> bool:
    """Say whether a spreadsheet may take a cell for a formula."""
    return bool(TRIGGER.match(cell)) and not NUMBER.fullmatch(cell)
