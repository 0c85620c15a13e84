"""Documents that go along in a record: each must be one that can be searched for what its reader must not see."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from benchrecord.intake.paths import on_disk
from benchrecord.model.job import Document, Job
from benchrecord.problems import Place, Problem
from benchrecord.publish.opaque import LOCKED, opaque

EXPECTED = "a document that can be searched for private words"
LEFT_OUT = "or clear its edition in documents.csv"
UNLOCK = f"save it without a password, {LEFT_OUT}"
UNPACK = f"unpack it and list its files, hand it over as PDF, {LEFT_OUT}"


def unsearchable(folder: Path, job: Job) -> Iterator[Problem]:
    """Yield a problem for each document of a job, as its reader has it, that nobody can look into."""
    for document in job.documents:
        path = on_disk(folder, document.file)
        if path.is_file() and (what := opaque(path.read_bytes())):
            yield _problem(document, what)


def _problem(document: Document, what: str) -> Problem:
    at = Place(document.place.file, document.place.line, "file")
    found = f"{document.file.removeprefix('documents/')}: {what}"
    return Problem("unsearchable-document", at, found, EXPECTED, UNLOCK if what == LOCKED else UNPACK)
