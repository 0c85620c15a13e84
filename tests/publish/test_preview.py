"""The preview: what a click writes, who may ask, and that nothing is lost when two write at once."""

from __future__ import annotations

import io
import json
import os
import threading
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from wsgiref.types import WSGIApplication
from wsgiref.util import FileWrapper, setup_testing_defaults
from wsgiref.validate import validator

import pytest

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.publish.cache import Cache
from benchrecord.publish.preview import saving
from benchrecord.publish.preview.app import Place
from benchrecord.publish.preview.door import LARGEST
from benchrecord.publish.preview.pages import added, part, with_additions
from benchrecord.publish.preview.server import Builder
from folders import contents, picture, write
from previews import served

KEY = "HTTP_X_BENCH_TOKEN"
PHOTO, OTHER = "photos/psu.jpg", "photos/front.jpg"
FACTS = """\
# measured with a ruler
title: Power supply
size_mm: [100, 50]
photos:
  - file: photos/psu.jpg   # from above
    points:
      - {mm: [0, 0], px: [0, 100]}
      - {mm: [100, 0], px: [200, 100]}
      - {mm: [100, 50], px: [200, 0]}
      - {mm: [0, 50], px: [0, 0]}
"""
TABLE = "\ufeffref;x_mm;y_mm;value\r\n# from the print\r\nR1;10,5;20;4k7\r\n"
SMALL: dict[str, str | bytes] = {
    "boards/psu.yml": FACTS,
    "boards/psu.csv": TABLE,
    PHOTO: picture(200, 100),
    OTHER: picture(64, 48, "olive"),
    "photos.csv": "file,caption,stage,board\nphotos/psu.jpg,The supply,before,psu\n",
    "parts.csv": "board,ref,action,status\npsu,R12,replaced,\npsu,C3,replaced,ordered\npsu,R1,replaced,\n",
    "trims.csv": "board,ref,function\npsu,RV1,reference\n",
    "checks.yml": "- {id: hot, title: Hot resistors, kind: components, board: psu, file: hot.csv}\n",
    "measurements/hot.csv": "ref,marked,tolerance,as_left\nR7,10k,5%,10k\nR12,10k,5%,10k\n",
}


@pytest.fixture
def folder(job: Path) -> Path:
    return write(job, SMALL)


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    return Cache(tmp_path_factory.mktemp("pictures"))


@pytest.fixture
def place(folder: Path, cache: Cache) -> Place:
    return Place(folder, all_kinds(), cache)


class Page:
    """A page of the preview, as a browser would speak for it."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.app = place.wrap(nothing)

    def ask(self, method: str, path: str, body: bytes = b"", /, **headers: str | None) -> tuple[int, bytes, dict[str, str]]:
        """Send a request; headers are named as WSGI has them, and None leaves one out."""
        target, _, query = path.partition("?")
        own: dict[str, Any] = {"REQUEST_METHOD": method, "PATH_INFO": target, "QUERY_STRING": query, "SERVER_PORT": "8000"}
        own |= {"HTTP_HOST": "127.0.0.1:8000", "HTTP_X_BENCH_TOKEN": self.place.token, "wsgi.input": io.BytesIO(body)}
        if method == "POST":
            own |= {
                "HTTP_ORIGIN": "http://127.0.0.1:8000",
                "CONTENT_TYPE": "application/json",
                "CONTENT_LENGTH": str(len(body)),
            }
        setup_testing_defaults(own)
        environ = {k: v for k, v in {**own, **headers}.items() if v is not None}
        sent: dict[str, Any] = {}

        def start(status: str, head: list[tuple[str, str]], _error: object = None) -> Callable[[bytes], object]:
            sent.update(status=int(status[:3]), headers={k.lower(): v for k, v in head})
            return lambda _: None

        given = self.app(environ, start)
        content = b"".join(given)
        getattr(given, "close", lambda: None)()
        return sent["status"], content, sent["headers"]

    def state(self, query: str = "board=psu&photo=photos/psu.jpg") -> dict[str, Any]:
        status, body, _ = self.ask("GET", f"/place/state?{query}")
        assert status == 200, body
        return dict(json.loads(body))

    def change(self, shown: dict[str, Any], **asked: Any) -> tuple[int, dict[str, Any]]:
        """Ask for a change of what the page was shown."""
        whole = {"board": shown["board"], "photo": shown["photo"], "versions": shown["versions"], **asked}
        status, body, _ = self.ask("POST", "/place/change", json.dumps(whole).encode())
        return status, json.loads(body)

    def undo(self, shown: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        asked = {"board": shown["board"], "photo": shown["photo"]}
        status, body, _ = self.ask("POST", "/place/undo", json.dumps(asked).encode())
        return status, json.loads(body)


def nothing(_environ: Any, start_response: Any) -> list[bytes]:
    start_response("200 OK", [("Content-Type", "text/html"), ("Content-Length", "4")])
    return [b"site"]


@pytest.fixture
def page(place: Place) -> Page:
    return Page(place)


def only(folder: Path, before: dict[str, bytes], name: str) -> bytes:
    """Return a file's bytes, and make sure that no other file of the folder has changed."""
    after = contents(folder)
    assert {n: c for n, c in after.items() if n != name} == {n: c for n, c in before.items() if n != name}
    return after[name]


