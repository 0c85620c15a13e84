"""Pictures as they come: every format, turned any way, dated by their cameras, whole or not."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from PIL import Image, ImageFilter

from benchrecord.figures import photo as figures_photo
from benchrecord.figures.photo import drawn_anew
from benchrecord.intake import picture_file, read_job
from benchrecord.intake.picture_file import Looking, PictureFacts, read_picture
from benchrecord.model.job import DatedBy
from benchrecord.publish.cache import Cache
from folders import write
from pictures import FORMATS, encoded, turned
from reference.published import rows
from telling import KINDS, telling


def facts_of(folder: Path, data: bytes) -> PictureFacts:
    (folder / "a").write_bytes(data)
    facts, _ = read_picture(folder, "a")
    assert facts is not None
    return facts


def problem_of(folder: Path, data: bytes) -> tuple[str, str]:
    (folder / "a").write_bytes(data)
    facts, problem = read_picture(folder, "a")
    assert (facts is None, problem is None) == (True, False)
    return (problem.code, problem.got) if problem else ("", "")


def with_exif(kind: str, **tags: str) -> bytes:
    """Return a picture with tags of its Exif part: ``t9003="2026:02:03 10:00:00"``."""
    exif = Image.Exif()
    exif[0x0112] = 1
    for name, text in tags.items():
        exif.get_ifd(0x8769)[int(name[1:], 16)] = text
    return encoded(Image.new("RGB", (40, 30)), kind, exif=exif.tobytes())


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_size_is_that_of_the_picture_as_it_is_seen_and_as_it_is_published(
    tmp_path: Path, kind: str, orientation: int
) -> None:
    data = turned(orientation, kind)
    facts, published = facts_of(tmp_path, data), drawn_anew(data)
    assert (facts.width, facts.height) == published.size == (120, 80)


def test_both_rooms_read_the_same_formats() -> None:
    assert picture_file.FORMATS == figures_photo.FORMATS


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_picture_is_dated_by_the_camera_s_clock(tmp_path: Path, kind: str) -> None:
    facts = facts_of(tmp_path, with_exif(kind, t9003="2026:02:03 23:30:00"))
    assert (facts.taken, facts.dated) == (date(2026, 2, 3), DatedBy.CAMERA)


@pytest.mark.parametrize(
    ("zone", "dated"),
    [("+01:00", DatedBy.LOCAL_TIME), ("-09:30", DatedBy.LOCAL_TIME), ("Z", DatedBy.LOCAL_TIME), ("   :  ", DatedBy.CAMERA), ("", DatedBy.CAMERA), ("noon", DatedBy.CAMERA)],
)  # fmt: skip
def test_where_the_clock_knew_its_time_zone_the_day_is_that_of_the_place(tmp_path: Path, zone: str, dated: DatedBy) -> None:
    """CIPA DC-008: OffsetTimeOriginal is the distance of DateTimeOriginal from UTC; blanks where it is unknown. Nobody moves the day."""
    facts = facts_of(tmp_path, with_exif("JPEG", t9003="2026:02:03 23:30:00", t9011=zone))
    assert (facts.taken, facts.dated) == (date(2026, 2, 3), dated)


def test_a_scan_is_dated_by_the_day_it_was_stored_with_the_zone_of_that(tmp_path: Path) -> None:
    facts = facts_of(tmp_path, with_exif("JPEG", t9003="0000:00:00 00:00:00", t9004="2026:02:04 10:00:00", t9012="+01:00"))
    assert (facts.taken, facts.dated) == (date(2026, 2, 4), DatedBy.LOCAL_TIME)


@pytest.mark.parametrize("written", ["", "    :  :     :  :  ", "0000:00:00 00:00:00", "2026:13:40 10:00:00", "yesterday"])
def test_a_date_that_is_none_is_none(tmp_path: Path, written: str) -> None:
    facts = facts_of(tmp_path, with_exif("JPEG", t9003=written))
    assert (facts.taken, facts.dated) == (None, None)


def test_a_row_s_date_is_the_date_and_no_clock_is_spoken_of(job: Path) -> None:
    taken = with_exif("JPEG", t9003="2026:02:03 10:00:00")
    write(job, {"photos.csv": "file,date\na.jpg,2026-02-09\n", "photos/a.jpg": taken, "photos/b.jpg": taken})
    found, _ = read_job(job, {})
    assert found is not None
    assert [(p.file, str(p.date), p.dated) for p in found.photos] == [
        ("photos/a.jpg", "2026-02-09", None), ("photos/b.jpg", "2026-02-03", DatedBy.CAMERA),
    ]  # fmt: skip


def structured() -> Image.Image:
    return Image.effect_noise((200, 150), 80).filter(ImageFilter.GaussianBlur(1)).convert("RGB")


@pytest.mark.parametrize("kind", [*FORMATS, "deflated"])
@pytest.mark.parametrize("share", [0.02, 0.4, 0.97])
def test_a_picture_that_breaks_off_is_a_problem(tmp_path: Path, kind: str, share: float) -> None:
    whole = encoded(structured(), "TIFF", compression="tiff_deflate") if kind == "deflated" else encoded(structured(), kind)
    assert facts_of(tmp_path, whole).width == 200
    code, said = problem_of(tmp_path, whole[: int(len(whole) * share)])
    assert code == "file-unread"
    assert "damaged picture" in said


def huge_png(width: int, height: int) -> bytes:
    """Return the head of a PNG of so many pixels, with almost nothing behind it."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0" * 999)) + chunk(b"IEND", b"")


