"""Tables made from what other programs wrote: a board's from a placement file, marks from Web Annotations."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path, PurePosixPath

from benchrecord.disk import why, write_whole, writing_to
from benchrecord.intake.fixed_tables import LAYOUT
from benchrecord.intake.placement_file import IN_MM, Found, Placements, read_placements
from benchrecord.model.annotations import NoMarkError, Size, annotations_in, mark_of
from benchrecord.model.file_names import nfc
from benchrecord.model.job import Job, Mark
from benchrecord.pages import addresses
from benchrecord.problems import Place, Problem, as_text, in_one_line

NEAR_MM, EDGE_MM = (
    Decimal(25),
    Decimal(5),
)  # an origin this near is taken for the board's own; else the outermost parts stand so far inside
OWN = ("rotation", "side", "value", "kind", "function")
MARKS = ("photo", "shape", "x", "y", "w", "h", "text", "ref")
SHOWN = 8  # rows that a sentence lists
LARGEST = 20_000_000  # bytes of annotations

Point = tuple[Decimal, Decimal]


class RefusedError(Exception):
    """Nothing was written; the message says why."""


@dataclass(frozen=True, slots=True)
class Frame:
    """How a file's places become a board's: its unit where it does not say, its origin (x, y in that unit), whether y grows downwards."""

    unit: str | None = None
    origin: Point | None = None
    y_down: bool = False


def import_placement(file: Path, table: Path, frame: Frame, *, replace: bool) -> str:
    """Write a board's table from a placement file; return what was found, in sentences.

    Raises
    ------
    RefusedError
        Where the file cannot be read, does not say its unit, or the table is there already and ``replace`` is not asked for.
    """
    report: list[Problem] = []
    found = read_placements(_bytes(file), file.name, frame.unit, report)
    if found is None:
        raise RefusedError(as_text(report))
    units = [frame.unit] if frame.unit else list(found.units)
    if frame.origin and len(units) > 1:
        raise RefusedError("The file counts in several units: give the origin with --unit, or leave it out.")
    scale = IN_MM[units[0]]
    turned = [(p.x, -p.y if frame.y_down else p.y) for p in found.parts]
    own = (frame.origin[0] * scale, frame.origin[1] * scale * (-1 if frame.y_down else 1)) if frame.origin else None
    shift, where = _shift(turned, own)
    kept = _kept(dict.fromkeys(name for p in found.parts for name in p.more))
    said = _said(file.name, found, where, kept)
    rows = [_row(p, (x + shift[0], y + shift[1]), kept) for p, (x, y) in zip(found.parts, turned, strict=True)]
    _put(
        table,
        f"# {in_one_line(said[0])}\n# {where}\n" + _csv(("ref", "x_mm", "y_mm", *OWN, *kept.values()), rows),
        replace=replace,
    )
    return "\n".join([*said, f"Written to {table}."])


def _shift(places: Sequence[Point], origin: Point | None) -> tuple[Point, str]:
    """Return by how much places move so that they count from the board's lower left corner, and say so."""
    if origin:
        return (
            -origin[0],
            -origin[1],
        ), f"Its origin was moved to the corner you gave, by {_mm(-origin[0])} and {_mm(-origin[1])} mm."
    least = min(x for x, _ in places), min(y for _, y in places)
    if all(0 <= at <= NEAR_MM for at in least):
        return (
            Decimal(0),
            Decimal(0),
        ), "Its origin is kept: all parts stand to the right of it and above it, the outermost near it."
    x, y = EDGE_MM - least[0], EDGE_MM - least[1]
    guess = f"Its origin lies elsewhere: all parts were moved by {_mm(x)} and {_mm(y)} mm, so that the outermost stand {EDGE_MM} mm inside the left and lower edge."
    return (x, y), f"{guess} If you know where the board's lower left corner lies in the file, give it with --origin."


def _said(name: str, found: Placements, where: str, kept: Mapping[str, str]) -> list[str]:
    count = len(found.parts)
    units = " and ".join({"mm": "millimetres", "mil": "mils", "inch": "inches"}[u] for u in found.units)
    said = [
        f"{name} places {count} part{'' if count == 1 else 's'} in {units}, by {found.told_by}; {found.heads[0]} and {found.heads[1]} are the places.",
        where,
    ]
    if kept:
        said.append(f"Kept as they are: {', '.join(f'{old} as {new}' for old, new in kept.items())}.")
    if found.left_out:
        rows = [f"{ref or 'nothing'} in line {line}" for line, ref in found.left_out]
        further = f" and {len(rows) - SHOWN} more" if len(rows) > SHOWN else ""
        said.append(f"Left out, since no designator stands there: {', '.join(rows[:SHOWN])}{further}.")
    return said