# --- what lies where, and what comes next


def test_parts_that_rows_name_and_no_table_places_come_next_each_with_its_reason(page: Page) -> None:
    assert [(p["ref"], p["why"]) for p in page.state()["unplaced"]] == [
        ("C3", "to be replaced"),
        ("R12", "replaced"),
        ("RV1", "trim: reference"),
        ("R7", "measured: Hot resistors"),
    ]


def test_a_placed_part_is_shown_where_the_placement_puts_it(page: Page) -> None:
    (part,) = page.state()["parts"]
    assert (part["ref"], part["at"]) == ("R1", [10.5, 20])
    assert part["px"] == pytest.approx([21, 60], abs=1e-6)


def test_the_first_scene_is_the_first_photo_with_its_board(page: Page) -> None:
    shown = page.state("")
    assert (shown["photo"], shown["board"], shown["width"], shown["height"]) == (PHOTO, "psu", 200, 100)
    assert page.state(f"board=&photo={OTHER}")["board"] == ""


def test_a_folder_without_photographs_says_so(job: Path, cache: Cache) -> None:
    assert "put some into the folder photos" in Page(Place(job, all_kinds(), cache)).state("")["empty"]


# --- what a click writes


def test_a_click_on_a_part_s_place_adds_its_row_and_keeps_every_other_byte(page: Page, folder: Path) -> None:
    before = contents(folder)
    status, told = page.change(page.state(), do="place part", ref="R12", px=[150, 25])
    assert status == 200
    assert told["said"] == "Written to boards/psu.csv: R12 at 75, 37.5 mm."
    assert only(folder, before, "boards/psu.csv") == (TABLE + "R12;75;37,5;\r\n").encode()
    assert "R12" not in [p["ref"] for p in told["unplaced"]]


def test_a_part_that_has_a_place_moves_in_its_own_row(page: Page, folder: Path) -> None:
    page.change(page.state(), do="place part", ref="R1", px=[2.5, 99])
    assert (folder / "boards/psu.csv").read_bytes() == TABLE.replace("10,5;20", "1,25;0,5").encode()


def test_a_first_part_begins_a_table_written_as_another_of_the_folder(page: Page, folder: Path) -> None:
    (folder / "boards/psu.csv").unlink()
    (folder / "boards/tone.csv").write_bytes(b"ref;x_mm;y_mm\r\nR1;1,5;2\r\n")
    page.change(page.state(), do="place part", ref="R12", px=[150, 25])
    assert (folder / "boards/psu.csv").read_bytes() == b"ref;x_mm;y_mm\r\nR12;75;37,5\r\n"


def test_a_point_more_is_written_into_the_board_s_file_and_the_residual_is_told_anew(page: Page, folder: Path) -> None:
    before, shown = contents(folder), page.state()
    assert "nothing is left over" in shown["fit"]
    status, told = page.change(shown, do="add point", at=[50, 25], px=[101, 50])
    assert (status, told["said"]) == (200, "Written to boards/psu.yml: the point 50, 25 mm at pixel 101, 50.")
    assert only(folder, before, "boards/psu.yml") == (FACTS + "      - {mm: [50, 25], px: [101, 50]}\n").encode()
    assert told["fit"].startswith("5 points fit to 0.15 mm rms; point 5 lies farthest off")
    off = [p["off"] for p in told["points"]]
    assert 0 < off[4] < 0.5
    _, told = page.change(told, do="move point", place=told["points"][4]["place"], px=[100, 50])
    assert told["fit"].startswith("5 points fit to less than 0.01 mm rms")
    _, told = page.change(told, do="remove point", place=told["points"][4]["place"])
    assert (folder / "boards/psu.yml").read_bytes() == FACTS.encode()


