"""Malformed job folders: each is refused with the exact list expected, and nothing in it is touched.

A case is one file of ``malformed/``: ``=== NAME`` begins a file of the folder (``@jpeg`` stands for a picture of 64 × 48 pixels,
``=== no line end`` takes the last line break away), ``=== expected`` the list as ``benchrecord check`` prints it. What no text
file can hold (bytes, links, pipes, sizes) is listed below.
"""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from stat import S_ISREG

import numpy as np
import pytest
from PIL import Image

from benchrecord.checks import all_kinds, schemas
from benchrecord.intake import read_job
from benchrecord.problems import CODES, as_text
from folders import picture, sound, write
from sounds import write_sound

ELSEWHERE = {
    "mirrored-photo",
    "private-words",
    "unlisted-job",
    "cache-in-job",
    "picture-metadata",
    "long-paragraph",
    "unclosed-tags",
    "unsearchable-document",
    "unused-limit",
    "no-owner",
    "personal-data",
}  # not by reading a folder: see tests/findings and tests/publish
CASES = sorted((Path(__file__).parent / "malformed").glob("*.txt"))
KINDS = schemas(all_kinds())


def parts_of(case: Path) -> tuple[dict[str, str | bytes], str]:
    """Return the files of a case, and the list it expects."""
    _, *pieces = re.split(r"^=== (.+)\n", case.read_text("utf-8"), flags=re.MULTILINE)
    files: dict[str, str | bytes] = {}
    last = ""
    for name, text in zip(pieces[::2], pieces[1::2], strict=True):
        if name == "no line end":
            files[last] = str(files[last]).removesuffix("\n")
        elif name != "expected":
            files[name] = picture() if text == "@jpeg\n" else text
            last = name
    return {n: picture() if c == "@jpeg" else c for n, c in files.items()}, pieces[-1]


def state(folder: Path) -> dict[str, tuple[int, int, bytes]]:
    """Return all that a folder holds, folders, links and pipes too: kind and rights, time, content."""
    everything = [folder, *folder.rglob("*")] if folder.exists() else []
    stats = {path: path.lstat() for path in everything}
    return {
        os.fsdecode(path): (s.st_mode, s.st_mtime_ns, path.read_bytes() if S_ISREG(s.st_mode) else b"")
        for path, s in stats.items()
    }


def said_of(folder: Path) -> str:
    """Read a folder, make sure that it stays as it is, and return the list as it is printed."""
    before = state(folder)
    _, problems = read_job(folder, KINDS)
    assert state(folder) == before
    printed = as_text(problems) + "\n" if problems else ""
    return printed.encode("utf-8").decode("utf-8")


def test_there_are_at_least_forty() -> None:
    assert len(CASES) >= 40


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.stem)
def test_the_list_is_exactly_this(case: Path, tmp_path: Path) -> None:
    files, expected = parts_of(case)
    folder = write(tmp_path / "job", files)
    assert said_of(folder) == expected


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.stem)
def test_every_line_named_is_a_line_of_the_file(case: Path, tmp_path: Path) -> None:
    folder = write(tmp_path / "job", parts_of(case)[0])
    for problem in read_job(folder, KINDS)[1]:
        if problem.place.line is not None:
            lines = (folder / problem.place.file).read_bytes().count(b"\n") + 1
            assert 1 <= problem.place.line <= lines + 1, problem


@dataclass(frozen=True)
class Odd:
    """A folder that no text file can describe; ``expected`` is file, code, what was read, expected and to be written."""

    expected: tuple[str, str, str, str, str]
    files: dict[str, str | bytes] = field(default_factory=dict)
    then: Callable[[Path], object] = lambda _: None
    limits: dict[str, int] = field(default_factory=dict)

    def printed(self) -> str:
        place, head, got, expected, remedy = self.expected
        return f"{place}\n  {head}\n    read:     {got}\n    expected: {expected}\n    write:    {remedy}\n"


def linked(name: str, target: str) -> Callable[[Path], object]:
    def make(folder: Path) -> None:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).symlink_to(target)

    return make


def piped(name: str) -> Callable[[Path], object]:
    def make(folder: Path) -> None:
        (folder / name).parent.mkdir(exist_ok=True)
        os.mkfifo(folder / name)

    return make


def without_job(folder: Path) -> None:
    (folder / "job.yml").unlink()


def of_bytes(folder: Path) -> None:
    (folder / "notes").mkdir()
    Path(os.fsdecode(os.fsencode(folder) + b"/notes/10-caf\xe9.md")).write_text("Words.\n")


