"""What a table may hold (its columns) and what one did hold (its rows), cell by cell with positions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from benchrecord.problems import Place


class Holds(StrEnum):
    """What a cell or a key may hold."""

    TEXT = "text"
    NUMBER = "number"  # a plain number, or a quantity whose unit is then checked
    PLAIN = "plain number"  # without a unit: money, pieces
    QUANTITY = "quantity"  # trade notation: 4k7, 100n, ±15 V, 0.5 %
    UNIT = "unit"
    FLAG = "yes or no"
    DATE = "date"
    WORD = "word"  # one of a list
    REF = "designator"
    REFS = "designators"
    FILE = "file"
    NOTE = "note name"  # of the musical kind: C4, F#3
    RECORDING = "recording"  # beside those of as found and as left (keys only, as all below)
    PAIR = "two numbers"  # the smaller first
    PAIRS = "two numbers for each name"
    STEPS = "numbers or notes"
    NUMBER_OR_YES = "a number, or yes"
    ANY = "anything"  # read by the kind itself


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table, or one key of a check.

    ``unit`` is the unit that a plain number counts in; a quantity of the same dimension is converted to it.
    ``positive`` asks for more than zero, ``like`` for the quantity of another column of the row. ``choice`` lists the words possible for ``Holds.WORD``.
    In the tables of every job a name that ends in ``*`` stands for all columns that begin so.
    ``near`` names another column that the value is of the same order as: a thousand times that is asked about.
    ``bounded`` lets a number be the most or the least that something is: ``<= 0.3``, ``> 200``.
    """

    name: str
    holds: Holds = Holds.TEXT
    required: bool = False
    unit: str | None = None
    positive: bool = False
    choice: tuple[str, ...] = ()
    like: str = ""  # another column, whose quantity this one must share
    near: str = ""
    bounded: bool = False


@dataclass(frozen=True, slots=True)
class KindSchema:
    """What intake must know of a kind of check: the columns of its file and the keys of its own.

    ``one_of`` lists groups of columns of which one must be there. A kind with columns has a table, one with ``recordings``
    takes recordings, and one with both needs one of the two.
    """

    name: str
    columns: tuple[Column, ...] = ()
    keys: tuple[Column, ...] = ()
    one_of: tuple[tuple[str, ...], ...] = ()
    recordings: bool = False
    limit_unit: str | tuple[str, ...] = ()  # the quantities that the key limit may have, such as cents; any where none is named


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: the text as written and the value it was read as (None where it is empty).

    ``value`` is a float (in the column's unit), a str, a bool, a date as ISO text or a tuple of str.
    """

    text: str
    value: float | str | bool | tuple[str, ...] | None
    place: Place
    unit: str | None = None
    decimals: int | None = None
    either_sign: bool = False
    bound: str = ""  # most or least, where the number is one


@dataclass(frozen=True, slots=True)
class Row:
    """One row; columns that the file does not have are not in ``cells``."""

    place: Place
    cells: Mapping[str, Cell] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """Return the cell as written, stripped; empty where there is none."""
        return self.cells[name].text.strip() if name in self.cells else ""

    def number(self, name: str) -> float | None:
        """Return the cell as a number, or None where it is empty."""
        value = self.cells[name].value if name in self.cells else None
        return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None

    def decimals(self, name: str) -> int | None:
        """Return how many decimals the cell was written with."""
        return self.cells[name].decimals if name in self.cells else None

    def unit(self, name: str) -> str | None:
        """Return the unit written in the cell itself."""
        return self.cells[name].unit if name in self.cells else None

    def bound(self, name: str) -> str:
        """Return ``most`` or ``least`` where the cell says that its number is one; empty where it is the number itself."""
        return self.cells[name].bound if name in self.cells else ""

    def flag(self, name: str) -> bool:
        """Return a yes/no cell; no where it is empty."""
        return name in self.cells and self.cells[name].value is True

    def words(self, name: str) -> tuple[str, ...]:
        """Return a cell that lists designators."""
        value = self.cells[name].value if name in self.cells else None
        return value if isinstance(value, tuple) else ()

    def at(self, name: str) -> Place:
        """Return where a cell stands; the row's place where there is no such cell."""
        return self.cells[name].place if name in self.cells else self.place


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read: which columns its header has, and its rows."""

    file: str
    columns: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
