"""Photographs as they are published: each content reduced once, kept in the cache, named by what is in the file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache
from importlib.metadata import version
from itertools import accumulate, count
from pathlib import Path
from typing import Any, Protocol

from benchrecord.intake.paths import on_disk
from benchrecord.intake.picture_file import Looking, unwarned
from benchrecord.model.job import Photo
from benchrecord.pages import addresses
from benchrecord.pages.view import PhotoPicture, Sized
from benchrecord.publish.cache import Cache

WORKERS = 2  # a picture of 24 megapixels takes about 100 MB while it is reduced
Made = tuple[dict[str, Any], list[bytes]]  # a description of a photograph's sizes, and the bytes of each


class Progress(Protocol):
    """Told how far a long step is."""

    def __call__(self, what: str, done: int, of: int, /) -> None:
        """Show it."""


class _ChangedError(Exception):
    """A photograph that is no longer what it was when the folder was read."""


@contextmanager
def in_background(folder: Path, photos: Sequence[Photo], cache: Cache) -> Iterator[list[Future[Made]]]:
    """Reduce photographs while other things are done."""
    with unwarned(), pool_of(WORKERS) as pool:
        yield [pool.submit(_photo, folder, photo, cache) for photo in photos]


@contextmanager
def printed_in_background(folder: Path, photos: Sequence[Photo], cache: Cache) -> Iterator[list[Future[bytes]]]:
    """Make each photograph as it is printed, a JPEG, while other things are done."""
    with unwarned(), pool_of(WORKERS) as pool:
        yield [pool.submit(_for_print, folder, photo, cache) for photo in photos]


@contextmanager
def pool_of(workers: int) -> Iterator[ThreadPoolExecutor]:
    """Give threads to work in; where this is interrupted, nothing more is begun."""
    with ThreadPoolExecutor(workers) as pool:
        try:
            yield pool
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def published(job_id: str, made: Made) -> tuple[PhotoPicture, dict[str, bytes]]:
    """Return a photograph for pages, and its files by the path they are published at."""
    about, contents = made
    sized = [(s["ending"], Sized(addresses.asset(job_id, s["name"]), s["width"], s["height"])) for s in about["sizes"]]
    webp = tuple(sorted((s for ending, s in sized if ending == "webp"), key=lambda s: s.width))
    fallback = next(s for ending, s in sized if ending == "jpg")
    files = {size.src: content for (_, size), content in zip(sized, contents, strict=True)}
    return PhotoPicture(webp, fallback, about["tone"]), files


def largest(folder: Path, photo: Photo, cache: Cache) -> tuple[bytes, str]:
    """Return the largest size that is published of one photograph, and its ending."""
    with unwarned():
        about, contents = _photo(folder, photo, cache)
    size, content = max(zip(about["sizes"], contents, strict=True), key=lambda made: made[0]["width"])
    return content, size["ending"]


def _for_print(folder: Path, photo: Photo, cache: Cache) -> bytes:
    def make() -> bytes:
        from benchrecord.figures.photo import for_print  # noqa: PLC0415  # only where a picture must be made

        return for_print(on_disk(folder, photo.file).read_bytes())

    return cache.made("print", photo.content, _decoders(), make=make)


def looking(cache: Cache) -> Looking:
    """Look at pictures, and remember what was found."""
    return Looking(cache.made)


def looking_to_publish(folders: Sequence[Path], cache: Cache, progress: Progress) -> Looking:
    """Look at pictures and reduce them in one go: each is decoded once, and what is published of it is in the cache afterwards."""
    of = sum(1 for folder in folders for path in (folder / "photos").rglob("*") if path.is_file())
    seen = count(1)

    def prove(path: Path, content: str) -> None:
        _packed(path, content, cache)
        progress("Photographs", min(next(seen), of - 1), of)

    return Looking(cache.made, prove)


def _photo(folder: Path, photo: Photo, cache: Cache) -> Made:
    """Return what is published of one photograph; its file is only read where that is not in the cache."""
    return _unpacked(_packed(on_disk(folder, photo.file), photo.content, cache))


def _packed(path: Path, content: str, cache: Cache) -> bytes:
    def make() -> bytes:
        original = path.read_bytes()
        if hashlib.sha256(original).hexdigest() != content:
            raise _ChangedError
        return _prepare(original)

    try:
        return cache.made("photo", content, _decoders(), make=make)
    except _ChangedError:
        return _prepare(path.read_bytes())  # as it is now, and kept under no name


def _prepare(original: bytes) -> bytes:
    from benchrecord.figures.photo import publishable  # noqa: PLC0415  # only where a picture must be made

    made = publishable(original)
    about = [
        {
            "name": f"{hashlib.sha256(r.data).hexdigest()[:16]}-{r.width}.{r.ending}",
            "width": r.width,
            "height": r.height,
            "ending": r.ending,
            "bytes": len(r.data),
        }
        for r in made.renditions
    ]
    return json.dumps({"tone": made.tone, "sizes": about}).encode() + b"\n" + b"".join(r.data for r in made.renditions)


def _unpacked(packed: bytes) -> Made:
    head, _, body = packed.partition(b"\n")
    about = json.loads(head)
    ends = list(accumulate(size["bytes"] for size in about["sizes"]))
    return about, [body[start:end] for start, end in zip([0, *ends], ends, strict=False)]


@lru_cache(maxsize=1)
def _decoders() -> str:
    """Return the versions of what reads and writes pictures: others may draw other pixels."""
    return ", ".join(f"{name} {version(name)}" for name in ("pillow", "pillow-heif"))
