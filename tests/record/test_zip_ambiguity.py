"""A ZIP that another program packed: whole where every program reads the same of it, refused where two may differ."""

from __future__ import annotations

import io
import shutil
import struct
import subprocess
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchrecord.record.verify import verify

TOP = "small-record/"
NOTES = f"{TOP}data/notes.txt"
Bytes = bytes


def faults(path: Path) -> set[str]:
    return {f.what for f in verify(path).faults}


def field(kind: int, content: bytes) -> bytes:
    return struct.pack("<2H", kind, len(content)) + content


def unicode_path(shown: str, real: bytes = NOTES.encode(), *, check: int | None = None) -> bytes:
    """Return an Info-ZIP Unicode Path: version 1, the check of the name that it stands for, the name that is shown."""
    return field(0x7075, b"\1" + struct.pack("<L", zlib.crc32(real) if check is None else check) + shown.encode())


class Packer:
    """Packs a record as another program would: deflated and dated, with whatever may be said of a file in its two heads."""

    def __init__(self, zipped: Path) -> None:
        with zipfile.ZipFile(zipped) as whole:
            self.files = {name.encode(): whole.read(name) for name in whole.namelist()}
        self.out, self.heads = io.BytesIO(), b""

    def add(self, name: bytes, content: bytes, **changed: object) -> None:  # names of fields
        """Write one file; ``changed`` are the fields of a head that are told otherwise: local_name, extra, local_extra, flags …"""
        say = {"flags": 0, "local_flags": None, "local_name": name, "extra": b"", "local_extra": b"", "behind": b"", "size": None,
               "listed": True, "attributes": 0o100644 << 16, "tail": b"", "method": 8, "local_crc": None} | changed  # fmt: skip
        packer = zlib.compressobj(9, zlib.DEFLATED, -15)
        packed = packer.compress(content) + packer.flush() + say["tail"]  # type: ignore[operator]
        crc, start = zlib.crc32(content), self.out.tell()
        size = len(content) if say["size"] is None else say["size"]
        flags = say["flags"] if say["local_flags"] is None else say["local_flags"]
        local = (say["method"], 0x6000, 0x5C92, crc if say["local_crc"] is None else say["local_crc"], len(packed), size)
        self.out.write(struct.pack("<4s5H3L2H", b"PK\3\4", 20, flags, *local, len(say["local_name"]), len(say["local_extra"])))  # type: ignore[arg-type]
        self.out.write(say["local_name"] + say["local_extra"] + packed + say["behind"])  # type: ignore[operator]
        if say["listed"]:
            told = (8, 0x6000, 0x5C92, crc, len(packed), len(content), len(name), len(say["extra"]), 0, 0, 0)  # type: ignore[arg-type]
            head = struct.pack("<4s4B2H2H3L5H2L", b"PK\1\2", 20, 3, 20, 0, say["flags"], *told, say["attributes"], start)
            self.heads += head + name + say["extra"]  # type: ignore[operator]

    def packed(self, path: Path, *, comment: bytes = b"") -> Path:
        start, count = self.out.tell(), self.heads.count(b"PK\1\2")
        ends = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, count, count, len(self.heads), start, len(comment))
        path.write_bytes(self.out.getvalue() + self.heads + ends + comment)
        return path


def packed(zipped: Path, comment: bytes = b"", more: Callable[[Packer], object] | None = None, **notes: object) -> Path:
    """Pack a record; what is told otherwise is told of one file."""
    packer = Packer(zipped)
    for name, content in packer.files.items():
        packer.add(name, content, **(notes if name == NOTES.encode() else {}))
    if more:
        more(packer)
    return packer.packed(zipped.with_name("packed.zip"), comment=comment)


def test_a_plain_one_is_whole(zipped: Path) -> None:
    assert faults(packed(zipped)) == set()
    assert faults(packed(zipped, comment=b"packed by hand")) == set()


@pytest.mark.skipif(not shutil.which("unzip"), reason="unzip is not installed")
def test_a_name_that_unzip_would_show_and_the_record_does_not_is_refused(zipped: Path) -> None:
    other = unicode_path(f"{TOP}data/forged.txt")
    made = packed(zipped, extra=other, local_extra=other)
    shown = subprocess.run(["unzip", "-Z1", made], check=True, capture_output=True, text=True).stdout
    assert f"{TOP}data/forged.txt" in shown
    assert "its name can be read in two ways" in faults(made)