def huge_jpeg() -> bytes:
    data = bytearray(encoded(Image.new("RGB", (16, 16))))
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", 65500, 65500)
    return bytes(data)


def text_bomb() -> bytes:
    """Return a PNG whose compressed text unpacks to 80 MB."""
    zipped = zlib.compressobj(9)
    many = b"".join(zipped.compress(b"\0" * 1_000_000) for _ in range(80)) + zipped.flush()
    content = b"Comment\0\0" + many
    chunk = struct.pack(">I", len(content)) + b"zTXt" + content + struct.pack(">I", zlib.crc32(b"zTXt" + content))
    plain = encoded(Image.new("RGB", (16, 16)), "PNG")
    return plain[:33] + chunk + plain[33:]


@pytest.mark.parametrize(
    "bomb",
    [
        lambda: huge_png(11_000, 11_000), lambda: huge_png(60_000, 60_000), huge_jpeg,
        lambda: encoded(Image.new("1", (12_000, 11_000)), "TIFF", compression="group4"),
        lambda: encoded(Image.new("1", (12_000, 11_000)), "PNG"),
    ],
    ids=["just above the limit", "far above it", "jpeg", "tiff", "one bit"],
)  # fmt: skip
def test_a_bomb_is_refused_by_its_head(tmp_path: Path, bomb: Callable[[], bytes]) -> None:
    assert problem_of(tmp_path, bomb())[0] == "too-many-pixels"


def test_a_text_that_unpacks_without_end_is_a_problem(tmp_path: Path) -> None:
    assert problem_of(tmp_path, text_bomb())[0] == "file-unread"


def test_a_text_by_the_name_of_a_picture_is_a_problem(tmp_path: Path) -> None:
    assert problem_of(tmp_path, b"Dear diary") == ("file-unread", "no picture of these kinds")


def several(kind: str) -> bytes:
    first, other = Image.new("RGB", (40, 30), "red"), Image.new("RGB", (40, 30), "blue")
    return encoded(first, kind, save_all=True, append_images=[other])


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "WEBP", "HEIF"])
def test_of_several_pictures_in_a_file_the_first_is_taken_with_a_hint(tmp_path: Path, kind: str) -> None:
    data = several(kind)
    (tmp_path / "a").write_bytes(data)
    facts, problem = read_picture(tmp_path, "a")
    assert facts is not None
    assert problem is not None
    assert (problem.code, str(problem.severity)) == ("several-pictures", "hint")
    red, _, blue = drawn_anew(data).getpixel((20, 15))  # type: ignore[misc]  # RGB
    assert (red > 200, blue < 60) == (True, True)


