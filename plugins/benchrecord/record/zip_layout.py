"""The layout of a ZIP, field by field: heads, directory and end, as ours are written and as any is read.

Source: PKWARE APPNOTE 6.3.10, sections 4.3.7 (local head), 4.3.9 (data descriptor), 4.3.12 (directory), 4.3.14 to 4.3.16 (ends),
4.5.3 (ZIP64) and 4.6.9 (Info-ZIP Unicode Path). It stands here, since a library may change how it writes, and a record must not.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass

LOCAL, CENTRAL, END, END_64, LOCATOR, DESCRIPTOR = (b"PK\3\4", b"PK\1\2", b"PK\5\6", b"PK\6\6", b"PK\6\7", b"PK\7\x08")
LOCAL_FORM, CENTRAL_FORM, END_FORM = struct.Struct("<4s5H3L2H"), struct.Struct("<4s6H3L5H2L"), struct.Struct("<4s4H2LH")
END_64_FORM, LOCATOR_FORM = struct.Struct("<4sQ2H2L4Q"), struct.Struct("<4sLQL")
STORED, DEFLATED = 0, 8
ENCRYPTED, DESCRIBED_BEHIND, IN_UTF_8 = 0x1, 0x8, 0x800  # flags
PLAIN, LARGE = 20, 45  # versions: folders and deflate, ZIP64
FULL, MANY = 0xFFFFFFFF, 0xFFFF  # in place of a number that ZIP64 gives
MOST_PLAIN = 0x7FFFFFFF  # bytes that need no ZIP64 in ours
UNIX, PLAIN_FILE, FIRST_DAY = 3, 0o100644 << 16, 0x21  # no time and no owner: 1 January 1980, the first day that there is
ZIP64, UNICODE_PATH = 0x0001, 0x7075  # extra fields
LONGEST_COMMENT = 0xFFFF

Read = Callable[[int, int], bytes]  # from where, how many


@dataclass(frozen=True, slots=True)
class Entry:
    """A file in a ZIP, as its directory or its own head gives it: sizes in bytes, ``start`` counted from the file's beginning."""

    name: bytes
    crc: int
    size: int
    start: int = 0
    packed: int = 0
    flags: int = 0
    method: int = STORED
    moment: tuple[int, int] = (0, FIRST_DAY)
    host: int = UNIX
    attributes: int = PLAIN_FILE
    extra: bytes = b""

    @property
    def looks_like_ours(self) -> bool:
        """Whether it has no time and no owner, as each file of a ZIP of ours."""
        return (self.moment, self.attributes, self.host) == ((0, FIRST_DAY), PLAIN_FILE, UNIX)


@dataclass(frozen=True, slots=True)
class Directory:
    """All entries of a ZIP, where their directory begins, and the comment behind its end."""

    entries: tuple[Entry, ...]
    start: int
    comment: bytes


def local_head(name: bytes, crc: int, size: int) -> bytes:
    """Return what stands before a file of ours, which is stored as it is."""
    large = struct.pack("<2H2Q", ZIP64, 16, size, size) if size > MOST_PLAIN else b""
    version, shown = (LARGE, FULL) if large else (PLAIN, size)
    lengths = len(name), len(large)
    return LOCAL_FORM.pack(LOCAL, version, _flags(name), STORED, 0, FIRST_DAY, crc, shown, shown, *lengths) + name + large


def directory_head(entry: Entry) -> bytes:
    """Return the entry of a file of ours in the directory."""
    name, size, start = entry.name, entry.size, entry.start
    large = [size, size] if size > MOST_PLAIN else []
    far = [start] if start > MOST_PLAIN else []
    extra = struct.pack(f"<2H{len(large + far)}Q", ZIP64, 8 * len(large + far), *large, *far) if large or far else b""
    version, shown_size, shown_start = LARGE if extra else PLAIN, FULL if large else size, FULL if far else start
    values = (version | UNIX << 8, version, _flags(name), STORED, 0, FIRST_DAY, entry.crc, shown_size, shown_size)
    return CENTRAL_FORM.pack(CENTRAL, *values, len(name), len(extra), 0, 0, 0, PLAIN_FILE, shown_start) + name + extra


def end(count: int, size: int, start: int) -> bytes:
    """Return how a ZIP of ours ends after its directory of ``count`` entries and ``size`` bytes that begins at ``start``."""
    large = b""
    if count > MANY or start > MOST_PLAIN or size > MOST_PLAIN:
        large = END_64_FORM.pack(END_64, 44, LARGE, LARGE, 0, 0, count, count, size, start)
        large += LOCATOR_FORM.pack(LOCATOR, 0, start + size, 1)
    few, short, near = min(count, MANY), min(size, FULL), min(start, FULL)
    return large + END_FORM.pack(END, 0, 0, few, few, short, near, 0)


def _flags(name: bytes) -> int:
    return 0 if name.isascii() else IN_UTF_8


