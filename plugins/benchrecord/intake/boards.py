"""Boards: their size, the photos that are lined up on them, and where each part is."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from benchrecord.intake.fixed_tables import BOARD_MM, BOARD_PERCENT, board_part, items, read_rows
from benchrecord.intake.job_yml import read_yaml
from benchrecord.intake.yaml_file import Facts, Node, only_once, two_numbers
from benchrecord.model.job import Board, BoardPhoto, BoardSide, PhotoPoint, PhotoStage
from benchrecord.problems import Place, Problem, write_one_of

KEYS = ("title", "size_mm", "frame", "photos")
FRAMES = ("mm", "percent")
UNIT_OF = {"mm": "mm", "percent": "%"}
LEAST_POINTS = 4


def read_boards(folder: Path, files: list[str], report: list[Problem]) -> tuple[Board, ...]:
    """Read every board that has a .yml or a .csv, by name."""
    names = {
        PurePosixPath(f).stem for f in files if f.startswith("boards/") and f.endswith((".yml", ".csv")) and f.count("/") == 1
    }
    return tuple(_board(folder, name, report) for name in sorted(names))


def _board(folder: Path, name: str, report: list[Problem]) -> Board:
    facts = Facts.of(read_yaml(folder, f"boards/{name}.yml", report), Place(f"boards/{name}.yml", 1), report, KEYS)
    frame = facts.text("frame") or "mm"
    if frame not in FRAMES:
        report.append(Problem("unknown-word", facts.at("frame"), frame, "mm or percent", write_one_of(frame, FRAMES)))
        frame = "mm"
    table = read_rows(folder, f"boards/{name}.csv", BOARD_MM if frame == "mm" else BOARD_PERCENT, report)
    parts = items(table, board_part, ("ref",))
    only_once([(p.ref, p.place) for p in parts], report, "designator of a board")
    size = facts.pair("size_mm", "mm")
    if size and min(size) <= 0:
        report.append(
            Problem(
                "not-positive",
                facts.at("size_mm"),
                f"{size[0]:g}, {size[1]:g}",
                "width and height above zero",
                "write size_mm: [160, 100]",
            )
        )
        size = None
    photos = tuple(_photo(n, frame, report) for n in facts.nodes("photos"))
    return Board(name, facts.text("title") or name, size, frame, photos, parts, facts.place)


def _photo(node: Node, frame: str, report: list[Problem]) -> BoardPhoto:
    own = Facts.of(node, node.place, report, ("file", "stage", "side", "points"))
    points = tuple(p for n in own.nodes("points") if (p := _point(n, frame, report)))
    count = len(own.nodes("points"))
    if 0 < count < LEAST_POINTS:
        said = f"{count} point{'' if count == 1 else 's'}"
        report.append(
            Problem(
                "board-points",
                own.at("points"),
                said,
                "four or more points, better six",
                "add points that can be found in the picture",
            )
        )
    own.text("file", required=True)
    stage, side = own.word("stage", PhotoStage), own.word("side", BoardSide)
    return BoardPhoto(own.path("file", "photos"), stage, points, side, own.at("file"))


def _point(node: Node, frame: str, report: list[Problem]) -> PhotoPoint | None:
    own = Facts.of(node, node.place, report, (frame, "px"))
    ends = [two_numbers(n, unit) if (n := own.get(key)) else None for key, unit in ((frame, UNIT_OF[frame]), ("px", ""))]
    if ends[0] is None or ends[1] is None:
        report.append(
            Problem(
                "board-points",
                node.place,
                node.said()[:80],
                f"{{{frame}: [4, 4], px: [212, 1410]}}",
                "give two numbers for each",
            )
        )
        return None
    return PhotoPoint(ends[0], ends[1], node.place)
