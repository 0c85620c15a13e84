"""A record that lies in a ZIP. It is read where it is and never unfolded onto a disk.

A ZIP of ours must be exactly as it is written here, in every byte: no bit of it can change unseen. One that another program
packed is taken too, as long as it cannot be read in two ways and does not unfold to more than it could hold.
"""

from __future__ import annotations

import hashlib
import struct
import threading
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path

from benchrecord.record.bag import DECLARED
from benchrecord.record.shelves import EMPTY_FOLDER, LARGEST_TAG, WHOLE, Fault
from benchrecord.record.writing import BLOCK
from benchrecord.record.zip_ambiguity import empty_folders, is_folder, name_of, what_is_ambiguous, wrong_with
from benchrecord.record.zip_layout import DEFLATED, Entry, directory_head, end, local_head, read_directory, read_local

UNFOLDS = 50  # times the size of a ZIP that its files may have: text becomes a tenth
ALTERED = "the ZIP itself was changed"


class ZipShelf:
    """A record that lies in a ZIP, below one folder."""

    def __init__(self, path: Path) -> None:
        """Read the directory of a ZIP; raises OSError where it is none."""
        self._file, self._size = path.open("rb"), path.stat().st_size
        self._lock = threading.Lock()
        try:
            directory = read_directory(self._at, self._size)
        except (ValueError, struct.error, OverflowError) as error:
            self._file.close()
            raise OSError(0, f"not a ZIP that can be read: {error}") from error
        self._directory = directory
        self._ours = any(e.looks_like_ours for e in directory.entries)  # a single one is enough, and all must be
        files = [e for e in directory.entries if self._ours or not is_folder(e)]
        self._top = _top([name_of(e) for e in files])
        self._entries = {self._within(e): e for e in files}
        self.sizes: Mapping[str, int] = {path: e.size for path, e in self._entries.items()}
        self.faults = tuple(self._faults(files))

    def read(self, path: str) -> bytes:
        """Return a small file."""
        if self.sizes[path] > LARGEST_TAG:
            raise OSError(0, "too large for what it is")
        return b"".join(self._blocks(path))

    def digest(self, path: str) -> str:
        """Return the SHA-512 of a file."""
        digest = hashlib.sha512()
        for block in self._blocks(path):
            digest.update(block)
        return digest.hexdigest()

    def _within(self, entry: Entry) -> str:
        """Return the path of an entry in the record; one that lies beside the record's folder has a path that leaves it."""
        name = name_of(entry)
        return name.removeprefix(self._top) if name.startswith(self._top) else f"../{name}"

    def _blocks(self, path: str) -> Iterator[bytes]:
        entry = self._entries[path]
        try:
            _, start = read_local(self._at, entry.start)
            packed = self._stored(start, entry.packed)
            if self._ours and not self.faults:
                yield from packed  # its own digest is all that is needed then
                return
            yield from _whole(entry, _unpacked(packed) if entry.method == DEFLATED else packed)
        except (ValueError, struct.error, zlib.error) as error:
            raise OSError(0, str(error)) from error

    def _stored(self, at: int, left: int) -> Iterator[bytes]:
        while left:
            block = self._at(at, min(left, BLOCK))
            if not block:
                raise ValueError("it ends before it should")
            at, left = at + len(block), left - len(block)
            yield block

    def _at(self, start: int, size: int) -> bytes:
        with self._lock:
            self._file.seek(start)
            return self._file.read(size)

    def _faults(self, files: list[Entry]) -> Iterator[Fault]:
        for name, count in Counter(self._within(e) for e in files).items():
            if count > 1:
                yield Fault(name, "stands in the ZIP more than once")
        if len(self._top) <= 1:
            yield Fault(WHOLE, "the ZIP does not hold its files below one folder")
        yield from (self._faults_of_ours(files) if self._ours else self._faults_of_others(files))

    def _faults_of_ours(self, files: list[Entry]) -> Iterator[Fault]:
        at = 0
        for entry in files:
            head = local_head(entry.name, entry.crc, entry.size)
            if entry.start != at or self._at(at, len(head)) != head:
                yield Fault(self._within(entry), ALTERED)
                return
            at += len(head) + entry.size
        directory = b"".join(map(directory_head, files))
        ends = directory + end(len(files), len(directory), at)
        if self._size - at != len(ends) or self._at(at, len(ends)) != ends:
            yield Fault(WHOLE, ALTERED)

    def _faults_of_others(self, files: list[Entry]) -> Iterator[Fault]:
        if sum(e.size for e in files) > UNFOLDS * self._size:
            yield Fault(WHOLE, "the ZIP unfolds to more than it can hold: it was made to fill a disk")
        yield from (Fault(self._within(entry), what) for entry in self._directory.entries for what in wrong_with(entry))
        yield from (Fault(self._within(entry), EMPTY_FOLDER) for entry in empty_folders(self._directory.entries))
        yield from (
            Fault(self._within(entry) if entry else WHOLE, what) for entry, what in what_is_ambiguous(self._directory, self._at)
        )


def _top(names: list[str]) -> str:
    """Return the folder that all names lie below, or else the one that has a record; empty where there is none or more than one."""
    all_tops = {name[: name.find("/") + 1] for name in names}
    tops = all_tops if len(all_tops) == 1 else {t for t in all_tops if t and f"{t}{DECLARED}" in names}
    return tops.pop() if len(tops) == 1 else ""


def _unpacked(blocks: Iterator[bytes]) -> Iterator[bytes]:
    """Unpack a file piece by piece; what stands behind its end is none of it."""
    packer = zlib.decompressobj(-zlib.MAX_WBITS)
    for block in blocks:
        left = block
        while left and not packer.eof:
            yield packer.decompress(left, BLOCK)
            left = packer.unconsumed_tail
        if packer.unused_data or (left and packer.eof):
            raise ValueError("something stands behind its end")
    yield packer.flush()
    if not packer.eof:
        raise ValueError("it ends before it should")


def _whole(entry: Entry, blocks: Iterator[bytes]) -> Iterator[bytes]:
    """Pass the bytes of a file on, and hold them against its size and check."""
    size = check = 0
    for block in blocks:
        size, check = size + len(block), zlib.crc32(block, check)
        if size > entry.size:
            raise ValueError("it is longer than its directory says")
        yield block
    if (size, check) != (entry.size, entry.crc):
        raise ValueError("it is not as its directory says")
