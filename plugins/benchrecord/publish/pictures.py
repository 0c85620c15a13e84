"""Every picture of a job: drawn by the figures room, kept in the cache, named by content."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Future
from pathlib import Path
from typing import Any

from benchrecord.checks.kind import Kind, source_of
from benchrecord.model.findings import Findings
from benchrecord.model.job import Job, Photo
from benchrecord.model.references import Index, Target, index_of
from benchrecord.pages import addresses
from benchrecord.pages.view import Drawing, PhotoPicture, Pictures
from benchrecord.publish.board_pictures import draw_boards
from benchrecord.publish.cache import Cache
from benchrecord.publish.photos import Made, Progress, in_background, published


def draw_pictures(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[Pictures, dict[str, bytes]]:
    """Make all pictures of a job; return them, and the files to publish by source path."""
    photos, files, charts = _photos_and_charts(folder, job, findings, kinds, cache=cache, progress=progress)
    drawn = draw_boards(job, findings, photos, files, cache=cache)
    index, marked = index_of(job), {m.photo for m in job.marks}
    marks = {p.file: _marks(job, index, p) for p in job.photos if p.file in marked}
    pictures = Pictures(photos, charts, drawn.boards, drawn.note_maps, drawn.views, marks)
    return pictures, {**files, **drawn.files}


def draw_for_print(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[Pictures, dict[str, bytes]]:
    """Make what is printed of a job, the same as its site shows: photographs, charts, maps, and the views that notes ask for."""
    photos, files, charts = _photos_and_charts(folder, job, findings, kinds, cache=cache, progress=progress)
    drawn = draw_boards(job, findings, photos, files, cache=cache, printed=True)
    return Pictures(photos, charts, drawn.boards, drawn.note_maps, drawn.views), {**files, **drawn.files}


def _photos_and_charts(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[dict[str, PhotoPicture], dict[str, bytes], dict[str, Drawing]]:
    with in_background(folder, job.photos, cache) as making:  # photographs are reduced while charts are drawn
        charts = _charts(findings, kinds, cache, progress)
        return *_photos(job, making, progress), charts


def _photos(job: Job, making: list[Future[Made]], progress: Progress) -> tuple[dict[str, PhotoPicture], dict[str, bytes]]:
    pictures: dict[str, PhotoPicture] = {}
    files: dict[str, bytes] = {}
    for done, (photo, made) in enumerate(zip(job.photos, making, strict=True), 1):
        pictures[photo.file], own = published(job.id, made.result())
        files |= own
        progress("Photographs", done, len(job.photos))
    return pictures, files


def _charts(findings: Findings, kinds: Mapping[str, Kind], cache: Cache, progress: Progress) -> dict[str, Drawing]:
    charts = {
        f.check.id: chart for f in findings.checks if (k := kinds.get(f.check.kind)) and f.table.rows and (chart := k.chart(f))
    }
    drawings = {}
    for done, (name, chart) in enumerate(charts.items(), 1):
        finding = findings.check(name)

        def draw(name: str = name, chart: Any = chart) -> bytes:
            from benchrecord.figures.chart import draw as draw_chart  # noqa: PLC0415  # matplotlib takes 0.75 s to import

            return draw_chart(chart, name=addresses.slug(name)).encode()

        svg = cache.made("chart", repr(finding), source_of(kinds[finding.check.kind]), make=draw).decode()
        drawings[name] = Drawing(svg, chart.caption, chart.alt)
        progress("Charts", done, len(charts))
    return drawings


def _marks(job: Job, index: Index, photo: Photo) -> str:
    from benchrecord.figures.photo_overlay import marks_overlay  # noqa: PLC0415

    marks = [m for m in job.marks if m.photo == photo.file]
    found = {m.ref: index.part(m.ref, photo.board) for m in marks if m.ref}
    href = {ref: addresses.of(job, part) for ref, part in found.items() if isinstance(part, Target)}
    return marks_overlay(marks, (photo.width, photo.height), href=href.get, name=addresses.mark_anchor(photo.file))
