"""Handing a record over: the owner's site, the book, the data and the originals as one bag, proved after it was written."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

from benchrecord import __version__
from benchrecord.disk import made_folder, remove_abandoned, scratch, why, why_there, writing_to
from benchrecord.model.file_names import nfc
from benchrecord.model.job import Edition, Job
from benchrecord.pages.view import Pictures, View
from benchrecord.problems import Problem, as_command, as_text
from benchrecord.publish.build import Refused, build
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.documents import unsearchable
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private, private, public_vocabulary
from benchrecord.publish.guarding.rule import SearchTerm
from benchrecord.publish.job_folders import refuse_default_cache_in_job_folder, refuse_in_job_folder
from benchrecord.publish.originals import groups, originals
from benchrecord.publish.printed import Press, press, sheets_of
from benchrecord.publish.progress import on_terminal
from benchrecord.publish.work import Worked, findings_json, site_of, work_out_all
from benchrecord.publish.written_in import written_in
from benchrecord.record.annotations import marks_on_originals
from benchrecord.record.bag import TAG_MANIFEST, Content, bag
from benchrecord.record.data_package import package
from benchrecord.record.identity import Former, bag_info, day_of, former, record_name
from benchrecord.record.linked_data import linked_data
from benchrecord.record.pdf import CannotPrintError
from benchrecord.record.readme import Told, readme
from benchrecord.record.report import as_text as report
from benchrecord.record.verify import SIGNATURE, verify
from benchrecord.record.writing import write

CLOCK, PDF = "SOURCE_DATE_EPOCH", "data/record.pdf"
SITE, DOCUMENTS = "data/site/", "data/documents/"


@dataclass(frozen=True, slots=True)
class Wish:
    """How a record is wanted: the folder it goes to, as a ZIP or not, further kinds of check, and the record that it follows."""

    to: Path
    zipped: bool = False
    kinds: Sequence[Path] = ()
    follows: Path | None = None
    sign: Callable[[bytes], bytes] | None = None
    with_pdf: bool = True
    key: Path | None = None  # the file of the key that ``sign`` signs with


@dataclass(frozen=True)
class Work:
    """The job of a folder, read and worked out for its owner, and the problems that do not stop it."""

    folder: Path
    worked: Worked
    problems: tuple[Problem, ...]
    cache: Cache

    @property
    def job(self) -> Job:
        """The job as its owner may see it."""
        return self.worked.shown[0][1]

    @property
    def undrawn(self) -> View:
        """What was worked out, without pictures."""
        _, job, findings = self.worked.shown[0]
        return View(job, findings, Pictures(), Edition.OWNER)

    @cached_property
    def leaks(self) -> Leaks:
        """Looks for what the record must not tell."""
        return Leaks(Private(self._private), self.cache)

    @cached_property
    def leaks_of_others(self) -> Leaks:
        """Looks for it in documents by others, where a single word that a text left out has too tells nothing."""
        return Leaks(Private(tuple(thing for thing in self._private if thing.is_distinctive)), self.cache)

    def sources(self) -> list[str]:
        """Return where the job's texts hold what its owner must not see."""
        return written_in(self.worked.read, Edition.OWNER, self._private, cache=self.cache)

    @cached_property
    def _private(self) -> tuple[SearchTerm, ...]:
        used = public_vocabulary((job for _, job in self.worked.read), [self.job])
        return private(self.worked.read, [self.job], Edition.OWNER, used=used, cache=self.cache).things


def hand_over(folder: Path, wish: Wish) -> Path:
    """Make the owner's record of a job folder and return where it lies.

    Raises
    ------
    Refused
        Where a problem stops it, or where something of its name is there already; nothing is left half made.
    """
    _may_be_written(folder, wish)
    remove_abandoned(wish.to)  # of a record of another job, it would go along on the stick
    follows = _former(wish.follows) if wish.follows else None
    with press() if wish.with_pdf else nullcontext() as printer:
        work = _work(folder, wish)
        _searchable(work)
        target = _target(record_name(work.job, follows), wish)
        _ready_to_print(printer, folder, wish)
        with _scratch() as room:
            payload, told = _payload(work, wish, printer, room)
            told = replace(told, former=follows.name if follows else "", signed=wish.sign is not None)
            info = bag_info(work.job, f"benchrecord {__version__}", follows)
            files = bag(payload, info, {"README.txt": readme(work.job, told)})
            files |= _signature(files, wish.sign) if wish.sign else {}
            _written(files, target, zipped=wish.zipped)
    return target


