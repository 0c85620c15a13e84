"""What a click writes: a row of a board's table, a point of its file, a row of marks.csv.

A change finds its row in the very bytes that it is given, and takes from the scene only where a click lies.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import dist

from benchrecord.bench.reasons import NotHad
from benchrecord.intake.csv_edits import add_row, line_of, remove_row, set_cells
from benchrecord.intake.edits import CannotChangeError, number
from benchrecord.intake.fixed_tables import BOARD_MM, BOARD_PERCENT, MARKS, SHAPES
from benchrecord.intake.paths import below
from benchrecord.intake.yaml_edits import append, entry_at, remove, said, set_value
from benchrecord.model.job import Board
from benchrecord.publish.preview.asked import Asked, NotAskedRightError
from benchrecord.publish.preview.scene import SAME, Point, Scene

DESIGNATOR = re.compile(r"[A-Za-z]{1,4}\d{1,4}[A-Za-z]?")
MARKS_FILE = "marks.csv"
PX_DECIMALS = 1
COLUMNS = {"mm": (BOARD_MM, "x_mm", "y_mm"), "percent": (BOARD_PERCENT, "x", "y")}
Steps = list[str | int]


@dataclass(frozen=True, slots=True)
class Wish:
    """A change to one file, and what it is in words. The change is given the file's bytes, and those of a table to write a new one like."""

    file: str
    change: Callable[[bytes, bytes], bytes]
    words: str


def wish(scene: Scene, asked: Asked) -> Wish:
    """Return the change that a page asks for.

    Raises
    ------
    NotAskedRightError
        Where it asks for something that is none.
    CannotChangeError
        Where it cannot be had: a place off the board, a photo that is not lined up yet.
    """
    make = DOES.get(asked.text("do"))
    if make is None:
        raise NotAskedRightError("do is none of: " + ", ".join(DOES))
    return make(scene, asked)


def place_part(scene: Scene, asked: Asked) -> Wish:
    """Give a part its place: a row more, or other numbers in its own."""
    board, ref = _board(scene), asked.text("ref")
    if not DESIGNATOR.fullmatch(ref):
        raise CannotChangeError(f"{ref} is no designator such as R12")
    x, y = _on_board(scene, board, _px(scene, asked, "px"))
    columns, across, along = COLUMNS[board.frame]
    cells = {across: x, along: y}

    def change(data: bytes, like: bytes) -> bytes:
        line = line_of(data, "ref", ref, columns)
        if line is None:
            return add_row(data, {"ref": ref, **cells}, columns, like=like)
        return set_cells(data, line, cells, columns)

    return Wish(f"boards/{board.id}.csv", change, f"{ref} at {number(x)}, {number(y)} {scene.unit}")


def add_point(scene: Scene, asked: Asked) -> Wish:
    """Give the photo a point more: a place of the board, and where it is seen. A photo that the board has not yet is added with it."""
    board, px, at = _board(scene), _px(scene, asked, "px"), asked.pair("at")
    shot = scene.shot
    if board.frame == "percent" and (not board.photos or shot is board.photos[0]):
        raise CannotChangeError("places count in percent of the first photograph, which needs no points")
    if any(dist(p.board, at) <= SAME for p in (shot.points if shot else ())):
        raise CannotChangeError("the photograph has a point of this place already: move that one")
    point = {board.frame: list(at), "px": [round(v, PX_DECIMALS) for v in px]}

    def change(data: bytes, _: bytes) -> bytes:
        path = _points_of(data, scene.photo.file)
        return append(data, path, point) if path else append(data, ["photos"], {**_entry(scene), "points": [point]})

    words = f"the point {number(at[0])}, {number(at[1])} {scene.unit} at pixel {_words(px)}"
    return Wish(_facts(board), change, words)


def move_point(scene: Scene, asked: Asked) -> Wish:
    """Put a point elsewhere in the photo."""
    px, place = _px(scene, asked, "px"), _place(asked)

    def change(data: bytes, _: bytes) -> bytes:
        path = _points_of(data, scene.photo.file)
        at = entry_at(data, path, *place)
        for n, value in enumerate(px):
            data = set_value(data, [*path, at, "px", n], round(value, PX_DECIMALS))
        return data

    return Wish(_facts(_board(scene)), change, f"a point moved to pixel {_words(px)}")


def remove_point(scene: Scene, asked: Asked) -> Wish:
    """Take a point out."""
    place = _place(asked)

    def change(data: bytes, _: bytes) -> bytes:
        path = _points_of(data, scene.photo.file)
        return remove(data, [*path, entry_at(data, path, *place)])

    return Wish(_facts(_board(scene)), change, "a point taken out")


def count_in_percent(scene: Scene, _asked: Asked) -> Wish:
    """Let a board that nobody measured count in percent of this photo, its first."""
    board = _board(scene)
    bare = not board.parts and not board.size_mm
    if board.photos or not (bare or board.frame == "percent"):
        raise CannotChangeError("the board has places, a photograph or a size already")

    def change(data: bytes, _: bytes) -> bytes:
        own = data if board.frame == "percent" else set_value(data, ["frame"], "percent")
        return append(own, ["photos"], _entry(scene))

    return Wish(_facts(board), change, f"{board.title} counts in percent of {scene.photo.file}")


