"""Writing a record: a folder, or a ZIP that is the same whenever it is made. Whole or not at all."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from benchrecord.disk import rename, scratch
from benchrecord.record.bag import Content

EPOCH = (1980, 1, 1, 0, 0, 0)  # the first moment that a ZIP can tell
UNIX, PLAIN_FILE = 3, 0o100644 << 16
BLOCK = 1 << 20


def write(files: Mapping[str, Content], target: Path, *, zipped: bool, prove: Callable[[Path], None]) -> None:
    """Write all files as ``target``, which must not be there; ``prove`` reads what was written, and raises to undo it.

    Raises
    ------
    OSError
        Where it cannot be written; nothing is left then.
    """
    with scratch(target.parent, f".{target.name}-") as making:
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
    with ZipFile(path, "w", ZIP_STORED) as made:
        for name, content in sorted(files.items()):
            entry = plain_entry(f"{top}/{name}")
            entry.file_size = len(content) if isinstance(content, bytes) else content.stat().st_size
            with made.open(entry, "w") as out:
                if isinstance(content, bytes):
                    out.write(content)
                else:
                    with content.open("rb") as file:
                        shutil.copyfileobj(file, out, BLOCK)


def plain_entry(name: str) -> ZipInfo:
    """Return the head of a file in a ZIP of ours: no time, no owner, not compressed."""
    entry = ZipInfo(name, EPOCH)
    entry.create_system, entry.external_attr, entry.compress_type = UNIX, PLAIN_FILE, ZIP_STORED
    return entry
