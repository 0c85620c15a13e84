"""One placement, every picture: maps, pins, photographs under the map, views of each part and pairs, from photographs made here."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from benchrecord.bench.lens import Lens
from benchrecord.bench.placement import Placement
from benchrecord.checks import all_kinds
from benchrecord.figures import photo, warp
from benchrecord.findings import work_out
from benchrecord.model.job import Edition, Job
from benchrecord.pages.job_pages import job_pages
from benchrecord.pages.view import Pictures, View
from benchrecord.publish.cache import Cache
from benchrecord.publish.pictures import draw_pictures
from benchrecord.publish.work import read_all, silent
from folders import write

SIZE = (800, 600)
BOARD = (100.0, 60.0)
COLOURS = {"R1": (200, 30, 30), "C1": (30, 160, 40), "Q1": (40, 60, 210)}
PLACES = {"R1": (20.0, 15.0), "C1": (80.0, 45.0), "Q1": (50.0, 30.0)}
POINTS = [(4.0, 4.0), (96.0, 4.0), (96.0, 56.0), (4.0, 56.0), (50.0, 20.0), (20.0, 50.0), (80.0, 12.0), (70.0, 50.0)]
ABOVE = Placement(((6.6, 0.2, 60.0), (0.1, -6.4, 500.0), (1e-4, 2e-4, 1.0)))
ASIDE = Placement(((5.6, -0.9, 130.0), (0.4, -6.0, 480.0), (-6e-4, 4e-4, 1.0)))
BENT = Placement(ASIDE.homography, lens=Lens(*SIZE, -0.05))
BEHIND = Placement(((-6.6, 0.2, 740.0), (0.1, -6.4, 500.0), (1e-4, 2e-4, 1.0)))


def shot(camera: Placement, paint: float = 1.0) -> bytes:
    """Photograph a board that is grey but for a square of 6 mm on each part."""
    picture = Image.new("RGB", SIZE, (20, 20, 20))
    draw = ImageDraw.Draw(picture)
    draw.polygon([camera.px(x, y) for x, y in ((0, 0), (BOARD[0], 0), BOARD, (0, BOARD[1]))], fill=(120, 120, 120))
    for ref, (x, y) in PLACES.items():
        corners = [camera.px(x + dx, y + dy) for dx, dy in ((-3, -3), (3, -3), (3, 3), (-3, 3))]
        draw.polygon(corners, fill=tuple(round(c * paint) for c in COLOURS[ref]))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=95)
    return out.getvalue()


def points(camera: Placement) -> str:
    pixels = [camera.px(*p) for p in POINTS]
    return "".join(
        f"      - {{mm: [{x}, {y}], px: [{u:.2f}, {v:.2f}]}}\n" for (x, y), (u, v) in zip(POINTS, pixels, strict=True)
    )


def folder_of(path: Path, cameras: dict[str, tuple[str, Placement]]) -> Path:
    """Write a job whose board ``b`` has a photo for each name, of a stage and by a camera."""
    listed = "".join(
        f"  - file: photos/{name}.jpg\n    stage: {stage}\n    points:\n{points(camera)}"
        for name, (stage, camera) in cameras.items()
    )
    table = "ref,x_mm,y_mm,kind\n" + "".join(f"{ref},{x},{y},to92\n" for ref, (x, y) in PLACES.items())
    files: dict[str, str | bytes] = {
        "job.yml": "title: T\npublish: yes\n",
        "boards/b.yml": f"title: Board\nsize_mm: [100, 60]\nphotos:\n{listed}",
        "boards/b.csv": table,
        "parts.csv": "board,ref,action,status\nb,R1,replaced,fitted\n",
        "marks.csv": "photo,shape,x,y,text,ref\n" + "".join(f"photos/{name}.jpg,point,40,40,here,R1\n" for name in cameras),
        **{f"photos/{name}.jpg": shot(camera) for name, (_, camera) in cameras.items()},
    }
    return write(path, files)


def drawn(folder: Path, cache: Path) -> tuple[Job, Pictures, dict[str, bytes]]:
    kinds = all_kinds()
    jobs, problems = read_all([folder], kinds)
    assert [p for p in problems if p.severity == "error"] == []
    job = jobs[0][1]
    return job, *draw_pictures(folder, job, work_out(job, kinds), kinds, cache=Cache(cache), progress=silent)


def opened(files: dict[str, bytes], src: str) -> Image.Image:
    return Image.open(io.BytesIO(files[src])).convert("RGB")


def close(pixel: object, colour: tuple[int, int, int]) -> bool:
    assert isinstance(pixel, tuple)
    return all(abs(a - b) < 45 for a, b in zip(pixel, colour, strict=True))


CAMERAS = {"b-before": ("before", ABOVE), "b-after": ("after", BENT), "work": ("during", ASIDE)}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, Pictures, dict[str, bytes]]:
    path = tmp_path_factory.mktemp("made")
    return drawn(folder_of(path / "job", CAMERAS), path / "cache")


def test_every_part_is_cut_out_of_every_photo_in_the_same_scale_and_direction(
    made: tuple[Job, Pictures, dict[str, bytes]],
) -> None:
    _, pictures, files = made
    assert set(pictures.views) == {"b:R1", "b:C1", "b:Q1"}
    for key, views in pictures.views.items():
        assert [v.stage for v in views] == ["before", "during", "after"]
        for view in views:
            picture = opened(files, view.picture.src)
            wide, high = picture.size
            colour = COLOURS[key[2:]]
            assert close(picture.getpixel((wide // 2, high // 2)), colour)
            scale = wide / 24.0  # a small part is seen with 24 mm of the board around it
            inside, outside = (round(wide / 2 + mm * scale) for mm in (2.3, 3.8))
            assert close(picture.getpixel((inside, high // 2)), colour)
            assert not close(picture.getpixel((outside, high // 2)), colour)


def test_a_photo_lies_under_the_map_where_the_map_has_its_parts(made: tuple[Job, Pictures, dict[str, bytes]]) -> None:
    _, pictures, files = made
    seen = pictures.boards["b"].seen
    assert [s.words for s in seen] == ["as found", "at work", "as left"]
    for one in seen:
        picture = opened(files, one.picture.src)
        assert picture.width / picture.height == pytest.approx(BOARD[0] / BOARD[1], rel=0.01)
        for ref, (x, y) in PLACES.items():
            at = (round(x / BOARD[0] * picture.width), round((1 - y / BOARD[1]) * picture.height))
            assert close(picture.getpixel(at), COLOURS[ref]), (one.words, ref)


def test_the_picture_as_left_lies_over_the_one_as_found(made: tuple[Job, Pictures, dict[str, bytes]]) -> None:
    _, pictures, files = made
    (pair,) = pictures.boards["b"].pairs
    assert (pair.before, pair.after) == ("photos/b-before.jpg", "photos/b-after.jpg")
    for size in pair.picture.sizes:
        picture = opened(files, size.src)
        assert picture.width / picture.height == pytest.approx(SIZE[0] / SIZE[1], rel=0.01)
        for ref, place in PLACES.items():
            x, y = (round(c * picture.width / SIZE[0]) for c in ABOVE.px(*place))
            assert close(picture.getpixel((x, y)), COLOURS[ref])


def test_fits_tell_the_residual_the_lens_and_how_many_points(made: tuple[Job, Pictures, dict[str, bytes]]) -> None:
    fits = made[1].boards["b"].fits
    assert {file: fit.points for file, fit in fits.items()} == {f"photos/{name}.jpg": 8 for name in CAMERAS}
    assert fits["photos/b-before.jpg"].k1 is None
    assert fits["photos/b-after.jpg"].k1 == pytest.approx(-0.05, abs=0.002)
    assert all(fit.residual is not None and fit.residual < 0.01 for fit in fits.values())


def test_the_page_has_the_choices_the_slider_and_a_view_of_each_part(made: tuple[Job, Pictures, dict[str, bytes]]) -> None:
    job, pictures, _ = made
    view = View(job, work_out(job, all_kinds()), pictures, Edition.PORTFOLIO)
    page = next(p.markdown for p in job_pages(view) if p.src.endswith("boards/b.md"))
    assert page.count('type="radio"') == 4
    assert '<input type="checkbox" class="br-show-replaced" checked>' in page
    assert page.count('type="range"') == 1
    assert page.count('class="br-view"') == 9
    assert 'alt="R1 as found, cut out of: a photograph"' in page
    assert "k1 = −0.050" in page


def test_a_board_seen_from_behind_is_turned_over_and_named(tmp_path: Path) -> None:
    folder = folder_of(
        tmp_path / "job", {"b-before": ("before", ABOVE), "behind": ("before", BEHIND), "b-after": ("after", BEHIND)}
    )
    text = (folder / "boards/b.yml").read_text("utf-8")
    (folder / "boards/b.yml").write_text(text.replace("behind.jpg\n", "behind.jpg\n    side: bottom\n"), "utf-8")
    _, pictures, files = drawn(folder, tmp_path / "cache")
    board = pictures.boards["b"]
    assert [s.words for s in board.seen] == [
        "as found", "as found, solder side seen through", "as left, solder side seen through",
    ]  # fmt: skip
    assert [v.mirrored for v in pictures.views["b:C1"]] == [False, True, True]
    under = opened(files, board.seen[1].picture.src)
    x, y = PLACES["C1"]
    assert close(under.getpixel((round(x / 100 * under.width), round((1 - y / 60) * under.height))), COLOURS["C1"])
    assert board.pairs == ()  # one shows the component side, the other the solder side


def test_a_board_in_percent_of_its_first_photo_is_lined_up_too(tmp_path: Path) -> None:
    percent = {ref: (ABOVE.px(*p)[0] / 8, ABOVE.px(*p)[1] / 6) for ref, p in PLACES.items()}
    both = [(*ABOVE.px(*p), *ASIDE.px(*p)) for p in POINTS]
    listed = "".join(f"      - {{percent: [{a / 8:.3f}, {b / 6:.3f}], px: [{c:.2f}, {d:.2f}]}}\n" for a, b, c, d in both)
    head = "frame: percent\nphotos:\n  - {file: one.jpg, stage: before}\n  - file: other.jpg\n    stage: after\n    points:\n"
    rows = "".join(f"{ref},{x:.3f},{y:.3f}\n" for ref, (x, y) in percent.items())
    files: dict[str, str | bytes] = {
        "boards/b.yml": head + listed, "boards/b.csv": "ref,x,y\n" + rows,
        "photos/one.jpg": shot(ABOVE), "photos/other.jpg": shot(ASIDE),
    }  # fmt: skip
    _, pictures, made = drawn(write(tmp_path / "job", files), tmp_path / "cache")
    (pair,) = pictures.boards["b"].pairs
    assert len(pair.picture.sizes) > 1
    for lined_up in (opened(made, size.src) for size in pair.picture.sizes):
        for ref, place in PLACES.items():
            x, y = (round(c * lined_up.width / SIZE[0]) for c in ABOVE.px(*place))
            assert close(lined_up.getpixel((x, y)), COLOURS[ref])
    assert all([v.stage for v in pictures.views[f"b:{ref}"]] == ["before", "after"] for ref in PLACES)


def test_a_close_up_shows_only_what_lies_in_it_and_an_overview_only_what_can_be_seen(tmp_path: Path) -> None:
    near = Placement(((30.0, 0.0, -200.0), (0.0, -30.0, 750.0), (0.0, 0.0, 1.0)))
    far = Placement(((1.0, 0.0, 300.0), (0.0, -1.0, 300.0), (0.0, 0.0, 1.0)))
    cameras = {"near": ("before", near), "far": ("after", far)}
    folder = folder_of(tmp_path / "job", cameras)
    text = (folder / "boards/b.yml").read_text("utf-8")
    inside = [(8.0, 6.0), (30.0, 7.0), (30.0, 22.0), (8.0, 20.0)]
    closer = "".join(f"      - {{mm: [{x}, {y}], px: [{near.px(x, y)[0]}, {near.px(x, y)[1]}]}}\n" for x, y in inside)
    (folder / "boards/b.yml").write_text(text.replace(points(near), closer), "utf-8")
    job, pictures, _ = drawn(folder, tmp_path / "cache")
    assert {key: [v.file for v in found] for key, found in pictures.views.items()} == {"b:R1": ["photos/near.jpg"]}
    view = View(job, work_out(job, all_kinds()), pictures, Edition.PORTFOLIO)
    assert {key: [p.file for p in found] for key, found in view.photos_of.items()} == {
        "b:R1": ["photos/far.jpg", "photos/near.jpg"], "b:C1": ["photos/far.jpg"], "b:Q1": ["photos/far.jpg"],
    }  # fmt: skip


def test_a_part_at_the_edge_of_a_photo_is_not_cut_out_of_it(tmp_path: Path) -> None:
    """Most of what its view would show lies outside."""
    aside = Placement(((6.6, 0.0, 130.0), (0.0, -6.6, 500.0), (0.0, 0.0, 1.0)))
    beyond = Placement(((6.6, 0.0, -105.0), (0.0, -6.6, 500.0), (0.0, 0.0, 1.0)))
    folder = folder_of(tmp_path / "job", {"whole": ("before", aside), "cut": ("after", beyond)})
    text = (folder / "boards/b.yml").read_text("utf-8")
    seen = [(x, y) for x, y in POINTS if x > 40]
    kept = "".join(f"      - {{mm: [{x}, {y}], px: [{beyond.px(x, y)[0]}, {beyond.px(x, y)[1]}]}}\n" for x, y in seen)
    (folder / "boards/b.yml").write_text(text.replace(points(beyond), kept), "utf-8")
    pictures = drawn(folder, tmp_path / "cache")[1]
    assert pictures.boards["b"].within["photos/cut.jpg"] == {"R1", "C1", "Q1"}
    assert [v.file for v in pictures.views["b:R1"]] == ["photos/whole.jpg"]
    assert [v.file for v in pictures.views["b:Q1"]] == ["photos/whole.jpg", "photos/cut.jpg"]


FROM_AFAR = Placement(((1.5, 0.0, 300.0), (0.0, -1.5, 300.0), (0.0, 0.0, 1.0)))


@pytest.mark.parametrize(
    ("cameras", "lined_up"),
    [
        ({"b-before": ABOVE, "b-after": ASIDE, "far-before": FROM_AFAR, "far-after": FROM_AFAR}, ["photos/b-before.jpg"]),
        ({"far-before": FROM_AFAR, "far-after": FROM_AFAR}, ["photos/far-before.jpg"]),
    ],
    ids=["beside a pair from near", "alone"],
)
def test_a_pair_from_afar_is_lined_up_only_where_it_is_the_only_one(
    tmp_path: Path, cameras: dict[str, Placement], lined_up: list[str]
) -> None:
    staged = {name: (name.rpartition("-")[2], camera) for name, camera in cameras.items()}
    pictures = drawn(folder_of(tmp_path / "job", staged), tmp_path / "cache")[1]
    assert [pair.before for pair in pictures.boards["b"].pairs] == lined_up


def change_pin(folder: Path) -> None:
    path = folder / "boards/b.csv"
    path.write_text(path.read_text("utf-8").replace("Q1,50", "Q1,51"), "utf-8")


def change_mark(folder: Path) -> None:
    path = folder / "marks.csv"
    path.write_text(path.read_text("utf-8").replace("work.jpg,point,40", "work.jpg,point,41"), "utf-8")


@pytest.mark.parametrize(("change", "views"), [(change_mark, 0), (change_pin, 3)])
def test_a_change_of_one_mark_or_pin_encodes_no_photo_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: Callable[[Path], None], views: int
) -> None:
    """Only the three views of the one part that moved are cut out anew."""
    folder = folder_of(tmp_path / "job", CAMERAS)
    drawn(folder, tmp_path / "cache")
    change(folder)
    encoded: list[str] = []
    monkeypatch.setattr(photo, "publishable", lambda _: pytest.fail("a photo was encoded anew"))
    plain = warp.webp
    monkeypatch.setattr(warp, "webp", lambda image: encoded.append("view") or plain(image))
    drawn(folder, tmp_path / "cache")
    assert len(encoded) == views


def test_of_many_photos_of_a_stage_the_sharpest_four_are_cut_out_of(tmp_path: Path) -> None:
    scales = (3.0, 6.0, 5.0, 4.0, 6.5, 5.5)
    cameras = {
        f"n{n}": ("before", Placement(((s, 0.0, 50.0), (0.0, -s, 450.0), (0.0, 0.0, 1.0)))) for n, s in enumerate(scales)
    }
    views = drawn(folder_of(tmp_path / "job", cameras), tmp_path / "cache")[1].views
    assert {tuple(v.file for v in found) for found in views.values()} == {
        ("photos/n1.jpg", "photos/n2.jpg", "photos/n4.jpg", "photos/n5.jpg"),
    }  # fmt: skip
