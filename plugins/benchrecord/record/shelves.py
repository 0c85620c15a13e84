"""Where a record lies: a folder. What is in it, without following a link."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

WHOLE = "."  # names the record itself, where no single file of it is at fault
JUNCTION = 0xA0000003  # IO_REPARSE_TAG_MOUNT_POINT, ntifs.h
EMPTY_FOLDER = "an empty folder, which the record does not have"
LARGEST_TAG = 64 << 20  # bytes of a manifest: one of a quarter of a million files


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one file of a record, in words."""

    file: str
    what: str


class Shelf(Protocol):
    """Something that holds the files of a record."""

    @property
    def sizes(self) -> Mapping[str, int]:
        """The bytes of each file, by its path."""

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is wrong with the shelf itself."""

    def read(self, path: str) -> bytes:
        """Return a small file; raises OSError."""

    def digest(self, path: str) -> str:
        """Return the SHA-512 of a file, in hexadecimal; raises OSError."""


class FolderShelf:
    """A record that lies in a folder."""

    def __init__(self, folder: Path) -> None:
        """List what the folder holds."""
        self._folder = folder
        found, faults = {}, []
        for path, entry in _entries(folder, ""):
            if isinstance(entry, int):
                found[path] = entry
            else:
                faults.append(Fault(path, entry))
        self.sizes: Mapping[str, int] = found
        self.faults = tuple(faults)

    def read(self, path: str) -> bytes:
        """Return a small file."""
        if self.sizes[path] > LARGEST_TAG:
            raise OSError(0, "too large for what it is")
        return (self._folder / path).read_bytes()

    def digest(self, path: str) -> str:
        """Return the SHA-512 of a file."""
        with open(os.open(self._folder / path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0)), "rb", buffering=0) as file:  # noqa: PTH123  # by its number
            return hashlib.file_digest(file, "sha512").hexdigest()


def _is_junction(state: os.stat_result) -> bool:
    """Say whether a folder of Windows stands for another one, outside of the record or not."""
    return getattr(state, "st_reparse_tag", 0) == JUNCTION


def _entries(folder: Path, above: str) -> Iterator[tuple[str, int | str]]:
    """Yield each file below a folder with its size, or what it is instead of a file."""
    try:
        entries = sorted(os.scandir(folder), key=lambda e: e.name)
    except OSError as error:
        yield above.rstrip("/") or WHOLE, f"cannot be read: {error.strerror}"
        return
    if not entries and above:
        yield above.rstrip("/"), EMPTY_FOLDER
    for entry in entries:
        path, state = above + entry.name, entry.stat(follow_symlinks=False)
        if _is_junction(state):
            yield path, "a link, not a file"
        elif stat.S_ISDIR(state.st_mode):
            yield from _entries(Path(entry.path), f"{path}/")
        elif stat.S_ISREG(state.st_mode):
            yield path, state.st_size
        else:
            yield path, "a link, not a file" if stat.S_ISLNK(state.st_mode) else "not a file"
