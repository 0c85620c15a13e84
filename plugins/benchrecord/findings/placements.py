"""Where a job's boards lie in their photographs, and which of the points that say so are to be mended."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from benchrecord.bench.placement import FEWEST, Placement, fit, in_percent
from benchrecord.bench.point_faults import RESIDUAL_LIMIT, suspects
from benchrecord.bench.reasons import NotHad
from benchrecord.model.job import Board, BoardPhoto, BoardSide, Job
from benchrecord.problems import Place, Problem

UNIT = {"mm": "mm", "percent": "%"}


@dataclass(frozen=True, slots=True)
class Placed:
    """A board in one of its photos of ``size`` pixels; ``placement`` tells where each place of the board lies."""

    board: Board
    photo: BoardPhoto
    size: tuple[int, int]
    placement: Placement


def place_photos(job: Job) -> tuple[Placed, ...]:
    """Return each photo that a board is lined up with, board by board; one photo may show several boards."""
    found = ((board, photo, size, placement_of(board, photo, size)) for board, photo, size in _lined_up(job))
    return tuple(Placed(b, p, size, placement) for b, p, size, placement in found if isinstance(placement, Placement))


def placement_of(board: Board, photo: BoardPhoto, size: tuple[int, int]) -> Placement | NotHad:
    """Return where the places of a board lie in one of its photos of ``size`` pixels."""
    if board.frame == "percent" and photo is board.photos[0]:
        return in_percent(*size)
    return fit(*_ends(photo), size_px=size, upwards=board.frame == "mm")


def placement_problems(job: Job, told: Collection[Place]) -> Iterator[Problem]:
    """Yield what is wrong with points that can be read; photos with a point at one of the places ``told`` were complained of before."""
    for board, photo, size in _lined_up(job):
        if len(photo.points) >= FEWEST and not any(p.place in told for p in photo.points):
            yield from _photo_problems(board, photo, placement_of(board, photo, size))


def _lined_up(job: Job) -> Iterator[tuple[Board, BoardPhoto, tuple[int, int]]]:
    sizes = {p.file: (p.width, p.height) for p in job.photos}
    yield from ((b, p, sizes[p.file]) for b in job.boards for p in b.photos if p.file in sizes)


def _ends(photo: BoardPhoto) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    return [p.board for p in photo.points], [p.px for p in photo.points]


def _photo_problems(board: Board, photo: BoardPhoto, placement: Placement | NotHad) -> Iterator[Problem]:
    unit = UNIT[board.frame]
    if isinstance(placement, NotHad):
        yield _to_mend(board, photo, str(placement.reason), "points that fix the board in one picture")
    elif placement.residual is not None and placement.residual > RESIDUAL_LIMIT:
        said = f"the points fit to {placement.residual:.1f} {unit} rms"
        yield _to_mend(board, photo, said, f"points that fit to {RESIDUAL_LIMIT:g} {unit} or better")
    else:
        yield from _seen_from(photo, mirrored=placement.mirrored)


def _to_mend(board: Board, photo: BoardPhoto, said: str, expected: str) -> Problem:
    found = suspects(*_ends(photo), upwards=board.frame == "mm")
    names = [_named(board, photo, number) for number in found.points]
    place = photo.points[found.points[0] if found.points else 0].place
    if found.exchanged:
        return Problem("board-points", place, said, expected, f"exchange the px of {' and '.join(names)}")
    remedy = f"mend {names[0]}" if names else "mend the points: best one near each corner of the board, and two more"
    return Problem("board-points", place, said, expected, remedy)


def _named(board: Board, photo: BoardPhoto, number: int) -> str:
    x, y = photo.points[number].board
    return f"point {number + 1} ({x:g}, {y:g} {UNIT[board.frame]})"


def _seen_from(photo: BoardPhoto, *, mirrored: bool) -> Iterator[Problem]:
    """A view from behind is one where somebody said so; else it may be points counted from the wrong corner."""
    seen, other = _sides(mirrored=mirrored)
    if photo.side and photo.side is not seen:
        expected = f"side: {seen}"
        remedy = f"write {expected}, or mend the points: mm count from the lower left corner of the component side, y up"
        yield Problem("board-points", photo.place, f"side: {photo.side}, with points that show the {other}", expected, remedy)
    elif mirrored and not photo.side:
        remedy = "write side: bottom, or mend the points: mm count from the lower left corner of the component side, y up"
        yield Problem(
            "mirrored-photo", photo.place, "points that show the board from behind", "side: bottom, if it is so", remedy
        )


def _sides(*, mirrored: bool) -> tuple[BoardSide, str]:
    return (BoardSide.BOTTOM, "solder side") if mirrored else (BoardSide.TOP, "component side")
