"""Writing a file of a job folder: whole or not at all, never over what another program wrote meanwhile, and back again."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from benchrecord.disk import part_of, remove, retry, why, write_new, writing_to
from benchrecord.intake.crosscheck import NOT_SAVED
from benchrecord.intake.edits import CannotChangeError
from benchrecord.intake.paths import TABLE_BYTES, on_disk, unfit

Change = Callable[[bytes], bytes]
MOST_STEPS, MOST_SEEN = 200, 40


class ChangedMeanwhileError(Exception):
    """A file that is not what the change was made for: it stays, and what was to be written lies beside it as ``kept``, if anything."""

    def __init__(self, name: str, kept: str) -> None:
        beside = f" What was to be written lies beside it, in {kept}." if kept else ""
        super().__init__(f"{name} was changed by another program meanwhile, and is left as that wrote it.{beside}")
        self.kept = kept


@dataclass(frozen=True, slots=True)
class Step:
    """What was written: the file's bytes before (None: there was none) and after, and what that was in words."""

    name: str
    before: bytes | None
    after: bytes
    words: str


@dataclass
class Files:
    """The files of one job folder, one writer at a time."""

    folder: Path
    steps: list[Step] = field(default_factory=list)
    _seen: dict[tuple[str, str], bytes | None] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)

    def version(self, name: str) -> str:
        """Return a digest of a file's bytes; empty where there is no file. What it stands for is remembered."""
        with self._lock:
            data = self._read(name)
            digest = _digest(data)
            self._seen.pop((name, digest), None)
            self._seen = dict([*self._seen.items(), ((name, digest), data)][-MOST_SEEN:])
            return digest

    def save(self, name: str, version: str, change: Change, words: str) -> None:
        """Write what ``change`` makes of a file that still is ``version``.

        Raises
        ------
        ChangedMeanwhileError
            Where it is another version: it stays, and what would have been written is kept beside it.
        CannotChangeError
            Where it cannot be changed, or not be written.
        """
        with self._lock:
            before = self._read(name)
            if _digest(before) != version:
                known = (name, version) in self._seen
                raise ChangedMeanwhileError(name, self._keep(name, change, self._seen[name, version]) if known else "")
            after = change(before or b"")
            if after == before:
                return
            if not self._replace(name, before, after):
                raise ChangedMeanwhileError(name, self._keep(name, change, before))
            self.steps = [*self.steps, Step(name, before, after, words)][-MOST_STEPS:]

    def undo(self) -> str:
        """Put the last file that was written back; return what was undone, in words.

        Raises
        ------
        ChangedMeanwhileError
            Where it was changed since: it stays, and no step of that file can be undone any more.
        CannotChangeError
            Where nothing was written yet, or the file cannot be written.
        """
        with self._lock:
            if not self.steps:
                raise CannotChangeError("there is nothing to undo")
            step = self.steps[-1]
            if self._read(step.name) != step.after or not self._replace(step.name, step.after, step.before):
                self.steps = [s for s in self.steps if s.name != step.name]
                raise ChangedMeanwhileError(step.name, "")
            self.steps.pop()
            return step.words

    def _path(self, name: str) -> Path:
        """Return a file's place on the disk, behind links; one that leaves the folder is refused."""
        path = on_disk(self.folder, name)
        problem = unfit(self.folder, name)
        if problem or not path.parent.resolve().is_relative_to(self.folder.resolve()):
            raise CannotChangeError(f"{name}: {problem.got if problem else 'a folder outside of the job'}")
        return path.resolve()

    def _read(self, name: str) -> bytes | None:
        path = self._path(name)
        try:
            if path.stat().st_size > TABLE_BYTES:
                raise CannotChangeError(f"{name} is too large to be changed here")
            return path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise CannotChangeError(f"{name} cannot be read: {why(error)}") from error

    def _replace(self, name: str, before: bytes | None, after: bytes | None) -> bool:
        """Put other bytes in a file's place, by a file beside it; not where it is no longer what it was ``before``."""
        path = self._path(name)
        if path.exists() and not os.access(path, os.W_OK):
            raise CannotChangeError(f"{name} may not be written: give yourself the right to")
        part = part_of(path)

        def exchange() -> bool:
            if self._read(name) != before:  # whoever held the file a moment ago may have written to it
                return False
            if after is None:
                path.unlink()
            else:
                part.replace(path)
            return True

        try:
            with writing_to(path.parent):
                path.parent.mkdir(exist_ok=True)
                if after is not None:
                    write_new(part, after, like=path)
                done = retry(exchange)
            _settle(path.parent)
        except OSError as error:
            raise CannotChangeError(f"{name} cannot be written: {why(error)}") from error
        finally:
            with suppress(OSError):
                remove(part)
        return done

    def _keep(self, name: str, change: Change, seen: bytes | None) -> str:
        """Write what a change would have made of the version it was made for beside the file; return its name."""
        with suppress(CannotChangeError, OSError):
            content = change(seen or b"")
            for number in count(1):
                kept = f"{name}{NOT_SAVED}{'' if number == 1 else f'-{number}'}"
                with suppress(FileExistsError):
                    write_new(self._path(kept), content, like=self._path(name))
                    return kept
        return ""


def _digest(data: bytes | None) -> str:
    return "" if data is None else hashlib.sha256(data).hexdigest()


def _settle(folder: Path) -> None:
    """Bring a folder's list of names to the disk, where the system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
