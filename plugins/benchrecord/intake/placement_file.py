"""Placement files, as layout programs write them: where each part stands, in whatever unit, under whatever heads."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import zip_longest

from benchrecord.intake.csv_file import records
from benchrecord.problems import Place, Problem

# An inch is 25.4 mm by definition (international yard and pound agreement of 1959); a mil is a thousandth of it.
IN_MM = {"mm": Decimal(1), "mil": Decimal("0.0254"), "inch": Decimal("25.4")}
SPELT = {
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres", "metric"), "mm"),
    **dict.fromkeys(("mil", "mils", "thou", "th"), "mil"), **dict.fromkeys(("in", "inch", "inches", '"', "″", "imperial"), "inch"),
}  # fmt: skip
UNIT = "|".join(sorted((re.escape(s) for s in SPELT), key=len, reverse=True))
IN_HEAD = re.compile(rf"(?:(?<!\s)\s++|[_(\[-]\s*+)({UNIT}|deg|degrees|°)\s*+[)\]]?$", re.IGNORECASE)
WORDY = "|".join(s for s in UNIT.split("|") if s not in ("in", "th"))  # in a sentence, "in" is a word
IN_TEXT = re.compile(
    rf"\b(?:units?|dimensions?|coordinates?|measurements?)\b[^\n]{{0,24}}?[\s:=(](?:({WORDY})(?![\w])|(in)\W*$)", re.IGNORECASE
)
NUMBER = re.compile(rf"(?P<number>[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{{1,2}})?)\s*(?P<unit>{UNIT})?", re.IGNORECASE)
PART = re.compile(r"[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
REFS = (
    "designator",
    "refdes",
    "referencedesignator",
    "refdesignator",
    "reference",
    "ref",
    "partreference",
    "component",
    "part",
    "name",
)
MIDDLE = (
    "mid",
    "center",
    "centre",
    "centroid",
    "",
    "pos",
    "position",
    "loc",
    "location",
    "coord",
    "coordinate",
    "sym",
    "placement",
    "ref",
    "pad",
)
WORDS = {
    "rotation": ("rotation", "rot", "angle", "orientation", "theta"), "side": ("side", "layer", "tb", "topbottom", "mountside", "boardside", "placementside"),
    "value": ("value", "val", "partvalue", "comment"), "unit": ("unit", "units"), "kind": ("kind",), "function": ("function",),
}  # fmt: skip
SIDES = {
    **dict.fromkeys(("top", "t", "toplayer", "front", "f", "fcu", "component", "componentside", "primary"), "top"),
    **dict.fromkeys(("bottom", "bot", "b", "bottomlayer", "back", "bcu", "solder", "solderside", "secondary"), "bottom"),
}  # fmt: skip
HEAD_WITHIN, LARGEST = 200, 8_000_000  # lines that a program may write before its table; bytes
LONGEST_NUMBER = 40  # characters
A_TABLE = "a table with columns for the designator, x and y"


@dataclass(frozen=True, slots=True)
class Found:
    """A part as the file gives it: place in mm from the file's origin, y upwards, and all other cells by their heads."""

    ref: str
    x: Decimal
    y: Decimal
    words: Mapping[str, str]
    more: Mapping[str, str]
    line: int


@dataclass(frozen=True, slots=True)
class Placements:
    """What a file holds: its parts, the units found and what told them, the heads of x and y, rows without a designator."""

    parts: tuple[Found, ...]
    units: tuple[str, ...]
    told_by: str
    heads: tuple[str, str]
    left_out: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Head:
    """The header of a table: where it stands, how its cells are parted, and which column plays which role."""

    line: int
    split: str
    cells: tuple[str, ...]
    roles: Mapping[str, int]

    @property
    def unit(self) -> list[str]:
        """The units that the heads of x and y name."""
        found = (IN_HEAD.search(self.cells[self.roles[role]]) for role in ("x", "y"))
        return [SPELT[match[1].lower()] for match in found if match and match[1].lower() in SPELT]


def read_placements(data: bytes, name: str, unit: str | None, report: list[Problem]) -> Placements | None:
    """Read a placement file; ``unit`` is what its numbers count in where it does not say. None, and problems, where it cannot be read."""
    if len(data) > LARGEST:
        report.append(
            Problem(
                "file-too-big", Place(name), f"{len(data) / 1e6:.0f} MB", f"at most {LARGEST / 1e6:.0f} MB", "split the file"
            )
        )
        return None
    try:
        return _read(_text(data).splitlines(), name, unit, report)
    except csv.Error as error:
        report.append(Problem("csv-syntax", Place(name), str(error)[:80], A_TABLE, "export it again as CSV, with a header"))
        return None


