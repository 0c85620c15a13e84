"""Handing a record over: the owner's site, the book, the data and the originals as one bag, proved after it was written."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from benchrecord import __version__
from benchrecord.model.job import Edition, Job
from benchrecord.pages.view import View
from benchrecord.problems import as_text
from benchrecord.publish.build import Refused, build
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.originals import groups, originals
from benchrecord.publish.progress import on_terminal
from benchrecord.publish.work import Site, findings_json, make_site
from benchrecord.record.annotations import marks_on_originals
from benchrecord.record.bag import Content, bag
from benchrecord.record.data_package import package
from benchrecord.record.identity import Former, bag_info, day_of, former, record_name
from benchrecord.record.linked_data import linked_data
from benchrecord.record.readme import Told, readme
from benchrecord.record.report import as_text as report
from benchrecord.record.verify import verify
from benchrecord.record.writing import write

CLOCK = "SOURCE_DATE_EPOCH"


@dataclass(frozen=True, slots=True)
class Wish:
    """How a record is wanted: the folder it goes to, as a ZIP or not, further kinds of check, and the record that it follows."""

    to: Path
    zipped: bool = False
    kinds: Sequence[Path] = ()
    follows: Path | None = None


def hand_over(folder: Path, wish: Wish) -> Path:
    """Make the owner's record of a job folder and return where it lies.

    Raises
    ------
    Refused
        Where a problem stops it, or where something of its name is there already; nothing is left half made.
    """
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
        payload, told = _payload(folder, view, wish, Path(scratch))
        files = bag(payload, bag_info(view.job, f"benchrecord {__version__}", follows), {"README.txt": readme(view.job, told)})
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


def _payload(folder: Path, view: View, wish: Wish, scratch: Path) -> tuple[dict[str, Content], Told]:
    """Gather all that is handed over, by its path in the record, and what README.txt tells of it."""
    found = originals(folder, view.job, scratch)
    seen_from_data = {file: f"../{path.removeprefix('data/')}" for file, path in found.photographs.items()}
    data = package(view, findings_json(view.findings, view.edition)) | {"object.jsonld": linked_data(view)}
    if marks := marks_on_originals(view, seen_from_data):
        data["marks.jsonld"] = marks
    payload: dict[str, Content] = {f"data/dataset/{name}": content for name, content in data.items()}
    payload |= found.files
    with _stated_clock(view.job):
        site = build([folder], edition=Edition.OWNER.value, site_dir=scratch / "site", kinds=wish.kinds)
    payload |= {f"data/site/{p.relative_to(site).as_posix()}": p for p in sorted(site.rglob("*")) if p.is_file()}
    has = frozenset({"data/site", "data/dataset", *groups(found)})
    return payload, Told(has, found.left_out)


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
