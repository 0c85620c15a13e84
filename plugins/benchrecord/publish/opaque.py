"""What in a file cannot be searched: locked or encrypted, or packed in a way that the search does not unpack.

Sources: each format's own specification for how its files begin; MS-CFB section 2.6 (directory of older office files), MS-DOC section 2.5.2
(FibBase), MS-XLS section 2.4.117 (FilePass), MS-OFFCRYPTO section 2.3 (streams of encrypted files); OpenDocument 1.3 part 2, section 3.4.
"""

from __future__ import annotations

import base64
import gzip
import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator

from benchrecord.publish.guarding.containers import DATA_ADDRESS, DEEPEST, LARGEST, ONE_PDF_AT_A_TIME, ZIP_END, pdf_streams
from benchrecord.record.zip_layout import read_directory

# How files begin that nothing here unpacks; those of six bytes or more are found wherever they stand in another file.
ANYWHERE = {
    b"7z\xbc\xaf\x27\x1c": "a 7z archive", b"Rar!\x1a\x07": "a RAR archive", b"\xfd7zXZ\0": "xz data", b"MSCF\0\0\0\0": "a cabinet",
    b"-----BEGIN PGP MESSAGE": "an encrypted message", b"-----BEGIN AGE ENCRYPTED": "encrypted data", b"age-encryption.org/": "encrypted data",
}  # fmt: skip
AT_THE_START = {
    b"\x28\xb5\x2f\xfd": "zstd data", b"\x04\x22\x4d\x18": "lz4 data", b"]\0\0": "lzma data", b"LZIP": "lzip data", b"BZh": "bzip2 data",
    b"\x1f\x9d": "compressed data", b"\x1f\xa0": "compressed data", b"\x60\xea": "an ARJ archive", b"Salted__": "encrypted data",
    b"\x03\xd9\xa2\x9a": "a password store", b"LUKS\xba\xbe": "an encrypted disk", b"$ANSIBLE_VAULT": "encrypted data",
    b"AT&TFORM": "a DjVu file", b"PAR1": "a Parquet file",
}  # fmt: skip
LHA = re.compile(rb"..-l[hz][\ds]-", re.DOTALL)
BZIP2 = re.compile(rb"BZh[1-9]1AY&SY")
OLDER_OFFICE, ZIPPED, GZIPPED, A_PDF = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"PK\x03\x04", b"\x1f\x8b\x08", b"%PDF-"
# Pictures, sounds and films: what is only seen or heard in them is nobody's to search.
MEDIA = re.compile(
    rb"\xff\xd8\xff|\x89PNG|GIF8|BM|II\*\0|MM\0\*|RIFF|RF64|FORM....AIF|fLaC|OggS|ID3|\xff[\xe2-\xfb]|\x1aE\xdf\xa3|....ftyp",
    re.DOTALL,
)
ENCRYPTED_STREAMS = ("EncryptedPackage", "EncryptionInfo", "EncryptedSummary", "DRMEncryptedDataSpace", "DRMContent")
SECTOR, FIB_FLAGS, ENCRYPTED_OR_OBFUSCATED = 512, 0x0A, 0x8100
FILE_PASS, END_OF_RECORDS = 0x2F, 0x0A
CODED = re.compile(rb"(?<![A-Za-z0-9+/])(?:(?:[A-Za-z0-9+/]{40,100}\r?\n){4,}[A-Za-z0-9+/]*|[A-Za-z0-9+/]{400,})")
CODED_OTHERWISE = re.compile(
    rb"^begin [0-7]{3,4} [^\r\n]+\r?\nM|^=ybegin |/(?:ASCII85|Flate|LZW)Decode\b|\\objdata\b", re.MULTILINE
)
NO_TEXT = re.compile(rb"[\0-\x08\x0e-\x1a\x1c-\x1f\x7f]")  # form feed and escape stand in some
SNAPPY = ".iwa"
WINDOW, SMALLEST, LEAST_SHRUNK, ABOUT_HALF = 1 << 14, 64, 0.99, (0.3, 0.7)
PASSWORD_WANTED = 4  # as PDFium says it

LOCKED, UNKNOWN, ATTACHED, WITHIN = (
    "locked with a password",
    "packed or encrypted in an unknown way",
    "a file attached as text",
    "a packed file within another",
)


def opaque(data: bytes, depth: int = 0) -> str:
    """Say what of a file cannot be searched, in a few words; empty where all of it can."""
    if depth > DEEPEST:
        return "archives in one another, too many"
    known = next((what for start, what in AT_THE_START.items() if data.startswith(start)), "")
    anywhere = next((what for mark, what in ANYWHERE.items() if mark in data), "")
    if known or anywhere or LHA.match(data) or BZIP2.search(data):
        return known or anywhere or ("bzip2 data" if BZIP2.search(data) else "an LHA archive")
    containers = [look for is_so, look in CONTAINERS if is_so(data)]
    if containers:
        return next((what for look in containers if (what := look(data, depth))), "")
    if _is_text(data):
        return _text(data, depth)
    return _media(data) if MEDIA.match(data) else _unknown(data)


def _is_zip(data: bytes) -> bool:
    return data.startswith((ZIPPED, ZIP_END))


def _is_gzip(data: bytes) -> bool:
    return data.startswith(GZIPPED[:2])


def _is_pdf(data: bytes) -> bool:
    return A_PDF in data[:1024]


def _is_older_office(data: bytes) -> bool:
    return data.startswith(OLDER_OFFICE)


def _is_text(data: bytes) -> bool:
    return data.startswith((b"\xff\xfe", b"\xfe\xff")) or not NO_TEXT.search(data)