def test_the_corners_are_offered_first_then_parts_far_from_all_points(page: Page, folder: Path) -> None:
    facts = FACTS.partition("    points:")[0]
    table = "ref,x_mm,y_mm\nR1,50,25\nR2,2,2\nR3,90,10\n"
    write(folder, {"boards/psu.yml": facts, "boards/psu.csv": table})
    shown = page.state()
    assert not shown["fitted"]
    assert [o["name"] for o in shown["offered"]] == [
        "lower left corner", "lower right corner", "upper right corner", "upper left corner", "R1", "R3", "R2",
    ]  # fmt: skip
    status, told = page.change(shown, do="place part", ref="R12", px=[1, 1])
    assert (status, told["error"]) == (
        422,
        "Not written: the board is not lined up in this photograph yet: fewer than four points.",
    )
    status, told = page.change(shown, do="add point", at=shown["offered"][0]["at"], px=[0, 100])
    assert (folder / "boards/psu.yml").read_text("utf-8") == facts + "    points:\n      - {mm: [0, 0], px: [0, 100]}\n"
    assert told["fit"].startswith("1 of at least 4 points")


def test_a_photo_that_the_board_does_not_name_is_added_with_its_first_point(page: Page, folder: Path) -> None:
    page.change(page.state(f"board=psu&photo={OTHER}"), do="add point", at=[0, 0], px=[1, 2])
    added_lines = f"  - file: {OTHER}\n    points:\n      - {{mm: [0, 0], px: [1, 2]}}\n"
    assert (folder / "boards/psu.yml").read_text("utf-8") == FACTS + added_lines


def test_a_board_of_a_table_alone_gets_its_file_with_the_first_point(page: Page, folder: Path) -> None:
    (folder / "boards/psu.yml").unlink()
    page.change(page.state(), do="add point", at=[10.5, 20], px=[21, 60])
    own = f"photos:\n  - file: {PHOTO}\n    stage: before\n    points:\n      - {{mm: [10.5, 20], px: [21, 60]}}\n"
    assert (folder / "boards/psu.yml").read_text("utf-8") == own


def test_a_further_photo_of_a_board_in_percent_is_lined_up_by_places_of_its_parts(page: Page, folder: Path) -> None:
    facts = f"frame: percent\nphotos: [{{file: {PHOTO}}}]\n"
    write(folder, {"boards/psu.yml": facts, "boards/psu.csv": "ref,x,y\nR1,10,10\nR2,90,10\nR3,90,90\nR4,10,90\n"})
    status, told = page.change(page.state(), do="add point", at=[10, 10], px=[1, 1])
    assert (status, told["error"]) == (
        422,
        "Not written: places count in percent of the first photograph, which needs no points.",
    )
    shown = page.state(f"board=psu&photo={OTHER}")
    for at, px in ([10, 10], [8, 6]), ([90, 10], [56, 6]), ([90, 90], [56, 42]), ([10, 90], [8, 42]):
        status, shown = page.change(shown, do="add point", at=at, px=px)
        assert status == 200
    assert shown["fitted"]
    page.change(shown, do="place part", ref="R12", px=[32, 24])
    assert (folder / "boards/psu.csv").read_text("utf-8").endswith("R12,50,50\n")
    assert "{percent: [90, 10], px: [56, 6]}" in (folder / "boards/psu.yml").read_text("utf-8")


def test_a_board_that_nobody_measured_counts_in_percent_of_a_photo(page: Page, folder: Path) -> None:
    write(folder, {"boards/psu.yml": "title: Power supply  # no drawing\n"})
    (folder / "boards/psu.csv").unlink()
    shown = page.state()
    assert shown["boards"][0]["bare"]
    _, told = page.change(shown, do="count in percent")
    own = f"title: Power supply  # no drawing\nframe: percent\nphotos:\n  - {{file: {PHOTO}, stage: before}}\n"
    assert (folder / "boards/psu.yml").read_text("utf-8") == own
    assert told["given"]
    page.change(told, do="place part", ref="R12", px=[150, 25])
    assert (folder / "boards/psu.csv").read_text("utf-8") == "ref,x,y\nR12,75,25\n"


