"""Writing, renaming and removing files: those that another program may hold open for a moment, on disks that may be full.

On Windows an open file can be neither renamed nor removed, nor can a folder that holds one; virus scanners, search indexers and
viewers open whatever has just been written. Such a refusal is worth a few more attempts. Other systems refuse for lasting reasons.

A scratch folder is locked as long as the process lives that made it, so that the next one can tell what a killed one has left.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from filelock import lock_descriptor

from benchrecord.interrupts import temporary

PAUSES_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 1.0)  # between attempts: about three seconds in all
HELD = (5, 32, 33)  # error codes of Windows: access denied, sharing violation, lock violation
SCRATCH, LOCK = "benchrecord-", ".benchrecord-scratch"  # how folders for a while are named, and the file in them that is locked
FULL = {  # why a disk takes no more; Windows has no quota of its own number
    getattr(errno, "EDQUOT", -1): "the disk is full: your quota is used up",
    errno.ENOSPC: "the disk is full",
    errno.EROFS: "the disk is read-only",
    errno.EFBIG: "the file is larger than this disk can hold",
}
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
def scratch(above: Path | None = None, prefix: str = SCRATCH) -> Iterator[Path]:
    """Make a folder for a while, in ``above`` or where the system keeps such, and remove it with all that it holds.

    What processes that were killed left of such folders there is removed first.
    """
    place = above or Path(tempfile.gettempdir())
    remove_abandoned(place)
    with temporary(lambda: _made(place, prefix), _removed) as (made, _):
        yield made


def remove_abandoned(place: Path) -> None:
    """Remove the scratch folders in a folder whose process is gone; whatever cannot be removed stays."""
    with suppress(OSError):
        for entry in [*os.scandir(place)]:
            if entry.name.lstrip(".").startswith(SCRATCH) and entry.is_dir(follow_symlinks=False):
                _remove_unlocked(Path(entry.path))


def _made(place: Path, prefix: str) -> tuple[Path, int]:
    """Make and lock a scratch folder; where another process takes it for an abandoned one at that very moment, make another."""
    while True:
        made = Path(tempfile.mkdtemp(prefix=prefix, dir=place))
        try:
            handle = os.open(made / LOCK, os.O_RDWR | os.O_CREAT, 0o600)
        except FileNotFoundError:
            continue
        except OSError:
            made.rmdir()
            raise
        with suppress(OSError):  # on some disks nothing can be locked, and nothing there is taken for abandoned
            lock_descriptor(handle)
        if (made / LOCK).exists():
            return made, handle
        os.close(handle)


def _removed(made: tuple[Path, int]) -> None:
    folder, handle = made
    os.close(handle)  # Windows removes no open file
    with suppress(FileNotFoundError):  # another process may find it unlocked at that moment, and remove it too
        remove_tree(folder)


def _remove_unlocked(folder: Path) -> None:
    """Remove a scratch folder that nobody has locked, while it is locked here, so that nobody begins to use it."""
    with suppress(OSError):
        if not _is_own(folder):
            return
        handle = os.open(folder / LOCK, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
        try:
            abandoned = lock_descriptor(handle, blocking=False)
            with suppress(PermissionError):  # of Windows, which removes no open file
                if abandoned:
                    shutil.rmtree(folder)
        finally:
            os.close(handle)
        if abandoned:
            shutil.rmtree(folder)


def _is_own(folder: Path) -> bool:
    """Say whether a folder is this user's own: in a folder for all, others may have made one of its name."""
    user = getattr(os, "getuid", None)  # Windows has none
    return user is None or folder.lstat().st_uid == user()


@contextmanager
def made_folder(folder: Path) -> Iterator[None]:
    """Make a folder, with those above it that are not there; where what follows fails, remove those that are empty still."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        with suppress(OSError):
            for path in missing:
                path.rmdir()
        raise


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
    """Return in words what a system refused; of a disk that takes no more, the folder that was written to as well."""
    if _is_held(error):
        return OPEN_ELSEWHERE
    if is_full(error):
        path = _path_in(error.filename2) or _path_in(error.filename)
        return FULL[error.errno or 0] + (f" ({_lasting(path)})" if path else "")
    return os.strerror(error.errno) if error.errno else str(error)


def why_there(error: OSError) -> str:
    """Return in words what a system refused, and of what file or folder."""
    path = None if is_full(error) else _path_in(error.filename)
    return why(error) + (f" ({path})" if path else "")


def is_full(error: OSError) -> bool:
    """Say whether it is the disk that takes no more."""
    return error.errno in FULL


def _path_in(named: object) -> Path | None:
    return Path(os.fsdecode(named)) if isinstance(named, str | bytes) else None


def _lasting(path: Path) -> Path:
    """Return the folder that a path lies in, and not one that is scratch or has been removed by now."""
    folders = [path, *path.parents]
    scratch_folders = [n for n, folder in enumerate(folders) if (folder / LOCK).is_file()]
    there = (folder for folder in folders[max(scratch_folders, default=-1) + 1 :] if folder.is_dir())
    return next(there, path)


@contextmanager
def writing_to(folder: Path) -> Iterator[None]:
    """Name the folder that is written to in errors that name nothing, as those of a disk that is full."""
    try:
        yield
    except OSError as error:
        if error.filename is None:
            error.filename = str(folder)
        raise


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
