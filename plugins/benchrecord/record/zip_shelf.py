"""A record that lies in a ZIP. It is read where it is and never unfolded onto a disk.

A ZIP of ours must be exactly as it is written here, in every byte: no bit of it can change unseen. One that another program
packed is taken too, as long as it cannot be read in two ways and does not unfold to more than it could hold.
"""

from __future__ import annotations

import hashlib
import stat
import struct
import threading
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from zipfile import ZIP64_LIMIT, ZIP_DEFLATED, ZIP_FILECOUNT_LIMIT, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from benchrecord.record.bag import DECLARED
from benchrecord.record.paths import fault_of
from benchrecord.record.shelves import LARGEST_TAG, WHOLE, Fault
from benchrecord.record.writing import BLOCK, EPOCH, PLAIN_FILE, UNIX, plain_entry

UNFOLDS = 50  # times the size of a ZIP that its files may have: text becomes a tenth
FULL, IN_UTF_8, FIRST_DAY = 0xFFFFFFFF, 0x800, 0x21  # a size told elsewhere, how a name is coded, 1 January 1980
ALTERED = "the ZIP itself was changed"
NEARLY = 1.05  # zipfile makes room for large sizes already before they are reached


class ZipShelf:
    """A record that lies in a ZIP, below one folder."""

    def __init__(self, path: Path) -> None:
        """Read the directory of a ZIP; raises OSError where it is none."""
        try:
            self._zip = ZipFile(path)
        except (BadZipFile, NotImplementedError, ValueError, struct.error) as error:
            raise OSError(0, f"not a ZIP that can be read: {error}") from error
        self._file, self._size = path.open("rb"), path.stat().st_size
        self._lock = threading.Lock()
        entries = self._zip.infolist()
        self._ours = any(_as_we_write(e) for e in entries)
        files = [e for e in entries if self._ours or not e.is_dir()]
        self._top = _top([e.filename for e in files])
        self._entries = {self._within(e): e for e in files}
        self.sizes: Mapping[str, int] = {path: e.file_size for path, e in self._entries.items()}
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

    def _within(self, entry: ZipInfo) -> str:
        """Return the path of an entry in the record; one that lies beside the record's folder has a path that leaves it."""
        name = entry.filename
        return name.removeprefix(self._top) if name.startswith(self._top) else f"../{name}"

    def _blocks(self, path: str) -> Iterator[bytes]:
        entry = self._entries[path]
        if self._ours and not self.faults:
            yield from self._stored(entry)
            return
        try:
            with self._zip.open(entry) as file:
                while block := file.read(BLOCK):
                    yield block
        except (BadZipFile, EOFError, NotImplementedError, RuntimeError, ValueError, struct.error, zlib.error) as error:
            raise OSError(0, str(error)) from error

    def _stored(self, entry: ZipInfo) -> Iterator[bytes]:
        at, left = entry.header_offset + len(_local_head(entry)), entry.file_size
        while left:
            block = self._at(at, min(left, BLOCK))
            if not block:
                raise OSError(0, "it ends before it should")
            at, left = at + len(block), left - len(block)
            yield block

    def _at(self, start: int, size: int) -> bytes:
        with self._lock:
            self._file.seek(start)
            return self._file.read(size)

    def _faults(self, files: list[ZipInfo]) -> Iterator[Fault]:
        for name, count in Counter(self._within(e) for e in files).items():
            if count > 1:
                yield Fault(name, "stands in the ZIP more than once")
        if len(self._top) <= 1:
            yield Fault(WHOLE, "the ZIP does not hold its files below one folder")
        yield from (self._faults_of_ours(files) if self._ours else self._faults_of_others(files))

    def _faults_of_ours(self, files: list[ZipInfo]) -> Iterator[Fault]:
        at = 0
        for entry in files:
            head = _local_head(entry)
            if entry.header_offset != at or self._at(at, len(head)) != head:
                yield Fault(self._within(entry), ALTERED)
                return
            at += len(head) + entry.file_size
        directory = b"".join(map(_directory_head, files))
        ends = directory + _end(len(files), len(directory), at)
        if self._size - at != len(ends) or self._at(at, len(ends)) != ends:
            yield Fault(WHOLE, ALTERED)

    def _faults_of_others(self, files: list[ZipInfo]) -> Iterator[Fault]:
        if sum(e.file_size for e in files) > UNFOLDS * self._size:
            yield Fault(WHOLE, "the ZIP unfolds to more than it can hold: it was made to fill a disk")
        for entry in files:
            mode = entry.external_attr >> 16
            wrong = (
                (fault_of(entry.filename), fault_of(entry.filename)),
                (entry.orig_filename != entry.filename, "its name can be read in two ways"),
                (stat.S_IFMT(mode) not in (0, stat.S_IFREG), "a link, not a file"),
                (entry.flag_bits & 1, "it is encrypted"),
                (entry.compress_type not in (ZIP_STORED, ZIP_DEFLATED), "it is packed in a way that few programs unpack"),
            )
            yield from (Fault(self._within(entry), what) for is_so, what in wrong if is_so)


