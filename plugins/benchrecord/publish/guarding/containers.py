"""What stands inside of files: members of archives, streams of PDF, packed texts of pictures, data addresses."""

from __future__ import annotations

import base64
import binascii
import gzip
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from threading import Lock

from benchrecord.intake.picture_tags import told_by
from benchrecord.intake.sound_file import tags_of
from benchrecord.publish.guarding.patterns import WHETHER, Patterns, as_it_is

DEEPEST, LARGEST = 5, 400_000_000  # of what is packed in one another; bytes of all that a file unpacks to
DATA_ADDRESS = re.compile(rb"data:[a-z]+/[\w.+-]+(?:;[\w=.-]+)*;base64,((?:[A-Za-z0-9+/_-]|%2[BbFf]|\s){16,}(?:=|%3[Dd]){0,2})")
ZIP_END = b"PK\x05\x06"
HELD = Patterns([(as_it_is(ZIP_END), "ZIP"), (rb"%PDF-", "PDF"), (rb";base64,", "data address")], told=WHETHER)
STREAM, STREAM_END = re.compile(rb"stream\r?\n"), b"endstream"
ONE_PDF_AT_A_TIME = Lock()  # PDFium holds one state for all threads
NO_LOCK, HYPHEN_AT_LINE_END = -1, "\ufffe"  # as PDFium says it
PACKED_CHUNKS = (b"zTXt", b"iCCP", b"iTXt")  # of PNG
PICTURE = re.compile(rb"\xff\xd8\xff|\x89PNG|RIFF....WEBP|II\*\0|MM\0\*|....ftyp", re.DOTALL)
SOUND = re.compile(rb"RIFF....WAVE|RF64|riff|fLaC|OggS|FORM....AIF|ID3|\xff[\xe2-\xff]", re.DOTALL)


class UnreadableError(ValueError):
    """A file that cannot be searched through."""


def inside(name: str, data: bytes, depth: int = 0) -> Iterator[tuple[str, bytes]]:
    """Yield everything that a file holds packed, by its name within it, and what that holds in turn.

    Raises
    ------
    UnreadableError
        Where it is locked, damaged, or larger or deeper than anything that belongs in a site.
    """
    left = LARGEST
    for inner, content in _members(data):
        left -= len(content)
        if left < 0 or depth >= DEEPEST:
            raise UnreadableError(f"{name}: more is packed in it than can be searched through")
        yield f"{name}!{inner}", content
        yield from inside(f"{name}!{inner}", content, depth + 1)


def _members(data: bytes) -> Iterator[tuple[str, bytes]]:
    held = HELD.there(data)
    if data.startswith(b"PK\x03\x04") or ("ZIP" in held and ZIP_END in data[-65600:]):
        yield from _zip(data)
    elif data.startswith(b"\x1f\x8b"):
        yield "unpacked", _gunzip(data)
    elif "PDF" in held and b"%PDF-" in data[:1024]:
        yield from _pdf(data)
    elif data.startswith(b"\x89PNG\r\n\x1a\n"):
        yield from _png(data)
    yield from ((what, text.encode("utf-8", "ignore")) for what, text in _tags(data) if text)
    if "data address" in held:
        yield from _data_addresses(data)


def _zip(data: bytes) -> Iterator[tuple[str, bytes]]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in archive.infolist():
                if member.file_size > LARGEST:
                    raise UnreadableError("a member that is too large")
                yield member.filename, archive.read(member)
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, zlib.error, EOFError) as error:
        raise UnreadableError("an archive that is locked or damaged") from error


def _gunzip(data: bytes) -> bytes:
    try:
        with gzip.open(io.BytesIO(data)) as file:
            return file.read(LARGEST)
    except (OSError, EOFError, zlib.error) as error:
        raise UnreadableError("packed data that is damaged") from error


def _pdf(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield each stream unpacked, and what a reader is shown: words, which may be coded by the fonts, facts and attached files."""
    yield from ((f"stream at {at}", unpacked) for at, packed in pdf_streams(data) if (unpacked := _inflated(packed)))
    yield from _shown(data)


def pdf_streams(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield where each stream of a PDF begins, and its bytes; the end of the last one is searched for once only."""
    end = 0
    while (begin := STREAM.search(data, end)) and (close := data.find(STREAM_END, begin.end())) >= 0:
        yield begin.start(), data[begin.end() : close].removesuffix(b"\n").removesuffix(b"\r")
        end = close + len(STREAM_END)


def _shown(data: bytes) -> list[tuple[str, bytes]]:
    import pypdfium2  # noqa: PLC0415  # only where there is one
    from pypdfium2.raw import FPDF_REMOVE_SECURITY, FPDF_GetSecurityHandlerRevision  # noqa: PLC0415

    try:
        with ONE_PDF_AT_A_TIME, pypdfium2.PdfDocument(data) as document:
            if FPDF_GetSecurityHandlerRevision(document) != NO_LOCK:
                # it opens without a password, and yet its words are locked
                document.save(unlocked := io.BytesIO(), flags=FPDF_REMOVE_SECURITY)
                return [("unlocked", unlocked.getvalue())]
            facts = "\n".join(document.get_metadata_dict().values())
            words = {f"page {n}": page.get_textpage().get_text_range() for n, page in enumerate(document, 1)}
            attached = [document.get_attachment(n) for n in range(document.count_attachments())]
            return [
                *((what, text.replace(HYPHEN_AT_LINE_END, "-").encode("utf-8", "ignore")) for what, text in {"facts": facts, **words}.items()),
                *((f"attached {file.get_name()}", bytes(file.get_data())) for file in attached),
            ]  # fmt: skip
    except pypdfium2.PdfiumError as error:
        raise UnreadableError("a PDF that is locked or damaged") from error


def _tags(data: bytes) -> Iterator[tuple[str, str]]:
    """Yield what a picture or a sound tells beside: among its bytes a short word would be as good as one that chance spells."""
    if PICTURE.match(data):
        yield "tags", "\n".join(told_by(data).texts)
    elif SOUND.match(data):
        yield "tags", "\n".join(tags_of(io.BytesIO(data)))


def _png(data: bytes) -> Iterator[tuple[str, bytes]]:
    at = 8
    while at + 8 <= len(data):
        (size,), kind = struct.unpack(">I", data[at : at + 4]), data[at + 4 : at + 8]
        if kind in PACKED_CHUNKS:
            chunk = data[at + 8 : at + 8 + size]
            starts = [m.end() for m in re.finditer(rb"\0", chunk)]
            yield from ((kind.decode(), s) for start in starts if (s := _inflated(chunk[start:])))
        at += 12 + size


def _inflated(data: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(data, LARGEST)
    except zlib.error:
        return b""


def _data_addresses(data: bytes) -> Iterator[tuple[str, bytes]]:
    for match in DATA_ADDRESS.finditer(data):
        code = (
            re.sub(rb"\s", b"", match[1])
            .replace(b"%2B", b"+")
            .replace(b"%2b", b"+")
            .replace(b"%2F", b"/")
            .replace(b"%2f", b"/")
        )
        code = code.split(b"=")[0].split(b"%3")[0].translate(bytes.maketrans(b"-_", b"+/"))
        try:
            yield f"data at {match.start()}", base64.b64decode(code + b"=" * (-len(code) % 4))
        except binascii.Error:
            continue
