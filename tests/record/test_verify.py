"""Verifying a record: whatever was done to it is found, and the file is named."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import struct
import unicodedata
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import bagit
import pytest

from benchrecord.record import shelves
from benchrecord.record.verify import verify
from folders import contents
from reference import published

MUST_FAIL = published.data("14-bagit-annotation.json")["bagit"]["must_fail"]


def faults(path: Path) -> dict[str, str]:
    return {f.file: f.what for f in verify(path).faults}


def listed_anew(folder: Path, **lines: str) -> None:
    """Put lines into the manifests and make all digests right again, as somebody who means harm would."""
    for name, text in lines.items():
        path = folder / f"{name}-sha512.txt"
        path.write_text(path.read_text("utf-8") + text, "utf-8")
    manifest = folder / "tagmanifest-sha512.txt"
    digest = hashlib.sha512((folder / "manifest-sha512.txt").read_bytes()).hexdigest()
    kept = [
        line for line in manifest.read_text("utf-8").splitlines(keepends=True) if not line.endswith("  manifest-sha512.txt\n")
    ]
    manifest.write_text("".join(kept) + f"{digest}  manifest-sha512.txt\n", "utf-8")


def one_bit_off(content: bytes) -> Iterator[bytes]:
    """Yield what differs in one bit of one byte, for each byte: the bits take turns."""
    for at in range(len(content)):
        yield content[:at] + bytes([content[at] ^ 1 << at % 8]) + content[at + 1 :]


def test_a_folder_of_windows_that_stands_for_another_is_no_folder_of_a_record() -> None:
    plain = SimpleNamespace(st_mode=0o40755)
    assert not shelves._is_junction(plain)  # type: ignore[arg-type]  # as Windows gives it
    assert shelves._is_junction(SimpleNamespace(st_mode=0o40777, st_reparse_tag=0xA0000003))  # type: ignore[arg-type]
    assert not shelves._is_junction(SimpleNamespace(st_mode=0o40777, st_reparse_tag=0))  # type: ignore[arg-type]


def test_a_record_is_whole_as_a_folder_and_as_a_zip(folder: Path, zipped: Path) -> None:
    for path in (folder, zipped):
        found = verify(path)
        assert found.faults == ()
        assert (found.files, found.info["External-Identifier"]) == (8, "small")


@pytest.mark.slow
def test_a_bit_of_each_byte_of_a_folder_counts(folder: Path) -> None:
    unseen, tried = [], 0
    for name, content in contents(folder).items():
        for changed in one_bit_off(content):
            (folder / name).write_bytes(changed)
            tried += 1
            unseen += [] if name in faults(folder) or (name.startswith("tagmanifest") and faults(folder)) else [(name, changed)]
        (folder / name).write_bytes(content)
    assert unseen == []
    assert tried > 1000
    assert faults(folder) == {}


@pytest.mark.slow
def test_a_bit_of_each_byte_of_a_zip_counts(zipped: Path) -> None:
    content = zipped.read_bytes()
    unseen = []
    for number, changed in enumerate(one_bit_off(content)):
        zipped.write_bytes(changed)
        unseen += [] if verify(zipped).faults else [number]
    assert unseen == []


def test_what_is_removed_added_renamed_or_swapped_is_named(folder: Path, tmp_path: Path) -> None:
    def after(change: Callable[[Path], object]) -> dict[str, str]:
        copy = tmp_path / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(folder, copy)
        change(copy)
        return faults(copy)

    def swap(copy: Path) -> None:
        (copy / "data/notes.txt").rename(copy / "t")
        (copy / "data/readings/rail 1.csv").rename(copy / "data/notes.txt")
        (copy / "t").rename(copy / "data/readings/rail 1.csv")

    counted = "bag-info.txt"
    assert after(lambda c: (c / "data/notes.txt").unlink()).items() >= {("data/notes.txt", "missing")}
    assert after(lambda c: (c / "data/more.txt").write_text("x")).items() >= {("data/more.txt", "not part of the record")}
    assert after(lambda c: (c / "more.txt").write_text("x")) == {"more.txt": "not part of the record"}
    assert after(lambda c: (c / "data/notes.txt").rename(c / "data/note.txt")).keys() == {"data/notes.txt", "data/note.txt"}
    assert after(swap) == {"data/notes.txt": "changed", "data/readings/rail 1.csv": "changed"}
    assert counted in after(lambda c: (c / "data/readings/empty.csv").unlink())
    assert after(lambda c: (c / "data/void").mkdir()).keys() == {"data/void"}
    for name in contents(folder):
        assert name in after(lambda c, name=name: (c / name).unlink())


def test_a_count_that_is_wrong_is_worded_in_bytes_and_files(folder: Path) -> None:
    info = folder / "bag-info.txt"
    text = info.read_text("utf-8")
    oxum = re.search(r"Payload-Oxum: (\d+)\.(\d+)", text)
    assert oxum
    size, files = int(oxum[1]), int(oxum[2])
    for stated, words in (
        ("26182148.254", "26,182,148 bytes in 254 files"),
        ("1.1", "1 byte in 1 file"),
        ("many", "Payload-Oxum many"),
    ):
        info.write_text(text.replace(f"{size}.{files}", stated), "utf-8")
        assert faults(folder)["bag-info.txt"] in (
            "changed",
            f"states {words} below data/, where there are {size:,} bytes in {files} files",
        )
        assert any(f.what.startswith(f"states {words} below") for f in verify(folder).faults)


@pytest.mark.parametrize("case", MUST_FAIL, ids=[c["change"] for c in MUST_FAIL])
def test_what_the_published_rules_refuse_is_refused(case: dict[str, str], folder: Path) -> None:
    notes, more = folder / "data/notes.txt", "0" * 128 + "  ../secret.txt\n"
    changes: dict[str, Callable[[], object]] = {
        "append one byte to data/notes.txt": lambda: notes.write_bytes(notes.read_bytes() + b"x"),
        "replace hello by hellO in data/notes.txt, same size": lambda: notes.write_bytes(b"hellO\n"),
        "third line in bagit.txt": lambda: (folder / "bagit.txt").open("a").write("x: y\n"),
        "add data/extra.txt without manifest line": lambda: (folder / "data/extra.txt").write_text("x"),
        "manifest line with path ../secret.txt": lambda: listed_anew(folder, manifest=more),
    }
    changes[case["change"]]()
    assert faults(folder)


@pytest.mark.parametrize(
    ("path", "what"),
    [
        ("../secret.txt", "leads out"),
        ("data/../../secret.txt", "leads out"),
        ("/etc/hostname", "absolute"),
        ("C:/boot.ini", "absolute"),
        ("~/secret.txt", "absolute"),
        ("data\\notes.txt", "backslash"),
        ("bagit.txt", "outside data/"),
        ("data/notes.txt", "listed twice"),
        ("data/NOTES.txt", "listed twice"),
        ("data/readings/", "not a plain path"),
    ],
)
def test_a_hostile_line_of_a_manifest_is_refused_and_its_file_not_read(folder: Path, path: str, what: str) -> None:
    (folder.parent / "secret.txt").write_bytes(b"")
    listed_anew(folder, manifest=f"{hashlib.sha512(b'').hexdigest()}  {path}\n")
    assert any(what in f.what for f in verify(folder).faults)


def test_a_line_that_is_none_is_told_by_its_number(folder: Path) -> None:
    listed_anew(folder, manifest="nonsense\n")
    assert faults(folder) == {"manifest-sha512.txt": "line 4 is not a digest and a path"}


def test_links_and_what_is_no_file_are_not_followed(folder: Path) -> None:
    notes = folder / "data/notes.txt"
    notes.rename(folder.parent / "notes.txt")
    notes.symlink_to(folder.parent / "notes.txt")
    os.mkfifo(folder / "data/pipe")
    (folder / "data/more").symlink_to(folder.parent, target_is_directory=True)
    found = faults(folder)
    assert {found[p] for p in ("data/notes.txt", "data/more")} <= {"a link, not a file", "missing"}
    assert found["data/pipe"] == "not a file"


def test_two_files_that_some_computers_take_for_one_are_told(folder: Path) -> None:
    (folder / "data/Notes.txt").write_bytes(b"other")
    assert {f.what for f in verify(folder).faults if f.file in ("data/Notes.txt", "data/notes.txt")} >= {
        "differs from another only in capitals or accents"
    }


def test_a_stick_that_writes_accents_in_another_way_changes_nothing(tmp_path: Path) -> None:
    from benchrecord.record.bag import bag  # noqa: PLC0415
    from benchrecord.record.writing import write  # noqa: PLC0415

    name = unicodedata.normalize("NFC", "data/Prüfung.txt")
    write(bag({name: b"x"}, (), {}), tmp_path / "r", zipped=False, prove=lambda _: None)
    (tmp_path / "r" / name).rename(tmp_path / "r" / unicodedata.normalize("NFD", name))
    assert faults(tmp_path / "r") == {}


def repacked(zipped: Path, change: Callable[[zipfile.ZipFile], object] = lambda _: None) -> Path:
    """Pack a record as another program would, compressed and dated."""
    made = zipped.with_name("repacked.zip")
    with zipfile.ZipFile(zipped) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        new.mkdir("small-record")
        for name in old.namelist():
            new.writestr(zipfile.ZipInfo(name, (2026, 4, 18, 12, 0, 0)), old.read(name), zipfile.ZIP_DEFLATED)
        change(new)
    return made


def dated(name: str, attr: int = 0o100644 << 16) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, (2026, 4, 18, 12, 0, 0))
    info.external_attr, info.compress_type = attr, zipfile.ZIP_DEFLATED
    return info


def test_a_zip_that_another_program_packed_is_whole_too(zipped: Path) -> None:
    assert faults(repacked(zipped)) == {}


@pytest.mark.parametrize(
    ("entry", "content", "what"),
    [
        (dated("../evil"), b"x", "leads out"),
        (dated("/etc/evil"), b"x", "leads out"),
        (dated("small-record/../evil"), b"x", "leads out"),
        (dated("small-record/data/link", 0o120777 << 16), b"/etc/passwd", "a link"),
        (dated("small-record/data/bomb"), b"\0" * 5_000_000, "fill a disk"),
        (dated("small-record/data/notes.txt"), b"other", "more than once"),
        (dated("small-record/data/NOTES.TXT"), b"other", "capitals"),
        (dated("other/data/x"), b"x", "not part of the record"),
        (dated("data/notes.txt"), b"hello\n", "not part of the record"),
        (dated("other/bagit.txt"), b"x", "below one folder"),
    ],
)
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_hostile_zip_is_refused(zipped: Path, entry: zipfile.ZipInfo, content: bytes, what: str) -> None:
    found = verify(repacked(zipped, lambda new: new.writestr(entry, content)))
    assert any(what in f.what for f in found.faults), found.faults


def test_a_zip_that_lies_about_its_sizes_is_told(zipped: Path) -> None:
    made = repacked(zipped)
    content = made.read_bytes()
    at = content.rindex(b"PK\1\2")
    made.write_bytes(content[: at + 24] + struct.pack("<L", 3) + content[at + 28 :])
    assert verify(made).faults


@pytest.mark.parametrize("content", [b"", b"PK\5\6" + b"\0" * 18, b"nonsense" * 100, b"PK\3\4" + b"\xff" * 200])
def test_what_is_no_zip_is_told_in_a_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.zip").write_bytes(content)
    assert verify(tmp_path / "x.zip").faults


def test_a_file_beside_the_folder_of_a_zip_does_not_stand_for_one_in_it(zipped: Path) -> None:
    with zipfile.ZipFile(zipped) as whole, zipfile.ZipFile(zipped.with_name("moved.zip"), "w") as moved:
        for entry in whole.infolist():
            name = entry.filename
            moved.writestr(dated(name.partition("/")[2] if name.endswith("notes.txt") else name), whole.read(entry))
    wrong = {"data/notes.txt": "missing", "../data/notes.txt": "not part of the record"}
    assert faults(zipped.with_name("moved.zip")).items() >= wrong.items()


def test_a_record_may_have_another_name(folder: Path, zipped: Path) -> None:
    assert faults(folder.rename(folder.with_name("Für Anna"))) == {}
    assert faults(zipped.rename(zipped.with_name("other.zip"))) == {}
    with zipfile.ZipFile(zipped.with_name("other.zip")) as whole, zipfile.ZipFile(zipped, "w") as renamed:
        for entry in whole.infolist():
            renamed.writestr(dated(entry.filename.replace("small-record/", "Anna/")), whole.read(entry))
    assert faults(zipped) == {}


def test_what_has_nothing_of_a_record_is_told_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "job.yml").write_text("title: A job\n")
    assert faults(tmp_path) == {".": "not a record: it has no bagit.txt"}
    assert faults(Path(os.devnull)) == {".": "neither a folder nor a file"}


def test_a_record_that_lies_deeper_is_pointed_at(folder: Path) -> None:
    assert faults(folder.parent) == {".": "not a record: it has no bagit.txt; the folder small-record in it may be one"}


@pytest.mark.parametrize("sums", ["sha256", "sha512"])
def test_a_bag_of_another_kind_is_told_in_one_sentence(tmp_path: Path, sums: str) -> None:
    (tmp_path / "a.txt").write_text("hello")
    bagit.make_bag(str(tmp_path), checksums=[sums])
    assert [f.partition(":")[0] for f in faults(tmp_path).values()] == [
        f"not a record that was handed over here, but a bag of another kind, made by bagit.py v{bagit.VERSION} <https"
    ]


def test_verifying_writes_nothing(folder: Path) -> None:
    before = {p: p.stat().st_mtime_ns for p in folder.rglob("*")}
    verify(folder)
    assert {p: p.stat().st_mtime_ns for p in folder.rglob("*")} == before
