"""From job folders to the files of a site: read, filter by reader, work out, draw, write."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from benchrecord.checks import all_kinds, schemas
from benchrecord.checks.kind import Kind
from benchrecord.editions import for_reader, published
from benchrecord.findings import as_json
from benchrecord.findings.archive import gather
from benchrecord.findings.limits import unused_limits
from benchrecord.findings.placements import placement_problems
from benchrecord.intake import read_job
from benchrecord.intake.picture_file import ONCE, Looking
from benchrecord.model.file_names import folded
from benchrecord.model.findings import Findings
from benchrecord.model.job import Edition, Job
from benchrecord.model.references import Index, index_of
from benchrecord.pages import addresses
from benchrecord.pages.archive_pages import archive_pages
from benchrecord.pages.job_pages import data_csv, job_pages
from benchrecord.pages.marks import FILE as MARKS
from benchrecord.pages.marks import marks_jsonld
from benchrecord.pages.render import Page
from benchrecord.pages.site_pages import jobs_index
from benchrecord.pages.view import View
from benchrecord.problems import Place, Problem, has_errors, in_order
from benchrecord.publish.cache import Cache
from benchrecord.publish.hearing import findings_of
from benchrecord.publish.owner_lint import personal_data
from benchrecord.publish.photos import looking_to_publish
from benchrecord.publish.pictures import draw_pictures

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Worked:
    """Jobs that were read and worked out for one reader; nothing is drawn of them yet.

    ``read`` are the folders with all that they hold, ``shown`` what the reader sees of each, with its findings.
    """

    read: tuple[tuple[Path, Job], ...]
    shown: tuple[tuple[Path, Job, Findings], ...]
    reader: Edition
    kinds: Mapping[str, Kind]


@dataclass(frozen=True, slots=True)
class Site:
    """What is to be published: the views, whole indexes by job (of all that the folder has), pages and files by source path.

    ``read`` are the folders with all that they hold, ``reader`` is who reads the site.
    """

    views: tuple[View, ...]
    whole: Mapping[str, Index]
    pages: Mapping[str, str]
    files: Mapping[str, bytes]
    read: tuple[tuple[Path, Job], ...] = ()
    reader: Edition = Edition.PORTFOLIO


Outcome = tuple[Site | None, tuple[Problem, ...]]  # a site, unless a problem stopped it, and all problems


def read_all(
    folders: Iterable[Path], kinds: Mapping[str, Kind], looking: Looking = ONCE
) -> tuple[list[tuple[Path, Job]], tuple[Problem, ...]]:
    """Read every folder and return the jobs with all problems of all of them; paths start with the folder where there are several.

    ``looking`` is how pictures are looked at.
    """
    known, jobs, problems = schemas(kinds), [], []
    folders = list(folders)
    for folder in folders:
        job, found = read_job(folder, known, looking)
        prefix = f"{folder.name}/" if len(folders) > 1 else ""
        if job:
            jobs.append((folder, job))
            of_points = placement_problems(job, {p.place for p in found if p.code == "board-points"})
            found = (*found, *of_points, *unused_limits(job, kinds))
        problems += [_below(prefix, p) for p in found]
    return jobs, in_order([*problems, *_same_ids(jobs)])


def warnings_of(jobs: Sequence[tuple[Path, Job]], cache: Cache) -> Iterator[Problem]:
    """Yield what is to be known before anyone reads the jobs that are published."""
    for folder, job in jobs:
        prefix = f"{folder.name}/" if len(jobs) > 1 else ""
        yield from (_below(prefix, problem) for problem in personal_data(folder, job, cache))


def _below(prefix: str, problem: Problem) -> Problem:
    place = problem.place
    moved = Place(prefix + place.file, place.line, place.column)
    return Problem(problem.code, moved, problem.got, problem.expected, problem.remedy)


def _same_ids(jobs: Sequence[tuple[Path, Job]]) -> list[Problem]:
    seen: dict[str, Path] = {}
    clashes = []
    for folder, job in jobs:
        if job.id in seen:
            clashes.append(
                Problem(
                    "duplicate-id",
                    Place(str(folder)),
                    job.id,
                    "each job folder has a name of its own",
                    "rename one of the two folders",
                )
            )
        seen.setdefault(job.id, folder)
    return clashes


def make_site(
    folders: Iterable[Path],
    edition: Edition,
    *,
    kinds: Sequence[Path],
    cache: Cache,
    progress: Progress,
    as_of: date | None = None,
) -> Outcome:
    """Do everything for all folders; no site where a problem stops it. ``as_of`` is the day from which the archive counts."""
    worked, problems = work_out_all(folders, edition, kinds=kinds, cache=cache, progress=progress)
    if worked is None:
        return None, problems
    site, clashes = site_of(worked, cache=cache, progress=progress, as_of=as_of)
    return site, in_order([*problems, *clashes])


def work_out_all(
    folders: Iterable[Path], edition: Edition, *, kinds: Sequence[Path], cache: Cache, progress: Progress
) -> tuple[Worked | None, tuple[Problem, ...]]:
    """Read all folders and do their sums, as one reader may see them; nothing where a problem stops it."""
    known = all_kinds(kinds)
    folders = list(folders)
    jobs, problems = read_all(folders, known, looking_to_publish(folders, cache, progress))
    if has_errors(problems):
        return None, problems
    if edition is Edition.PORTFOLIO:
        problems = in_order([*problems, *warnings_of(jobs, cache)])
    seen = [(f, for_reader(j, edition)) for f, j in jobs if j in published([j], edition)]
    shown = tuple((f, j, findings_of(f, j, known, cache)) for f, j in seen)
    return Worked(tuple(jobs), shown, edition, known), problems


def site_of(worked: Worked, *, cache: Cache, progress: Progress, as_of: date | None = None) -> Outcome:
    """Draw and write what was worked out; no site where two pages would be one."""
    views, files = [], dict[str, bytes]()
    for folder, job, findings in worked.shown:
        pictures, drawn = draw_pictures(folder, job, findings, worked.kinds, cache=cache, progress=progress)
        views.append(View(job, findings, pictures, worked.reader))
        files |= drawn | _data(views[-1])
    made = [p for view in views for p in job_pages(view)]
    readings = [addresses.readings(view.job.id, f.check.id) for view in views for f in view.findings.checks if f.table.rows]
    if clashes := _same_addresses([*(p.src for p in made), *readings]):
        return None, tuple(clashes)
    pages = {p.src: p.markdown for p in (*made, *_across(views, worked.reader, as_of))}
    whole = {job.id: index_of(job) for _, job in worked.read}
    return Site(tuple(views), whole, pages, files, worked.read, worked.reader), ()


def _across(views: Sequence[View], edition: Edition, as_of: date | None) -> list[Page]:
    """Write the pages across jobs: the index of them, and for the technician all that is looked up in the archive."""
    archive = gather([v.job for v in views], as_of) if edition is Edition.ARCHIVE else None
    return [jobs_index(views), *(archive_pages(archive, views) if archive else [])]


def _same_addresses(sources: Sequence[str]) -> list[Problem]:
    """Two ids that differ only in what an address cannot hold, or in capitals, would share a file, and one be lost."""
    count = Counter(map(folded, sources))
    twice = [src for src in dict.fromkeys(sources) if count[folded(src)] > 1]
    return [
        Problem(
            "duplicate-id",
            Place(src),
            "two ids, one address",
            "ids that differ in letters or digits",
            "give one of the two another name",
        )
        for src in twice
    ]


def _data(view: View) -> dict[str, bytes]:
    """What stands beside the pages: all results as JSON, each check's readings as CSV, the marks of photographs as annotations."""
    job_id = view.job.id
    tables = {addresses.readings(job_id, f.check.id): f.table for f in view.findings.checks if f.table.rows}
    curves = {addresses.points(job_id, f.check.id): f.curve for f in view.findings.checks if f.curve}
    written = {src: data_csv(table).encode() for src, table in {**tables, **curves}.items()}
    marks = marks_jsonld(view)
    written |= {addresses.data(job_id, MARKS): marks.encode()} if marks else {}
    return {addresses.data(job_id, "findings.json"): findings_json(view.findings, view.edition).encode(), **written}


def findings_json(findings: Findings, edition: Edition) -> str:
    """Return the findings as JSON text; the cost is not for the portfolio."""
    return (
        json.dumps(as_json(findings, with_cost=edition is not Edition.PORTFOLIO), indent=1, ensure_ascii=False, allow_nan=False)
        + "\n"
    )


def silent(_what: str, _done: int, _of: int) -> None:
    """Show no progress."""
