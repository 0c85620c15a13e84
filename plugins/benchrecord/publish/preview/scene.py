"""What is placed on: a photograph, the board it shows, what lies where already, and what is to be placed next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import dist, hypot, isfinite
from urllib.parse import quote

from benchrecord.bench.placement import FEWEST, Placement
from benchrecord.bench.reasons import NotHad
from benchrecord.findings.placements import UNIT, placement_of
from benchrecord.model.job import Board, BoardPhoto, Job, Photo
from benchrecord.model.table import Row
from benchrecord.pages.addresses import file_name
from benchrecord.pages.words import natural

Point = tuple[float, float]
SAME = 0.005  # of the board's unit: places nearer than this are one
FINEST = 0.01  # of the board's unit: nobody clicks finer
OFFERED = 12  # places for points; more would be no help
NO_BOARD = NotHad("no board is chosen")
NO_POINTS = NotHad("this photograph has no points of the board yet")


@dataclass(frozen=True)
class Scene:
    """A photo of a job with its size in pixels, and the board that is placed on it; None where there are only marks."""

    job: Job
    photo: Photo
    board: Board | None = None

    @property
    def shot(self) -> BoardPhoto | None:
        """What the board's file says of the photo."""
        photos = self.board.photos if self.board else ()
        return next((p for p in photos if p.file == self.photo.file), None)

    @property
    def placement(self) -> Placement | NotHad:
        """Where the places of the board lie in the photo."""
        if self.board is None:
            return NO_BOARD
        return placement_of(self.board, self.shot, (self.photo.width, self.photo.height)) if self.shot else NO_POINTS

    @property
    def unit(self) -> str:
        """What places on the board count in."""
        return UNIT[self.board.frame] if self.board else ""


def as_json(scene: Scene) -> dict[str, object]:
    """Return all that the page shows of a scene."""
    placement = scene.placement
    return {
        "boards": [_board(scene.job, board) for board in scene.job.boards],
        "photos": [{"file": p.file, "words": _photo_words(p), "board": p.board} for p in scene.job.photos],
        "board": scene.board.id if scene.board else "",
        "back": f"/jobs/{quote(scene.job.id)}/"
        + (f"boards/{quote(file_name(scene.board.id))}.html" if scene.board else "photos.html"),
        "photo": scene.photo.file,
        "width": scene.photo.width,
        "height": scene.photo.height,
        "unit": scene.unit,
        "fitted": isinstance(placement, Placement),
        "given": bool(isinstance(placement, Placement) and not placement.points),  # percent of this very picture
        "fit": fit_words(scene, placement),
        "parts": _parts(scene, placement),
        "unplaced": [{"ref": ref, "why": why} for ref, why in unplaced(scene.job, scene.board)] if scene.board else [],
        "points": _points(scene, placement),
        "offered": [{"at": at, "name": name} for at, name in offered(scene)],
        "marks": [
            {"line": m.place.line, "shape": m.shape, "at": (m.x, m.y), "size": (m.w, m.h), "text": m.text, "ref": m.ref}
            for m in scene.job.marks
            if m.photo == scene.photo.file
        ],
    }


def fit_words(scene: Scene, placement: Placement | NotHad) -> str:
    """Say how well the board is lined up in the photo."""
    points = scene.shot.points if scene.shot else ()
    if isinstance(placement, NotHad):
        count = f"{len(points)} of at least {FEWEST} points" if len(points) < FEWEST else f"{len(points)} points"
        return f"{count}. Parts can be placed once the board is lined up: {placement.reason}." if scene.board else ""
    behind = _behind(scene) if placement.mirrored else ""
    if not placement.points:
        return "Places count in percent of this photograph; it needs no points."
    if placement.residual is None:
        return f"{placement.points} points: nothing is left over to tell how well they fit. Two more would tell.{behind}"
    name = _name_of(scene, points[placement.worst].board) or f"point {placement.worst + 1}"
    fit = f"{placement.points} points fit to {_length(placement.residual, scene.unit)} rms"
    return f"{fit}; {name} lies farthest off, by {_length(placement.worst_off, scene.unit)}.{behind}"


def _behind(scene: Scene) -> str:
    """Say that the board is seen mirrored, which may be meant, or come of corners that were mixed up."""
    if scene.shot and scene.shot.side:
        return " The board is seen from behind."
    file = f"boards/{scene.board.id}.yml" if scene.board else ""
    return f" The board is seen from behind: if that is right, write side: bottom below the photograph in {file}."


def _length(value: float, unit: str) -> str:
    return f"{value:.2f} {unit}" if value >= FINEST else f"less than {FINEST:g} {unit}"


