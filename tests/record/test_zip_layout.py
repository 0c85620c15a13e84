"""The layout of a ZIP of ours: the same as ever, whatever a library does, and read by other programs."""

from __future__ import annotations

import contextlib
import hashlib
import io
import shutil
import struct
import subprocess
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.record.bag import bag
from benchrecord.record.verify import verify
from benchrecord.record.writing import write
from benchrecord.record.zip_layout import Entry, directory_head, end, local_head, read_directory, read_local

GIB = 1 << 30
FILES = {
    "data/readings/rail 1.csv": b"t,v\n0,1.0\n",
    "data/notes.txt": b"hello\n",
    "data/readings/empty.csv": b"",
    "data/Prüfung.txt": b"gemessen: 15,02 V\n",
}
# Of the ZIP of these files as version 0.1 wrote it by Python 3.11.7: a record that was handed over once must stay whole.
FIRST_WRITTEN = "66bc6d29a8ded0023eb118e0c6d704ccc45d2bdc8a22bec6d13a4a30f4f370689422ce27c9139d6afe67d3390320a6a87e5266c17dfb9b0dca0f773756d63100"


def record(folder: Path) -> Path:
    made = folder / "small-record.zip"
    write(bag(FILES, (("Source-Organization", "A bench"),), {}), made, zipped=True, prove=lambda _: None)
    return made


def test_a_record_is_written_as_the_first_ones_were(tmp_path: Path) -> None:
    made = record(tmp_path)
    assert hashlib.sha512(made.read_bytes()).hexdigest() == FIRST_WRITTEN
    assert verify(made).faults == ()


def test_a_library_that_writes_otherwise_changes_no_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = record(tmp_path)
    for name in ("FileHeader", "_encodeFilenameFlags", "_decodeExtra", "_encodeFilename"):
        monkeypatch.setattr(zipfile.ZipInfo, name, None, raising=False)
    monkeypatch.setattr(zipfile, "ZipFile", None)
    assert verify(made).faults == ()
    (tmp_path / "again").mkdir()
    assert record(tmp_path / "again").read_bytes() == made.read_bytes()


@pytest.mark.parametrize("program", [("unzip", "-tqq"), ("7z", "t", "-bso0")], ids=lambda p: p[0])
def test_other_programs_find_it_whole(tmp_path: Path, program: tuple[str, ...]) -> None:
    if not shutil.which(program[0]):
        pytest.skip(f"{program[0]} is not installed")
    subprocess.run([*program, record(tmp_path)], check=True, capture_output=True)


def sparse(path: Path, sizes: list[int]) -> list[Entry]:
    """Write a ZIP of files that are nothing but holes, and so take no room on the disk."""
    entries = []
    with path.open("wb") as made:
        for number, size in enumerate(sizes):
            entry = Entry(f"r/{number}".encode(), 77, size, made.tell(), size)
            made.write(local_head(entry.name, entry.crc, size))
            made.seek(size, io.SEEK_CUR)
            entries.append(entry)
        directory, start = b"".join(map(directory_head, entries)), made.tell()
        made.write(directory + end(len(entries), len(directory), start))
    return entries


@pytest.mark.parametrize(
    "sizes",
    [[2 * GIB - 1, 5], [2 * GIB, 5], [4 * GIB - 1, 1], [4 * GIB, 1], [5 * GIB, 5 * GIB, 0], [1, 2 * GIB - 40, 3], [int(1.96 * GIB)]],
)  # fmt: skip
def test_files_of_any_size_are_told_so_that_the_reference_library_reads_the_same(tmp_path: Path, sizes: list[int]) -> None:
    entries = sparse(tmp_path / "large.zip", sizes)
    with zipfile.ZipFile(tmp_path / "large.zip") as known:
        told = [(i.filename.encode(), i.CRC, i.file_size, i.header_offset, i.compress_size) for i in known.infolist()]
    assert told == [(e.name, e.crc, e.size, e.start, e.packed) for e in entries]
    with (tmp_path / "large.zip").open("rb") as file:

        def read(start: int, size: int) -> bytes:
            file.seek(start)
            return file.read(size)

        found = read_directory(read, (tmp_path / "large.zip").stat().st_size).entries
        assert [replace(e, extra=b"") for e in found] == entries
        for entry in entries:
            local, at = read_local(read, entry.start)
            assert (local.name, local.size, local.packed) == (entry.name, entry.size, entry.size)
            assert at == entry.start + len(local_head(entry.name, entry.crc, entry.size))


@pytest.mark.slow
def test_more_files_than_a_plain_directory_counts_are_all_read() -> None:
    directory, count = directory_head(Entry(b"r/0", 0, 0)), 65_537
    content = directory * count + end(count, count * len(directory), 0)
    assert len(zipfile.ZipFile(io.BytesIO(content)).infolist()) == count
    assert len(read_directory(lambda start, size: content[start : start + size], len(content)).entries) == count


@given(st.binary(max_size=200), st.binary(max_size=60))
def test_any_bytes_come_to_a_directory_or_to_an_error(rest: bytes, behind: bytes) -> None:
    content = rest + b"PK\5\6" + behind
    with contextlib.suppress(ValueError, OverflowError, struct.error):
        found = read_directory(lambda start, size: content[max(0, start) :][:size], len(content))
        assert sum(len(directory_head(e)) for e in found.entries) <= len(content) - 22
