"""What a build wrote into a site's folder, kept in the folder itself, so that nothing else there is ever taken away."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

from benchrecord.intake.paths import SITE_RECORD
from benchrecord.model.file_names import nfc

RECORD = SITE_RECORD  # as sha256sum writes and checks it
NAMED = 3  # files that a message names


def write_record(site: Path) -> None:
    """Write down every file of a site with its SHA-256."""
    lines = [f"{_mark(name)}{_digest(site / name)}  {_escaped(name)}\n" for name in _entries(site) if name != RECORD]
    (site / RECORD).write_text("".join(lines), "utf-8", "surrogateescape", newline="\n")


def foreign(site: Path) -> Iterator[str]:
    """Yield what no build has written: files, links and the like that the record does not name, or that were changed after it.

    Only files that were touched after the record are read again.
    """
    record = site / RECORD
    known = _read(record) if record.is_file() and not record.is_symlink() else {}
    written = record.stat().st_mtime_ns if known else 0
    names = (name for name in _entries(site) if name != RECORD)
    yield from (name for name in names if not _as_written(site / name, known.get(nfc(_escaped(name))), written))


def some_of(names: Iterable[str]) -> str:
    """Name the first few of files; empty where there are none."""
    first = list(islice(names, NAMED + 1))
    return ", ".join(first[:NAMED]) + (" and others" if len(first) > NAMED else "")


def _read(record: Path) -> dict[str, str]:
    lines = record.read_text("utf-8", "surrogateescape").split("\n")
    return {nfc(name): digest.lstrip("\\") for digest, _, name in (line.partition("  ") for line in lines)}


def _mark(name: str) -> str:
    return "\\" if _escaped(name) != name else ""


def _escaped(name: str) -> str:
    return name.replace("\\", "\\\\").replace("\n", "\\n").replace("\r", "\\r")


def _as_written(path: Path, digest: str | None, written: int) -> bool:
    if digest is None or path.is_symlink() or not path.is_file():
        return False
    return path.stat().st_mtime_ns <= written or _digest(path) == digest


def _entries(site: Path) -> Iterator[str]:
    """Yield everything below a folder that is no folder, links to folders among it, by its path inside, in order."""
    for folder, folders, files in os.walk(site, onerror=_raise):
        folders.sort()
        links = [name for name in folders if (Path(folder) / name).is_symlink()]
        yield from ((Path(folder) / name).relative_to(site).as_posix() for name in sorted([*files, *links]))


def _raise(error: OSError) -> None:
    raise error


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
