"""Holding a record against its own manifests: complete, unchanged, nothing extra. Each bad file is named."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from benchrecord.record.bag import AGENT, DECLARATION, DECLARED, INFO, MANIFEST, PAYLOAD, TAG_MANIFEST, info_of, manifest_lines
from benchrecord.record.paths import clashes, fault_of, form_of
from benchrecord.record.shelves import WHOLE, Fault, FolderShelf, Shelf
from benchrecord.record.zip_shelf import ZipShelf

SIGNATURE = f"{TAG_MANIFEST}.sig"
OTHER_VERSION = re.compile(rb"BagIt-Version: (?!1\.0)\d+\.\d+\r?\n[^\n]+\s*")
OTHER_SUMS = re.compile(r"manifest-(?!sha512)\w+\.txt")
NOT_IN_PAYLOAD, IN_PAYLOAD = "a path outside data/", "a path inside data/, which belongs in the other manifest"


@dataclass(frozen=True, slots=True)
class Verified:
    """What came of it: the faults, how much was read, what the record says of itself, and what its seal is over.

    ``sealed`` is the manifest that all hangs on, byte for byte; ``signature`` is what was signed of it, where it was.
    """

    faults: tuple[Fault, ...]
    files: int
    size: int
    info: Mapping[str, str]
    sealed: bytes = b""
    signature: bytes | None = None


def verify(path: Path) -> Verified:
    """Read a record, a folder or a ZIP, and hold every file against its digest; links are not followed and nothing is written."""
    try:
        shelf = _shelf(path)
    except OSError as error:
        return Verified((Fault(WHOLE, error.strerror or str(error)),), 0, 0, {})
    if said := _no_record(shelf):
        own = tuple(f for f in shelf.faults if f.file == WHOLE)
        return Verified(own or (Fault(WHOLE, said),), len(shelf.sizes), sum(shelf.sizes.values()), {})
    return verify_shelf(shelf)


def _shelf(path: Path) -> Shelf:
    if path.is_dir():
        return FolderShelf(path)
    if not path.is_file():
        raise OSError(0, "neither a folder nor a file")  # what a device gives may have no end
    return ZipShelf(path)


def _no_record(shelf: Shelf) -> str:
    """Say what a shelf holds in place of a record: nothing of one, one that lies deeper, or a bag of another kind."""
    own = (DECLARED, MANIFEST, TAG_MANIFEST)
    if not any(name in shelf.sizes for name in own):
        deeper = next((p.removesuffix(f"/{DECLARED}") for p in sorted(shelf.sizes) if p.endswith(f"/{DECLARED}")), "")
        return "not a record: it has no bagit.txt" + (f"; the folder {deeper} in it may be one" if deeper else "")
    made_by = info_of(_text(shelf, INFO, []).decode("utf-8", "replace")).get(AGENT, "")
    version = OTHER_VERSION.fullmatch(_text(shelf, DECLARED, []))
    other_sums = MANIFEST not in shelf.sizes and any(OTHER_SUMS.fullmatch(p) for p in shelf.sizes)
    if other_sums or (version and made_by and not made_by.startswith("benchrecord ")):
        by = f", made by {made_by}" if made_by else ""
        return f"not a record that was handed over here, but a bag of another kind{by}: check it with what made it"
    return ""


def verify_shelf(shelf: Shelf) -> Verified:
    """Hold all files of a shelf against its manifests."""
    faults = [*shelf.faults, *(Fault(p, "differs from another only in capitals or accents") for p in clashes(shelf.sizes))]
    tags = {name: _text(shelf, name, faults) for name in (DECLARED, INFO, MANIFEST, TAG_MANIFEST)}
    if tags[DECLARED] and tags[DECLARED] != DECLARATION:
        faults.append(Fault(DECLARED, "does not say that this is a bag of version 1.0 in UTF-8"))
    listed = {
        **_listed(TAG_MANIFEST, tags[TAG_MANIFEST], faults),
        **_listed(MANIFEST, tags[MANIFEST], faults),
    }
    found = {form_of(path): path for path in shelf.sizes}
    faults += [Fault(p, "missing") for p in listed if form_of(p) not in found]
    known = {form_of(p) for p in listed} | {TAG_MANIFEST, SIGNATURE}
    faults += [Fault(p, "not part of the record") for form, p in found.items() if form not in known]
    faults += _changed(shelf, {found[form_of(p)]: d for p, d in listed.items() if form_of(p) in found})
    info = info_of(tags[INFO].decode("utf-8", "replace"))
    faults += _miscounted(shelf, info)
    signature = _text(shelf, SIGNATURE, faults) if SIGNATURE in shelf.sizes else None
    return Verified(_once(faults), len(shelf.sizes), sum(shelf.sizes.values()), info, tags[TAG_MANIFEST], signature)


def _text(shelf: Shelf, name: str, faults: list[Fault]) -> bytes:
    if name not in shelf.sizes:
        faults.append(Fault(name, "missing"))
        return b""
    try:
        return shelf.read(name)
    except OSError as error:
        faults.append(Fault(name, f"cannot be read: {error.strerror or error}"))
        return b""


def _listed(name: str, content: bytes, faults: list[Fault]) -> dict[str, str]:
    """Return the digest of each path that a manifest may list; what it may not is a fault."""
    listed: dict[str, str] = {}
    for number, line in enumerate(manifest_lines(content.decode("utf-8", "surrogateescape")) if content else (), 1):
        if isinstance(line, str):
            faults.append(Fault(name, f"line {number} is not a digest and a path"))
            continue
        path, digest = line
        if wrong := _refusal(name, path, digest) or ("listed twice" if path in listed else ""):
            faults.append(Fault(path, f"{wrong} (line {number} of {name})"))
        else:
            listed[path] = digest.lower()
    faults += [Fault(p, f"listed twice, but for capitals or accents, in {name}") for p in clashes(listed)]
    return listed


def _refusal(manifest: str, path: str, digest: str) -> str:
    """Say why a line of a manifest is refused; a digest in capitals and small letters is one in which a bit was changed."""
    if fault := fault_of(path):
        return fault
    if digest not in (digest.lower(), digest.upper()):
        return "its digest was changed"
    if manifest == TAG_MANIFEST:
        return IN_PAYLOAD if path.startswith(PAYLOAD) else "" if path not in (TAG_MANIFEST, SIGNATURE) else "cannot be listed"
    return "" if path.startswith(PAYLOAD) else NOT_IN_PAYLOAD


def _changed(shelf: Shelf, wanted: Mapping[str, str]) -> Iterator[Fault]:
    def held(path: str) -> str:
        try:
            return "" if shelf.digest(path) == wanted[path] else "changed"
        except OSError as error:
            return f"cannot be read: {error.strerror or error}"

    largest_first = sorted(wanted, key=lambda p: (-shelf.sizes[p], p))  # so that no core waits for the last of them
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        yield from (Fault(p, what) for p, what in zip(largest_first, pool.map(held, largest_first), strict=True) if what)


def _miscounted(shelf: Shelf, info: Mapping[str, str]) -> list[Fault]:
    """Hold the number of files and bytes against what bag-info.txt says (RFC 8493, section 2.2.2)."""
    payload = [size for path, size in shelf.sizes.items() if path.startswith(PAYLOAD)]
    stated = info.get("Payload-Oxum", "")
    counted = f"{sum(payload)}.{len(payload)}"
    if stated in ("", counted):
        return []
    return [Fault(INFO, f"states {_octets_and_files(stated)} below {PAYLOAD}, where there are {_octets_and_files(counted)}")]


def _octets_and_files(oxum: str) -> str:
    """Word a Payload-Oxum, bytes and files with a point between them; one of another form as it is written."""
    match = re.fullmatch(r"([0-9]{1,18})\.([0-9]{1,12})", oxum)
    if not match:
        return f"Payload-Oxum {oxum}"
    size, count = int(match[1]), int(match[2])
    return f"{size:,} byte{'s' * (size != 1)} in {count:,} file{'s' * (count != 1)}"


def _once(faults: list[Fault]) -> tuple[Fault, ...]:
    return tuple(sorted(dict.fromkeys(faults), key=lambda f: (f.file, f.what)))
