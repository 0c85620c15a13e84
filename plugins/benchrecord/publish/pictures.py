"""Every picture of a job: drawn by the figures room, kept in the cache, named by content."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from benchrecord.checks.kind import Kind, source_of
from benchrecord.model.findings import CheckFinding, Findings
from benchrecord.model.job import Job, Photo
from benchrecord.model.references import Index, Target, index_of
from benchrecord.pages import addresses
from benchrecord.pages.view import Drawing, PhotoPicture, Pictures
from benchrecord.publish.board_pictures import draw_boards
from benchrecord.publish.cache import Cache
from benchrecord.publish.photos import Progress, in_background, pool_of, published

if TYPE_CHECKING:
    from benchrecord.figures.style import Chart


def draw_pictures(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[Pictures, dict[str, bytes]]:
    """Make all pictures of a job; return them, and the files to publish by source path."""
    photos, files = _photos(folder, job, cache, progress)
    with _charts_in_background(findings, kinds, cache) as making:
        drawn = draw_boards(job, findings, photos, files, cache=cache)
        charts = _charts(making, progress)
    index, marked = index_of(job), {m.photo for m in job.marks}
    marks = {p.file: _marks(job, index, p) for p in job.photos if p.file in marked}
    pictures = Pictures(photos, charts, drawn.boards, drawn.note_maps, drawn.views, marks)
    return pictures, {**files, **drawn.files}


def draw_for_print(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[Pictures, dict[str, bytes]]:
    """Make what is printed of a job, the same as its site shows: photographs, charts, maps, and the views that notes ask for."""
    photos, files = _photos(folder, job, cache, progress)
    with _charts_in_background(findings, kinds, cache) as making:
        drawn = draw_boards(job, findings, photos, files, cache=cache, printed=True)
        charts = _charts(making, progress)
    return Pictures(photos, charts, drawn.boards, drawn.note_maps, drawn.views), {**files, **drawn.files}


def _photos(folder: Path, job: Job, cache: Cache, progress: Progress) -> tuple[dict[str, PhotoPicture], dict[str, bytes]]:
    pictures: dict[str, PhotoPicture] = {}
    files: dict[str, bytes] = {}
    with in_background(folder, job.photos, cache) as making:
        for done, (photo, made) in enumerate(zip(job.photos, making, strict=True), 1):
            pictures[photo.file], own = published(job.id, made.result())
            files |= own
            progress("Photographs", done, len(job.photos))
    return pictures, files


@contextmanager
def _charts_in_background(
    findings: Findings, kinds: Mapping[str, Kind], cache: Cache
) -> Iterator[list[tuple[str, Chart, Future[bytes]]]]:
    """Draw charts while boards are drawn, most of which Pillow does beside them: each with its check."""
    known = [
        (f, k, chart) for f in findings.checks if (k := kinds.get(f.check.kind)) and f.table.rows and (chart := k.chart(f))
    ]
    with pool_of(1) as pool:
        yield [(f.check.id, chart, pool.submit(_chart, f, k, chart, cache)) for f, k, chart in known]


def _chart(finding: CheckFinding, kind: Kind, chart: Chart, cache: Cache) -> bytes:
    def draw() -> bytes:
        from benchrecord.figures.chart import draw as draw_chart  # noqa: PLC0415  # matplotlib takes 0.75 s to import

        return draw_chart(chart, name=addresses.slug(finding.check.id)).encode()

    return cache.made("chart", repr(finding), source_of(kind), make=draw)


def _charts(making: Sequence[tuple[str, Chart, Future[bytes]]], progress: Progress) -> dict[str, Drawing]:
    drawings = {}
    for done, (name, chart, made) in enumerate(making, 1):
        drawings[name] = Drawing(made.result().decode(), chart.caption, chart.alt)
        progress("Charts", done, len(making))
    return drawings


def _marks(job: Job, index: Index, photo: Photo) -> str:
    from benchrecord.figures.photo_overlay import marks_overlay  # noqa: PLC0415

    marks = [m for m in job.marks if m.photo == photo.file]
    found = {m.ref: index.part(m.ref, photo.board) for m in marks if m.ref}
    href = {ref: addresses.of(job, part) for ref, part in found.items() if isinstance(part, Target)}
    return marks_overlay(marks, (photo.width, photo.height), href=href.get, name=addresses.mark_anchor(photo.file))