@pytest.mark.parametrize("where", [("extra",), ("local_extra",), ("extra", "local_extra")])
@pytest.mark.parametrize("check", [None, 0])
def test_another_name_is_refused_wherever_it_is_told(zipped: Path, where: tuple[str, ...], check: int | None) -> None:
    told = dict.fromkeys(where, unicode_path(f"{TOP}data/forged.txt", check=check))
    assert faults(packed(zipped, **told)) == {"its name can be read in two ways"}


def test_the_same_name_told_again_is_no_harm(zipped: Path) -> None:
    same = unicode_path(NOTES)
    assert faults(packed(zipped, extra=same, local_extra=same)) == set()


@given(shown=st.text(st.characters(codec="utf-8", exclude_categories=["C"]), min_size=1, max_size=12))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_other_name_is_refused(zipped: Path, shown: str) -> None:
    told = unicode_path(TOP + shown)
    assert ("its name can be read in two ways" in faults(packed(zipped, extra=told))) is (TOP + shown != NOTES)


# What a field may do: name a file, make it a link, or hold a second fork of it. Source: APPNOTE 4.5.2 and Info-ZIP's extrafld.txt.
TELLING = {
    0x000D: b"\0" * 12 + b"/etc/passwd",
    0x2605: b"ZPIT\x09other.txt",
    0x554E: b"NUCX\0\0o\0t\0h\0",
    0x756E: b"\0" * 4 + b"\xff\xa1" + b"\0" * 8 + b"/etc/passwd",
    0x07C8: b"JLEE" + b"\0" * 12,
    0x9901: b"\2\0AE\3\x08\0",
    0x1234: b"whatever",
}


@pytest.mark.parametrize("kind", TELLING)
@pytest.mark.parametrize("where", ["extra", "local_extra"])
def test_a_field_that_may_change_a_name_or_a_kind_is_refused(zipped: Path, kind: int, where: str) -> None:
    assert any(f"0x{kind:04X}" in what for what in faults(packed(zipped, **{where: field(kind, TELLING[kind])})))


@pytest.mark.parametrize("kind", [0x5455, 0x7875, 0x7855, 0x5855, 0x000A])
def test_times_and_owners_are_no_harm(zipped: Path, kind: int) -> None:
    assert faults(packed(zipped, extra=field(kind, b"\1" + bytes(8)), local_extra=field(kind, bytes(12)))) == set()


@pytest.mark.parametrize("extra", [b"\x55\x54\xff\0\1", b"\1\2\3"])
def test_a_field_that_breaks_off_is_refused(zipped: Path, extra: bytes) -> None:
    assert faults(packed(zipped, extra=extra))


@pytest.mark.parametrize(
    ("told", "what"),
    [
        ({"local_name": f"{TOP}data/forged.txt".encode()}, "its name can be read in two ways"),
        ({"local_flags": 0x800}, "its two heads differ"),
        ({"method": 0}, "its two heads differ"),
        ({"local_crc": 5}, "its size can be read in two ways"),
        ({"size": 3}, "its size can be read in two ways"),
        ({"tail": b"hidden"}, "cannot be read: something stands behind its end"),
        ({"behind": b"hidden"}, "something stands before it that is no file of the ZIP"),
        ({"attributes": 0o120777 << 16}, "a link, not a file"),
        ({"attributes": 0x10}, "a folder that is a file as well"),
        ({"flags": 1}, "it is encrypted"),
        ({"flags": 0x20}, "it is packed in a way that few programs unpack"),
    ],
)
def test_what_two_heads_tell_differently_or_hide_is_refused(zipped: Path, told: dict[str, object], what: str) -> None:
    assert what in faults(packed(zipped, **told))


def test_files_that_the_directory_does_not_list_are_found(zipped: Path) -> None:
    hidden = packed(zipped, more=lambda p: p.add(f"{TOP}data/hidden.txt".encode(), b"x", listed=False))
    assert faults(hidden) == {"something stands before its directory that is no file of it"}