def moving() -> bytes:
    """Return a WebP picture of two frames."""
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(out, "WEBP", save_all=True, append_images=[Image.new("RGB", (8, 8), "blue")])
    return out.getvalue()


UNREAD, MISSING = "whole file: error file-unread", "whole file: error folder-missing"
A_JOB, A_PICTURE = "a job folder with a job.yml", "a JPEG, PNG, TIFF, WebP or HEIC picture"
UTF8, SAVE = "text in UTF-8", "save the file as UTF-8 text"
OUTSIDE = ("a file inside the job folder", "copy the file into the folder and write its path from there")
NOWHERE = ("a file", "copy the file itself into the folder")
PIPE = (UNREAD, "a pipe or a device", "a plain file", "put a plain file in its place")
RECORDED = "copy it from the recorder again"
AGAIN, AS_JPEG = "copy the picture from the camera again", "save it as JPEG, or copy it from the camera again"
NAMED = (UNREAD, "a name with signs that are no letters", "a name of letters, digits and -", "rename the file")
EPS = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n%%EndComments\nshowpage\n"
TABLE = {"parts.csv": "ref,action\nR1,replaced\nR2,replaced\n"}
ODD = {
    "no job.yml": Odd(("job.yml", MISSING, "no job.yml in job", A_JOB, "name the folder of a job, or begin one: write job.yml with at least a title"), {}, without_job),
    "job.yaml": Odd(
        ("job.yml", MISSING, "no job.yml in job", A_JOB, "rename Job.yaml to job.yml"), {"Job.yaml": "title: T\n"}, without_job
    ),
    "job.yml is a pipe": Odd(("job.yml", *PIPE), {}, lambda f: (without_job(f), os.mkfifo(f / "job.yml"))),
    "not utf-8": Odd(("notes/10-a.md", "line 2: error file-unread", "byte 0xE9", UTF8, SAVE), {"notes/10-a.md": b"a\nR\xe9sis\n"}),
    "utf-16": Odd(("parts.csv", UNREAD, "text in UTF-16", UTF8, SAVE), {"parts.csv": "ref,action\n".encode("utf-16")}),
    "no text": Odd(
        ("parts.csv", "line 2: error file-unread", "bytes that are no text", UTF8, SAVE), {"parts.csv": b"ref,action\nR1,\0\n"}
    ),
    "a link that leaves": Odd(("notes/10-a.md", "whole file: error path-outside", "notes/10-a.md -> /etc", *OUTSIDE), {}, linked("notes/10-a.md", "/etc")),
    "a link to nowhere": Odd(
        ("recordings/a.wav", UNREAD, "a link to gone.wav, which leads nowhere", *NOWHERE), {}, linked("recordings/a.wav", "gone.wav")
    ),
    "a link to itself": Odd(
        ("photos/a.jpg", UNREAD, "a link to a.jpg, which leads nowhere", *NOWHERE), {}, linked("photos/a.jpg", "a.jpg")
    ),
    "a table that is a link to itself": Odd(
        ("parts.csv", UNREAD, "a link to parts.csv, which leads nowhere", *NOWHERE), {}, linked("parts.csv", "parts.csv")
    ),
    **{f"{name} is a pipe": Odd((name, *PIPE), {}, piped(name)) for name in ("photos/a.jpg", "notes/10-a.md", "recordings/a.wav", "trims.csv")},
    "a name in another encoding": Odd(("notes/10-caf\\udce9.md", *NAMED), {}, of_bytes),
    "a name of two lines": Odd(("photos/a⏎b.jpg", *NAMED), {"photos/a\nb.jpg": picture()}),
    "a table that is a folder": Odd(
        ("parts.csv", UNREAD, "a folder", "a text file", "put a plain file in its place"), {}, lambda f: (f / "parts.csv").mkdir()
    ),
    "a picture of nothing": Odd(("photos/a.png", UNREAD, "an empty file", A_PICTURE, AS_JPEG), {"photos/a.png": b""}),
    "a picture that is a text": Odd(("photos/a.jpg", UNREAD, "no picture of these kinds", A_PICTURE, AS_JPEG), {"photos/a.jpg": "x"}),
    "a picture that is a program": Odd(("photos/a.jpg", UNREAD, "no picture of these kinds", A_PICTURE, AS_JPEG), {"photos/a.jpg": EPS}),
    "a picture that breaks off": Odd(
        ("photos/a.jpg", UNREAD, "a damaged picture: image file is truncated", A_PICTURE, AGAIN),
        {"photos/a.jpg": picture(400, 300)[:900]},
    ),
    "a picture that moves": Odd(
        ("photos/a.webp", "whole file: hint several-pictures", "several pictures in one file", "one picture",
         "leave it: the first is shown; or save the others as files of their own"),
        {"photos/a.webp": moving()},
    ),
    "a recording of nothing": Odd(
        ("recordings/a.wav", UNREAD, "an empty file", "a recording", "copy the recording again"), {"recordings/a.wav": b""}
    ),
    "a recording that is none": Odd(
        ("recordings/a.txt", UNREAD, "no recording", "a recording: .wav, .flac, .aiff, .aif, .ogg, .opus, .mp3", "move it out of recordings/"),
        {"recordings/a.txt": "x"},
    ),
    "a recording that breaks off": Odd(
        ("recordings/a.wav", UNREAD, "a recording that breaks off", "a whole recording", RECORDED), {"recordings/a.wav": sound()[:-99]}
    ),
    "a recording under another name": Odd(
        ("recordings/a.flac", UNREAD, "WAV in a file named .flac", "what its name says, FLAC", "name it a.wav"),
        {"recordings/a.flac": sound()},
    ),
    "a recording that is a text": Odd(
        (
            "recordings/a.wav", UNREAD, "what cannot be read as sound: Format not recognised",
            "a recording in WAV, FLAC, AIFF, Ogg or MP3", RECORDED,
        ),
        {"recordings/a.wav": "some words"},
    ),
    "a recording of nothing but a head": Odd(
        ("recordings/a.wav", UNREAD, "a recording without any sound", "a recording", RECORDED), {"recordings/a.wav": sound(0)}
    ),
    "a recording that plays too long": Odd(
        ("recordings/a.wav", "whole file: error too-long", "2 minutes", "at most 1 minutes", "cut it to the part that is wanted"),
        {"recordings/a.wav": sound(120, 100)}, limits={"benchrecord.intake.sound_file.LONGEST_S": 60},
    ),
    "a recording stored with losses": Odd(
        (
            "checks.yml", "line 1, column 60: warning lossy-recording", "recordings/a.ogg (Ogg, Vorbis)",
            "a recording that keeps everything: WAV, FLAC or AIFF", "record in WAV or FLAC where that is still possible",
        ),
        {"checks.yml": "- {id: s, title: S, kind: spectrum, expect: sine, as_left: a.ogg}\n"},
        lambda f: write_sound(f / "recordings/a.ogg", np.full(4800, 0.1), subtype="VORBIS"),
    ),
    "a file too big": Odd(
        ("parts.csv", "whole file: error file-too-big", "0.0 MB", "at most 0 MB", "split the file or shorten it"),
        TABLE, limits={"benchrecord.intake.csv_file.TABLE_BYTES": 10},
    ),
    "too many rows": Odd(
        ("parts.csv", "whole file: error too-many-rows", "2 rows", "at most 1 rows", "split the table"),
        TABLE, limits={"benchrecord.intake.csv_file.TABLE_ROWS": 1},
    ),
    "too many pixels": Odd(
        ("photos/a.jpg", "whole file: error too-many-pixels", "64 × 48", "at most 0 megapixels", "save it smaller"),
        {"photos/a.jpg": picture()}, limits={"benchrecord.intake.picture_file.PICTURE_PIXELS": 1000},
    ),
}  # fmt: skip


@pytest.mark.parametrize("odd", ODD.values(), ids=[*ODD])
def test_the_list_of_an_odd_folder_is_exactly_this(odd: Odd, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, limit in odd.limits.items():
        monkeypatch.setattr(name, limit)
    folder = write(tmp_path / "job", odd.files)
    odd.then(folder)
    assert said_of(folder) == odd.printed()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    for name, why in (("gone", "No such file or directory"), ("a.txt", "Not a directory")):
        (tmp_path / "a.txt").write_text("x")
        said = Odd(("job.yml", MISSING, f"{name}: {why}", A_JOB, "mend the path of the folder"))
        assert said_of(tmp_path / name) == said.printed()


def test_every_code_occurs_in_a_case() -> None:
    said = "\n".join([*(parts_of(case)[1] for case in CASES), *(odd.printed() for odd in ODD.values())])
    assert {code for code in CODES if not re.search(rf"(error|warning|hint) {code}$", said, re.MULTILINE)} == ELSEWHERE
