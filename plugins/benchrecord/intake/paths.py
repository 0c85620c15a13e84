"""Which files a folder has, and whether a path stays inside it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

from benchrecord.problems import Place, Problem

IGNORED = {"Thumbs.db", "desktop.ini"}
MB = 1_000_000
TABLE_BYTES, TEXT_BYTES, PICTURE_BYTES, RECORDING_BYTES = 8 * MB, 2 * MB, 200 * MB, 2000 * MB
TABLE_ROWS, PICTURE_PIXELS = 20_000, 120 * MB


def outside(path: str) -> bool:
    """Say whether a path that a user wrote leaves the folder."""
    pure = PurePosixPath(path.replace("\\", "/"))
    return pure.is_absolute() or ".." in pure.parts or ":" in path[:3]


def below(folder: str, name: str) -> str:
    """Return the path of a file that may be named with or without its folder."""
    return name if name.startswith(f"{folder}/") else f"{folder}/{name}"


def escape_problem(path: str, place: Place) -> Problem:
    """Word the problem of a path that leaves the folder."""
    return Problem(
        "path-outside",
        place,
        path,
        "a file inside the job folder",
        "copy the file into the folder and write its path from there",
    )


def link_problem(folder: Path, name: str) -> Problem | None:
    """Return the problem of a file that is a link and leads out of the folder."""
    path = folder / name
    if path.resolve().is_relative_to(folder.resolve()):
        return None
    return escape_problem(f"{name} -> {path.readlink() if path.is_symlink() else path.resolve()}", Place(name))


def files_of(folder: Path) -> tuple[list[str], list[Problem]]:
    """Return every file of the folder by its path inside it; a link that leaves the folder is a problem and not listed."""
    names: list[str] = []
    problems: list[Problem] = []
    for path in _walk(folder):
        name = path.relative_to(folder).as_posix()
        problem = link_problem(folder, name)
        problems += [problem] if problem else []
        names += [] if problem else [name]
    return sorted(names), problems


def _walk(folder: Path) -> Iterator[Path]:
    for at, folders, files in os.walk(folder):
        links = [f for f in folders if (Path(at) / f).is_symlink()]
        folders[:] = [f for f in folders if not f.startswith(".") and f not in links]
        yield from (Path(at) / name for name in (*files, *links) if not name.startswith((".", "~$")) and name not in IGNORED)


def read_text(folder: Path, name: str, limit: int) -> tuple[str | None, Problem | None]:
    """Return a text file without its byte-order mark, or the problem that it cannot be read."""
    path = folder / name
    if problem := link_problem(folder, name):
        return None, problem
    try:
        if not path.is_file():
            return None, Problem("file-unread", Place(name), "not a file", "a text file", "put a plain file in its place")
        if path.stat().st_size > limit:
            said = f"{path.stat().st_size / MB:.1f} MB"
            return None, Problem("file-too-big", Place(name), said, f"at most {limit // MB} MB", "split the file or shorten it")
        data = path.read_bytes()
    except OSError as error:
        return None, Problem(
            "file-unread",
            Place(name),
            error.strerror or str(error),
            "a file that may be read",
            "give yourself the right to read it",
        )
    return _decoded(name, data)


def _decoded(name: str, data: bytes) -> tuple[str | None, Problem | None]:
    remedy = "save the file as UTF-8 text"
    if b"\0" in data:
        line = data.count(b"\n", 0, data.index(b"\0")) + 1
        return None, Problem("file-unread", Place(name, line), "bytes that are no text", "text in UTF-8", remedy)
    try:
        return data.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        said = f"byte 0x{data[error.start]:02X}"
        return None, Problem("file-unread", Place(name, line), said, "text in UTF-8", remedy)


def listed_size(folder: Path, name: str, limit: int) -> tuple[int, Problem | None]:
    """Return the size of a file that is only listed, and the problem that it is too big."""
    size = (folder / name).stat().st_size
    said = f"{size / MB:.0f} MB"
    return size, Problem(
        "file-too-big", Place(name), said, f"at most {limit // MB} MB", "cut or compress the recording"
    ) if size > limit else None