def test_a_smaller_copy_beside_a_picture_is_no_second_one(tmp_path: Path) -> None:
    """TIFF 6.0: NewSubfileType 1 is a version of less resolution of another page."""
    first, copy = Image.new("RGB", (40, 30), "red"), Image.new("RGB", (10, 8), "red")
    copy.encoderinfo = {"tiffinfo": {254: 1}}
    data = encoded(first, "TIFF", save_all=True, append_images=[copy])
    assert Image.open(io.BytesIO(data)).n_frames == 2  # type: ignore[attr-defined]  # a TIFF has frames
    (tmp_path / "a").write_bytes(data)
    assert read_picture(tmp_path, "a")[1] is None


def test_what_a_telephone_appends_to_a_picture_is_no_second_one(tmp_path: Path) -> None:
    """A multi-picture file (CIPA DC-007) whose second picture is of no kind that somebody took."""
    (tmp_path / "a").write_bytes(several("MPO"))
    facts, problem = read_picture(tmp_path, "a")
    assert facts is not None
    assert problem is None


def test_a_picture_is_decoded_once_and_its_facts_are_kept_by_its_content(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = with_exif("JPEG", t9003="2026:02:03 10:00:00", t9011="+01:00")
    for name in "ab":
        (tmp_path / name).write_bytes(data)
    looking = Looking(Cache(tmp_path / "cache").made)
    first = read_picture(tmp_path, "a", looking)
    monkeypatch.setattr(picture_file, "_facts", lambda *_: pytest.fail("it was decoded again"))
    assert read_picture(tmp_path, "a", looking) == read_picture(tmp_path, "b", looking) == first


def test_what_is_wrong_is_never_kept(tmp_path: Path) -> None:
    looking = Looking(Cache(tmp_path / "cache").made)
    (tmp_path / "a").write_bytes(b"Dear diary")
    assert [read_picture(tmp_path, "a", looking)[1] for _ in range(2)] == [read_picture(tmp_path, "a")[1]] * 2
    assert not (tmp_path / "cache").exists()


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("orientation", [1, 6])
def test_whoever_needs_the_pixels_anyway_proves_that_they_are_whole(tmp_path: Path, kind: str, orientation: int) -> None:
    data = turned(orientation, kind)
    (tmp_path / "a").write_bytes(data)
    asked: list[tuple[Path, str]] = []
    facts, problem = read_picture(tmp_path, "a", Looking(prove=lambda path, content: asked.append((path, content))))
    assert problem is None
    assert facts == read_picture(tmp_path, "a")[0]
    assert asked == [(tmp_path / "a", facts.content if facts else "")]


@pytest.mark.parametrize("kind", KINDS)
def test_all_that_is_asked_of_a_picture_is_known_without_its_pixels(tmp_path: Path, kind: str) -> None:
    (tmp_path / "a").write_bytes(telling(kind, rows("15-private-photo-tags.csv")))
    facts, _ = read_picture(tmp_path, "a", Looking(prove=lambda *_: None))
    assert facts == read_picture(tmp_path, "a")[0]
    assert facts is not None
    assert (facts.taken, facts.dated) == (date(2026, 2, 3), DatedBy.LOCAL_TIME)


def test_a_picture_that_cannot_be_published_is_a_problem_of_its_file(tmp_path: Path) -> None:
    whole = encoded(structured(), "PNG")
    (tmp_path / "a").write_bytes(whole[: len(whole) // 2])
    _, problem = read_picture(tmp_path, "a", Looking(prove=lambda path, _: drawn_anew(path.read_bytes())))
    assert problem == read_picture(tmp_path, "a")[1]
