"""What makes a ZIP of another program unfit for a record: names, sizes or files that two programs may read differently.

Source: PKWARE APPNOTE 6.3.10, sections 4.4 and 4.5 (fields, and which of them tell names, sizes, links), 4.6.9 (Info-ZIP Unicode Path).
"""

from __future__ import annotations

import stat
import struct
from collections.abc import Iterable, Iterator

from benchrecord.record.paths import fault_of
from benchrecord.record.zip_layout import (
    DEFLATED,
    DESCRIBED_BEHIND,
    DESCRIPTOR,
    ENCRYPTED,
    END,
    FULL,
    IN_UTF_8,
    STORED,
    UNICODE_PATH,
    ZIP64,
    Directory,
    Entry,
    Read,
    fields,
    read_local,
)

UNICODE_COMMENT, NTFS_TIMES, NT_RIGHTS, TIMES, OLD_TIMES, OLD_OWNER, OWNER, JAVA, ALIGNED = (
    0x6375, 0x000A, 0x4453, 0x5455, 0x5855, 0x7855, 0x7875, 0xCAFE, 0xD935,
)  # fmt: skip
# Extra fields that change neither name nor content nor kind of a file: times, owners and rights. All others may.
HARMLESS = {ZIP64, UNICODE_PATH, UNICODE_COMMENT, NTFS_TIMES, NT_RIGHTS, TIMES, OLD_TIMES, OLD_OWNER, OWNER, JAVA, ALIGNED}
STRONGLY_ENCRYPTED, PATCH, MASKED = 0x40, 0x20, 0x2000  # flags
MEANS = ENCRYPTED | STRONGLY_ENCRYPTED | PATCH | MASKED | IN_UTF_8  # flags that both heads must share
DOS_FOLDER = 0x10  # an attribute
TWO_WAYS = "its name can be read in two ways"
Doubt = tuple[Entry | None, str]  # of which entry, or of the ZIP, and what it is


def name_of(entry: Entry) -> str:
    """Return the name of an entry: in UTF-8 where it says so, or else by its Unicode Path, or else in code page 437 (appendix D)."""
    if entry.flags & IN_UTF_8:
        return entry.name.decode("utf-8", "surrogateescape")
    path = "" if entry.name.isascii() else _unicode_path(entry.extra)
    return path or entry.name.decode("cp437")


def is_folder(entry: Entry) -> bool:
    """Say whether an entry is a folder, by its name, and nothing more."""
    return entry.name.endswith(b"/") and not entry.size


def empty_folders(entries: Iterable[Entry]) -> Iterator[Entry]:
    """Yield the folders that no file lies in."""
    names = {e: name_of(e) for e in entries}
    used = {above for e, name in names.items() if not is_folder(e) for above in _folders_of(name)}
    yield from (e for e, name in names.items() if is_folder(e) and name not in used)


def _folders_of(name: str) -> Iterator[str]:
    yield from (name[: at + 1] for at, sign in enumerate(name) if sign == "/")


def wrong_with(entry: Entry) -> Iterator[str]:
    """Yield what is wrong with an entry by itself."""
    name, mode, folder = name_of(entry), entry.attributes >> 16, is_folder(entry)
    path = fault_of(name.removesuffix("/") if folder else name)
    wrong = (
        (path, path),
        (not _is_one_name(entry) or min(name, default="") < " ", TWO_WAYS),
        (stat.S_IFMT(mode) not in (0, stat.S_IFDIR if folder else stat.S_IFREG), "a link, not a file"),
        (entry.attributes & DOS_FOLDER and not folder, "a folder that is a file as well"),
        (entry.flags & (ENCRYPTED | STRONGLY_ENCRYPTED | MASKED), "it is encrypted"),
        (entry.method not in (STORED, DEFLATED) or entry.flags & PATCH, "it is packed in a way that few programs unpack"),
        (entry.method == STORED and entry.size != entry.packed, "its size can be read in two ways"),
    )
    yield from (what for is_so, what in wrong if is_so)


def _is_one_name(entry: Entry) -> bool:
    """Say whether every program reads the same name: one beyond ASCII says how it is coded, and a Unicode Path says no other."""
    paths = [_unicode_path(entry.extra)] if UNICODE_PATH in {kind for kind, _ in _fields(entry)} else []
    if entry.name.isascii() or entry.flags & IN_UTF_8:
        return all(t.encode("utf-8", "surrogateescape") == entry.name for t in paths)
    return bool(paths) and paths[0] in (entry.name.decode("cp437"), entry.name.decode("utf-8", "replace"))


def _unicode_path(extra: bytes) -> str:
    """Return the name that an Info-ZIP Unicode Path gives, behind its version and a check; empty where there is none."""
    try:
        found = next((content for kind, content in fields(extra) if kind == UNICODE_PATH), b"")
    except ValueError:
        return ""
    return found[5:].decode("utf-8", "surrogateescape")


def _fields(entry: Entry) -> list[tuple[int, bytes]]:
    try:
        return fields(entry.extra)
    except ValueError:
        return [(-1, b"")]  # of no kind that is known


def what_is_ambiguous(directory: Directory, read: Read) -> Iterator[Doubt]:
    """Yield what the heads of files tell otherwise than the directory, and what stands where no file is."""
    if END in directory.comment:
        yield None, "its comment holds the end of another ZIP"
    at = 0
    for entry in sorted(directory.entries, key=lambda e: e.start):
        try:
            local, start = read_local(read, entry.start)
            unlike = list(_unlike(entry, local))
        except (ValueError, struct.error) as error:
            yield entry, str(error) if isinstance(error, ValueError) else "no file stands where the directory says"
            return
        yield from ((entry, what) for what in unlike)
        if entry.start != at:
            yield entry, "something stands before it that is no file of the ZIP"
        behind = start + entry.packed
        at = behind + (_descriptor(entry, read(behind, 24)) if local.flags & DESCRIBED_BEHIND else 0)
    if at != directory.start:
        yield None, "something stands before its directory that is no file of it"


def _unlike(entry: Entry, local: Entry) -> Iterator[str]:
    """Yield what the two heads of a file tell differently, or tell that other programs may follow."""
    if local.name != entry.name or not _is_one_name(local):
        yield TWO_WAYS
    local_values, values = (local.crc, local.size, local.packed), (entry.crc, entry.size, entry.packed)
    later = local.flags & DESCRIBED_BEHIND and all(s in (0, k) for s, k in zip(local_values, values, strict=True))
    if (local.flags ^ entry.flags) & MEANS or local.method != entry.method:
        yield "its two heads differ"
    elif local_values != values and not later:
        yield "its size can be read in two ways"
    for kind in sorted({kind for kind, _ in (*_fields(entry), *_fields(local))} - HARMLESS):
        yield f"an extra field (0x{kind & FULL:04X}) that may give it another name or make it a link"


def _descriptor(entry: Entry, behind: bytes) -> int:
    """Return how many bytes tell sizes and check behind a file; none where nothing does (section 4.3.9)."""
    long = struct.pack("<L2Q", entry.crc, entry.packed, entry.size)
    short = struct.pack("<3L", entry.crc, entry.packed & FULL, entry.size & FULL)
    forms = (DESCRIPTOR + long, DESCRIPTOR + short, long, short)
    return next((len(form) for form in forms if behind.startswith(form)), 0)