def _work(folder: Path, wish: Wish) -> Work:
    refuse_default_cache_in_job_folder()
    cache = Cache(default_folder())
    try:
        worked, problems = work_out_all([folder], Edition.OWNER, kinds=wish.kinds, cache=cache, progress=on_terminal)
    except ValueError as error:
        raise Refused(str(error)) from error
    if worked is None:
        raise Refused(f"The job cannot be handed over as it stands.\n\n{as_text(problems)}\n")
    return Work(folder, worked, problems, cache)


def _searchable(work: Work) -> None:
    """Refuse documents that nobody can look into, before anything is made."""
    if problems := [*unsearchable(work.folder, work.job)]:
        raise Refused(f"The job cannot be handed over as it stands.\n\n{as_text(problems)}\n")


def _ready_to_print(printer: Press | None, folder: Path, wish: Wish) -> None:
    """Refuse before anything is drawn where a PDF is to be made and cannot be: its libraries loaded while the sums were done."""
    try:
        if printer:
            printer.wait()
    except CannotPrintError as error:
        without = as_command([*_command(folder, wish, wish.to), "--no-pdf"])
        raise Refused(f"{error}\nOr hand over without the PDF:\n\n  {without}\n") from error


def _command(folder: Path, wish: Wish, to: Path) -> list[str]:
    """Return the words of the command that makes the same record in another folder."""
    options = [("--to", to), ("--follows", wish.follows), ("--sign", wish.key), *(("--kind", kind) for kind in wish.kinds)]
    given = [word for name, value in options if value for word in (name, str(value))]
    return ["benchrecord", "hand-over", str(folder), *given, *(["--form", "zip"] if wish.zipped else [])]


def _may_be_written(folder: Path, wish: Wish) -> None:
    """Refuse a place in a job folder, which would be read as part of the job, and one that cannot be written, before any work."""
    place = wish.to.resolve()
    refuse_in_job_folder(place, lambda parent: _command(folder, wish, parent) + ["--no-pdf"] * (not wish.with_pdf))
    try:
        above = next(p for p in (place, *place.parents) if p.exists())
    except OSError as error:
        raise Refused(f"{place} cannot be a folder: {error.strerror}. Choose another one with --to.") from error
    if not above.is_dir():
        raise Refused(f"{above} is a file, and a record goes into a folder. Choose one with --to.")
    if not os.access(above, os.W_OK):
        raise Refused(f"Nothing can be written to {above}. Choose another folder with --to.")


def _target(name: str, wish: Wish) -> Path:
    """Return where a record will lie; what lies there already is never written over."""
    target = wish.to.resolve() / (f"{name}.zip" if wish.zipped else name)
    try:
        if target.exists():
            raise Refused(
                f"{target} is there already. Move it, or choose another folder with --to: a record is never written over."
            )
    except OSError as error:
        raise Refused(f"{target} cannot be written: {error.strerror}. Give the job folder another name.") from error
    return target


@contextmanager
def _scratch() -> Iterator[Path]:
    """Give room for what is made before it is handed over; where that runs out, say so."""
    try:
        with scratch() as room, writing_to(room):
            yield room
    except OSError as error:
        raise Refused(f"The record was not made: {why_there(error)}. Nothing is left of it.") from error


def _signature(files: Mapping[str, Content], sign: Callable[[bytes], bytes]) -> dict[str, Content]:
    sealed = files[TAG_MANIFEST]
    return {SIGNATURE: sign(sealed)} if isinstance(sealed, bytes) else {}


def _payload(work: Work, wish: Wish, printer: Press | None, scratch: Path) -> tuple[dict[str, Content], Told]:
    """Gather all that is handed over, by its path in the record, and what README.txt tells of it."""
    found = originals(work.folder, work.job, scratch)
    data = _data(work, {file: f"../{path.removeprefix('data/')}" for file, path in found.photographs.items()})
    printing = _printing(work, wish, printer, data) if printer else None
    payload: dict[str, Content] = {**{f"data/dataset/{name}": content for name, content in data.items()}, **found.files}
    payload |= {f"data/site/{name}": path for name, path in _site(work, scratch / "site").items()}
    _search({name: content for name, content in payload.items() if name not in found.own}, work)
    if printing:
        printed: dict[str, Content] = {PDF: printing.result()}
        _search(printed, work)
        payload |= printed
    has = frozenset({"data/site", "data/dataset", *groups(found), *({PDF} & payload.keys())})
    return payload, Told(has, found.left_out)


