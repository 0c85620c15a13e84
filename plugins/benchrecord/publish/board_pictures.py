"""The pictures of boards: maps, pins over photographs, photographs under maps, views of each part, before and after lined up."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import TYPE_CHECKING

from benchrecord.findings.placements import UNIT, Placed, place_photos
from benchrecord.model.findings import Findings
from benchrecord.model.job import Board, BoardPart, Job, PhotoStage
from benchrecord.model.markdown_links import lone_images
from benchrecord.model.references import Target, index_of, part_key
from benchrecord.pages import addresses
from benchrecord.pages.job_pages import pairs
from benchrecord.pages.view import BoardDrawing, BoardPictures, Fit, KindOfPart, LinedUp, PartView, PhotoPicture, Seen, Sized
from benchrecord.publish.cache import Cache
from benchrecord.publish.photos import pool_of
from benchrecord.publish.shots import Darkroom, Shot, Table

if TYPE_CHECKING:
    from benchrecord.bench.lens import Point

Photos = Mapping[str, PhotoPicture]
WORKERS = 2
MAP_PX = 1280  # of the longer side of a photograph that lies under a map
VIEW_PX = (216, 162)  # of a part's view
VIEW_MM = (24.0, 70.0)  # across a part's view, at least and at most
AROUND = 3.0  # times its own length is shown of a part with its neighbours
COARSEST_PX = 60  # of the photograph across a part's view: coarser shows nothing
FRAMED = 0.35  # of a view's width and height, from its middle, that must lie in the photograph
SMALL = 0.1  # of a photograph: one that shows less than its tenth of board shows where it is, not what became of it
MOST_VIEWS = 4  # of one part and stage
STAGES = (PhotoStage.BEFORE, PhotoStage.DURING, PhotoStage.AFTER, None)
STAGE_WORDS = {PhotoStage.BEFORE: "as found", PhotoStage.DURING: "at work", PhotoStage.AFTER: "as left", None: "photograph"}
KINDS = {
    "replaced": "replaced",
    "trimmed": "trims",
    "measured": "measured",
    "faulty": "share in a fault",
    "plain": "all others",
}


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was drawn of a job's boards, keyed as the pages want it; ``files`` by the path they are published at."""

    boards: Mapping[str, BoardPictures]
    note_maps: Mapping[tuple[str, str], BoardDrawing]
    views: Mapping[str, tuple[PartView, ...]]
    files: Mapping[str, bytes]


def draw_boards(
    job: Job, findings: Findings, photos: Photos, published: Mapping[str, bytes], *, cache: Cache, printed: bool = False
) -> Drawn:
    """Draw all pictures of a job's boards, or those that are ``printed``; ``published`` are the files of its photographs."""
    room = Darkroom(job.id, cache, {})
    placed = place_photos(job)
    tables = [
        _table(job, b, findings, [_shot(job, p, photos, published) for p in placed if p.board is b], room=room)
        for b in job.boards
    ]
    asked = _asked_for(job) if printed else None
    with pool_of(WORKERS) as pool:  # Pillow lets others run while it draws; the largest first, which take longest
        large = [pool.map(draw, () if printed else tables) for draw in (_pairs, _seen)]
        views = pool.map(lambda one: _views(*one), _wanted(tables, asked))
        maps = pool.map(_map_of_board if printed else _maps_of_board, tables)
        drawn = [*maps] if printed else [replace(m, pairs=p, seen=s) for m, p, s in zip(maps, *large, strict=True)]
        boards = dict(zip([t.board.id for t in tables], drawn, strict=True))
    return Drawn(boards, dict(_note_maps(job, tables)), _grouped(chain.from_iterable(views)), room.files)