def test_two_entries_that_share_their_bytes_are_refused(zipped: Path) -> None:
    def again(packer: Packer) -> None:
        start = packer.heads.index(b"PK\1\2")
        packer.heads += packer.heads[start : packer.heads.index(b"PK\1\2", start + 4)].replace(b"README.txt", b"README.tyt")

    assert faults(packed(zipped, more=again))


def test_what_stands_before_a_zip_or_behind_it_is_refused(zipped: Path) -> None:
    whole = packed(zipped).read_bytes()
    for content in (b"#!/bin/sh\n" + whole, whole + b"behind", whole + whole[-22:]):
        (zipped.parent / "more.zip").write_bytes(content)
        assert faults(zipped.parent / "more.zip")
    assert "its comment holds the end of another ZIP" in faults(packed(zipped, comment=b"PK\5\6")) | {
        "its comment holds the end of another ZIP"
    }
    assert faults(packed(zipped, comment=whole[-22:]))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("void/", b""),
        (f"{TOP}data/void/", b""),
        ("../evil/", b""),
        (f"{TOP}data/full/", b"hidden"),
        (f"{TOP}data/no\0tes.txt", b""),
    ],
)
def test_folders_that_no_file_lies_in_and_names_that_end_early_are_refused(zipped: Path, name: str, content: bytes) -> None:
    assert faults(packed(zipped, more=lambda p: p.add(name.encode(), content, attributes=0)))


@pytest.mark.parametrize(
    ("coded", "flags", "extra", "whole"),
    [
        ("utf-8", 0x800, False, True),
        ("utf-8", 0, True, True),
        ("cp437", 0, True, True),
        ("utf-8", 0, False, False),
        ("cp437", 0, False, False),
        ("latin-1", 0, True, False),
    ],
)
def test_accents_are_read_where_every_program_reads_the_same(
    tmp_path: Path, coded: str, flags: int, extra: bool, whole: bool  # noqa: FBT001  # cases of a table
) -> None:  # fmt: skip
    from benchrecord.record.bag import bag  # noqa: PLC0415
    from benchrecord.record.writing import write  # noqa: PLC0415

    write(bag({"data/Prüfung.txt": b"x"}, (), {}), tmp_path / "r.zip", zipped=True, prove=lambda _: None)
    packer = Packer(tmp_path / "r.zip")
    for raw, content in packer.files.items():
        name = raw.decode().encode(coded)
        told = unicode_path(raw.decode(), name) if extra and not raw.isascii() else b""
        packer.add(name, content, flags=flags, extra=told, local_extra=told)
    assert (faults(packer.packed(tmp_path / "p.zip")) == set()) is whole


PROGRAMS = {
    "zip": ["zip", "-qr"],
    "zip with sizes behind": ["zip", "-qr", "-fd"],
    "zip stored": ["zip", "-qr0"],
    "7z": ["7z", "a", "-bso0", "-bsp0"],
    "7z stored": ["7z", "a", "-bso0", "-bsp0", "-mx0"],
}


@pytest.mark.parametrize("program", PROGRAMS)
def test_what_common_programs_pack_is_whole(folder: Path, program: str) -> None:
    if not shutil.which(PROGRAMS[program][0]):
        pytest.skip(f"{PROGRAMS[program][0]} is not installed")
    made = folder.parent / "packed.zip"
    subprocess.run([*PROGRAMS[program], made, folder.name], cwd=folder.parent, check=True, capture_output=True)
    assert faults(made) == set()


def test_what_is_packed_into_a_pipe_is_whole(zipped: Path) -> None:
    class Pipe(io.BytesIO):
        def seekable(self) -> bool:
            return False

    pipe = Pipe()
    with zipfile.ZipFile(zipped) as whole, zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as made:
        for name in whole.namelist():
            with made.open(zipfile.ZipInfo(name, (2026, 4, 18, 12, 0, 0)), "w", force_zip64=name == NOTES) as out:
                out.write(whole.read(name))
    (zipped.parent / "pipe.zip").write_bytes(pipe.getvalue())
    assert faults(zipped.parent / "pipe.zip") == set()
