"""One build at a time: a lock beside the site, which a build that has died has let go of."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

try:
    import fcntl
except ModuleNotFoundError:  # a system without such locks: two builds at once are then the user's own care
    fcntl = None  # type: ignore[assignment]


class Refused(Exception):  # noqa: N818  # what happened to the site, in a word
    """The site was not built; the message says why."""


@dataclass(frozen=True, slots=True)
class Lock:
    """A file that is locked as long as the process that opened it lives; its text names that process."""

    path: Path
    handle: int

    def release(self) -> None:
        """Take the file away while it is still locked, so that nobody else's is."""
        self.path.unlink(missing_ok=True)
        os.close(self.handle)


def take(path: Path, what: str) -> Lock:
    """Lock ``path``, which is made for it, on behalf of the building of ``what``.

    Raises
    ------
    Refused
        Where another process holds it; the message names that process.
    """
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            if fcntl:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            said = os.read(handle, 100).decode(errors="replace").strip()
            os.close(handle)
            holder = f"process {said}" if said else "another process"
            raise Refused(f"{what} is being built by {holder}: wait until that has ended, or choose another folder.") from None
        if _is_still(path, handle):
            os.truncate(handle, 0)
            os.write(handle, f"{os.getpid()}\n".encode())
            return Lock(path, handle)
        os.close(handle)  # whoever held it took it away meanwhile


def _is_still(path: Path, handle: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(handle))
    except FileNotFoundError:
        return False
