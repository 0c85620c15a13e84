"""Every picture of a job: drawn by the figures room, kept in the cache, named by content."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any, Protocol

from benchrecord.checks.kind import Kind, source_of
from benchrecord.model.findings import Findings
from benchrecord.model.job import Job, Photo
from benchrecord.model.references import Index, Target, index_of
from benchrecord.pages import addresses
from benchrecord.pages.view import Drawing, PhotoPicture, Pictures, Sized
from benchrecord.publish.board_pictures import draw_boards
from benchrecord.publish.cache import Cache

WORKERS = 2  # a picture of 24 megapixels takes about 100 MB while it is reduced


Made = tuple[dict[str, Any], list[bytes]]  # a description of a photograph's sizes, and the bytes of each


class Progress(Protocol):
    """Told how far a long step is."""

    def __call__(self, what: str, done: int, of: int, /) -> None:
        """Show it."""


def draw_pictures(
    folder: Path, job: Job, findings: Findings, kinds: Mapping[str, Kind], *, cache: Cache, progress: Progress
) -> tuple[Pictures, dict[str, bytes]]:
    """Make all pictures of a job; return them, and the files to publish by source path."""
    with ThreadPoolExecutor(WORKERS) as pool:  # photographs are reduced while charts are drawn
        making = [pool.submit(_photo, folder, photo, cache) for photo in job.photos]
        charts = _charts(findings, kinds, cache, progress)
        photos, files = _photos(job, making, progress)
    drawn = draw_boards(job, findings, photos, files, cache)
    index, marked = index_of(job), {m.photo for m in job.marks}
    marks = {p.file: _marks(job, index, p) for p in job.photos if p.file in marked}
    pictures = Pictures(photos, charts, drawn.boards, drawn.note_maps, drawn.views, marks)
    return pictures, {**files, **drawn.files}


def _photos(job: Job, making: list[Future[Made]], progress: Progress) -> tuple[dict[str, PhotoPicture], dict[str, bytes]]:
    pictures: dict[str, PhotoPicture] = {}
    files: dict[str, bytes] = {}
    for done, (photo, made) in enumerate(zip(job.photos, making, strict=True), 1):
        pictures[photo.file], own = _published(job, *made.result())
        files |= own
        progress("Photographs", done, len(job.photos))
    return pictures, files


def _photo(folder: Path, photo: Photo, cache: Cache) -> Made:
    """Return what is published of one photograph: a description, and the bytes of each size."""
    original = (folder / photo.file).read_bytes()
    packed = cache.made("photo", hashlib.sha256(original).digest(), make=lambda: _prepare(original))
    head, _, body = packed.partition(b"\n")
    about = json.loads(head)
    cuts = [sum(s["bytes"] for s in about["sizes"][:n]) for n in range(len(about["sizes"]) + 1)]
    return about, [body[a:b] for a, b in pairwise(cuts)]


def _prepare(original: bytes) -> bytes:
    from benchrecord.figures.photo import publishable  # noqa: PLC0415  # only where a picture must be made

    made = publishable(original)
    about = [{"width": r.width, "height": r.height, "ending": r.ending, "bytes": len(r.data)} for r in made.renditions]
    return json.dumps({"tone": made.tone, "sizes": about}).encode() + b"\n" + b"".join(r.data for r in made.renditions)


def _published(job: Job, about: dict[str, Any], contents: list[bytes]) -> tuple[PhotoPicture, dict[str, bytes]]:
    sized, files = [], {}
    for size, content in zip(about["sizes"], contents, strict=True):
        name = f"{hashlib.sha256(content).hexdigest()[:16]}-{size['width']}.{size['ending']}"
        src = addresses.asset(job.id, name)
        files[src] = content
        sized.append((size["ending"], Sized(src, size["width"], size["height"])))
    webp = tuple(sorted((s for ending, s in sized if ending == "webp"), key=lambda s: s.width))
    fallback = next(s for ending, s in sized if ending == "jpg")
    return PhotoPicture(webp, fallback, about["tone"]), files


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
