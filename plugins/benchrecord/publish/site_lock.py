"""One build at a time: a lock beside the site, which a build that has died has let go of."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from filelock import lock_descriptor, unlock_descriptor

from benchrecord.disk import remove

DIGITS = 20  # room for the number of a process: nothing is left of a longer one that was there before


class Refused(Exception):  # noqa: N818  # what happened to the site, in a word
    """The site was not built; the message says why."""


@dataclass(frozen=True, slots=True)
class Lock:
    """A file that is locked as long as the process that opened it lives; its text names that process."""

    path: Path
    handle: int

    def release(self) -> None:
        """Remove the file and unlock it.

        Where an open file may be removed, it is removed while it is still locked, so that it cannot be another build's by then.
        Windows removes no open file: there it is closed first, and stays where another build has opened it by then.
        """
        removed = False
        with suppress(OSError):
            self.path.unlink(missing_ok=True)
            removed = True
        unlock_descriptor(self.handle)
        os.close(self.handle)
        if not removed:
            with suppress(OSError):
                remove(self.path)


def take(path: Path, what: str) -> Lock:
    """Lock ``path``, which is made for it, on behalf of the building of ``what``.

    Raises
    ------
    Refused
        Where another process holds it; the message names that process.
    """
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        if not lock_descriptor(handle, blocking=False):
            holder = _holder(handle)
            os.close(handle)
            raise Refused(f"{what} is being built by {holder}: wait until that has ended, or choose another folder.")
        if _is_still(path, handle):
            os.write(handle, f" {os.getpid():<{DIGITS}}\n".encode())
            return Lock(path, handle)
        os.close(handle)  # whoever held it took it away meanwhile


def _holder(handle: int) -> str:
    """Name the process that holds a lock. Windows lets nobody else read the first byte, which is what is locked there."""
    with suppress(OSError):
        os.lseek(handle, 1, os.SEEK_SET)
        if number := os.read(handle, 100).decode(errors="replace").strip():
            return f"process {number}"
    return "another process"


def _is_still(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False
