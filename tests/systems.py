"""Other systems' rules, kept by this process: Windows, and disks that take capitals and accents for one.

What is imitated is what a program meets there. Sources: the Windows pages *Naming Files, Paths, and Namespaces*, *CreateFileW*,
*DeleteFileW* and *MoveFileExW*, and Python's own on ``os.rename``, ``open`` and ``sys.stdout``; the Apple pages on how its file
systems compare names. All of it holds below one folder: what lies elsewhere is the business of the system that runs the test.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import shutil
import signal
import stat
import sys
import tempfile
import types
import unicodedata
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
import soundfile

NOT_THERE = ("fcntl", "grp", "pty", "pwd", "resource", "termios")  # modules
NOT_IN_OS = ("O_DIRECTORY", "O_NOFOLLOW", "fork", "geteuid", "getuid", "sched_getaffinity", "sync")
DEVICES = {"aux", "con", "nul", "prn", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
LONGEST_PATH, ITS_FOLDER = 259, 60  # characters of a path, and of the folder that a job or a site lies in
REFUSED = {2: errno.ENOENT, 5: errno.EACCES, 32: errno.EACCES, 123: errno.EINVAL, 183: errno.EEXIST, 206: errno.ENOENT}
PLAIN_OPEN = io.open


def windows_error(number: int, path: object) -> OSError:
    """Return an error of Windows, as Python raises it there."""
    error = OSError(REFUSED[number], f"WinError {number}", str(path))
    error.winerror = number  # type: ignore[attr-defined]  # only Windows has it
    return error


def open_here() -> list[str]:
    """Return what this process has open, by its path."""
    found = []
    for number in os.listdir("/proc/self/fd"):
        try:
            found.append(os.readlink(f"/proc/self/fd/{number}"))
        except OSError:
            continue  # the list itself
    return found


class Windows:
    """The rules of Windows for all that lies below ``root``; ``held`` are paths that another program has open just now."""

    def __init__(self, root: Path) -> None:
        self.root = str(root.resolve())
        self.held: dict[str, int] = {}  # how often more a path is refused
        self.refused: list[str] = []

    def hold(self, path: Path, times: int) -> None:
        """Let another program have a file open, for so many attempts."""
        self.held[str(path)] = times

    def ours(self, path: object) -> str:
        """Return a path below the root as it is; empty for one that lies elsewhere."""
        if not isinstance(path, str | os.PathLike):
            return ""
        whole = os.path.abspath(os.fsdecode(path))
        return whole if whole == self.root or whole.startswith(self.root + os.sep) else ""

    def let_go(self, path: object, *, writable: bool = False) -> None:
        """Refuse what is open, or holds what is; and what may only be read, where it is to be taken away."""
        whole = self.ours(path)
        if not whole:
            return
        if self.held.get(whole, 0) > 0:
            self.held[whole] -= 1
            raise self._refusal(32, whole)
        if any(name == whole or name.startswith(whole + os.sep) for name in open_here()):
            raise self._refusal(32, whole)
        if writable and os.path.isfile(whole) and not os.stat(whole).st_mode & stat.S_IWUSR:
            raise self._refusal(5, whole)

    def may_be_made(self, path: object) -> None:
        """Refuse names that cannot be, and paths that are too long."""
        whole = self.ours(path)
        for name in whole.removeprefix(self.root).split(os.sep):
            bad = any(sign in '<>:"|?*\\' or sign < " " for sign in name) or name.endswith((" ", "."))
            if bad or name.partition(".")[0].rstrip().lower() in DEVICES:
                raise self._refusal(123, whole)
        if len(whole) - len(self.root) > LONGEST_PATH - ITS_FOLDER:
            raise self._refusal(206, whole)

    def _refusal(self, number: int, path: str) -> OSError:
        self.refused.append(path)
        return windows_error(number, path)

    def rename(self, plain: Callable[..., None], *, over: bool) -> Callable[..., None]:
        """Return ``os.rename`` or ``os.replace`` as they are there: neither moves what is open, nor a folder over another."""

        def moved(source: Any, target: Any, **more: Any) -> None:
            self.let_go(source)
            if self.ours(target):
                if os.path.lexists(target):
                    if not over:
                        raise self._refusal(183, str(target))
                    if os.path.isdir(target):
                        raise self._refusal(5, str(target))
                    self.let_go(target, writable=True)
                self.may_be_made(target)
            plain(source, target, **more)

        return moved

    def removal(self, plain: Callable[..., None]) -> Callable[..., None]:
        """Return ``os.unlink`` or ``os.rmdir`` as they are there."""

        def removed(path: Any, **more: Any) -> None:
            self.let_go(path, writable=True)
            plain(path, **more)

        return removed

    def mkdir(self, plain: Callable[..., None]) -> Callable[..., None]:
        """Return ``os.mkdir`` as it is there."""

        def made(path: Any, *more: Any, **named: Any) -> None:
            self.may_be_made(path)
            plain(path, *more, **named)

        return made

    def opened(self, plain: Callable[..., int]) -> Callable[..., int]:
        """Return ``os.open`` as it is there: folders cannot be opened."""

        def open_(path: Any, flags: int, *more: Any, **named: Any) -> int:
            if self.ours(path) and os.path.isdir(path):
                raise self._refusal(5, str(path))
            if flags & os.O_CREAT:
                self.may_be_made(path)
            return plain(path, flags, *more, **named)

        return open_

    def open(
        self, file: Any, mode: str = "r", buffering: int = -1, encoding: str | None = None, *more: Any, **named: Any
    ) -> Any:
        """Open a file as it is done there: text without an encoding is cp1252, and lines that are written end in CR LF."""
        if not self.ours(file):
            return PLAIN_OPEN(file, mode, buffering, encoding, *more, **named)
        if set(mode) & set("wax+"):
            self.may_be_made(file)
        errors, newline = (*more, *(None, None)[len(more) :])[:2]
        named = {"errors": errors, "newline": newline} | named
        if "b" not in mode:
            encoding = "cp1252" if encoding in (None, "locale") else encoding
            named["newline"] = "\r\n" if named["newline"] is None and "r" not in mode else named["newline"]
        return PLAIN_OPEN(file, mode, buffering, encoding, **named)


@pytest.fixture
def windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Windows:
    """Keep the rules of Windows below the test's own folder, scratch folders among it."""
    if not Path("/proc/self/fd").is_dir():
        pytest.skip("nothing here lists what is open")
    rules = Windows(tmp_path)
    (tmp_path / "temp").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temp"))
    monkeypatch.setattr(shutil, "_use_fd_functions", False)
    for name in NOT_THERE:
        monkeypatch.setitem(sys.modules, name, None)
    for name in NOT_IN_OS:
        monkeypatch.delattr(os, name, raising=False)
    for name in ("SIGHUP", "SIGQUIT", "SIGUSR1"):
        monkeypatch.delattr(signal, name)
    monkeypatch.setattr(soundfile, "_sys", types.SimpleNamespace(**vars(sys)))  # its own library is that of this system
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "rename", rules.rename(os.rename, over=False))
    monkeypatch.setattr(os, "replace", rules.rename(os.replace, over=True))
    for name in ("unlink", "remove", "rmdir"):
        monkeypatch.setattr(os, name, rules.removal(getattr(os, name)))
    monkeypatch.setattr(os, "mkdir", rules.mkdir(os.mkdir))
    monkeypatch.setattr(os, "open", rules.opened(os.open))
    for module in (io, builtins):
        monkeypatch.setattr(module, "open", rules.open)
    return rules