def test_marks_of_every_shape_are_rows_in_percent_of_the_picture(page: Page, folder: Path) -> None:
    shown = page.state(f"board=&photo={OTHER}")
    for asked in (
        {"shape": "point", "px": [32, 12], "text": "cracked, and dry", "ref": "psu:R1"},
        {"shape": "box", "px": [48, 36], "to": [16, 12], "text": 'the "long" one'},
        {"shape": "arrow", "px": [32, 24], "to": [16, 12], "text": ""},
    ):
        status, shown = page.change(shown, do="add mark", **asked)
        assert status == 200
    rows = [
        "photo,shape,x,y,w,h,text,ref",
        f'{OTHER},point,50,25,,,"cracked, and dry",psu:R1',
        f'{OTHER},box,25,25,50,50,"the ""long"" one",',
        f"{OTHER},arrow,50,50,-25,-25,,",
    ]
    assert (folder / "marks.csv").read_text("utf-8") == "\n".join(rows) + "\n"
    assert [m["line"] for m in shown["marks"]] == [2, 3, 4]
    _, shown = page.change(shown, do="reword mark", line=4, shape="arrow", text="here", ref="R1")
    _, shown = page.change(shown, do="move mark", line=2, shape="point", px=[16, 12])
    _, shown = page.change(shown, do="remove mark", line=3)
    rows = [rows[0], f'{OTHER},point,25,25,,,"cracked, and dry",psu:R1', f"{OTHER},arrow,50,50,-25,-25,here,R1"]
    assert (folder / "marks.csv").read_text("utf-8") == "\n".join(rows) + "\n"


def test_every_step_can_be_taken_back_to_the_very_bytes(page: Page, folder: Path) -> None:
    before, shown = contents(folder), page.state()
    _, shown = page.change(shown, do="place part", ref="R12", px=[150, 25])
    _, shown = page.change(shown, do="add point", at=[50, 25], px=[101, 50])
    _, shown = page.change(shown, do="add mark", shape="point", px=[1, 1], text="x")
    assert shown["undo"] == "the mark x"
    for _ in range(3):
        status, shown = page.undo(shown)
        assert status == 200
    assert contents(folder) == before
    status, shown = page.undo(shown)
    assert (status, shown["error"]) == (422, "Not written: there is nothing to undo.")


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"do": "place part", "ref": "R12", "px": [201, 1]}, "beyond the edge of the picture"),
        ({"do": "place part", "ref": "not a part", "px": [1, 1]}, "no designator"),
        ({"do": "add point", "at": [0, 0], "px": [1, 1]}, "a point of this place already"),
        ({"do": "add mark", "shape": "box", "px": [1, 1], "to": [1, 9]}, "a box needs two corners"),
        ({"do": "add mark", "shape": "point", "px": [1, 1], "ref": "a b"}, "no designator"),
        ({"do": "remove mark", "line": 9}, "no row begins at line 9"),
        ({"do": "move point", "place": [99, 1], "px": [1, 1]}, "not there any more"),
        ({"do": "count in percent"}, "already"),
    ],
)
def test_what_cannot_be_is_not_written(page: Page, folder: Path, asked: dict[str, Any], why: str) -> None:
    write(folder, {"marks.csv": "photo,shape,x,y\n"})
    before = contents(folder)
    status, told = page.change(page.state(), **asked)
    assert status == 422
    assert why in told["error"]
    assert contents(folder) == before


def test_a_part_off_the_board_is_not_written(page: Page, folder: Path) -> None:
    write(folder, {"boards/psu.yml": FACTS.replace("[100, 50]", "[60, 50]", 1)})
    status, told = page.change(page.state(), do="place part", ref="R12", px=[150, 25])
    assert (status, told["error"]) == (422, "Not written: that is beyond the edge of the board, 60 × 50 mm.")


# --- two writers


def test_a_file_changed_meanwhile_is_refused_and_both_versions_are_kept(page: Page, folder: Path) -> None:
    shown = page.state()
    edited = (TABLE + "R9;1;2;by hand\r\n").encode()
    (folder / "boards/psu.csv").write_bytes(edited)
    status, told = page.change(shown, do="place part", ref="R12", px=[150, 25])
    assert status == 409
    assert "changed by another program meanwhile" in told["error"]
    assert (folder / "boards/psu.csv").read_bytes() == edited
    assert (folder / "boards/psu.csv.not-saved").read_bytes() == (TABLE + "R12;75;37,5;\r\n").encode()
    assert [p["ref"] for p in told["parts"]] == ["R1", "R9"]
    status, told = page.change(shown, do="place part", ref="R1", px=[0, 100])
    assert status == 409
    assert (folder / "boards/psu.csv.not-saved-2").read_bytes() == TABLE.replace("10,5;20", "0;0").encode()
    assert page.change(told, do="place part", ref="R12", px=[150, 25])[0] == 200
    remedies = {p.place.file: p.remedy for p in read_job(folder, schemas(all_kinds()))[1] if p.code == "unused-file"}
    kept = "compare it with boards/psu.csv, which was changed meanwhile, and take it out"
    assert remedies == {"boards/psu.csv.not-saved": kept, "boards/psu.csv.not-saved-2": kept}