def add_mark(scene: Scene, asked: Asked) -> Wish:
    """Mark something in the photo."""
    shape, words = _shape(asked), _mark_words(asked)
    cells = {"photo": scene.photo.file, "shape": shape, **_shape_cells(scene, asked, shape), **words}
    return Wish(MARKS_FILE, lambda data, like: add_row(data, cells, MARKS, like=like), f"the mark {_named(asked)}")


def move_mark(scene: Scene, asked: Asked) -> Wish:
    """Put a mark elsewhere in the photo."""
    line, cells = asked.whole("line"), _shape_cells(scene, asked, _shape(asked))
    return Wish(MARKS_FILE, lambda data, _: set_cells(data, line, cells, MARKS), f"the mark {_named(asked)} moved")


def reword_mark(_scene: Scene, asked: Asked) -> Wish:
    """Give a mark another text or part."""
    line, words = asked.whole("line"), _mark_words(asked)
    return Wish(MARKS_FILE, lambda data, _: set_cells(data, line, words, MARKS), f"the mark {_named(asked)}")


def remove_mark(_scene: Scene, asked: Asked) -> Wish:
    """Take a mark out."""
    line = asked.whole("line")
    return Wish(MARKS_FILE, lambda data, _: remove_row(data, line, MARKS), f"the mark {_named(asked)} taken out")


DOES: Mapping[str, Callable[[Scene, Asked], Wish]] = {
    "place part": place_part,
    "add point": add_point,
    "move point": move_point,
    "remove point": remove_point,
    "count in percent": count_in_percent,
    "add mark": add_mark,
    "move mark": move_mark,
    "reword mark": reword_mark,
    "remove mark": remove_mark,
}


def _board(scene: Scene) -> Board:
    if scene.board is None:
        raise NotAskedRightError("no board is named")
    return scene.board


def _facts(board: Board) -> str:
    return f"boards/{board.id}.yml"


def _entry(scene: Scene) -> dict[str, object]:
    """Return what a board's file says of a photo that it names for the first time."""
    stage = {"stage": scene.photo.stage.value} if scene.photo.stage else {}
    return {"file": scene.photo.file, **stage}


def _points_of(data: bytes, file: str) -> Steps:
    """Return the path to a photo's points; nothing where the board's file does not name the photo."""
    photos = said(data, ["photos"])
    names = [below("photos", str(p.get("file") or "")) if isinstance(p, dict) else "" for p in photos or ()]
    return ["photos", names.index(file), "points"] if file in names else []


def _place(asked: Asked) -> tuple[int, int]:
    """Return the line and column that a point begins at in its file."""
    line, column = asked.pair("place")
    return int(line), int(column)


def _px(scene: Scene, asked: Asked, name: str) -> Point:
    x, y = asked.pair(name)
    if not (0 <= x <= scene.photo.width and 0 <= y <= scene.photo.height):
        raise CannotChangeError("that is beyond the edge of the picture")
    return x, y


def _words(px: Point) -> str:
    return f"{round(px[0], PX_DECIMALS):g}, {round(px[1], PX_DECIMALS):g}"


def _on_board(scene: Scene, board: Board, px: Point) -> Point:
    """Return the place on the board that is seen at a pixel."""
    placement = scene.placement
    if isinstance(placement, NotHad):
        raise CannotChangeError(f"the board is not lined up in this photograph yet: {placement.reason}")
    x, y = placement.board(*px)
    size = board.size_mm if board.frame == "mm" else (100.0, 100.0)
    if size and not (0 <= round(x, 2) <= size[0] and 0 <= round(y, 2) <= size[1]):
        raise CannotChangeError(f"that is beyond the edge of the board, {size[0]:g} × {size[1]:g} {scene.unit}")
    return x, y


def _shape(asked: Asked) -> str:
    shape = asked.text("shape")
    if shape not in SHAPES:
        raise NotAskedRightError("shape is none of: " + ", ".join(SHAPES))
    return shape


def _named(asked: Asked) -> str:
    return asked.text("text", required=False) or asked.text("ref", required=False) or asked.text("shape", required=False)


def _mark_words(asked: Asked) -> dict[str, str]:
    ref = asked.text("ref", required=False)
    if ref and not DESIGNATOR.fullmatch(ref.rpartition(":")[2]):
        raise CannotChangeError(f"{ref} is no designator such as R12 or psu:R12")
    return {"text": asked.text("text", required=False), "ref": ref}


def _shape_cells(scene: Scene, asked: Asked, shape: str) -> dict[str, float | str]:
    """Return x, y, w and h in percent of the picture: of a box from its upper left corner, of an arrow from its tip to its tail."""
    x, y = _percent(scene, _px(scene, asked, "px"))
    if shape == "point":
        return {"x": x, "y": y, "w": "", "h": ""}
    other = _percent(scene, _px(scene, asked, "to"))
    w, h = other[0] - x, other[1] - y
    if shape == "box":
        x, y, w, h = min(x, other[0]), min(y, other[1]), abs(w), abs(h)
        if round(w, 2) <= 0 or round(h, 2) <= 0:
            raise CannotChangeError("a box needs two corners, one away from the other")
    return {"x": x, "y": y, "w": w, "h": h}


def _percent(scene: Scene, px: Point) -> Point:
    return 100 * px[0] / scene.photo.width, 100 * px[1] / scene.photo.height
