"""Which files a folder has, and whether a path stays inside it."""

from __future__ import annotations

import codecs
import os
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from benchrecord.model.file_names import nfc
from benchrecord.problems import Place, Problem, in_one_line

IGNORED = {"Thumbs.db", "desktop.ini"}
SITE_RECORD = "benchrecord-files.sha256"  # is in the folder of every site that a build wrote
FIRST_PRINTED = 32
MAY_READ = "give yourself the right to read it"
MB = 1_000_000
TABLE_BYTES, TEXT_BYTES, PICTURE_BYTES, RECORDING_BYTES = 8 * MB, 2 * MB, 200 * MB, 4000 * MB
NOTE_BYTES = MB // 2  # a hundred and fifty pages of print
TABLE_ROWS, PICTURE_PIXELS = 20_000, 120 * MB


def outside(path: str) -> bool:
    """Say whether a path that a user wrote leaves the folder."""
    pure = PurePosixPath(path.replace("\\", "/"))
    return pure.is_absolute() or ".." in pure.parts or ":" in path[:3]


def below(folder: str, name: str) -> str:
    """Return the path of a file that may be named with or without its folder, also as Windows writes it."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    inside = parts[1:] if len(parts) > 1 and parts[0].lower() == folder.lower() else parts
    return nfc(str(PurePosixPath(folder, *inside)))


def find(folder: Path, name: str) -> Path | None:
    """Return where a file or folder of a job is; None where there is none of that name.

    Its accents may be stored in either form; capitals count, also where the disk takes them for small letters, so that a folder
    reads alike on every system.
    """
    at = folder
    for part in PurePosixPath(name).parts:
        try:
            names = {nfc(entry.name): entry for entry in at.iterdir()}
        except OSError:
            return None
        if nfc(part) not in names:
            return None
        at = names[nfc(part)]
    return at if at.exists() else None


def on_disk(folder: Path, name: str) -> Path:
    """Return the path of a file that is known to be in a job: its accents may be stored in another form than its name has here."""
    path = folder / name
    return path if name.isascii() or os.path.lexists(path) else find(folder, name) or path


def escape_problem(path: str, place: Place) -> Problem:
    """Word the problem of a path that leaves the folder."""
    return Problem(
        "path-outside",
        place,
        path,
        "a file inside the job folder",
        "copy the file into the folder and write its path from there",
    )


def unfit(folder: Path, name: str) -> Problem | None:
    """Return the problem of what cannot be a file of a job: a link that leaves the folder or leads nowhere, a pipe, a strange name."""
    path = on_disk(folder, name)
    if any(ord(char) < FIRST_PRINTED or "\ud800" <= char <= "\udfff" for char in name):
        return unread(
            in_one_line(name), "a name with signs that are no letters", "a name of letters, digits and -", "rename the file"
        )
    try:
        end = path.resolve(strict=True)
    except (OSError, RuntimeError):
        if path.is_symlink():
            said = f"a link to {path.readlink()}, which leads nowhere"
            return unread(name, said, "a file", "copy the file itself into the folder")
        return None
    if not end.is_relative_to(folder.resolve()):
        return escape_problem(f"{name} -> {path.readlink() if path.is_symlink() else end}", Place(name))
    if not (path.is_file() or path.is_dir()):
        return unread(name, "a pipe or a device", "a plain file", "put a plain file in its place")
    return None


def unread(name: str, said: str, expected: str, remedy: str) -> Problem:
    """Word the problem of a file that cannot be read."""
    return Problem("file-unread", Place(name), said, expected, remedy)


def files_of(folder: Path) -> tuple[list[str], list[Problem]]:
    """Return every file of the folder by its path inside it, in NFC; what cannot be a file of a job is a problem and not listed."""
    found: set[str] = set()
    problems: list[Problem] = []
    for path in _walk(folder, problems):
        stored = path.relative_to(folder).as_posix()
        name = nfc(stored)
        problem = unfit(folder, stored) or (_twin(name) if name in found else None)
        problems += [problem] if problem else []
        found |= set() if problem else {name}
    return sorted(found), problems


def _twin(name: str) -> Problem:
    found = "two files whose names differ only in how their accents are stored"
    return unread(name, found, "a name that no other file has", "rename one of the two")


def _walk(folder: Path, problems: list[Problem]) -> Iterator[Path]:
    def closed(error: OSError) -> None:
        name = Path(error.filename).relative_to(folder).as_posix()
        problems.append(unread(name, error.strerror or str(error), "a folder that may be read", MAY_READ))

    for at, folders, files in os.walk(folder, onerror=closed):
        if SITE_RECORD in files and Path(at) != folder:
            problems.append(_site_in_job(Path(at).relative_to(folder).as_posix()))
            folders.clear()
            continue
        links = [f for f in folders if (Path(at) / f).is_symlink()]
        folders[:] = [f for f in folders if not f.startswith(".") and f not in links]
        yield from (Path(at) / name for name in (*files, *links) if not name.startswith((".", "~$")) and name not in IGNORED)


def _site_in_job(name: str) -> Problem:
    """Word the problem of a site that was built into the job folder; nothing of it is read."""
    remedy = f"move {name} out of the job folder, or delete it: a site can be built again"
    return Problem("site-in-job", Place(name), "a site that benchrecord built", "files of the job alone", remedy)


def read_text(folder: Path, name: str, limit: int) -> tuple[str | None, Problem | None]:
    """Return a text file without its byte-order mark, or the problem that it cannot be read."""
    path = on_disk(folder, name)
    if problem := unfit(folder, name):
        return None, problem
    try:
        if not path.is_file():
            return None, unread(name, "a folder", "a text file", "put a plain file in its place")
        if path.stat().st_size > limit:
            said = f"{path.stat().st_size / MB:.1f} MB"
            return None, Problem(
                "file-too-big",
                Place(name),
                said,
                f"at most {f'{limit / MB:.2f}'.rstrip('0').rstrip('.')} MB",
                "split the file or shorten it",
            )
        data = path.read_bytes()
    except OSError as error:
        return None, unread(name, error.strerror or str(error), "a file that may be read", MAY_READ)
    return _decoded(name, data.removeprefix(codecs.BOM_UTF8))


def _decoded(name: str, data: bytes) -> tuple[str | None, Problem | None]:
    remedy = "save the file as UTF-8 text"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return None, unread(name, "text in UTF-16", "text in UTF-8", remedy)
    if b"\0" in data:
        line = data.count(b"\n", 0, data.index(b"\0")) + 1
        return None, Problem("file-unread", Place(name, line), "bytes that are no text", "text in UTF-8", remedy)
    try:
        return data.decode("utf-8"), None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        said = f"byte 0x{data[error.start]:02X}"
        return None, Problem("file-unread", Place(name, line), said, "text in UTF-8", remedy)