def layers_of(job: Job, findings: Findings, board: Board) -> dict[str, frozenset[str]]:
    """Which parts of a board were replaced, are trims, were measured, or had a share in a fault."""
    known = {p.ref for p in board.parts}

    def here(pairs_of: list[tuple[str, str]]) -> frozenset[str]:
        own = (ref.rpartition(":")[2] for b, ref in pairs_of if (ref.rpartition(":")[0] or b or board.id) == board.id)
        return frozenset(own) & known

    measured = [
        (f.check.board or job.only_board_of(f.check.module) or "?", r) for f in findings.checks for r in f.table.refs if r
    ]
    return {
        "replaced": here([(p.board, p.ref) for p in job.parts if p.action == "replaced" and p.status == "fitted"]),
        "trimmed": here([(t.board, t.ref) for t in job.trims]),
        "measured": here(measured),
        "faulty": here([(f.board, f.ref) for f in job.faults if f.ref]),
    }


def _table(job: Job, board: Board, findings: Findings, shots: Sequence[Shot | None], *, room: Darkroom) -> Table:
    from benchrecord.figures.board_map import map_frame  # noqa: PLC0415  # figures are slow to import

    first = next(((p.width, p.height) for f in board.photos for p in job.photos if p.file == f.file), None)
    known = tuple(sorted((s for s in shots if s), key=lambda s: STAGES.index(s.stage)))
    return Table(job, board, layers_of(job, findings, board), map_frame(board, first), known, room)


def _shot(job: Job, placed: Placed, photos: Photos, published: Mapping[str, bytes]) -> Shot | None:
    photo = next(p for p in job.photos if p.file == placed.photo.file)
    picture = photos.get(photo.file)
    return Shot(placed, photo, picture, published[picture.sizes[-1].src]) if picture else None


def _maps_of_board(table: Table) -> BoardPictures:
    """Draw all of a board's pictures that are no photographs drawn anew."""
    if not table.board.parts:
        return BoardPictures(fits=_fits(table))
    return BoardPictures(
        map=_map(table),
        kinds=tuple(_kinds(table)),
        pins={s.photo.file: _pins(table, s) for s in table.shots},
        within={s.photo.file: frozenset(p.ref for p in table.board.parts if s.shows(p.x, p.y)) for s in table.shots},
        fits=_fits(table),
    )


def _map_of_board(table: Table) -> BoardPictures:
    return BoardPictures(map=_map(table) if table.board.parts else None)


def _map(table: Table, name: str = "", href: Callable[[str], str] | None = None) -> BoardDrawing:
    from benchrecord.figures.board_map import board_map  # noqa: PLC0415

    def draw() -> BoardDrawing:
        made = board_map(table.board, table.frame, layers=table.layers, href=href or table.href, name=name)
        return BoardDrawing(made.svg, made.alt, made.shape, made.least_px, made.large_px)

    return table.drawing("map", name, table.frame, draw=draw)


def _note_maps(job: Job, tables: Sequence[Table]) -> Iterator[tuple[tuple[str, str], BoardDrawing]]:
    """Draw a map for each note that asks for it: its pins need names of their own, and lead to the board's page."""
    by_board = {t.board.id: t for t in tables if t.board.parts}
    asked = ((n.id, target.removeprefix("board:")) for n in job.notes for _, _, target in lone_images(n.body))
    for note, board in asked:
        if board in by_board:
            href = lambda ref, board=board: addresses.pin(job.id, part_key(board, ref))  # noqa: E731  # one line
            yield (note, board), _map(by_board[board], f"in-note-{board}", href)


def _pins(table: Table, shot: Shot) -> BoardDrawing:
    from benchrecord.figures.photo_pins import photo_pins, photo_sheet  # noqa: PLC0415

    name = f"pin-{addresses.photo_anchor(shot.photo.file)}"
    size, placement = shot.placed.size, shot.placed.placement

    def draw() -> BoardDrawing:
        sheet = photo_sheet(placement, size, table.frame.unit)
        made = photo_pins(table.board, sheet, layers=table.layers, href=table.href, name=name)
        return BoardDrawing(made.svg, f"{made.count}", size[0] / size[1], made.least_px)

    return table.drawing("pins", name, placement, size, draw=draw)


