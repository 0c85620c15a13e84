"""Documents for the owner: what nobody can look into is refused with a remedy, everything else goes along."""

from __future__ import annotations

import base64
import bz2
import gzip
import io
import json
import lzma
import random
import shutil
import struct
import subprocess
import tarfile
import uuid
import zipfile
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from benchrecord.cli import main
from benchrecord.publish.hand_over import Refused, Wish, hand_over
from benchrecord.publish.opaque import opaque
from folders import contents, picture, sound
from pictures import FORMATS, corners, encoded
from small_jobs import SMALL_JOB, printed, write_job

LETTER = ("Dear owner, the supply was renewed and all rails were set. " * 40).encode()
OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def noise(size: int, seed: int = 1) -> bytes:
    return random.Random(seed).randbytes(size)  # noqa: S311  # what an encrypted file looks like


def zipped(files: Mapping[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    with zipfile.ZipFile(out := io.BytesIO(), "w", method) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def flagged(archive: bytes) -> bytes:
    """Say of each file in a ZIP that it is encrypted, in both heads."""
    made = bytearray(archive)
    for mark, at in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        start = -1
        while (start := archive.find(mark, start + 1)) >= 0:
            made[start + at] |= 1
    return bytes(made)


def locked_pdf(user: str, owner: str = "o") -> bytes:
    import pikepdf  # noqa: PLC0415

    pdf, out = pikepdf.new(), io.BytesIO()
    pdf.add_blank_page()
    pdf.save(out, encryption=pikepdf.Encryption(owner=owner, user=user))
    return out.getvalue()


def pdf_with(name: str, content: bytes) -> bytes:
    import pikepdf  # noqa: PLC0415

    pdf, out = pikepdf.new(), io.BytesIO()
    pdf.add_blank_page()
    pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, content, filename=name)
    pdf.save(out)
    return out.getvalue()


def older_office(streams: Mapping[str, bytes]) -> bytes:
    """Return a compound file (MS-CFB) of sectors of 512 bytes: its head, one sector of allocation, its directory, its streams."""
    sectors = [content.ljust(-(-len(content) // 512) * 512, b"\0") for content in streams.values()]
    entries, start = [("Root Entry", 5, 0xFFFFFFFE, 0)], 1 + -(-(len(streams) + 1) // 4)
    for (name, content), padded in zip(streams.items(), sectors, strict=True):
        entries.append((name, 2, start, len(content)))
        start += len(padded) // 512
    directory = b"".join(
        name.encode("utf-16-le").ljust(64, b"\0") + struct.pack("<HBB", 2 * len(name) + 2, kind, 1) + b"\xff" * 12 + uuid.UUID(int=0).bytes + bytes(20) + struct.pack("<LQ", at, size)
        for name, kind, at, size in entries
    )  # fmt: skip
    head = OLD + bytes(16) + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + bytes(10) + struct.pack("<LL", 1, 1)
    return (
        head.ljust(512, b"\xff") + b"\xff" * 512 + directory.ljust(-(-len(directory) // 512) * 512, b"\0") + b"".join(sectors)
    )


def words_of(*, flags: int) -> bytes:
    """Return what a document of an older word processor begins with (MS-DOC, FibBase), and words behind it."""
    return struct.pack("<HHHHHH", 0xA5EC, 0x00C1, 0, 0x0409, 0, flags) + bytes(500) + LETTER.decode().encode("utf-16-le")


def cells_of(*kinds: int) -> bytes:
    """Return the records that a table of an older spreadsheet begins with (MS-XLS)."""
    return b"".join(struct.pack("<HH", kind, 6) + bytes(6) for kind in (0x0809, *kinds, 0x0A)) + LETTER


OPEN_TEXT = '<manifest:manifest xmlns:manifest="x"><manifest:file-entry manifest:full-path="content.xml"/></manifest:manifest>'
LOCKED_TEXT = OPEN_TEXT.replace("/></", "><manifest:encryption-data/></manifest:file-entry></")
MAIL = b'Subject: as asked\nContent-Transfer-Encoding: base64\nContent-Disposition: attachment; filename="a.7z"\n\n'

CLOSED: dict[str, Callable[[], bytes]] = {
    "a.7z": lambda: b"7z\xbc\xaf\x27\x1c\0\4" + noise(400),
    "b.rar": lambda: b"Rar!\x1a\x07\1\0" + noise(400),
    "old.rar": lambda: b"Rar!\x1a\x07\0" + noise(400),
    "c.xz": lambda: lzma.compress(LETTER),
    "c.lzma": lambda: lzma.compress(LETTER, lzma.FORMAT_ALONE),
    "d.bz2": lambda: bz2.compress(LETTER),
    "e.zst": lambda: b"\x28\xb5\x2f\xfd" + noise(300),
    "f.lz4": lambda: b"\x04\x22\x4d\x18" + noise(300),
    "g.Z": lambda: b"\x1f\x9d\x90" + noise(300),
    "h.lzh": lambda: b"\x20\x30-lh5-" + noise(300),
    "i.arj": lambda: b"\x60\xea" + noise(300),
    "j.cab": lambda: b"MSCF\0\0\0\0" + noise(300),
    "locked.zip": lambda: flagged(zipped({"a.txt": LETTER})),
    "strange.zip": lambda: zipped({"a.txt": LETTER}).replace(b"\x08\0", b"\x5d\0"),
    "damaged.zip": lambda: zipped({"a.txt": LETTER})[:-40],
    "packed in a zip.zip": lambda: zipped({"a.xz": lzma.compress(LETTER)}),
    "zip in zip with a lock.zip": lambda: zipped({"b.zip": flagged(zipped({"a.txt": LETTER}))}, zipfile.ZIP_STORED),
    "deep.zip": lambda: _nested(9),
    "locked.odt": lambda: zipped({"META-INF/manifest.xml": LOCKED_TEXT.encode(), "content.xml": noise(300)}),
    "snappy.pages": lambda: zipped({"Index/Document.iwa": LETTER}),
    "locked.docx": lambda: older_office({"EncryptionInfo": noise(80), "EncryptedPackage": noise(4000)}),
    "rights.xlsx": lambda: older_office({"DRMEncryptedDataSpace": noise(80)}),
    "locked.doc": lambda: older_office({"WordDocument": words_of(flags=0x0100)}),
    "locked.xls": lambda: older_office({"Workbook": cells_of(0x2F)}),
    "older.xls": lambda: older_office({"Book": cells_of(0x42, 0x2F)}),
    "locked.ppt": lambda: older_office({"PowerPoint Document": noise(80), "EncryptedSummary": noise(80)}),
    "packed.doc": lambda: older_office({"WordDocument": words_of(flags=0), "Package": zipped({"a.txt": LETTER})}),
    "locked.pdf": lambda: locked_pdf("secret"),
    "damaged.pdf": lambda: b"%PDF-1.7\n" + noise(600),
    "with a 7z.pdf": lambda: pdf_with("a.7z", b"7z\xbc\xaf\x27\x1c\0\4" + noise(400)),
    "with a locked zip.pdf": lambda: pdf_with("a.zip", flagged(zipped({"a.txt": LETTER}))),
    "letter.txt.gpg": lambda: b"\x8c\x0d\x04\x09\x03\x02" + noise(500),
    "letter.asc": lambda: b"-----BEGIN PGP MESSAGE-----\n\n" + base64.encodebytes(noise(500)),
    "letter.age": lambda: b"age-encryption.org/v1\n-> X25519 " + noise(200),
    "letter.enc": lambda: b"Salted__" + noise(200),
    "keys.kdbx": lambda: b"\x03\xd9\xa2\x9a\x67\xfb\x4b\xb5" + noise(300),
    "unknown": lambda: noise(3000),
    "small and unknown": lambda: noise(80),
    "large and unknown": lambda: b"HEAD" * 20_000 + noise(70_000) + b"\0" * 40_000,
    "deflated": lambda: zlib.compress(noise(2000)),
    "letter.eml": lambda: MAIL + base64.encodebytes(b"7z\xbc\xaf\x27\x1c\0\4" + noise(900)),
    "letter.uue": lambda: b"begin 644 a.bin\nM" + b"A" * 60 + b"\n`\nend\n",
    "page.html": lambda: b'<img src="data:image/png;base64,' + base64.b64encode(b"7z\xbc\xaf\x27\x1c\0\4" + noise(90)) + b'">',
    "drawing.ps": lambda: b"%!PS-Adobe-3.0\ncurrentfile /ASCII85Decode filter /FlateDecode filter\n" + b"Gb!#" * 40,
    "tape.tar": lambda: _tar({"a.docx": zipped({"a.xml": LETTER})}),
    "tape.tgz": lambda: gzip.compress(_tar({"a.bin": noise(40_000)})),
    "damaged.gz": lambda: gzip.compress(LETTER)[:-20],
    "picture and more.jpg": lambda: picture() + b"Rar!\x1a\x07\1\0" + noise(400),
    "two archives.zip": lambda: zipped({"a.txt": LETTER}) + zipped({"b.txt": LETTER}),
    "picture and an archive.jpg": lambda: picture() + zipped({"a.txt": LETTER}),
    "scan.djvu": lambda: b"AT&TFORM\0\0\1\0DJVU" + noise(300),
}  # fmt: skip


def _nested(depth: int) -> bytes:
    content = LETTER
    for _ in range(depth):
        content = zipped({"a.zip": content}, zipfile.ZIP_STORED)
    return content


def _tar(files: Mapping[str, bytes]) -> bytes:
    with tarfile.open(fileobj=(out := io.BytesIO()), mode="w") as tape:
        for name, content in files.items():
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tape.addfile(info, io.BytesIO(content))
    return out.getvalue()


def coded(form: str, subtype: str | None = None) -> bytes:
    out, wave = io.BytesIO(), np.random.default_rng(1).normal(0, 0.2, 40_000)
    soundfile.write(out, wave, 44_100, format=form, subtype=subtype)
    return out.getvalue()


OPENED: dict[str, Callable[[], bytes]] = {
    "letter.txt": lambda: LETTER,
    "letter in latin-1.txt": lambda: "Schöne Grüße, µF und °C\n".encode("latin-1") * 50,
    "letter in utf-16.txt": lambda: LETTER.decode().encode("utf-16"),
    "empty.txt": lambda: b"",
    "table.csv": lambda: b"part,value\nR1,10k\n" * 200,
    "circuit.kicad_sch": lambda: b"(kicad_sch (version 20231120) (uuid 0f2b6c1e-9d1a-4b3c-8e7f-0a1b2c3d4e5f))\n" * 90,
    "firmware.hex": lambda: b":10010000214601360121470136007EFE09D2190140\r\n" * 300,
    "firmware.s19": lambda: b"S1137AF00A0A0D0000000000000000000000000061\n" * 300,
    "letter.pdf": lambda: printed("to the owner"),
    "opens without a password.pdf": lambda: locked_pdf(""),
    "with a table.pdf": lambda: pdf_with("a.csv", b"a,b\n1,2\n"),
    "letter.docx": lambda: zipped({"[Content_Types].xml": b"<Types/>", "word/document.xml": LETTER, "word/media/image1.jpeg": picture()}),
    "letter.odt": lambda: zipped({"mimetype": b"application/vnd.oasis.opendocument.text", "META-INF/manifest.xml": OPEN_TEXT.encode(), "content.xml": LETTER}),
    "all.zip": lambda: zipped({"a.txt": LETTER, "b.pdf": printed("x"), "c/d.zip": zipped({"e.csv": b"1,2\n"})}),
    "letter.doc": lambda: older_office({"WordDocument": words_of(flags=0)}),
    "table.xls": lambda: older_office({"Workbook": cells_of(0x42, 0x3D)}),
    "letter.txt.gz": lambda: gzip.compress(LETTER),
    "drawing.svg": lambda: b'<svg xmlns="http://www.w3.org/2000/svg"><image href="data:image/jpeg;base64,' + base64.b64encode(picture()) + b'"/></svg>',
    "patches.syx": lambda: b"\xf0\x43\x00\x09\x20\x00" + bytes(b & 0x7F for b in noise(4096)) + b"\xf7",
    "one patch.syx": lambda: b"\xf0\x43\x00" + bytes(b & 0x7F for b in noise(128)) + b"\xf7",
    "program.bin": lambda: bytes((n * 7 % 61) ^ (n >> 5 & 3) for n in range(32_768)),
    "samples.bin": lambda: np.clip(np.random.default_rng(1).normal(128, 30, 32_768), 0, 255).astype("u1").tobytes(),
    "hum.wav": sound,
    "loud.wav": lambda: coded("WAV"),
    "noise.flac": lambda: coded("FLAC"),
    "noise.ogg": lambda: coded("OGG"),
    "noise.mp3": lambda: coded("MP3"),
    "film.mp4": lambda: struct.pack(">L", 24) + b"ftypisom" + bytes(12) + b"\0\0\xff\0mdat" + noise(60_000),
    **{f"scan.{form.lower()}": (lambda form=form: encoded(corners(), form)) for form in (*FORMATS, "GIF", "BMP")},
}  # fmt: skip


@pytest.mark.parametrize("name", CLOSED)
def test_what_nobody_can_look_into_is_told(name: str) -> None:
    assert opaque(CLOSED[name]())


@pytest.mark.parametrize("name", OPENED)
def test_what_can_be_searched_goes_along(name: str) -> None:
    assert opaque(OPENED[name]()) == ""


@given(st.binary(min_size=64, max_size=64), st.integers(64, 60_000), st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_random_bytes_of_any_length_are_told(start: bytes, size: int, seed: int) -> None:
    from benchrecord.publish.opaque import MEDIA  # noqa: PLC0415

    data = noise(size, seed)
    assert opaque(data) or MEDIA.match(data)
    assert isinstance(opaque(start + data[:10]), str)  # whatever it begins with


@given(st.text(max_size=3000), st.sampled_from(["utf-8", "utf-16", "latin-1"]))
@settings(max_examples=60, deadline=None)
def test_any_text_that_is_one_can_be_searched(text: str, coding: str) -> None:
    printable = "".join(c for c in text if c.isprintable() or c in "\r\n\t")
    assert opaque(printable.encode(coding, "replace")) == "" or not printable.isascii()


@pytest.mark.parametrize("program", ["7z", "zstd", "xz", "bzip2", "gpg", "zip -P", "openssl"])
def test_what_real_programs_pack_or_lock_is_told(tmp_path: Path, program: str) -> None:
    if not shutil.which(program.split(maxsplit=1)[0]):
        pytest.skip(f"{program} is not installed")
    (tmp_path / "letter.txt").write_bytes(LETTER)
    commands = {
        "7z": "7z a -bso0 -bsp0 out letter.txt -t7z && mv out.7z out",
        "zstd": "zstd -q letter.txt -o out",
        "xz": "xz -c letter.txt > out",
        "bzip2": "bzip2 -c letter.txt > out",
        "gpg": "gpg --homedir . --batch --yes --pinentry-mode loopback --passphrase x -o out -c letter.txt",
        "zip -P": "zip -q -P x out.zip letter.txt && mv out.zip out",
        "openssl": "openssl enc -aes-256-cbc -pbkdf2 -k x -in letter.txt -out out",
    }
    subprocess.run(commands[program], shell=True, cwd=tmp_path, check=True, capture_output=True)  # noqa: S602  # words of this file
    assert opaque((tmp_path / "out").read_bytes())


def job_with(folder: Path, name: str, content: bytes, edition: str) -> Path:
    files = {k: v for k, v in SMALL_JOB.items() if not k.startswith("documents")}
    return write_job(
        folder,
        {**files, f"documents/{name}": content, "documents.csv": f"file,title,kind,edition\n{name},A thing,note,{edition}\n"},
    )


@pytest.mark.parametrize("name", ["a.7z", "locked.pdf", "locked.docx", "locked.zip", "unknown"])
def test_a_hand_over_is_refused_with_a_remedy_before_anything_is_written(tmp_path: Path, name: str) -> None:
    job = job_with(tmp_path / "small-job", name, CLOSED[name](), "owner")
    before = contents(job)
    with pytest.raises(Refused) as refused:
        hand_over(job, Wish(tmp_path / "stick", with_pdf=False))
    said = str(refused.value)
    assert "documents.csv\n  line 2, column file: error unsearchable-document" in said
    assert ("without a password" in said) is ("locked" in name)
    assert "clear its edition in documents.csv" in said
    assert not (tmp_path / "stick").exists()
    assert contents(job) == before


def test_checking_for_the_owner_tells_it_beforehand(tmp_path: Path) -> None:
    """One that stays at the bench may be anything."""
    for edition, told in (("owner", {"owner": 1, "portfolio": 0}), ("", {"owner": 0, "portfolio": 0})):
        job = job_with(tmp_path / "small-job", "a.7z", CLOSED["a.7z"](), edition)
        for reader, exit_code in told.items():
            done = CliRunner().invoke(main, ["check", str(job), "--json", "--edition", reader])
            assert ("unsearchable-document" in {p["code"] for p in json.loads(done.output)}) is bool(exit_code)
            assert done.exit_code == exit_code
