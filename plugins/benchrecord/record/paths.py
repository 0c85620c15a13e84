"""Paths inside a record: which leave it or mean different places on different computers, and names that any stick can hold."""

from __future__ import annotations

import re
from collections.abc import Iterable

from benchrecord.model.file_names import DEVICE, folded, nfc

DRIVE = re.compile(r"[A-Za-z]:")
UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]")
NOT_ON_EVERY_STICK = re.compile(r'[<>:"|?*\\]')
LONGEST = 120  # characters of one name


def fault_of(path: str) -> str:
    """Say why a path may not stand in a manifest; empty where it may.

    Source: RFC 8493, sections 2.1.3 and 5.1 (paths that leave the bag, absolute paths, home folders, drive letters).
    """
    parts = path.split("/")
    if path.startswith(("/", "~")) or DRIVE.match(path):
        return "an absolute path: it leads out of the record"
    if ".." in parts:
        return "a path that leads out of the record"
    if "\\" in path:
        return "a backslash, which is a folder on some computers and a letter on others"
    return "not a plain path" if "" in parts or "." in parts else ""


def form_of(path: str) -> str:
    """Return a path with its accents written in one way: some sticks write them in another."""
    return nfc(path)


def place_of(path: str) -> str:
    """Return what two paths share that some computers take for one: capitals and the ways to write accents make no difference."""
    return folded(path)


def clashes(paths: Iterable[str]) -> list[str]:
    """Return the paths that some computers take for one that came before."""
    seen: set[str] = set()
    twice = []
    for path in paths:
        place = place_of(path)
        twice += [path] if place in seen else []
        seen.add(place)
    return twice


def portable(path: str, taken: Iterable[str] = ()) -> str:
    """Return a path as any stick can hold it, and unlike all that are taken already."""
    made = "/".join(_name(part) for part in form_of(path).split("/"))
    places = {place_of(t) for t in taken}
    stem, dot, ending = made.rpartition(".") if "." in made.rpartition("/")[2] else (made, "", "")
    number = 1
    while place_of(made) in places:
        number += 1
        made = f"{stem}-{number}{dot}{ending}"
    return made


def _name(part: str) -> str:
    part = NOT_ON_EVERY_STICK.sub("_", UNSEEN.sub("_", part)).strip(" ")
    part = DEVICE.sub(r"_\1", part).rstrip(".") or "_"
    stem, dot, ending = part.rpartition(".")
    return part if len(part) <= LONGEST else f"{stem[: LONGEST - len(ending) - 1]}{dot}{ending}"


def printable(path: str) -> str:
    """Return a path as it may be shown on a terminal."""
    shown = UNSEEN.sub(lambda m: f"\\u{ord(m[0]):04x}", path)
    return shown.encode("utf-8", "backslashreplace").decode()