def unplaced(job: Job, board: Board) -> list[tuple[str, str]]:
    """Return the parts of a board that rows name and that have no place yet, each with why it is named, in the order of the files."""
    placed = {p.ref for p in board.parts}
    elsewhere = {p.ref for b in job.boards for p in b.parts}
    found: dict[str, str] = {}
    for own, ref, why in _named(job):
        at, _, bare = ref.rpartition(":")
        here = (at or own) == board.id or (not (at or own) and len(job.boards) == 1 and bare not in elsewhere)
        if bare and here and bare not in placed:
            found.setdefault(bare, why)
    return list(found.items())


def _named(job: Job) -> Iterator[tuple[str, str, str]]:
    for part in sorted(job.parts, key=lambda p: natural(p.ref)):
        yield part.board, part.ref, part.action if part.status == "fitted" else f"to be {part.action}"
    for trim in sorted(job.trims, key=lambda t: natural(t.ref)):
        yield trim.board, trim.ref, f"trim: {trim.function}" if trim.function else "trim"
    for check in job.checks:
        board = check.board or job.only_board_of(check.module)
        for row in check.table.rows if check.table else ():
            yield from ((board, ref, f"measured: {check.title}") for ref in _refs(row))
    yield from ((f.board, f.ref, "had a share in a fault") for f in job.faults if f.ref)
    yield from ((c.board, c.ref, "date code") for c in job.date_codes)


def _refs(row: Row) -> tuple[str, ...]:
    """Return the designators of a row; what is none was complained of before."""
    value = row.cells["ref"].value if "ref" in row.cells else None
    return value if isinstance(value, tuple) else (value,) if isinstance(value, str) else ()


def offered(scene: Scene) -> list[tuple[Point, str]]:
    """Return places that points can be given of: the corners, then parts, each as far from those before it as can be."""
    board, known = scene.board, [p.board for p in scene.shot.points] if scene.shot else []
    if board is None:
        return []
    left = [(at, name) for at, name in _corners(board) if not _near(at, known)]
    parts = [((p.x, p.y), p.ref) for p in board.parts if not _near((p.x, p.y), known)]
    known = known + [at for at, _ in left]
    while parts and len(left) < OFFERED:
        best = max(parts, key=lambda part: min((dist(part[0], k) for k in known), default=0.0))
        parts.remove(best)
        known, left = [*known, best[0]], [*left, best]
    return left


def _near(place: Point, known: list[Point]) -> bool:
    return any(dist(place, k) <= SAME for k in known)


def _corners(board: Board) -> list[tuple[Point, str]]:
    if not board.size_mm or board.frame != "mm":
        return []
    w, h = board.size_mm
    return [
        ((0.0, 0.0), "lower left corner"),
        ((w, 0.0), "lower right corner"),
        ((w, h), "upper right corner"),
        ((0.0, h), "upper left corner"),
    ]


def _name_of(scene: Scene, place: Point) -> str:
    """Return what a place of the board is called: a corner or a part."""
    board = scene.board
    named = [*_corners(board), *(((p.x, p.y), p.ref) for p in board.parts)] if board else []
    return next((name for at, name in named if _near(at, [place])), "")


def _board(job: Job, board: Board) -> dict[str, object]:
    return {
        "id": board.id,
        "title": board.title,
        "frame": board.frame,
        "bare": not board.parts and not board.photos and not board.size_mm,
        "photos": [p.file for p in board.photos],
        "left": len(unplaced(job, board)),
    }


def _photo_words(photo: Photo) -> str:
    stages = {"before": "as found", "during": "at work", "after": "as left"}
    name = photo.file.removeprefix("photos/")
    return " · ".join(w for w in (stages[photo.stage.value] if photo.stage else "", photo.caption, name) if w)


def _parts(scene: Scene, placement: Placement | NotHad) -> list[dict[str, object]]:
    parts = sorted(scene.board.parts, key=lambda p: natural(p.ref)) if scene.board else []
    return [
        {"ref": p.ref, "at": (p.x, p.y), "px": _seen(placement, (p.x, p.y)), "words": f"{p.value} {p.function}".strip()}
        for p in parts
    ]


def _seen(placement: Placement | NotHad, place: Point) -> Point | None:
    if isinstance(placement, NotHad):
        return None
    found = placement.px(*place)
    return found if all(map(isfinite, found)) else None


def _points(scene: Scene, placement: Placement | NotHad) -> list[dict[str, object]]:
    return [
        {
            "at": p.board,
            "px": p.px,
            "place": (p.place.line, p.place.column),
            "name": _name_of(scene, p.board),
            "off": _off(placement, p.board, p.px),
        }
        for p in (scene.shot.points if scene.shot else ())
    ]


def _off(placement: Placement | NotHad, place: Point, px: Point) -> float | None:
    """Return how far a point lies off, in the board's unit; None where nothing is left over to tell."""
    if isinstance(placement, NotHad) or placement.residual is None:
        return None
    x, y = placement.board(*px)
    off = hypot(x - place[0], y - place[1])
    return off if isfinite(off) else None
