"""Where each thing of a job stands on the site, as ``br:/path.md#anchor``; the links plugin makes addresses of these."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable

from benchrecord.model.file_names import DEVICE, nfc
from benchrecord.model.job import Job, Note
from benchrecord.model.references import Target

SCHEME = "br:/"
LONGEST = 60  # characters of a name: a disk takes 255 bytes
GIVEN_BY_A_CAMERA = re.compile(r"\d{4}")  # a number, or a date


def slug(text: str) -> str:
    """Return a text as it may stand in an address or an anchor; of a long one the beginning, told from others by a digest."""
    name = re.sub(r"[^\w.-]+", "-", nfc(text)).strip("-.") or "x"
    return name if len(name) <= LONGEST else f"{name[: LONGEST - 11]}-{hashlib.sha256(text.encode()).hexdigest()[:10]}"


def file_name(text: str) -> str:
    """Return a slug that may be the name of a file on every system."""
    return DEVICE.sub(r"\1_", slug(text))


def page(job_id: str, name: str) -> str:
    """Return the source path of a page of a job; ``name`` is a slug, or one in a folder."""
    folder, slash, last = name.rpartition("/")
    return f"jobs/{job_id}/{folder}{slash}{file_name(last)}.md"


def to_page(job_id: str, name: str, anchor: str = "") -> str:
    """Return the reference to a page of a job."""
    return f"{SCHEME}{page(job_id, name)}" + (f"#{anchor}" if anchor else "")


def asset(job_id: str, name: str) -> str:
    """Return the source path of a picture or a data file of a job."""
    return f"jobs/{job_id}/assets/{name}"


def data(job_id: str, name: str) -> str:
    """Return the source path of a data file of a job."""
    return f"jobs/{job_id}/data/{name}"


def readings(job_id: str, check_id: str) -> str:
    """Return the source path of the readings of a check."""
    return data(job_id, f"{file_name(check_id)}.csv")


def points(job_id: str, check_id: str) -> str:
    """Return the source path of the points that a check's chart draws, where its readings do not hold them."""
    return data(job_id, f"{slug(check_id)}-curve.csv")


def numbers(job_id: str, check_id: str) -> str:
    """Return the reference to how the numbers of a check came about."""
    return to_page(job_id, "numbers", f"numbers-{slug(check_id)}")


def note_page(note: Note) -> str:
    """Return the name of a note's page among the pages of its job."""
    return f"notes/{slug(note.address or note.id)}"


def note(job_id: str, note: Note) -> str:
    """Return the reference to a note."""
    return to_page(job_id, note_page(note))


def part_anchor(key: str) -> str:
    """Return the anchor of a part's entry in the list of a board."""
    return f"part-{slug(key.rpartition(':')[2])}"


def pin(job_id: str, key: str) -> str:
    """Return the reference to a part: its pin on the map where it has one (``boards/psu#R12``)."""
    board, _, ref = key.rpartition(":")
    return to_page(job_id, f"boards/{slug(board)}", slug(ref)) if board else to_page(job_id, "parts", part_anchor(key))


def entry(job_id: str, key: str) -> str:
    """Return the reference to a part's entry: what was done to it and where it is spoken of."""
    board = key.rpartition(":")[0]
    return to_page(job_id, f"boards/{slug(board)}" if board else "parts", part_anchor(key))


def trim_anchor(key: str) -> str:
    """Return the anchor of a trim's row."""
    return f"trim-{slug(key)}"


def photo_anchor(file: str) -> str:
    """Return the anchor of a picture on the page of photographs: its name, where somebody gave it one.

    The name that a camera or a telephone gives tells when it was taken, or which of its pictures it is, and is not published.
    """
    name = file.removeprefix("photos/").rpartition(".")[0].lower()
    own = hashlib.sha256(name.encode()).hexdigest()[:10] if GIVEN_BY_A_CAMERA.search(name) else slug(name)
    return f"photo-{own}"


def mark_anchor(file: str, number: int | None = None) -> str:
    """Return how the anchors of a picture's marks begin, or the anchor of one of them; its words stand at ``said-…``."""
    return f"mark-{photo_anchor(file)}" + (f"-{number}" if number else "")


def from_data(reference: str) -> str:
    """Return a reference within a job as an address relative to its data files (pages end in .html there)."""
    path, _, anchor = reference.removeprefix(SCHEME).partition("#")
    return f"../{path.split('/', 2)[2].removesuffix('.md')}.html" + (f"#{anchor}" if anchor else "")


def check(job: Job, check_id: str) -> str:
    """Return the reference to a check: on its module's page, else on the page of checks."""
    module = next((c.module for c in job.checks if c.id == check_id), "")
    known = any(m.id == module for m in job.modules)
    return to_page(job.id, f"modules/{slug(module)}" if known else "checks", f"check-{slug(check_id)}")


def of(job: Job, target: Target) -> str:
    """Return the reference to whatever a reference in a text resolved to."""
    simple = {"board": "boards/", "module": "modules/"}
    if target.kind in simple:
        return to_page(job.id, simple[target.kind] + slug(target.id))
    if target.kind in ("patch", "recording"):
        return to_page(job.id, "patches", f"{target.kind}-{slug(target.id)}")
    others: dict[str, Callable[[], str]] = {
        "note": lambda: next(note(job.id, n) for n in job.notes if n.id == target.id),
        "check": lambda: check(job, target.id),
        "trim": lambda: to_page(job.id, "trims", trim_anchor(target.id)),
        "photo": lambda: to_page(job.id, "photos", photo_anchor(target.id)),
    }
    return others.get(target.kind, lambda: pin(job.id, target.id))()
