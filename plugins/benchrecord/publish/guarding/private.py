"""What is private in job folders for one reader: what their site must not hold, and where that is let off."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from benchrecord.editions.traces import Trace, every, traces
from benchrecord.intake.beside import WORDS, Beside, beside
from benchrecord.intake.paths import on_disk
from benchrecord.intake.picture_tags import Told, told_by
from benchrecord.model.job import Edition, Job
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.rule import InUse, Reach, Sought, in_use, sought, words_alone

PACKAGE = Path(__file__).parents[2]
WORD = re.compile(r"[a-z0-9_]{3,}")
WRITTEN = {".py", ".j2", ".html", ".js", ".css", ".yml", ".md", ".svg", ".map", ".txt"}
HEAD = 1 << 16  # bytes that tell a file from another of the same size
SHORTEST_PATH = 6  # characters: a shorter one may stand anywhere
ICONS = ".icons"  # of the theme: thousands of drawings, named by what they show


@dataclass(frozen=True, slots=True)
class Private:
    """What to look for, and the digests of the files that must not be in a site, each with what it is."""

    things: tuple[Sought, ...] = ()
    files: tuple[tuple[int, str, str], ...] = ()  # size, SHA-256 of the beginning, what it is


def private(read: Sequence[tuple[Path, Job]], shown: Sequence[Job], reader: Edition, *, used: InUse, cache: Cache) -> Private:
    """Return what a reader must not come upon of all folders that were read, ``shown`` being the jobs as that reader sees them."""
    of_jobs = traces([job for _, job in read], shown, reader)
    of_folders = [b for folder, _ in read for b in beside(folder, lambda path: told_of(path, cache))]
    things = dict.fromkeys((*sought(of_jobs, used), *(s for b in of_folders for s in _of_a_folder(b, used))))
    originals = [(on_disk(folder, name), what) for folder, job in read for name, what in _originals(job)]
    return Private(tuple(things), tuple(_digest(path, what) for path, what in originals if path.is_file()))


def used_by(shown: Iterable[Job], pages: Iterable[str], look: Iterable[Path] = ()) -> InUse:
    """Return what the reader of jobs and of further pages sees anyhow, with the words of this program and of the folders of a look.

    What is of a person and stands in a job that is shown is the reader's own to know: its words are common to them.
    """
    seen = [leaf for job in shown for leaf in every(job)]
    own = in_use(leaf.value for leaf in seen if leaf.rule.personal)
    return in_use((*(leaf.value for leaf in seen), *pages), words_in((*look, PACKAGE)) | own.words)


@lru_cache(maxsize=4)
def words_in(folders: tuple[Path, ...]) -> frozenset[str]:
    """Return every word that the files of some folders use, in lower case; drawings of icons are left out."""
    found: set[str] = set()
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.suffix in WRITTEN and ICONS not in path.parts and path.is_file():
                found.update(WORD.findall(path.read_text("utf-8", "replace").lower()))
    return frozenset(found)


def _of_a_folder(found: Beside, used: InUse) -> Iterator[Sought]:
    if found.what == WORDS:
        yield from words_alone(found.what, found.text, used)
    else:
        yield from sought([Trace(found.what, found.text)], used)


def told_of(path: Path, cache: Cache) -> Told:
    """Return what a picture tells beside its pixels, from the cache where the same bytes were read before."""
    data = path.read_bytes()

    def look() -> bytes:
        told = told_by(data)
        return json.dumps([told.place, told.texts]).encode()

    place, texts = json.loads(cache.made("picture tags", sha256(data).hexdigest(), make=look))
    return Told(tuple(place) if place else None, tuple(texts))


def _originals(job: Job) -> Iterator[tuple[str, str]]:
    yield from ((photo.file, "a photograph as the camera wrote it") for photo in job.photos)
    yield from ((document.file, "a document") for document in job.documents)
    yield from ((recording.file, "a recording") for recording in job.recordings)


def _digest(path: Path, what: str) -> tuple[int, str, str]:
    with path.open("rb") as file:
        head = file.read(HEAD)
    return path.stat().st_size, sha256(head).hexdigest(), what


def of_this_machine(folders: Iterable[Path]) -> tuple[Sought, ...]:
    """Return the paths that a site must not tell: of the folders that it is made from, of this program, of the user's home."""
    known = {*(str(f.resolve()) for f in folders), str(Path(__file__).parents[3]), f"{Path.home()}/"}
    return tuple(Sought("a path of this machine", path, Reach.EXACT) for path in sorted(known) if len(path) >= SHORTEST_PATH)
