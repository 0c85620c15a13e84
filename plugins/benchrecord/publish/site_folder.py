"""The folder of a site: the new one is made beside the former one and takes its place in one step, or not at all."""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from benchrecord.disk import remove_tree, rename, why, why_there
from benchrecord.publish.site_lock import Lock, Refused, take
from benchrecord.publish.site_record import RECORD, foreign, some_of, write_record

AT_FDCWD, RENAME_EXCHANGE = -100, 2  # of Linux: fcntl.h, linux/fs.h
NO_SUCH_STEP = (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP)  # a kernel or a file system that cannot exchange


@dataclass(frozen=True, slots=True)
class NewSite:
    """A site that is being made: ``wanted`` is where it will be, ``made`` where it is built, ``former`` is used where nothing can be exchanged."""

    wanted: Path
    lock: Lock

    @property
    def made(self) -> Path:
        """The folder that it is built in."""
        return _workshop(self.wanted) / "new"

    @property
    def former(self) -> Path:
        """Where the former site waits, for the moment between two renames."""
        return _workshop(self.wanted) / "former"

    def put_in_place(self) -> None:
        """Let the new site take the place of the former one, which is gone after that.

        Raises
        ------
        Refused
            Where files that are not a site's were put into the former one meanwhile.
        """
        with worded():
            write_record(self.made)
            _refuse_foreign(self.wanted)
            if not self.wanted.exists():
                rename(self.made, self.wanted)
                return
            shutil.copymode(self.wanted, self.made)
            if not exchange(self.made, self.wanted):
                _rename_twice(self)

    def close(self) -> None:
        """Let go of everything but the site itself, whatever has happened."""
        with suppress(OSError):  # what cannot be taken away now, the next build tries again
            _put_back(self)
            _clear(self)
        self.lock.release()


def begin(wanted: Path) -> NewSite:
    """Begin a site that is to be ``wanted``; what a build that was killed left behind is put right first.

    Raises
    ------
    Refused
        Where another build is at it, where the folder holds what no build wrote, or where nothing can be written.
    """
    if wanted == wanted.parent or wanted.is_file():
        raise Refused(f"{wanted} is no folder for a site: choose another.")
    with worded():
        wanted.parent.mkdir(parents=True, exist_ok=True)
        site = NewSite(wanted, take(wanted.with_name(f".{wanted.name}.benchrecord-lock"), str(wanted)))
    try:
        with worded():
            _put_back(site)
            _refuse_foreign(wanted)
            _clear(site)
            site.made.mkdir(parents=True)
    except BaseException:
        site.lock.release()
        raise
    return site


@contextmanager
def worded() -> Iterator[None]:
    """Turn what the system refuses (no room, no permission) into a sentence."""
    try:
        yield
    except OSError as error:
        raise Refused(f"The site was not built: {why_there(error)}. The former one is as it was.") from error


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places in one step; False, and nothing done, where there is no such step.

    Raises
    ------
    OSError
        Where the system refuses.
    """
    renameat2 = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if sys.platform == "linux" else None
    if renameat2 is None:
        return False
    if renameat2(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE) == 0:
        return True
    number = ctypes.get_errno()
    if number in NO_SUCH_STEP:
        return False
    raise OSError(number, os.strerror(number), str(other))


def _rename_twice(site: NewSite) -> None:
    """Exchange by two renames: whatever comes between them, the former site is put back, now or by the next build."""
    rename(site.wanted, site.former)
    try:
        rename(site.made, site.wanted)
    finally:
        try:
            _put_back(site)
        except OSError as error:
            where = f"The site was not built. The former one is whole, in {site.former}: {why(error)}."
            raise Refused(f"{where} The next build puts it back.") from error


def _put_back(site: NewSite) -> None:
    if site.former.is_dir() and not site.wanted.exists():
        rename(site.former, site.wanted)


def _workshop(wanted: Path) -> Path:
    return wanted.with_name(f".{wanted.name}.benchrecord-build")


def _clear(site: NewSite) -> None:
    """Take away what builds leave: nothing but the two folders of our own."""
    for folder in (site.made, site.former):
        if folder.exists():
            remove_tree(folder)
    if _workshop(site.wanted).exists():
        _workshop(site.wanted).rmdir()


def _refuse_foreign(wanted: Path) -> None:
    """Never replace what no build has written."""
    strangers = some_of(foreign(wanted)) if wanted.is_dir() else ""
    if strangers and (wanted / RECORD).is_file():
        raise Refused(
            f"{wanted} holds files that no build wrote, or that were changed since: {strangers}. Nothing was touched: "
            "take out what you want to keep, delete the rest yourself, or choose another folder."
        )
    if strangers:
        raise Refused(
            f"{wanted} holds files that are not a site made by benchrecord: {strangers}. Nothing was touched: "
            "choose another folder, or empty it yourself."
        )