def read_directory(read: Read, size: int) -> Directory:
    """Read the directory of a ZIP of ``size`` bytes.

    Raises
    ------
    ValueError, struct.error
        Where it has none that ends with the file, or one that other programs may look for in another place.
    """
    begin = max(0, size - END_FORM.size - LONGEST_COMMENT)
    tail = read(begin, size - begin)
    at = tail.rfind(END)
    if at < 0 or len(tail) - at < END_FORM.size:
        raise ValueError("it is no ZIP file, or its end is missing")
    _, disk, first, here, count, length, start, comment_size = END_FORM.unpack_from(tail, at)
    comment = tail[at + END_FORM.size :]
    if len(comment) != comment_size or disk or first or here != count:
        raise ValueError("its end is not as it should be")
    stop = begin + at
    if read(stop - LOCATOR_FORM.size, 4) == LOCATOR:
        stop, in_full = _end_64(read, stop - LOCATOR_FORM.size)
        if any(
            short not in (long, full)
            for short, long, full in zip((count, length, start), in_full, (MANY, FULL, FULL), strict=True)
        ):
            raise ValueError("its end gives two directories")
        count, length, start = in_full
    if start + length != stop:
        raise ValueError("something stands before its first file, or behind its directory")
    entries = tuple(_entries(read(start, length)))
    if len(entries) != count:
        raise ValueError("its directory does not hold as many files as it says")
    return Directory(entries, start, comment)


def _end_64(read: Read, locator: int) -> tuple[int, tuple[int, int, int]]:
    """Return where the ZIP64 end begins, and the count, size and start of the directory that it gives."""
    _, disk, at, disks = LOCATOR_FORM.unpack(read(locator, LOCATOR_FORM.size))
    mark, left, _, _, own, first, here, count, length, start = END_64_FORM.unpack(read(at, END_64_FORM.size))
    if (mark, at + 12 + left, disk, own, first, here) != (END_64, locator, 0, 0, 0, count) or disks > 1:
        raise ValueError("its end is not as it should be")
    return at, (count, length, start)


def _entries(directory: bytes) -> Iterator[Entry]:
    at = 0
    while at < len(directory):
        mark, made, _, flags, method, time, day, crc, packed, size, *lengths, disk, _, attributes, start = CENTRAL_FORM.unpack_from(directory, at)  # fmt: skip
        at += CENTRAL_FORM.size
        name, extra, _ = (bytes(p) for p in _pieces(directory, at, lengths))
        at += sum(lengths)
        if mark != CENTRAL or disk or at > len(directory):
            raise ValueError("its directory is not as it should be")
        size, packed, start = _in_full((size, packed, start), extra)
        yield Entry(name, crc, size, start, packed, flags, method, (time, day), made >> 8, attributes, extra)


def read_local(read: Read, start: int) -> tuple[Entry, int]:
    """Return what stands before a file, as an entry, and where its bytes begin.

    Raises
    ------
    ValueError, struct.error
        Where nothing of that kind stands there.
    """
    mark, _, flags, method, time, day, crc, packed, size, *lengths = LOCAL_FORM.unpack(read(start, LOCAL_FORM.size))
    if mark != LOCAL:
        raise ValueError("no file stands where the directory says")
    at = start + LOCAL_FORM.size
    name, extra = _pieces(read(at, sum(lengths)), 0, lengths)
    size, packed = _in_full((size, packed), extra)
    return Entry(name, crc, size, start, packed, flags, method, (time, day), extra=extra), at + sum(lengths)


def _pieces(data: bytes, at: int, lengths: list[int]) -> Iterator[bytes]:
    for length in lengths:
        yield data[at : at + length]
        at += length


def _in_full(numbers: tuple[int, ...], extra: bytes) -> tuple[int, ...]:
    """Put in place of each number that is all ones what the ZIP64 field gives, in the same order."""
    if FULL not in numbers:
        return numbers
    sizes = next((content for kind, content in fields(extra) if kind == ZIP64), b"")
    whole = iter(struct.unpack(f"<{len(sizes) // 8}Q", sizes[: len(sizes) // 8 * 8]))
    found = tuple(next(whole, -1) if number == FULL else number for number in numbers)
    if -1 in found:
        raise ValueError("a large file without its size")
    return found


def fields(extra: bytes) -> list[tuple[int, bytes]]:
    """Return the extra fields of an entry, by what kind they are.

    Raises
    ------
    ValueError
        Where a field is longer than the room that there is.
    """
    found, at = [], 0
    while len(extra) - at >= 4:  # noqa: PLR2004  # a kind and a length
        kind, length = struct.unpack_from("<2H", extra, at)
        found.append((kind, extra[at + 4 : at + 4 + length]))
        at += 4 + length
    if at > len(extra) or any(extra[at:]):
        raise ValueError("an extra field that breaks off")
    return found
