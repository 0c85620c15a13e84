"""Handing a record over: the owner's site, the book, the data and the originals as one bag, proved after it was written."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from benchrecord import __version__
from benchrecord.model.job import Edition, Job
from benchrecord.pages.view import View
from benchrecord.problems import as_text
from benchrecord.publish.build import Refused, build
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.guarding.leaks import leaks
from benchrecord.publish.guarding.private import Private, private, used_by
from benchrecord.publish.originals import Originals, groups, originals
from benchrecord.publish.printed import in_background, sheets_of
from benchrecord.publish.progress import on_terminal
from benchrecord.publish.work import Site, findings_json, make_site
from benchrecord.record.annotations import marks_on_originals
from benchrecord.record.bag import TAG_MANIFEST, Content, bag
from benchrecord.record.data_package import package
from benchrecord.record.identity import Former, bag_info, day_of, former, record_name
from benchrecord.record.linked_data import linked_data
from benchrecord.record.pdf import CannotPrintError, libraries
from benchrecord.record.readme import Told, readme
from benchrecord.record.report import as_text as report
from benchrecord.record.verify import SIGNATURE, verify
from benchrecord.record.writing import write

CLOCK, PDF = "SOURCE_DATE_EPOCH", "data/record.pdf"
NOT_SEARCHED = ("data/site/", "data/documents/")


@dataclass(frozen=True, slots=True)
class Wish:
    """How a record is wanted: the folder it goes to, as a ZIP or not, further kinds of check, and the record that it follows."""

    to: Path
    zipped: bool = False
    kinds: Sequence[Path] = ()
    follows: Path | None = None
    sign: Callable[[bytes], bytes] | None = None
    with_pdf: bool = True


def hand_over(folder: Path, wish: Wish) -> Path:
    """Make the owner's record of a job folder and return where it lies.

    Raises
    ------
    Refused
        Where a problem stops it, or where something of its name is there already; nothing is left half made.
    """
    if wish.with_pdf:
        _ready_to_print()
    follows = _former(wish.follows) if wish.follows else None
    site = _site(folder, wish)
    view = site.views[0]
    name = record_name(view.job, follows)
    target = wish.to.resolve() / (f"{name}.zip" if wish.zipped else name)
    if target.exists():
        raise Refused(
            f"{target} is there already. Move it, or choose another folder with --to: a record is never written over."
        )
    with tempfile.TemporaryDirectory(prefix="benchrecord-") as scratch:
        found = originals(folder, view.job, Path(scratch))
        payload, told = _payload(folder, site, wish, Path(scratch), found=found)
        _search({name: content for name, content in payload.items() if name not in found.own}, site)
        told = replace(told, former=follows.name if follows else "", signed=wish.sign is not None)
        files = bag(payload, bag_info(view.job, f"benchrecord {__version__}", follows), {"README.txt": readme(view.job, told)})
        files |= _signature(files, wish.sign) if wish.sign else {}
        _written(files, target, zipped=wish.zipped)
    return target


def _site(folder: Path, wish: Wish) -> Site:
    try:
        site, problems = make_site(
            [folder], Edition.OWNER, kinds=wish.kinds, cache=Cache(default_folder()), progress=on_terminal
        )
    except ValueError as error:
        raise Refused(str(error)) from error
    if site is None:
        raise Refused(f"The job cannot be handed over as it stands.\n\n{as_text(problems)}\n")
    return site


def _ready_to_print() -> None:
    try:
        libraries()
    except CannotPrintError as error:
        raise Refused(f"{error}\nOr hand over without the PDF: --no-pdf") from error


def _signature(files: Mapping[str, Content], sign: Callable[[bytes], bytes]) -> dict[str, Content]:
    sealed = files[TAG_MANIFEST]
    return {SIGNATURE: sign(sealed)} if isinstance(sealed, bytes) else {}


def _payload(folder: Path, site: Site, wish: Wish, scratch: Path, *, found: Originals) -> tuple[dict[str, Content], Told]:
    """Gather all that is handed over, by its path in the record, and what README.txt tells of it."""
    view = site.views[0]
    data = _data(view, {file: f"../{path.removeprefix('data/')}" for file, path in found.photographs.items()})
    with _printing(folder, site, wish, data) as printing:
        payload: dict[str, Content] = {**{f"data/dataset/{name}": content for name, content in data.items()}, **found.files}
        with _stated_clock(view.job):
            built = build([folder], edition=Edition.OWNER.value, site_dir=scratch / "site", kinds=wish.kinds)
        payload |= {f"data/site/{p.relative_to(built).as_posix()}": p for p in sorted(built.rglob("*")) if p.is_file()}
        payload |= {PDF: printing.result()} if printing else {}
    has = frozenset({"data/site", "data/dataset", *groups(found), *({PDF} & payload.keys())})
    return payload, Told(has, found.left_out)


def _search(payload: Mapping[str, Content], site: Site) -> None:
    """Refuse a record that tells what its owner must not see.

    Its site was searched when it was built, documents are others', and what the owner's own photographs tell is the owner's.
    """
    shown = [view.job for view in site.views]
    cache = Cache(default_folder())
    sought = private(site.read, shown, site.reader, used=used_by(shown, ()), cache=cache)
    files = (
        (name, content.read_bytes() if isinstance(content, Path) else content)
        for name, content in payload.items()
        if not name.startswith(NOT_SEARCHED)
    )
    if found := list(leaks(files, Private(sought.things))):
        raise Refused("The record was refused:\n" + "\n".join(f"  {line}" for line in found))


def _data(view: View, seen_from_data: Mapping[str, str]) -> dict[str, bytes]:
    """Return the files of data; photographs are named as they are seen from there."""
    data = package(view, findings_json(view.findings, view.edition)) | {"object.jsonld": linked_data(view)}
    marks = marks_on_originals(view, seen_from_data)
    return data | ({"marks.jsonld": marks} if marks else {})


@contextmanager
def _printing(folder: Path, site: Site, wish: Wish, data: Mapping[str, bytes]) -> Iterator[Future[bytes] | None]:
    """Print while the site is built, where a PDF is wanted."""
    if not wish.with_pdf:
        yield None
        return
    follows = wish.follows.resolve().name if wish.follows else ""
    sheets = sheets_of(folder, site, _attached(data), follows=follows, cache=Cache(default_folder()))
    with in_background(sheets) as printing:
        yield printing


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
        raise Refused(f"The former record {path} is not whole:\n\n{report(found)}")
    return former(path.resolve().name, found.sealed, found.info)


def _written(files: dict[str, Content], target: Path, *, zipped: bool) -> None:
    def prove(made: Path) -> None:
        if (found := verify(made)).faults:
            raise Refused(f"What was written to {target.parent} does not read back as it was:\n\n{report(found)}")

    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        write(files, target, zipped=zipped, prove=prove)
    except (OSError, shutil.Error) as error:
        raise Refused(
            f"{target} cannot be written: {getattr(error, 'strerror', '') or error}. Nothing is left of it."
        ) from error


__all__ = ["Refused", "Wish", "hand_over"]