def _kinds(table: Table) -> Iterator[KindOfPart]:
    from benchrecord.figures.pins import kinds_of, sample  # noqa: PLC0415

    of_each = [kinds_of(p.ref, table.layers) for p in table.board.parts]
    for kind, words in KINDS.items():
        if count := sum(kind in kinds for kinds in of_each):
            yield KindOfPart(kind, words, count, sample(kind))


def _fits(table: Table) -> dict[str, Fit]:
    return {s.photo.file: _fit(s.placed) for s in table.shots if s.placed.placement.points}


def _fit(placed: Placed) -> Fit:
    found, unit = placed.placement, UNIT[placed.board.frame]
    at = placed.photo.points[found.worst].board
    return Fit(found.points, found.residual, unit, found.worst + 1, at, found.worst_off, found.k1, found.mirrored)


def _seen(table: Table) -> tuple[Seen, ...]:
    """Lay the first photo of each stage, and of each side, under the map, where a board has one."""
    return tuple(_under_the_map(table)) if table.board.parts else ()


def _under_the_map(table: Table) -> Iterator[Seen]:
    firsts = {(s.stage, s.placed.placement.mirrored): s.photo.file for s in reversed(table.shots)}
    frame, shape = table.frame, table.frame.shape
    size = (MAP_PX, round(MAP_PX / shape)) if shape >= 1 else (round(MAP_PX * shape), MAP_PX)
    for shot in (s for s in table.shots if s.photo.file in firsts.values()):

        def comes_from(x: float, y: float, shot: Shot = shot) -> Point:
            return shot.px(*frame.board(x / size[0], y / size[1]))

        picture = table.room.drawn_anew(shot, "under the map", frame, comes_from=comes_from, size=size, bent=shot.bent)
        behind = ", solder side seen through" if shot.placed.placement.mirrored else ""
        if picture:
            yield Seen(STAGE_WORDS[shot.stage] + behind, picture)


def _asked_for(job: Job) -> frozenset[str]:
    """Return the parts whose views notes ask for, by key."""
    index = index_of(job)
    found = [index.link(target, note.board) for note in job.notes for _, _, target in lone_images(note.body)]
    return frozenset(target.id for target in found if isinstance(target, Target) and target.kind == "part")


def _wanted(tables: Sequence[Table], asked: frozenset[str] | None) -> Iterator[tuple[Table, Shot, list[BoardPart]]]:
    """Yield for each photo the parts that it shows best, of all or of those that are asked for."""
    for table in tables:
        parts = [p for p in table.board.parts if asked is None or part_key(table.board.id, p.ref) in asked]
        best = {(part.ref, file) for part in parts for file in _sharpest(table, part)}
        yield from ((table, shot, [p for p in parts if (p.ref, shot.photo.file) in best]) for shot in table.shots)


def _views(table: Table, shot: Shot, parts: Sequence[BoardPart]) -> list[tuple[str, PartView]]:
    """Cut parts out of a photo, which is decoded once for all."""
    cut, behind = ((p, _view(table, shot, p)) for p in parts), shot.placed.placement.mirrored
    return [(part_key(table.board.id, p.ref), PartView(shot.photo.file, shot.stage, v, behind)) for p, v in cut if v]


def _sharpest(table: Table, part: BoardPart) -> Iterator[str]:
    """Yield the photos that show a part with most pixels, a few of each stage; those in which it is too small show nothing."""
    across = abs(_cut(table, part)[0])
    pixels = {
        s.photo.file: s.placed.placement.px_per_unit(part.x, part.y) * s.scale * across
        for s in table.shots
        if _framed(table, s, part)
    }
    for stage in STAGES:
        known = [s.photo.file for s in table.shots if s.stage is stage and pixels.get(s.photo.file, 0.0) >= COARSEST_PX]
        yield from sorted(known, key=lambda file: -pixels[file])[:MOST_VIEWS]


