"""A whole job folder: every file by its reader, then the cross-checks."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from benchrecord.intake.boards import read_boards
from benchrecord.intake.checks_yml import read_checks
from benchrecord.intake.crosscheck import cross_check, no_photo
from benchrecord.intake.fixed_tables import (
    DATE_CODES,
    DOCUMENTS,
    FAULTS,
    MARKS,
    PARTS,
    PHOTOS,
    TRIMS,
    date_code,
    day,
    document,
    edition,
    fault,
    items,
    mark,
    part_work,
    read_rows,
    stage,
    trim,
)  # fmt: skip
from benchrecord.intake.job_yml import read_job_yml
from benchrecord.intake.note_file import read_note
from benchrecord.intake.patches import read_patches
from benchrecord.intake.paths import below, files_of, unread
from benchrecord.intake.picture_file import ENDINGS, NO_PICTURE, ONCE, Looking, PictureFacts, read_picture, unwarned
from benchrecord.intake.sound_file import ENDINGS as SOUNDS
from benchrecord.intake.sound_file import read_recording
from benchrecord.intake.yaml_file import only_once
from benchrecord.model.job import Document, Job, Note, Photo, Recording, TakenBy
from benchrecord.model.table import KindSchema, Row
from benchrecord.problems import Place, Problem, in_order

READERS = 2  # a picture of 24 megapixels that is no JPEG takes about 100 MB while it is looked at


def read_job(folder: Path, kinds: Mapping[str, KindSchema], looking: Looking = ONCE) -> tuple[Job | None, tuple[Problem, ...]]:
    """Read a job folder by the kinds of check that are known; return the job and every problem, at once.

    Nothing in the folder is changed. The job is None where there is no job.yml that can be read. ``looking`` is how pictures
    are looked at.
    """
    report: list[Problem] = []
    head = read_job_yml(folder, report)
    if head is None:
        return None, in_order(report)
    files, escaping = files_of(folder)
    report += escaping
    trims = read_rows(folder, "trims.csv", TRIMS, report)
    job = replace(
        head,
        notes=_notes(folder, files, report),
        boards=read_boards(folder, files, report),
        photos=_photos(folder, files, report, looking),
        marks=items(read_rows(folder, "marks.csv", MARKS, report), mark, ("photo",)),
        parts=items(read_rows(folder, "parts.csv", PARTS, report), part_work, ("ref",)),
        faults=items(read_rows(folder, "faults.csv", FAULTS, report), fault, ()),
        date_codes=items(read_rows(folder, "date-codes.csv", DATE_CODES, report), date_code, ("ref", "code")),
        documents=_documents(folder, files, report),
        trims=items(trims, trim, ("ref",)),
        checks=read_checks(folder, kinds, report),
        recordings=_recordings(folder, files, report),
        patches=read_patches(folder, report),
    )
    only_once([(t.key, t.place) for t in job.trims], report, "trim")
    return job, in_order([*report, *cross_check(job, files)])


def _notes(folder: Path, files: list[str], report: list[Problem]) -> tuple[Note, ...]:
    names = [f for f in files if f.startswith("notes/") and f.endswith(".md") and f.count("/") == 1]
    return tuple(note for name in names if (note := read_note(folder, name, report)))


def _photos(folder: Path, files: list[str], report: list[Problem], looking: Looking) -> tuple[Photo, ...]:
    """Every picture of the folder, with the words of its row where it has one."""
    table = read_rows(folder, "photos.csv", PHOTOS, report)
    named = items(table, lambda row: (below("photos", row.text("file")), row), ("file",))
    only_once([(name, row.at("file")) for name, row in named], report, "photo")
    rows, names = dict(reversed(named)), [f for f in files if f.startswith("photos/")]
    report += [no_photo(name, row.at("file"), names) for name, row in rows.items() if name not in names]
    report += [_no_picture(n) for n in names if not n.lower().endswith(ENDINGS)]
    order = {name: number for number, (name, _) in enumerate(named)}
    wanted = sorted((n for n in names if n.lower().endswith(ENDINGS)), key=lambda n: (order.get(n, len(order)), n))
    with unwarned(), ThreadPoolExecutor(READERS) as pool:
        read = list(pool.map(lambda name: read_picture(folder, name, looking), wanted))
    report += [problem for _, problem in read if problem]
    return tuple(_photo(name, facts, rows.get(name)) for name, (facts, _) in zip(wanted, read, strict=True) if facts)


def _photo(name: str, facts: PictureFacts, row: Row | None) -> Photo:
    """Make a photo; its date comes from the picture where its row gives none."""
    plain = Photo(name, facts.width, facts.height, date=facts.taken, dated=facts.dated, content=facts.content)
    if row is None:
        return plain
    return replace(
        plain,
        caption=row.text("caption"),
        stage=stage(row),
        date=day(row) or facts.taken,
        dated=None if day(row) else facts.dated,
        board=row.text("board"),
        module=row.text("module"),
        refs=row.words("refs"),
        edition=edition(row),
        taken_by=TakenBy(row.text("taken_by") or TakenBy.TECHNICIAN),
        place=row.place,
    )


def _no_picture(name: str) -> Problem:
    return Problem("file-unread", Place(name), "no picture", NO_PICTURE, "move it out of photos/")


def _documents(folder: Path, files: list[str], report: list[Problem]) -> tuple[Document, ...]:
    named = items(read_rows(folder, "documents.csv", DOCUMENTS, report), document, ("file",))
    rows = {d.file for d in named}
    return (*named, *(Document(f, f.removeprefix("documents/")) for f in files if f.startswith("documents/") and f not in rows))


def _recordings(folder: Path, files: list[str], report: list[Problem]) -> tuple[Recording, ...]:
    names = [f for f in files if f.startswith("recordings/")]
    kinds = f"a recording: {', '.join(SOUNDS)}"
    report += [
        unread(n, "no recording", kinds, "move it out of recordings/") for n in names if Path(n).suffix.lower() not in SOUNDS
    ]
    read = [read_recording(folder, name) for name in names if Path(name).suffix.lower() in SOUNDS]
    report += [problem for _, problem in read if problem]
    return tuple(recording for recording, _ in read if recording)
