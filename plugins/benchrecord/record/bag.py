"""A bag after RFC 8493, version 1.0: files, a manifest of their SHA-512 digests, and tags that say what it is."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

DECLARED, INFO = "bagit.txt", "bag-info.txt"
MANIFEST, TAG_MANIFEST = "manifest-sha512.txt", "tagmanifest-sha512.txt"
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
PAYLOAD, AGENT = "data/", "Bag-Software-Agent"
LINE = re.compile(r"(?P<digest>[0-9A-Fa-f]{128})[ \t]+\*?(?P<path>[^\r\n]+)")
ESCAPED = {"%0A": "\n", "%0D": "\r", "%25": "%"}

Content = bytes | Path  # what is small, or the file that holds it
Info = tuple[tuple[str, str], ...]  # labels and what they say, in order


@dataclass(frozen=True, slots=True)
class Digest:
    """The SHA-512 of a file, in hexadecimal, and its size in bytes."""

    sha512: str
    size: int


def bag(payload: Mapping[str, Content], info: Info, tags: Mapping[str, bytes]) -> dict[str, Content]:
    """Return all files of a bag by their path, in order. Paths of ``payload`` and ``tags`` start at the bag's top."""
    payload = dict(sorted(payload.items()))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        digests = dict(zip(payload, pool.map(digest_of, payload.values()), strict=True))
    oxum = f"{sum(d.size for d in digests.values())}.{len(digests)}"
    described = {
        **tags,
        DECLARED: DECLARATION,
        INFO: info_text((*info, ("Payload-Oxum", oxum))).encode(),
        MANIFEST: manifest_text({path: d.sha512 for path, d in digests.items()}).encode(),
    }
    listed = {path: digest_of(content).sha512 for path, content in sorted(described.items())}
    return {**payload, **described, TAG_MANIFEST: manifest_text(listed).encode()}


def digest_of(content: Content) -> Digest:
    """Return the digest of a file's content."""
    if isinstance(content, bytes):
        return Digest(hashlib.sha512(content).hexdigest(), len(content))
    with content.open("rb") as file:
        return Digest(hashlib.file_digest(file, "sha512").hexdigest(), file.tell())


def manifest_text(digests: Mapping[str, str]) -> str:
    """Return a manifest: a digest and a path a line (section 2.1.3)."""
    return "".join(f"{digest}  {_escaped(path)}\n" for path, digest in digests.items())


def manifest_lines(text: str) -> Iterator[tuple[str, str] | str]:
    """Yield the path and digest of each line of a manifest, or the line itself where it is none."""
    for line in re.split(r"\r\n|\r|\n", text.removesuffix("\n")):
        match = LINE.fullmatch(line)
        yield (re.sub("%(?:0A|0D|25)", lambda m: ESCAPED[m[0]], match["path"]), match["digest"]) if match else line


def info_text(info: Iterable[tuple[str, str]]) -> str:
    """Return bag-info.txt: a label and what it says a line; what says nothing is left out (section 2.2.2)."""
    return "".join(f"{label}: {' '.join(said.split())}\n" for label, said in info if said.strip())


def info_of(text: str) -> dict[str, str]:
    """Return what bag-info.txt says, by label; a line that begins with a space goes on with the one before."""
    unfolded = re.sub(r"\r?\n[ \t]+", " ", text)
    pairs = (line.partition(":") for line in unfolded.splitlines() if ":" in line)
    return {label.strip(): said.strip() for label, _, said in pairs}


def _escaped(path: str) -> str:
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")
