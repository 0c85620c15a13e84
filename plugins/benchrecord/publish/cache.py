"""Pictures made once. An entry is used only if it is whole and was made for the very same key."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import platformdirs

DIGEST = hashlib.sha256().digest_size
ROOMS_DRAWN_FROM = (
    "figures",
    "checks",
    "bench",
    "model",
    "findings",
    "intake/picture_file.py",
    "intake/sound_file.py",
    "pages/view.py",
    "publish/board_pictures.py",
    "publish/photos.py",
    "publish/pictures.py",
    "publish/shots.py",
)


@lru_cache(maxsize=1)
def code_version() -> str:
    """Return a digest of the code that pictures depend on: other code, other pictures."""
    package = Path(__file__).parent.parent
    digest = hashlib.sha256()
    for room in ROOMS_DRAWN_FROM:
        found = package / room
        for file in sorted(found.rglob("*.py")) if found.is_dir() else [found]:
            digest.update(file.read_bytes())
    return digest.hexdigest()


CACHE_VARIABLE = "BENCHRECORD_CACHE"


def default_folder() -> Path:
    """Return the user's cache folder for pictures."""
    return Path(os.environ.get(CACHE_VARIABLE) or platformdirs.user_cache_dir("benchrecord"))


@dataclass(frozen=True, slots=True)
class Cache:
    """A folder of entries, each its content after a digest of key and content."""

    folder: Path

    def made(self, *key: str | bytes, make: Callable[[], bytes]) -> bytes:
        """Return what ``make`` makes, from the cache where it is there and sound."""
        kept = self.get(*key)
        if kept is not None:
            return kept
        content = make()
        self.put(*key, content=content)
        return content

    def get(self, *key: str | bytes) -> bytes | None:
        """Return the entry of a key; None where there is none, or where it is damaged."""
        return self._read(_digest(code_version(), *key))

    def put(self, *key: str | bytes, content: bytes) -> None:
        """Keep the entry of a key."""
        self._write(_digest(code_version(), *key), content)

    def _read(self, name: str) -> bytes | None:
        try:
            entry = (self.folder / name[:2] / name).read_bytes()
        except OSError:
            return None
        content = entry[DIGEST:]
        return content if entry[:DIGEST] == _seal(name, content) else None

    def _write(self, name: str, content: bytes) -> None:
        """Write an entry whole or not at all; a cache that cannot be written only costs time."""
        path = self.folder / name[:2] / name
        part = None
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as file:
                part = Path(file.name)
                file.write(_seal(name, content) + content)
            part.replace(path)
        except OSError:
            pass
        finally:
            with suppress(OSError):
                if part:
                    part.unlink(missing_ok=True)  # it is there where this was interrupted, or the disk is full


def _seal(name: str, content: bytes) -> bytes:
    return hashlib.sha256(name.encode() + content).digest()


def _digest(*parts: str | bytes) -> str:
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()