def test_a_file_that_came_or_went_meanwhile_is_changed_too(page: Page, folder: Path) -> None:
    shown = page.state()
    write(folder, {"marks.csv": "photo,shape,x,y\n"})
    assert page.change(shown, do="add mark", shape="point", px=[1, 1])[0] == 409
    assert (folder / "marks.csv").read_text() == "photo,shape,x,y\n"
    assert (folder / "marks.csv.not-saved").read_text().count("\n") == 2
    shown = page.state()
    (folder / "boards/psu.csv").unlink()
    assert page.change(shown, do="place part", ref="R12", px=[1, 1])[0] == 409
    assert not (folder / "boards/psu.csv").exists()


def test_of_two_pages_that_write_at_once_one_is_refused(page: Page, folder: Path) -> None:
    shown, answers = page.state(), []
    barrier = threading.Barrier(4)

    def click(number: int) -> None:
        barrier.wait()
        answers.append(page.change(shown, do="place part", ref=f"R{100 + number}", px=[number, 1])[0])

    threads = [threading.Thread(target=click, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [200, 409, 409, 409]
    rows = (folder / "boards/psu.csv").read_bytes()
    assert rows.startswith(TABLE.encode())
    assert rows.count(b"\r\nR10") == 1
    kept = [p.name for p in (folder / "boards").glob("*.not-saved*")]
    assert sorted(kept) == ["psu.csv.not-saved", "psu.csv.not-saved-2", "psu.csv.not-saved-3"]


def test_a_change_in_the_last_moment_is_seen(page: Page, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown, path, whole = page.state(), folder / "boards/psu.csv", saving.write_new
    edited = (TABLE + "R9;1;2;by hand\r\n").encode()

    def slow(target: Path, content: bytes, *, like: Path) -> None:
        whole(target, content, like=like)
        if target.name.startswith("."):
            path.write_bytes(edited)

    monkeypatch.setattr(saving, "write_new", slow)
    assert page.change(shown, do="place part", ref="R12", px=[150, 25])[0] == 409
    assert path.read_bytes() == edited
    assert (folder / "boards/psu.csv.not-saved").read_bytes() == (TABLE + "R12;75;37,5;\r\n").encode()


def test_undo_never_takes_back_what_another_wrote(page: Page, folder: Path) -> None:
    _, shown = page.change(page.state(), do="place part", ref="R12", px=[150, 25])
    edited = (folder / "boards/psu.csv").read_bytes() + b"R9;1;2;by hand\r\n"
    (folder / "boards/psu.csv").write_bytes(edited)
    assert page.undo(shown)[0] == 409
    assert (folder / "boards/psu.csv").read_bytes() == edited
    assert page.undo(shown)[0] == 422


def test_a_write_that_fails_leaves_the_file_and_nothing_beside_it(
    page: Page, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, shown = contents(folder), page.state()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    status, told = page.change(shown, do="place part", ref="R12", px=[150, 25])
    assert (status, told["error"]) == (
        422,
        f"Not written: boards/psu.csv cannot be written: the disk is full ({folder / 'boards'}).",
    )
    assert contents(folder) == before


def test_a_written_file_keeps_its_rights(page: Page, folder: Path) -> None:
    (folder / "boards/psu.csv").chmod(0o640)
    page.change(page.state(), do="place part", ref="R12", px=[150, 25])
    assert (folder / "boards/psu.csv").stat().st_mode & 0o777 == 0o640


def test_a_link_inside_the_folder_stays_one(page: Page, folder: Path) -> None:
    (folder / "boards/psu.csv").rename(folder / "places.csv")
    (folder / "boards/psu.csv").symlink_to("../places.csv")
    assert page.change(page.state(), do="place part", ref="R12", px=[150, 25])[0] == 200
    assert (folder / "boards/psu.csv").is_symlink()
    assert b"R12" in (folder / "places.csv").read_bytes()


# --- who may ask

CLICK = {"do": "place part", "ref": "R12", "px": [150, 25], "board": "psu", "photo": PHOTO}


def a_click(page: Page) -> bytes:
    return json.dumps({**CLICK, "versions": page.state()["versions"]}).encode()


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"HTTP_ORIGIN": "http://evil.example"}, 403),
        ({"HTTP_ORIGIN": "http://127.0.0.1:9000"}, 403),
        ({"HTTP_ORIGIN": "https://127.0.0.1:8000"}, 403),
        ({"HTTP_ORIGIN": "http://127.0.0.1:8000.evil.example"}, 403),
        ({"HTTP_ORIGIN": "null"}, 403),
        ({"HTTP_ORIGIN": None}, 403),
        ({"HTTP_SEC_FETCH_SITE": "cross-site"}, 403),
        ({"HTTP_HOST": "evil.example:8000"}, 421),
        ({"HTTP_HOST": "evil.example:8000", "HTTP_ORIGIN": "http://evil.example:8000"}, 421),
        ({"HTTP_HOST": "127.0.0.1:9000"}, 421),
        ({"HTTP_HOST": "127.0.0.1"}, 421),
        ({"HTTP_HOST": "127.0.0.1.evil.example:8000"}, 421),
        ({"HTTP_HOST": None}, 421),
        ({"HTTP_X_BENCH_TOKEN": None}, 403),
        ({"HTTP_X_BENCH_TOKEN": ""}, 403),
        ({"HTTP_X_BENCH_TOKEN": "a" * 43}, 403),
        ({"HTTP_X_BENCH_TOKEN": "\xe4\udcff"}, 403),
        ({"CONTENT_TYPE": "text/plain"}, 415),
        ({"CONTENT_TYPE": "application/x-www-form-urlencoded"}, 415),
        ({"CONTENT_TYPE": "application/jsonp"}, 415),
        ({"CONTENT_TYPE": None}, 415),
        ({"CONTENT_LENGTH": None}, 411),
        ({"CONTENT_LENGTH": "-1"}, 411),
        ({"CONTENT_LENGTH": "²"}, 411),
        ({"HTTP_TRANSFER_ENCODING": "chunked"}, 411),
        ({"CONTENT_LENGTH": str(LARGEST + 1)}, 413),
        ({"CONTENT_LENGTH": "9" * 40}, 413),
        ({"REQUEST_METHOD": "GET"}, 405),
        ({"REQUEST_METHOD": "OPTIONS"}, 405),
        ({"REQUEST_METHOD": "PUT"}, 405),
    ],
)
def test_a_click_that_no_page_of_this_run_made_changes_nothing(
    page: Page, folder: Path, headers: dict[str, str | None], status: int
) -> None:
    body, before = a_click(page), contents(folder)
    got, told, sent = page.ask("POST", "/place/change", body, **headers)
    assert got == status
    assert json.loads(told)["error"]
    assert not any(name.startswith("access-control") for name in sent)
    assert contents(folder) == before


