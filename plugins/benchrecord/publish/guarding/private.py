"""What is private in job folders for one reader: what their site must not hold, and where that is let off."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from benchrecord.editions.table import called
from benchrecord.editions.traces import Trace, every, leaves, traces
from benchrecord.intake.beside import WORDS, Beside, beside
from benchrecord.intake.paths import on_disk
from benchrecord.intake.picture_tags import Told, told_by
from benchrecord.model.job import BoardPart, Edition, Instrument, Job, PartWork
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.rule import Match, SearchTerm, rare_words, search_terms
from benchrecord.publish.guarding.spellings import words_of
from benchrecord.publish.guarding.vocabulary import Vocabulary, vocabulary, words_in

PACKAGE = Path(__file__).parents[2]
HEAD = 1 << 16  # bytes that tell a file from another of the same size
SHORTEST_PATH = 6  # characters: a shorter one may stand anywhere
NAMES_OF_THINGS = {
    *(called(Instrument, name) for name in ("maker", "model", "kind")),
    *(called(PartWork, name) for name in ("was", "now")),
    called(BoardPart, "value"),
}


@dataclass(frozen=True, slots=True)
class Private:
    """What to look for, and the digests of the files that must not be in a site, each with what it is."""

    things: tuple[SearchTerm, ...] = ()
    files: tuple[tuple[int, str, str], ...] = ()  # size, SHA-256 of the beginning, what it is


def private(
    read: Sequence[tuple[Path, Job]], shown: Sequence[Job], reader: Edition, *, used: Vocabulary, cache: Cache
) -> Private:
    """Return what a reader must not come upon of all folders that were read, ``shown`` being the jobs as that reader sees them."""
    of_jobs = traces([job for _, job in read], shown, reader)
    of_folders = [b for folder, _ in read for b in beside(folder, lambda path: told_of(path, cache))]
    things = dict.fromkeys((*search_terms(of_jobs, used), *(s for b in of_folders for s in _of_a_folder(b, used))))
    originals = [(on_disk(folder, name), what) for folder, job in read for name, what in _originals(job)]
    return Private(tuple(things), tuple(_digest(path, what) for path, what in originals if path.is_file()))


def public_vocabulary(
    jobs: Iterable[Job], shown: Iterable[Job], pages: Iterable[str] = (), look: Iterable[Path] = ()
) -> Vocabulary:
    """Return the words of what the reader of jobs (``shown``, as that reader sees them) and of further pages sees or knows anyhow.

    The workshop is no secret, nor what a part or an instrument is called; what is the reader's own is theirs to know.
    """
    every_job, seen = list(jobs), [leaf for job in shown for leaf in every(job)]
    owners = {word for job in every_job if job.owner for word in words_of(job.owner.name)}
    things = (leaf.value for leaf in seen if leaf.field in NAMES_OF_THINGS and owners.isdisjoint(words_of(leaf.value)))
    own = (leaf.value for leaf in seen if leaf.rule.personal)
    workshop = (leaf.value for job in every_job if job.technician for leaf in leaves(job.technician))
    years = (str(job.instrument.year) for job in every_job)
    texts = (*(leaf.value for leaf in seen), *pages)
    return vocabulary(texts, (*things, *own, *workshop, *years), words_in((PACKAGE,)), words_in(tuple(look)))


def _of_a_folder(found: Beside, used: Vocabulary) -> Iterator[SearchTerm]:
    if found.what == WORDS:
        yield from rare_words(found.what, found.text, used)
    else:
        yield from search_terms([Trace(found.what, found.text)], used)


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


def of_this_machine(folders: Iterable[Path]) -> tuple[SearchTerm, ...]:
    """Return the paths that a site must not tell: of the folders that it is made from, of this program, of the user's home."""
    return paths_of((*(str(f.resolve()) for f in folders), str(Path(__file__).parents[3])), str(Path.home()))


def paths_of(folders: Iterable[str], home: str) -> tuple[SearchTerm, ...]:
    """Return what to search for of the paths of a machine, of whichever system; in a home everything below it counts."""
    known = {*folders, home.rstrip("/\\") + "/"}
    return tuple(SearchTerm("a path of this machine", path, Match.PATH) for path in sorted(known) if len(path) >= SHORTEST_PATH)
