"""Writing a record: a folder, or a ZIP that is the same whenever it is made. Whole or not at all."""

from __future__ import annotations

import errno
import io
import shutil
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import BinaryIO

from benchrecord.disk import SCRATCH, rename, scratch, writing_to
from benchrecord.record.bag import Content
from benchrecord.record.zip_layout import Entry, directory_head, end, local_head

BLOCK = 1 << 20


def write(files: Mapping[str, Content], target: Path, *, zipped: bool, prove: Callable[[Path], None]) -> None:
    """Write all files as ``target``, which must not be there; ``prove`` reads what was written, and raises to undo it.

    Raises
    ------
    OSError
        Where it cannot be written; nothing is left then.
    """
    with scratch(target.parent, f".{SCRATCH}") as making, writing_to(target.parent):
        made = making / target.name
        if zipped:
            _write_zip(files, made, target.stem)
        else:
            _write_folder(files, made)
        prove(made)
        rename(made, target)


def _write_folder(files: Mapping[str, Content], folder: Path) -> None:
    for path, content in files.items():
        at = folder / path
        at.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(content, Path):
            shutil.copyfile(content, at)
        else:
            at.write_bytes(content)


def _write_zip(files: Mapping[str, Content], path: Path, top: str) -> None:
    """Store every file as it is: nothing has to be unfolded, and a damaged part costs no other."""
    entries = []
    with path.open("wb") as made:
        for name, content in sorted(files.items()):
            entries.append(_stored(f"{top}/{name}".encode(), content, made))
        start = made.tell()
        directory = b"".join(map(directory_head, entries))
        made.write(directory + end(len(entries), len(directory), start))


def _stored(name: bytes, content: Content, made: BinaryIO) -> Entry:
    """Write a file behind its head, which tells the check of what was read meanwhile."""
    start, size = made.tell(), len(content) if isinstance(content, bytes) else content.stat().st_size
    made.write(local_head(name, 0, size))
    crc = read = 0
    with io.BytesIO(content) if isinstance(content, bytes) else content.open("rb") as file:
        while block := file.read(BLOCK):
            made.write(block)
            crc, read = zlib.crc32(block, crc), read + len(block)
    if read != size:
        raise OSError(errno.EIO, "it was changed while it was read", str(content))
    made.seek(start)
    made.write(local_head(name, crc, size))
    made.seek(0, io.SEEK_END)
    return Entry(name, crc, size, start)
