"""Writing, renaming and removing files that another program may hold open for a moment.

On Windows an open file can be neither renamed nor removed, nor can a folder that holds one; virus scanners, search indexers and
viewers open whatever has just been written. Such a refusal is worth a few more attempts. Other systems refuse for lasting reasons.
"""

from __future__ import annotations

import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

PAUSES_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 1.0)  # between attempts: about three seconds in all
HELD = (5, 32, 33)  # error codes of Windows: access denied, sharing violation, lock violation
OPEN_ELSEWHERE = "another program has it open, or it may not be written"
Result = TypeVar("Result")


def rename(source: Path, target: Path) -> None:
    """Give a file or a folder another name, which nothing has yet."""
    retry(lambda: source.rename(target))


def remove(path: Path) -> None:
    """Remove a file that may be gone already."""
    retry(lambda: path.unlink(missing_ok=True))


def remove_tree(folder: Path) -> None:
    """Remove a folder with all that it holds."""
    retry(lambda: shutil.rmtree(folder))


@contextmanager
def scratch(above: Path | None = None, prefix: str = "benchrecord-") -> Iterator[Path]:
    """Make a folder for a while, in ``above`` or where the system keeps such, and remove it with all that it holds."""
    made = Path(tempfile.mkdtemp(prefix=prefix, dir=above))
    try:
        yield made
    finally:
        remove_tree(made)


def is_inside(path: Path, folder: Path) -> bool:
    """Say whether a path, which need not be there, lies in a folder or is it; on some disks capitals do not count."""
    for above in (path, *path.parents):
        with suppress(OSError):  # what is not there is not that folder
            if above.samefile(folder):
                return True
    return False


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; where there is one already, it is replaced in one step.

    Raises
    ------
    OSError
        Where it cannot be written; nothing has changed then.
    """
    part = part_of(path)
    try:
        write_new(part, content, like=path)
        retry(lambda: part.replace(path))
    finally:
        with suppress(OSError):
            remove(part)


def part_of(path: Path) -> Path:
    """Return a name in the same folder for what is to replace a file."""
    return path.with_name(f".{path.name}-{secrets.token_hex(8)}")


def write_new(path: Path, content: bytes, *, like: Path) -> None:
    """Write a file that is not there yet, to the disk itself, with the permissions of another one where that is there."""
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    if like.exists():
        shutil.copymode(like, path)


def why(error: OSError) -> str:
    """Return in words what a system refused."""
    if _is_held(error):
        return OPEN_ELSEWHERE
    return os.strerror(error.errno) if error.errno else str(error)


def retry(act: Callable[[], Result]) -> Result:
    """Return what an act returns; where another program holds a file, try again for about three seconds."""
    for pause in PAUSES_S:
        try:
            return act()
        except PermissionError as error:
            if not _is_held(error):
                raise
            time.sleep(pause)
    return act()


def _is_held(error: OSError) -> bool:
    return getattr(error, "winerror", None) in HELD