def _site(work: Work, site_dir: Path) -> dict[str, Path]:
    """Build the site, while the PDF is printed, and return its files by their path in it."""
    site, clashes = site_of(work.worked, cache=work.cache, progress=on_terminal)
    made = site, (*work.problems, *clashes)
    with _stated_clock(work.job):
        built = build([work.folder], edition=Edition.OWNER.value, site_dir=site_dir, kinds=(), made=made)
    return {nfc(p.relative_to(built).as_posix()): p for p in sorted(built.rglob("*")) if p.is_file()}


def _search(payload: Mapping[str, Content], work: Work) -> None:
    """Refuse a record that tells what its owner must not see.

    Its site was searched when it was built, and what the owner's own photographs tell is the owner's.
    """
    ours = {name: content for name, content in payload.items() if not name.startswith((SITE, DOCUMENTS))}
    documents = {name: content for name, content in payload.items() if name.startswith(DOCUMENTS)}
    found = [*work.leaks.in_files(_read(ours)), *(work.leaks_of_others.in_files(_read(documents)) if documents else ())]
    if found:
        raise Refused("\n".join(["The record was refused:", *(f"  {line}" for line in found), *work.sources()]))


def _read(files: Mapping[str, Content]) -> Iterator[tuple[str, bytes]]:
    return ((name, content.read_bytes() if isinstance(content, Path) else content) for name, content in files.items())


def _data(work: Work, seen_from_data: Mapping[str, str]) -> dict[str, bytes]:
    """Return the files of data; photographs are named as they are seen from there."""
    view = work.undrawn
    data = package(view, findings_json(view.findings, view.edition)) | {"object.jsonld": linked_data(view)}
    marks = marks_on_originals(view, seen_from_data)
    return data | ({"marks.jsonld": marks} if marks else {})


def _printing(work: Work, wish: Wish, printer: Press, data: Mapping[str, bytes]) -> Future[bytes]:
    """Begin to print, so that it is done while the site is built."""
    follows = wish.follows.resolve().name if wish.follows else ""
    return printer.print(
        sheets_of(work.folder, work.worked, _attached(data), follows=follows, cache=work.cache, progress=on_terminal)
    )


def _attached(data: Mapping[str, bytes]) -> dict[str, tuple[str, bytes]]:
    """Return the files that are attached to the PDF, each with what it holds."""
    titles = {r["path"]: r["title"] for r in json.loads(data["datapackage.json"])["resources"]}
    titles |= {
        "datapackage.json": "What each column of the tables holds",
        "object.jsonld": "The instrument and the work as linked data",
    }
    return {name: (titles[name], content) for name, content in data.items() if name in titles}


@contextmanager
def _stated_clock(job: Job) -> Iterator[None]:
    """Date what is built by the day that the job states, so that it is the same whenever it is made."""
    day, before = day_of(job), os.environ.get(CLOCK)
    moment = datetime(day.year, day.month, day.day, tzinfo=UTC) if day else datetime(1980, 1, 1, tzinfo=UTC)
    os.environ.setdefault(CLOCK, str(int(moment.timestamp())))
    try:
        yield
    finally:
        if before is None:
            del os.environ[CLOCK]


def _former(path: Path) -> Former:
    """Verify the record that went before; one that is not whole is not followed."""
    found = verify(path)
    if found.faults:
        raise Refused(f"The former record {path} is not whole:\n\n{report(found, name=str(path))}")
    return former(path.resolve().name, found.sealed, found.info)


def _written(files: dict[str, Content], target: Path, *, zipped: bool) -> None:
    def prove(made: Path) -> None:
        if (found := verify(made)).faults:
            raise Refused(f"What was written to {target.parent} does not read back as it was:\n\n{report(found)}")

    try:
        with made_folder(target.parent):
            write(files, target, zipped=zipped, prove=prove)
    except OSError as error:
        raise Refused(f"{target} cannot be written: {why(error)}. Nothing is left of it.") from error


__all__ = ["Refused", "Wish", "hand_over"]