def test_the_same_click_from_the_page_itself_is_written(page: Page, folder: Path) -> None:
    got, _, _ = page.ask("POST", "/place/change", a_click(page), CONTENT_TYPE="application/json; charset=utf-8")
    assert got == 200
    got, _, _ = page.ask("POST", "/place/undo", a_click(page), HTTP_HOST="LOCALHOST:8000", HTTP_ORIGIN="http://localhost:8000")
    assert got == 200
    assert (folder / "boards/psu.csv").read_bytes() == TABLE.encode()


@pytest.mark.parametrize("path", ["/", "/index.html", "/place/", "/place/state", "/place/picture?photo=photos/psu.jpg"])
def test_a_name_that_another_host_gave_this_computer_opens_nothing(page: Page, path: str) -> None:
    assert page.ask("GET", path, HTTP_HOST="rebound.example:8000")[0] == 421
    assert page.ask("GET", path, HTTP_HOST="127.0.0.1:8000", HTTP_ORIGIN="http://rebound.example:8000")[0] == 403


def test_what_lies_where_is_told_to_the_page_of_this_run_alone(page: Page) -> None:
    assert page.ask("GET", "/place/state", **{KEY: "other"})[0] == 403
    assert page.ask("GET", "/place/state", HTTP_SEC_FETCH_SITE="same-site")[0] == 403


def test_each_run_has_a_token_of_its_own_and_only_the_page_tells_it(place: Place, folder: Path, cache: Cache) -> None:
    other = Place(folder, all_kinds(), cache)
    assert len(place.token) >= 43
    assert place.token != other.token
    page = Page(place)
    status, body, headers = page.ask("GET", "/place/", HTTP_X_BENCH_TOKEN=None)
    assert (status, place.token.encode() in body) == (200, True)
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    for path in ("/", "/place/place.js", "/place/place.css", "/place/state"):
        assert place.token.encode() not in page.ask("GET", path)[1]


