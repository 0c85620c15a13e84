"""Every picture of a job: drawn by the figures room, kept in the cache, named by content."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from benchrecord.checks.kind import Kind, source_of
from benchrecord.model.findings import Findings
from benchrecord.model.job import Board, BoardPhoto, Job, Photo
from benchrecord.model.references import part_key
from benchrecord.pages import addresses
from benchrecord.pages.job_pages import IMAGE_LINE
from benchrecord.pages.view import Drawing, Fit, PhotoPicture, Pictures, Sized
from benchrecord.publish.cache import Cache

if TYPE_CHECKING:
    from benchrecord.bench.placement import Placement

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
    layers = {b.id: _layers(job, findings, b) for b in job.boards}
    placed = {p.file: (b, placement) for b in job.boards for p in b.photos if (placement := _placement(job, b, p))}
    with ThreadPoolExecutor(WORKERS) as pool:  # photographs are reduced while charts are drawn
        making = [pool.submit(_photo, folder, photo, cache) for photo in job.photos]
        charts = _charts(findings, kinds, cache, progress)
        photos, files = _photos(job, making, progress)
    pictures = Pictures(
        photos=photos,
        charts=charts,
        maps={key: _map(job, board, layers[board.id], name, cache=cache) for key, board, name in _maps_wanted(job)},
        pins={
            file: _pins(job, board, file, placement=placement, layers=layers[board.id])
            for file, (board, placement) in placed.items()
        },
        marks={p.file: _marks(job, p) for p in job.photos if any(m.photo == p.file for m in job.marks)},
        fits={file: _fit(board, placement) for file, (board, placement) in placed.items() if placement.points},
    )
    return pictures, files


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


def _layers(job: Job, findings: Findings, board: Board) -> dict[str, frozenset[str]]:
    """Which parts of a board were replaced, are trims, were measured, or had a share in a fault."""
    known = {p.ref for p in board.parts}

    def here(pairs: list[tuple[str, str]]) -> frozenset[str]:
        return (
            frozenset(ref.rpartition(":")[2] for b, ref in pairs if (ref.rpartition(":")[0] or b or board.id) == board.id)
            & known
        )

    return {
        "replaced": here([(p.board, p.ref) for p in job.parts if p.action == "replaced" and p.status == "fitted"]),
        "trimmed": here([(t.board, t.ref) for t in job.trims]),
        "measured": here(
            [(f.check.board or job.only_board_of(f.check.module) or "?", r) for f in findings.checks for r in f.table.refs if r]
        ),
        "faulty": here([(f.board, f.ref) for f in job.faults if f.ref]),
    }


def _maps_wanted(job: Job) -> list[tuple[str, Board, str]]:
    """Each board's own map, and one for each note that asks for it (its pins need names of their own)."""
    by_id = {b.id: b for b in job.boards if b.parts}
    asked = [(n, m["target"].removeprefix("board:")) for n in job.notes for m in IMAGE_LINE.finditer(n.body)]
    return [(b.id, b, "") for b in by_id.values()] + [(f"{t}@{n.id}", by_id[t], f"in-note-{t}") for n, t in asked if t in by_id]


def _map(job: Job, board: Board, layers: Mapping[str, frozenset[str]], name: str, *, cache: Cache) -> Drawing:
    from benchrecord.figures.board_map import board_map  # noqa: PLC0415

    def href(ref: str) -> str:
        key = part_key(board.id, ref)
        return addresses.pin(job.id, key) if name else addresses.entry(job.id, key)

    size = None if board.frame == "mm" else _percent_size(job, board)

    def draw() -> bytes:
        drawn = board_map(board, layers=layers, href=href, name=name, size=size)
        return json.dumps([drawn.svg, drawn.alt]).encode()

    known = sorted((layer, sorted(refs)) for layer, refs in layers.items())
    svg, alt = json.loads(cache.made("map", repr((job.id, board, known, name, size)), make=draw))
    return Drawing(svg, alt, alt)


def _percent_size(job: Job, board: Board) -> tuple[float, float]:
    size = next((s for f in board.photos if (s := _size(job, f.file))), (4, 3))
    return 100.0, 100.0 * size[1] / size[0]


def _placement(job: Job, board: Board, photo: BoardPhoto) -> Placement | None:
    """Return where the places of a board lie in one of its photos, where that can be told."""
    from benchrecord.bench.placement import Placement, fit, in_percent  # noqa: PLC0415  # scipy is slow to import

    size = _size(job, photo.file)
    if size is None or not board.parts:
        return None
    if board.frame == "percent" and photo is board.photos[0]:
        return in_percent(*size)
    ends = [p.board for p in photo.points], [p.px for p in photo.points]
    placed = fit(*ends, size_px=size, upwards=board.frame == "mm")
    return placed if isinstance(placed, Placement) else None


def _size(job: Job, file: str) -> tuple[int, int] | None:
    return next(((p.width, p.height) for p in job.photos if p.file == file), None)


def _fit(board: Board, placement: Placement) -> Fit:
    unit = "mm" if board.frame == "mm" else "%"
    return Fit(placement.points, placement.residual, unit, placement.worst + 1)


def _pins(job: Job, board: Board, file: str, *, placement: Placement, layers: Mapping[str, frozenset[str]]) -> str:
    from benchrecord.figures.photo_pins import photo_pins  # noqa: PLC0415

    def href(ref: str) -> str:
        return addresses.entry(job.id, part_key(board.id, ref))

    name = "pin-" + addresses.photo_anchor(file)
    return photo_pins(board, placement, _size(job, file) or (1, 1), layers=layers, href=href, name=name)


def _marks(job: Job, photo: Photo) -> str:
    from benchrecord.figures.photo_overlay import marks_overlay  # noqa: PLC0415

    marks = [m for m in job.marks if m.photo == photo.file]
    href = {m.ref: addresses.pin(job.id, m.ref if ":" in m.ref else part_key(photo.board, m.ref)) for m in marks if m.ref}
    return marks_overlay(marks, (photo.width, photo.height), href=href.get, name="mark-" + addresses.photo_anchor(photo.file))