def _kept(names: Iterable[str]) -> dict[str, str]:
    """Name the columns that nobody here knows so that the board's table may have them, each by a name of its own."""
    found: dict[str, str] = {}
    for number, name in enumerate(names, 1):
        plain = LAYOUT + (re.sub(r"\W+", "_", name).strip("_").lower() or "column")
        found[name] = f"{plain}_{number}" if plain in found.values() else plain
    return found


def _row(part: Found, place: Point, kept: Mapping[str, str]) -> list[str]:
    return [part.ref, *(_mm(v) for v in place), *(part.words.get(n, "") for n in OWN), *(part.more.get(n, "") for n in kept)]


def import_marks(file: Path, folder: Path, job: Job, *, replace: bool) -> str:
    """Write the marks of a job from Web Annotations; return what was found, in sentences.

    Raises
    ------
    RefusedError
        Where no mark can be made of the file, or marks.csv is there already and ``replace`` is not asked for.
    """
    try:
        data = json.loads(_bytes(file))
    except (ValueError, RecursionError) as error:
        raise RefusedError(
            as_text([Problem("file-unread", Place(file.name), str(error)[:80], "JSON", "export it again as JSON-LD")])
        ) from error
    marks, problems = marks_in(data, job, file.name)
    if not marks:
        raise RefusedError(as_text(problems) or f"{file.name} has no annotations.")
    cells = ([m.photo, m.shape, *(_share(v) for v in (m.x, m.y, m.w, m.h)), m.text, m.ref] for m in marks)
    table = folder / "marks.csv"
    _put(table, _csv(MARKS, cells), replace=replace)
    left = [f"Left out:\n{as_text(problems)}"] if problems else []
    return "\n".join([f"{len(marks)} mark{'' if len(marks) == 1 else 's'} written to {table}.", *left])


def marks_in(data: object, job: Job, name: str) -> tuple[list[Mark], list[Problem]]:
    """Return the marks that annotations say, and a problem for each annotation that says none."""
    by_name = {key: p for p in job.photos for key in (p.file, PurePosixPath(p.file).name)}
    by_anchor = {addresses.photo_anchor(p.file): p for p in job.photos}

    def find(source: str, scope: str) -> tuple[str, Size] | None:
        path = PurePosixPath(nfc(source))
        photo = by_name.get(str(path)) or by_name.get(path.name) or by_anchor.get(scope.rpartition("#")[2])
        return (photo.file, (photo.width, photo.height)) if photo else None

    marks, problems = [], []
    for number, made in enumerate(annotations_in(data), 1):
        try:
            marks.append(mark_of(made, find))
        except NoMarkError as error:
            place = Place(name, column=f"annotation {number}")
            problems.append(
                Problem("wrong-type", place, str(error), error.expected, "mend the annotation, or draw the mark anew")
            )
    return marks, problems


def _mm(length: Decimal) -> str:
    """Write a length in mm with all its digits, and none for nothing."""
    text = f"{length:f}"
    short = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if short in ("", "-0") else short


def _share(percent: float | None) -> str:
    return "" if percent is None else _mm(Decimal(repr(percent)))


def _csv(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table; words that no part has are left out."""
    table = [list(header), *(list(r) for r in rows)]
    used = [n for n, name in enumerate(header) if name not in OWN or any(row[n] for row in table[1:])]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([row[n] for n in used] for row in table)
    return out.getvalue()


def _bytes(file: Path) -> bytes:
    try:
        if file.stat().st_size > LARGEST:
            raise RefusedError(f"{file} is larger than {LARGEST // 1_000_000} MB.")
        return file.read_bytes()
    except OSError as error:
        raise RefusedError(f"{file}: {error.strerror or error}") from error


def _put(path: Path, text: str, *, replace: bool) -> None:
    """Write a table whole or not at all, and never over one that is there, unless that is asked for."""
    if path.exists() and not replace:
        raise RefusedError(f"{path} is there already: say --replace to write over it, or write to another file.")
    try:
        with writing_to(path.parent):
            path.parent.mkdir(exist_ok=True)
            write_whole(path, text.encode("utf-8"))
    except OSError as error:
        raise RefusedError(f"{path}: {why(error)}") from error
