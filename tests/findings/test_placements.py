"""What is told of the points of a board's photo: which to mend, and from which side they show it."""

from __future__ import annotations

import json
from math import dist
from pathlib import Path

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.findings.placements import place_photos, placement_problems
from benchrecord.intake import read_job
from benchrecord.model.job import Job
from benchrecord.problems import Problem
from folders import picture, write

ROOT = Path(__file__).parents[2]
TRUTH = ROOT / "tests/demo_scenes/truth"
CAMERA = [
    [4, 4, 60, 420],
    [96, 4, 530, 430],
    [96, 56, 520, 130],
    [4, 56, 70, 120],
    [50, 30, 296, 276],
    [20, 50, 150, 153],
    [80, 12, 447, 383],
]
TABLE = "ref,x_mm,y_mm\nR1,20,20\nR2,70,40\n"


def job_of(folder: Path, points: list[list[float]], more: str = "", frame: str = "mm") -> tuple[Job, list[Problem]]:
    listed = "".join(f"      - {{{frame}: [{x}, {y}], px: [{u}, {v}]}}\n" for x, y, u, v in points)
    head = "size_mm: [100, 60]\n" if frame == "mm" else "frame: percent\n"
    board = f"{head}photos:\n  - file: a.jpg\n{more}    points:\n{listed}"
    write(folder, {"boards/b.yml": board, "boards/b.csv": TABLE, "photos/a.jpg": picture(600, 480)})
    job, read = read_job(folder, schemas(all_kinds()))
    assert job
    return job, [*read, *placement_problems(job, {p.place for p in read})]


def only(problems: list[Problem]) -> Problem:
    (one,) = problems
    return one


def test_points_that_fit_are_no_problem_and_place_the_photo(tmp_path: Path) -> None:
    job, problems = job_of(tmp_path, CAMERA)
    assert problems == []
    (placed,) = place_photos(job)
    assert placed.placement.residual is not None
    assert placed.placement.residual < 1
    assert (placed.board.id, placed.photo.file, placed.size) == ("b", "photos/a.jpg", (600, 480))


def test_a_misplaced_point_is_named_with_its_line(tmp_path: Path) -> None:
    points = [list(p) for p in CAMERA]
    points[5][2] += 60
    problem = only(job_of(tmp_path, points)[1])
    assert (problem.code, problem.place.line) == ("board-points", 10)
    assert "mm rms" in problem.got
    assert (problem.expected, problem.remedy) == ("points that fit to 1 mm or better", "mend point 6 (20, 50 mm)")


def test_two_exchanged_points_are_both_named(tmp_path: Path) -> None:
    points = [list(p) for p in CAMERA]
    points[1][2:], points[4][2:] = points[4][2:], points[1][2:]
    assert only(job_of(tmp_path, points)[1]).remedy == "exchange the px of point 2 (96, 4 mm) and point 5 (50, 30 mm)"


def test_four_points_two_of_which_are_exchanged_are_told_too(tmp_path: Path) -> None:
    points = [list(p) for p in CAMERA[:4]]
    points[0][2:], points[1][2:] = points[1][2:], points[0][2:]
    problem = only(job_of(tmp_path, points)[1])
    assert problem.got == "the points cannot all be seen in one picture: two of them are swapped"
    assert problem.remedy == "exchange the px of point 1 (4, 4 mm) and point 2 (96, 4 mm)"


BEHIND = [[x, y, 600 - u, v] for x, y, u, v in CAMERA]


def test_a_view_from_behind_that_nobody_announced_is_a_hint(tmp_path: Path) -> None:
    job, problems = job_of(tmp_path, BEHIND)
    assert (only(problems).code, str(only(problems).severity)) == ("mirrored-photo", "hint")
    assert place_photos(job)[0].placement.mirrored


def test_a_view_from_behind_that_was_announced_is_none(tmp_path: Path) -> None:
    assert job_of(tmp_path, BEHIND, "    side: bottom\n")[1] == []


@pytest.mark.parametrize(("points", "side"), [(BEHIND, "top"), (CAMERA, "bottom")])
def test_points_that_show_the_other_side_than_was_written_are_an_error(
    tmp_path: Path, points: list[list[float]], side: str
) -> None:
    problem = only(job_of(tmp_path, points, f"    side: {side}\n")[1])
    assert (problem.code, problem.place.line) == ("board-points", 3)


def test_what_was_complained_of_in_reading_is_not_told_twice(tmp_path: Path) -> None:
    job, problems = job_of(tmp_path, [[1, 1, 10, 10], [2, 2, 20, 20], [3, 3, 30, 30], [9, 4, 40, 10]])
    assert only(problems).got == "points 1, 2 and 3 on one line"
    assert place_photos(job) == ()


def test_a_photo_may_show_two_boards(tmp_path: Path) -> None:
    board = "size_mm: [100, 60]\nphotos:\n  - file: a.jpg\n    points:\n"
    listed = "".join(f"      - {{mm: [{x}, {y}], px: [{u}, {v}]}}\n" for x, y, u, v in CAMERA)
    files: dict[str, str | bytes] = {f"boards/{n}.yml": board + listed for n in "bc"}
    write(tmp_path, {**files, "boards/b.csv": TABLE, "boards/c.csv": TABLE, "photos/a.jpg": picture(600, 480)})
    job, _ = read_job(tmp_path, schemas(all_kinds()))
    assert job
    assert [p.board.id for p in place_photos(job)] == ["b", "c"]


def test_every_part_lies_where_it_is_in_every_picture_of_the_demo() -> None:
    """Placed by the points in the demo's own boards, told as a click tells them; the renderer wrote down where each part truly is."""
    job, _ = read_job(ROOT / "sample_job", schemas(all_kinds()))
    assert job
    placed, bent = place_photos(job), 0
    assert {Path(one.photo.file).stem for one in placed} == {path.stem for path in TRUTH.glob("*.json")}
    for one in placed:
        truth = json.loads((TRUTH / f"{Path(one.photo.file).stem}.json").read_text("utf-8"))
        parts = {ref: p for p in one.board.parts for ref in (p.ref, f"{one.board.id}:{p.ref}")}
        shown = [c for c in truth["components"] if c["in_frame"] and c["ref"] in parts]
        off = [dist(one.placement.board(*c["px"]), (parts[c["ref"]].x, parts[c["ref"]].y)) for c in shown]
        assert max(off) < (0.5 if truth["k1"] else 0.3), one.photo.file
        assert (one.placement.k1 is None) == (truth["k1"] == 0), one.photo.file
        bent += truth["k1"] != 0
    assert bent == 2  # the voice board from the side, as found and as left