def test_the_token_is_compared_in_constant_time(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    compared: list[bytes] = []
    monkeypatch.setattr("benchrecord.publish.preview.door.hmac.compare_digest", lambda a, b: compared.append(a) or bool(a == b))
    page.ask("GET", "/place/state", **{KEY: "guess"})
    assert compared == [b"guess"]


@pytest.mark.parametrize(
    "body",
    [
        b"", b"not json", b"[]", b'"text"', b"{", b"\xff", b"[" * 40_000, b'{"do": "place part"}', b'{"do": ["place part"]}',
        b'{"do": "format disk", "photo": "photos/psu.jpg", "board": "psu"}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": [NaN, 1]}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": [1e999, 1]}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": [true, 1]}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": "1,1"}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": [1, 1]}',
        b'{"do": "place part", "board": "psu", "photo": "photos/psu.jpg", "ref": "R12", "px": [1, 1], "versions": {"boards/psu.csv": 1}}',
        b'{"do": "add mark", "board": "psu", "photo": "photos/psu.jpg", "shape": "skull", "px": [1, 1], "versions": {}}',
    ],
)  # fmt: skip
def test_a_body_that_no_page_of_ours_sends_is_refused(page: Page, folder: Path, body: bytes) -> None:
    before = contents(folder)
    assert page.ask("POST", "/place/change", body)[0] == 400
    assert contents(folder) == before


@pytest.mark.parametrize("name", ["../outside", "psu/../../outside", "/etc/passwd", "..", ".", "PSU", "nobody"])
def test_a_board_or_a_photo_outside_of_the_job_is_none(page: Page, folder: Path, name: str) -> None:
    before = contents(folder.parent)
    shown = page.state()
    versions = {**shown["versions"], f"boards/{name}.csv": "", f"boards/{name}.yml": ""}
    for asked in ({"board": name}, {"photo": name}, {"photo": f"photos/{name}"}, {"photo": f"photos/../{name}.jpg"}):
        status, told = page.change({**shown, "versions": versions}, do="place part", ref="R12", px=[1, 1], **asked)
        assert (status, told) == (400, {"error": "the folder has no such board or photograph"})
    assert page.ask("GET", f"/place/picture?photo={name}")[0] == 404
    assert contents(folder.parent) == before


def test_a_link_that_leaves_the_folder_is_not_written_through(page: Page, folder: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.csv"
    outside.write_bytes(TABLE.encode())
    (folder / "boards/psu.csv").unlink()
    (folder / "boards/psu.csv").symlink_to(outside)
    status, body, _ = page.ask("GET", "/place/state?board=psu")
    assert (status, b'R1"' in body) == (422, False)
    status, _ = page.change({"board": "psu", "photo": PHOTO, "versions": {"boards/psu.csv": ""}}, **CLICK)
    assert status == 422
    assert outside.read_bytes() == TABLE.encode()


@pytest.mark.parametrize("path", ["/place/../job.yml", "/place/app.py", "/place/place.html", "/place//", "/place/change/x"])
def test_only_the_addresses_of_placing_are_answered(page: Page, path: str) -> None:
    assert page.ask("GET", path)[0] == 404


def test_words_are_written_on_one_line_and_without_signs_that_nobody_sees(page: Page, folder: Path) -> None:
    page.change(page.state(), do="add mark", shape="point", px=[2, 1], text="one\r\ntwo\x00\x1b[31m\u2028three")
    assert (folder / "marks.csv").read_text("utf-8").splitlines()[1] == f"{PHOTO},point,1,1,,,one two [31m three,"


# --- the pages of the site, on their way


def test_the_page_of_a_board_leads_to_placing_and_other_pages_do_not() -> None:
    html = b"<h1>Power supply</h1><p>x</p>"
    assert b'href="/place/?board=psu"' in added(html, "/jobs/small/boards/psu.html", "")
    assert b'href="/place/"' in added(html, "/jobs/small/photos.html", "")
    assert added(html, "/jobs/small/parts.html", "") == html


def test_what_is_wrong_stands_on_every_page_as_text() -> None:
    page = added(b"<h1>x</h1>", "/index.html", "read: <script>alert(1)</script>")
    assert b"&lt;script&gt;" in page
    assert b"<script>" not in page


@pytest.mark.parametrize(
    ("header", "status", "where", "content"),
    [
        ("bytes=2-4", 206, "bytes 2-4/10", b"234"),
        ("bytes=7-", 206, "bytes 7-9/10", b"789"),
        ("bytes=-3", 206, "bytes 7-9/10", b"789"),
        ("bytes=0-99", 206, "bytes 0-9/10", b"0123456789"),
        ("bytes=-99", 206, "bytes 0-9/10", b"0123456789"),
        ("bytes=10-", 416, "bytes */10", b""),
        ("bytes=-0", 416, "bytes */10", b""),
        ("bytes=4-2", 200, None, b"0123456789"),
        ("bytes=-", 200, None, b"0123456789"),
        ("bytes=0-1,3-4", 200, None, b"0123456789"),
        ("lines=0-1", 200, None, b"0123456789"),
        (None, 200, None, b"0123456789"),
    ],
)
def test_a_recording_is_had_in_parts(header: str | None, status: int, where: str | None, content: bytes) -> None:
    """RFC 9110, sections 14.1.2 (byte ranges), 14.2 (Range) and 15.5.17 (416)."""
    got, body, sent = ask(with_additions(recording, lambda: ""), HTTP_RANGE=header)
    assert (got, body, sent.get("content-range")) == (status, content, where)
    assert sent["content-length"] == str(len(content))
    assert sent["accept-ranges"] == "bytes"


def recording(_environ: Any, start_response: Any) -> FileWrapper:
    start_response("200 OK", [("Content-Type", "audio/flac"), ("Content-Length", "10")])
    return FileWrapper(io.BytesIO(b"0123456789"))


def ask(app: WSGIApplication, **headers: str | None) -> tuple[int, bytes, dict[str, str]]:
    environ: dict[str, Any] = {"PATH_INFO": "/a.flac", "QUERY_STRING": "", "SCRIPT_NAME": ""}
    setup_testing_defaults(environ)
    environ = {k: v for k, v in {**environ, **headers}.items() if v is not None}
    sent: dict[str, Any] = {}

    def start(status: str, head: list[tuple[str, str]], _error: object = None) -> Callable[[bytes], object]:
        sent.update(status=int(status[:3]), headers={k.lower(): v for k, v in head})
        return lambda _: None

    given = validator(app)(environ, start)
    body = b"".join(given)
    given.close()  # type: ignore[attr-defined]  # the validator asks for it
    return sent["status"], body, sent["headers"]


def test_ends_of_ranges() -> None:
    assert [part("0", "", 1), part("", "1", 0)] == [(0, 0), (0, -1)]


# --- the server itself


@pytest.fixture
def running(folder: Path, place: Place, tmp_path: Path) -> Iterator[int]:
    """Serve a site that is a page and a recording, with the place mode before it."""
    site = write(tmp_path / "site", {"index.html": "<html><body><h1>Here</h1></body></html>", "a.flac": b"0123456789"})
    with served(place, Builder(folder, site, "archive", (), lambda _: None)) as port:
        yield port


def test_the_server_listens_on_this_computer_alone_and_answers_as_above(running: int, place: Place) -> None:

    def get(path: str, **headers: str) -> tuple[int, bytes]:
        connection = HTTPConnection("127.0.0.1", running, timeout=20)
        connection.request("GET", path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.read()

    assert b"<h1>Here</h1>" in get("/")[1]
    assert b"livereload" in get("/")[1]
    assert get("/a.flac", Range="bytes=2-4") == (206, b"234")
    assert get("/", Host="evil.example")[0] == 421
    assert get("/place/state?board=psu", **{"X-Bench-Token": place.token})[0] == 200
    assert get("/place/state?board=psu")[0] == 403


def test_a_huge_body_is_refused_before_it_is_read(running: int, place: Place) -> None:
    port = running
    connection = HTTPConnection("127.0.0.1", port, timeout=20)
    headers = {"X-Bench-Token": place.token, "Origin": f"http://127.0.0.1:{port}", "Content-Type": "application/json"}
    connection.putrequest("POST", "/place/change")
    for name, value in {**headers, "Content-Length": str(10**12)}.items():
        connection.putheader(name, value)
    connection.endheaders(b"{")
    assert connection.getresponse().status == 413


# --- the build behind it


@pytest.fixture
def builder(folder: Path, tmp_path: Path) -> Builder:
    return Builder(folder, tmp_path / "site", "archive", (), lambda _: None)


@pytest.mark.slow
def test_a_folder_that_cannot_be_built_says_why_and_the_former_pages_stay(builder: Builder) -> None:
    write(builder.folder, {"faults.csv": "symptom\nhums\n", "job.yml": "titel: x\n"})
    builder()
    assert "write title" in builder.problems
    assert "No pages yet" in (builder.site / "index.html").read_text("utf-8")
    write(builder.folder, {"job.yml": "title: A small job\n"})
    builder()
    assert builder.problems == ""
    before = contents(builder.site)
    assert "jobs/small/boards/psu.html" in before
    write(builder.folder, {"job.yml": "titel: x\n"})
    builder()
    assert "write title" in builder.problems
    assert contents(builder.site) == before


@pytest.mark.slow
def test_nothing_of_the_preview_is_in_a_built_site(builder: Builder) -> None:
    builder()
    for name, content in contents(builder.site).items():
        assert not name.startswith("place")
        assert b"bench-token" not in content.lower()
        assert b"/place/" not in content