def _read(lines: Sequence[str], name: str, unit: str | None, report: list[Problem]) -> Placements | None:
    head = next((h for n, line in enumerate(lines[:HEAD_WITHIN]) if (h := _head(n, line))), None)
    if head is None:
        said = next((line.strip() for line in lines if line.strip()), "nothing")
        report.append(Problem("csv-syntax", Place(name), said[:80], A_TABLE, "export it again as CSV, with a header"))
        return None
    rows = [(number, cells) for number, cells in _rows(lines, head) if any(cells)]
    before = [
        m for n, line in enumerate(lines) if (n < head.line or line.lstrip().startswith("#")) and (m := IN_TEXT.search(line))
    ]
    unit, told_by = _stated(
        head, [SPELT[(m[1] or m[2]).lower()] for m in before], unit, place=Place(name, head.line + 1), report=report
    )
    return _Reading(name, head, (unit, told_by), _comma(rows, head, name, report), report).read(rows)


@dataclass
class _Reading:
    """Reads rows one after the other.

    ``stated`` is the unit of numbers without one of their own, and what told it; ``comma`` whether they have a decimal comma (None: in doubt).
    """

    name: str
    head: Head
    stated: tuple[str | None, str]
    comma: bool | None
    report: list[Problem]

    def read(self, rows: Sequence[tuple[int, tuple[str, ...]]]) -> Placements | None:
        """Return all parts; None where one of them cannot be read."""
        before, told, parts, left_out = len(self.report), set[tuple[str, str]](), [], []
        for number, cells in rows:
            ref = self._cell(cells, "ref")
            if not PART.fullmatch(ref):
                left_out.append((number, ref))
                continue
            x, y = (self._length(number, cells, axis, told) for axis in ("x", "y"))
            if x is not None and y is not None:
                parts.append(Found(ref, x, y, self._words(cells), self._more(cells), number))
        self._once(parts)
        if not parts and len(self.report) == before and self.comma is not None:
            self.report.append(
                Problem("csv-syntax", Place(self.name), "no row with a designator", A_TABLE, "export it again, with all parts")
            )
        heads = self.head.cells[self.head.roles["x"]], self.head.cells[self.head.roles["y"]]
        units, by = sorted({unit for unit, _ in told}), sorted({who for _, who in told})
        found = Placements(tuple(parts), tuple(units), " and ".join(by), heads, tuple(left_out))
        return found if not self.report else None

    def _cell(self, cells: Sequence[str], role: str) -> str:
        at = self.head.roles.get(role)
        return cells[at] if at is not None and at < len(cells) else ""

    def _length(self, number: int, cells: Sequence[str], axis: str, told: set[tuple[str, str]]) -> Decimal | None:
        text, place = self._cell(cells, axis), Place(self.name, number, self.head.cells[self.head.roles[axis]])
        if self.comma is None:
            return None  # a problem of the file already
        match = NUMBER.fullmatch(text)
        if match is None or len(text) > LONGEST_NUMBER or ("," in text and not self.comma):
            self.report.append(
                Problem("not-a-number", place, text[:80] or "nothing", "a number", "mend the cell, or take the row out")
            )
            return None
        own = SPELT.get((match["unit"] or self._cell(cells, "unit")).lower())
        unit, told_by = (own, "its cells") if own else self.stated
        if unit is None:
            self._ask(text, place)
            return None
        told.add((unit, told_by))
        return Decimal(match["number"].replace(",", ".")) * IN_MM[unit]

    def _ask(self, text: str, place: Place) -> None:
        """Ask for the unit, once: it is never guessed."""
        if not any(p.code == "wrong-unit" for p in self.report):
            expected, remedy = (
                "a unit in the header, the cells or above the table",
                "say which: --unit mm, --unit mil or --unit inch",
            )
            self.report.append(Problem("wrong-unit", place, text[:80], expected, remedy))

    def _words(self, cells: Sequence[str]) -> dict[str, str]:
        found = {role: text for role in WORDS if role != "unit" and (text := self._cell(cells, role))}
        if "side" in found:
            found["side"] = SIDES.get(re.sub(r"[^a-z]", "", found["side"].lower()), found["side"])
        if turn := found.pop("rotation", ""):
            plain = re.sub(r"(?<!\s)\s*+(?:deg|degrees|°)$", "", turn).replace(",", ".")
            found |= {"rotation": plain} if re.fullmatch(r"[-+]?\d+(?:\.\d*)?", plain) else {}
        return found

    def _more(self, cells: Sequence[str]) -> dict[str, str]:
        taken, found = set(self.head.roles.values()), dict[str, str]()
        for n, (head, text) in enumerate(zip_longest(self.head.cells, cells, fillvalue="")):
            name = head if head and head not in found else f"{head or 'column'} {n + 1}"
            if n not in taken and (head or text):
                found[name] = text
        return found

    def _once(self, parts: Sequence[Found]) -> None:
        seen: dict[str, int] = {}
        for part in parts:
            if part.ref in seen:
                place = Place(self.name, part.line, self.head.cells[self.head.roles["ref"]])
                remedy = "leave one of the two; of a panel of several boards, export one"
                self.report.append(
                    Problem(
                        "duplicate-id", place, part.ref, f"each designator once; it stands in line {seen[part.ref]} too", remedy
                    )
                )
            seen.setdefault(part.ref, part.line)


