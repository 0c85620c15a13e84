"""What placing by hand needs of a job folder, read anew after each click: boards, tables and checks, no picture and no recording."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from benchrecord.intake.boards import read_boards
from benchrecord.intake.checks_yml import read_checks
from benchrecord.intake.fixed_tables import (
    DATE_CODES,
    FAULTS,
    MARKS,
    PARTS,
    PHOTOS,
    TRIMS,
    date_code,
    fault,
    items,
    mark,
    part_work,
    read_rows,
    stage,
    trim,
)  # fmt: skip
from benchrecord.intake.job_yml import read_job_yml
from benchrecord.intake.paths import below, files_of
from benchrecord.intake.picture_file import ENDINGS
from benchrecord.model.job import Job, Photo
from benchrecord.model.table import KindSchema
from benchrecord.problems import Problem, in_order


def read_named(folder: Path, kinds: Mapping[str, KindSchema]) -> Job:
    """Read what names parts and photographs; of what cannot be read only the rest. Photos have no size here."""
    report: list[Problem] = []
    head = read_job_yml(folder, report) or Job(folder.name, folder.name)
    return replace(
        head,
        photos=_photos(folder, report),
        parts=items(read_rows(folder, "parts.csv", PARTS, report), part_work, ("ref",)),
        faults=items(read_rows(folder, "faults.csv", FAULTS, report), fault, ()),
        date_codes=items(read_rows(folder, "date-codes.csv", DATE_CODES, report), date_code, ("ref", "code")),
        trims=items(read_rows(folder, "trims.csv", TRIMS, report), trim, ("ref",)),
        checks=read_checks(folder, kinds, report),
    )


def with_places(job: Job, folder: Path) -> tuple[Job, tuple[Problem, ...]]:
    """Give a job its boards and marks as they are written now, and return what is wrong in their files."""
    report: list[Problem] = []
    boards = read_boards(folder, [f for f in files_of(folder)[0] if f.startswith("boards/")], report)
    marks = items(read_rows(folder, "marks.csv", MARKS, report), mark, ("photo",))
    return replace(job, boards=boards, marks=marks), in_order(report)


def _photos(folder: Path, report: list[Problem]) -> tuple[Photo, ...]:
    """Every picture, as the pages have them: those of photos.csv in its order, then the others by name."""
    rows = {below("photos", row.text("file")): row for row in reversed(read_rows(folder, "photos.csv", PHOTOS, report).rows)}
    order = {name: number for number, name in enumerate(reversed(rows))}
    names = [f for f in files_of(folder)[0] if f.startswith("photos/") and f.lower().endswith(ENDINGS)]
    photos = [
        Photo(name, 0, 0, caption=row.text("caption"), stage=stage(row), board=row.text("board"))
        if (row := rows.get(name))
        else Photo(name, 0, 0)
        for name in names
    ]
    return tuple(sorted(photos, key=lambda p: (order.get(p.file, len(order)), p.file)))