def _top(names: list[str]) -> str:
    """Return the folder that all names lie below, or else the one that has a record; empty where there is none or more than one."""
    all_tops = {name[: name.find("/") + 1] for name in names}
    tops = all_tops if len(all_tops) == 1 else {t for t in all_tops if t and f"{t}{DECLARED}" in names}
    return tops.pop() if len(tops) == 1 else ""


def _as_we_write(entry: ZipInfo) -> bool:
    """Say whether an entry of the directory looks like one of ours; a single one is enough, and all must be."""
    return (entry.date_time, entry.external_attr, entry.create_system) == (EPOCH, PLAIN_FILE, UNIX)


def _local_head(entry: ZipInfo) -> bytes:
    """Return the head of a file as zipfile writes it before the file's own bytes."""
    plain = plain_entry(entry.filename)
    plain.CRC, plain.file_size, plain.compress_size = entry.CRC, entry.file_size, entry.file_size
    return plain.FileHeader(zip64=entry.file_size * NEARLY > ZIP64_LIMIT)


def _directory_head(entry: ZipInfo) -> bytes:
    """Return a file's entry in the directory as zipfile writes it.

    Source: PKWARE APPNOTE 6.3, sections 4.3.12 and 4.5.3.
    """
    name, size, start = entry.filename.encode(), entry.file_size, entry.header_offset
    large = [size, size] if size > ZIP64_LIMIT else []
    far = [start] if start > ZIP64_LIMIT else []
    extra = struct.pack(f"<2H{len(large + far)}Q", 1, 8 * len(large + far), *large, *far) if large or far else b""
    version, shown_size, shown_start = 45 if extra else 20, FULL if large else size, FULL if far else start
    flags = 0 if entry.filename.isascii() else IN_UTF_8
    head = (version, UNIX, version, 0, flags, ZIP_STORED, 0, FIRST_DAY, entry.CRC, shown_size, shown_size)
    rest = (len(name), len(extra), 0, 0, 0, PLAIN_FILE, shown_start)
    return struct.pack("<4s4B4H3L5H2L", b"PK\1\2", *head, *rest) + name + extra


def _end(count: int, size: int, start: int) -> bytes:
    """Return how a ZIP ends after its directory of ``count`` entries and ``size`` bytes that begins at ``start``.

    Source: PKWARE APPNOTE 6.3, sections 4.3.14 to 4.3.16.
    """
    large = b""
    if count > ZIP_FILECOUNT_LIMIT or start > ZIP64_LIMIT or size > ZIP64_LIMIT:
        large = struct.pack("<4sQ2H2L4Q", b"PK\6\6", 44, 45, 45, 0, 0, count, count, size, start)
        large += struct.pack("<4sLQL", b"PK\6\7", 0, start + size, 1)
    few, short, near = min(count, 0xFFFF), min(size, FULL), min(start, FULL)
    return large + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, few, few, short, near, 0)