def _text(data: bytes) -> str:
    """Decode what programs write: UTF-8 or UTF-16 with their marks, UTF-8 without, else the western code page."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _head(number: int, line: str) -> Head | None:
    """Return the header that a line is, if it is one."""
    bare = line.strip().lstrip("#").strip()
    for split in ("\t", ";", ",", "  ", " "):
        cells = tuple(_split(bare, split))
        roles = _roles(cells)
        if {"ref", "x", "y"} <= roles.keys():
            return Head(number, split, cells, roles)
    return None


def _split(line: str, split: str) -> list[str]:
    if split.isspace() and split != "\t":
        return [cell.strip('"') for cell in re.split(r"\s{2,}" if split == "  " else r"\s+", line.strip())]
    return [cell.strip() for cell in next(records([line], split), [])]


def _rows(lines: Sequence[str], head: Head) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Yield each row below the header with its line number; comments are left out."""
    first = head.line + 1
    if head.split.isspace() and head.split != "\t":
        for number, line in enumerate(lines[first:], first + 1):
            if line.strip() and not line.lstrip().startswith("#"):
                ways = (_split(line, "  "), _split(line, " "))
                yield number, tuple(next((cells for cells in ways if len(cells) == len(head.cells)), ways[1]))
        return
    body = ["" if line.lstrip().startswith("#") else line for line in lines[first:]]
    reader = records(body, head.split)
    for cells in reader:
        yield first + reader.line_num, tuple(cell.strip() for cell in cells)


def _roles(cells: Sequence[str]) -> dict[str, int]:
    """Tell which column is which by its head: a middle before another point, and x and y of the same."""
    plain = [re.sub(r"[^a-z]", "", IN_HEAD.sub("", cell.strip()).lower()) for cell in cells]
    roles = {
        role: plain.index(word)
        for role, words in (("ref", REFS), *WORDS.items())
        if (word := next((w for w in words if w in plain), ""))
    }
    for stem in MIDDLE:
        for x, y in ((f"{stem}x", f"{stem}y"), (f"x{stem}", f"y{stem}")):
            if x in plain and y in plain:
                return {**roles, "x": plain.index(x), "y": plain.index(y)}
    return roles


def _stated(
    head: Head, above: Sequence[str], asked: str | None, *, place: Place, report: list[Problem]
) -> tuple[str | None, str]:
    """Return the unit of plain numbers and what tells it; a problem where two things say different ones."""
    told = [(unit, "its header") for unit in head.unit] + [(unit, "the lines above its table") for unit in above]
    told += [(asked, "--unit")] if asked else []
    units = dict.fromkeys(unit for unit, _ in told)
    if len(units) > 1:
        said = ", ".join(f"{unit} by {who}" for unit, who in dict.fromkeys(told))
        report.append(
            Problem("wrong-unit", place, said, "one unit", "mend the file, or leave --unit out" if asked else "mend the file")
        )
    return told[0] if told else (None, "")


def _comma(rows: Sequence[tuple[int, tuple[str, ...]]], head: Head, name: str, report: list[Problem]) -> bool | None:
    """Say whether numbers have a decimal comma; None, with a problem, where that is in doubt."""
    cells = [(number, row[at]) for number, row in rows for at in (head.roles["x"], head.roles["y"]) if at < len(row)]
    commas, points = ([c for c in cells if sign in c[1]] for sign in (",", "."))
    if not commas:
        return False
    grouped = head.split == "," and all(re.fullmatch(r"[-+]?\d{1,3},\d{3}\D*", text) for _, text in commas)
    if points or grouped:
        place = Place(name, commas[0][0])
        said = f"{commas[0][1]} and {points[0][1]}" if points else commas[0][1]
        report.append(
            Problem(
                "ambiguous-decimal", place, said[:80], "one decimal sign in the whole file", "export it with decimal points"
            )
        )
        return None
    return True