def _framed(table: Table, shot: Shot, part: BoardPart) -> bool:
    """Say whether a photo shows a part and enough of what is about it."""
    across, along = (FRAMED * cut for cut in _cut(table, part))
    return all(shot.shows(part.x + dx * across, part.y + dy * along) for dx in (-1, 1) for dy in (-1, 1))


def _cut(table: Table, part: BoardPart) -> tuple[float, float]:
    """Return how much of the board, in its unit, a view of a part shows: from left to right and from top to bottom."""
    from benchrecord.figures.pins import body_mm  # noqa: PLC0415

    (ux, uy), (w, h) = table.frame.unit, VIEW_PX
    wide = min(max(AROUND * max(body_mm(part)), VIEW_MM[0]), VIEW_MM[1])
    return wide * ux, wide * h / w * (-uy if table.frame.upwards else uy)


def _view(table: Table, shot: Shot, part: BoardPart) -> Sized | None:
    (across, along), (w, h) = _cut(table, part), VIEW_PX

    def comes_from(x: float, y: float) -> Point:
        return shot.px(part.x + (x / w - 0.5) * across, part.y + (y / h - 0.5) * along)

    return table.room.drawn_anew(shot, "part", part.x, part.y, across, along, comes_from=comes_from, size=VIEW_PX)


def _pairs(table: Table) -> tuple[LinedUp, ...]:
    """Line each photo as left up with the one as found of the same name; where names tell nothing, the first with the first."""
    by_file = {s.photo.file: s for s in table.shots}
    named = [row for row in pairs([s.photo for s in table.shots]) if len(row) == 2]  # noqa: PLR2004  # a pair
    rows = [(by_file[a.file], by_file[b.file]) for a, b in named] or _firsts(table)
    both = [(one, other) if one.stage is PhotoStage.BEFORE else (other, one) for one, other in rows]
    known = [(b, a) for b, a in both if (b.stage, a.stage) == (PhotoStage.BEFORE, PhotoStage.AFTER) and _same_side(b, a)]
    large = [pair for pair in known if _share(table, pair[0]) >= SMALL] or known
    return tuple(lined_up for before, after in large for lined_up in _lined_up(table, before, after))


def _share(table: Table, shot: Shot) -> float:
    """Return how large the board is, as a share of a photo; beyond 1 for a part of it seen from near."""
    width, height = shot.placed.size
    scale = shot.placed.placement.px_per_unit(*shot.placed.placement.board(width / 2, height / 2))
    return scale**2 * table.frame.width * table.frame.height / (width * height)


def _firsts(table: Table) -> list[tuple[Shot, Shot]]:
    found = [next((s for s in table.shots if s.stage is stage), None) for stage in (PhotoStage.BEFORE, PhotoStage.AFTER)]
    return [(found[0], found[1])] if found[0] and found[1] else []


def _same_side(one: Shot, other: Shot) -> bool:
    return one.placed.placement.mirrored == other.placed.placement.mirrored


def _lined_up(table: Table, before: Shot, after: Shot) -> Iterator[LinedUp]:
    sizes = [(size.width, size.height) for size in before.picture.sizes]
    back = before.placed.size[0] / sizes[-1][0]

    def comes_from(x: float, y: float) -> Point:
        return after.px(*before.placed.placement.board(x * back, y * back))

    key = ("lined up", before.placed.placement, before.placed.size)
    made = table.room.in_sizes(after, *key, comes_from=comes_from, sizes=sizes, bent=before.bent or after.bent)
    if made:
        yield LinedUp(before.photo.file, after.photo.file, PhotoPicture(made, made[0], after.picture.tone))


def _grouped(views: Iterable[tuple[str, PartView]]) -> dict[str, tuple[PartView, ...]]:
    found: dict[str, tuple[PartView, ...]] = {}
    for key, view in views:
        found[key] = (*found.get(key, ()), view)
    return found