def _zip(data: bytes, depth: int) -> str:
    left = LARGEST
    try:
        read_directory(lambda start, size: data[start : start + size], len(data))  # of one archive, and nothing before it
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in archive.infolist():
                left -= member.file_size
                if member.flag_bits & 1:
                    return LOCKED
                if left < 0 or member.filename.endswith(SNAPPY):
                    return UNKNOWN
                content = archive.read(member)
                if member.filename == "META-INF/manifest.xml" and b"encryption-data" in content:
                    return LOCKED
                if what := opaque(content, depth + 1):
                    return what
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError, EOFError, ValueError, struct.error, zlib.error):
        return "a damaged archive, or one packed in an unknown way"
    return ""


def _gzip(data: bytes, depth: int) -> str:
    try:
        with gzip.open(io.BytesIO(data)) as file:
            content = file.read(LARGEST + 1)
    except (OSError, EOFError, zlib.error):
        return "damaged gzip data"
    return UNKNOWN if len(content) > LARGEST else opaque(content, depth + 1)


def _pdf(data: bytes, depth: int) -> str:
    """Look at what a PDF has attached, and at its streams for what has no place in one."""
    import pypdfium2  # noqa: PLC0415  # only where there is one

    try:
        with ONE_PDF_AT_A_TIME, pypdfium2.PdfDocument(data) as document:
            attached = [bytes(document.get_attachment(n).get_data()) for n in range(document.count_attachments())]
    except pypdfium2.PdfiumError as error:
        return LOCKED if error.err_code == PASSWORD_WANTED else "a damaged PDF"
    streams = (_inflated(packed) for _, packed in pdf_streams(data))
    inside = (what for stream in streams for mark, what in ANYWHERE.items() if mark in stream)
    return next((what for file in attached if (what := opaque(file, depth + 1))), "") or next(inside, "")


def _inflated(data: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(data, LARGEST)
    except zlib.error:
        return b""


def _older_office(data: bytes, _: int) -> str:
    """Look into an older office file: a locked one says so in a stream, or where its words or its cells begin."""
    if any(name.encode("utf-16-le") in data for name in ENCRYPTED_STREAMS):
        return LOCKED
    (flags,) = struct.unpack("<H", _stream(data, "WordDocument")[FIB_FLAGS : FIB_FLAGS + 2].ljust(2, b"\0"))
    cells = _stream(data, "Workbook") or _stream(data, "Book")
    if flags & ENCRYPTED_OR_OBFUSCATED or FILE_PASS in _records(cells):
        return LOCKED
    return WITHIN if ZIPPED in data or A_PDF in data else ""


def _stream(data: bytes, name: str) -> bytes:
    """Return the first sector of a stream, by its entry in the directory: its name, 64 bytes long, and behind it where it begins."""
    at = data.find(name.encode("utf-16-le").ljust(64, b"\0"))
    if at < 0 or len(data) < at + 128:
        return b""
    start = (int(struct.unpack_from("<L", data, at + 116)[0]) + 1) * SECTOR
    return data[start : start + SECTOR]


def _records(cells: bytes) -> Iterator[int]:
    at = 0
    while at + 4 <= len(cells):
        kind, size = struct.unpack_from("<HH", cells, at)
        if kind == END_OF_RECORDS:
            return
        yield kind
        at += 4 + size


def _text(data: bytes, depth: int) -> str:
    """Look at what a text holds coded: data addresses are unpacked by the search, attachments of mail and their like are not."""
    if CODED_OTHERWISE.search(data):
        return ATTACHED
    for match in DATA_ADDRESS.finditer(data):
        if what := opaque(_decoded(match[1]), depth + 1):
            return what
    runs = (m[0] for m in CODED.finditer(DATA_ADDRESS.sub(b"", data)))
    return ATTACHED if any(run.upper() != run != run.lower() for run in runs) else ""


def _decoded(code: bytes) -> bytes:
    plain = re.sub(
        rb"[^A-Za-z0-9+/]", b"", code.replace(b"%2B", b"+").replace(b"%2F", b"/").translate(bytes.maketrans(b"-_", b"+/"))
    )
    return base64.b64decode(plain[: len(plain) // 4 * 4])


def _media(data: bytes) -> str:
    """Look at whether an archive hangs behind a picture, a sound or a film."""
    return WITHIN if ZIPPED in data and ZIP_END in data[-65600:] else ""


def _unknown(data: bytes) -> str:
    """Look at bytes of no known form: what is packed or encrypted is as good as random, and nothing shrinks it."""
    if ZIPPED in data or A_PDF in data:
        return WITHIN
    return UNKNOWN if any(map(_is_random, _windows(data))) else ""


def _windows(data: bytes) -> Iterator[bytes]:
    for at in range(0, len(data), WINDOW):
        yield data[max(0, min(at, len(data) - WINDOW)) : at + WINDOW]


def _is_random(window: bytes) -> bool:
    if len(window) < SMALLEST or len(zlib.compress(window, 1)) < LEAST_SHRUNK * len(window):
        return False
    high = sum(byte > 0x7F for byte in window) / len(window)  # noqa: PLR2004  # the upper half of all bytes
    return ABOUT_HALF[0] < high < ABOUT_HALF[1]


Look = Callable[[bytes, int], str]
CONTAINERS: tuple[tuple[Callable[[bytes], bool], Look], ...] = (
    (_is_zip, _zip),
    (_is_gzip, _gzip),
    (_is_pdf, _pdf),
    (_is_older_office, _older_office),
)