def place_of(name: str) -> str:
    """Return what names have in common that a disk takes for one."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", name).casefold())


class OneForAll:
    """A disk below ``root`` that stores names in NFD, and finds them in capitals or small letters, their accents in any form."""

    def __init__(self, root: Path) -> None:
        self.root = str(root.resolve())
        self.listdir, self.lstat = os.listdir, os.lstat

    def found(self, path: Any) -> Any:
        """Return a path as the disk has it, as far as it does."""
        if not isinstance(path, str | os.PathLike):
            return path
        whole = os.path.abspath(os.fsdecode(path))
        if not whole.startswith(self.root + os.sep):
            return path
        with suppress(OSError):
            self.lstat(whole)
            return path  # as it is stored
        at = self.root
        for name in whole.removeprefix(self.root + os.sep).split(os.sep):
            at = f"{at}{os.sep}{self._entry(at, name)}"
        return at

    def _entry(self, folder: str, name: str) -> str:
        try:
            names = self.listdir(folder)
        except OSError:
            return name
        return (
            name
            if name in names
            else next((n for n in names if place_of(n) == place_of(name)), unicodedata.normalize("NFD", name))
        )

    def one(self, plain: Callable[..., Any]) -> Callable[..., Any]:
        """Return a function of one path, as it is on such a disk."""
        return lambda path=".", *more, **named: plain(self.found(path), *more, **named)

    def two(self, plain: Callable[..., Any]) -> Callable[..., Any]:
        """Return a function of two paths, as it is on such a disk."""
        return lambda source, target, **named: plain(self.found(source), self.found(target), **named)


ONE_PATH = (
    "access", "chmod", "listdir", "lstat", "mkdir", "open", "readlink", "remove", "rmdir", "scandir", "stat", "unlink", "utime",
)  # fmt: skip


@pytest.fixture
def one_for_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a folder on a disk that takes capitals and accents for one, and stores accents decomposed, as HFS+ of macOS does."""
    folder = tmp_path / "disk"
    folder.mkdir()
    disk, sound = OneForAll(folder), soundfile.SoundFile.__init__
    for name in ONE_PATH:
        monkeypatch.setattr(os, name, disk.one(getattr(os, name)))
    for name in ("rename", "replace"):
        monkeypatch.setattr(os, name, disk.two(getattr(os, name)))
    for module in (io, builtins):
        monkeypatch.setattr(module, "open", disk.one(PLAIN_OPEN))
    monkeypatch.setattr(
        soundfile.SoundFile, "__init__", lambda self, file, *more, **named: sound(self, disk.found(file), *more, **named)
    )
    return folder
