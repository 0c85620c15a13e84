"""A colour profile with nothing but the numbers that colours need, rewritten.

Source: ICC.1:2022. A display's profile names its maker, model, serial number and when it was calibrated, in words, in private tags
and in the head. Tags, types and fields are kept by name, each as long as its own numbers are, so that nothing else is left, and
nothing hides between them.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from math import prod

HEAD, MOST_TAGS = 128, 100
VERSIONS, CLASSES, SPACES, CONNECTED = (2, 4), (b"scnr", b"mntr", b"prtr", b"spac"), (b"RGB ", b"GRAY", b"CMYK", b"Lab "), (b"XYZ ", b"Lab ")  # fmt: skip
D50 = struct.pack(">3i", 63190, 65536, 54061)  # the illuminant that all profiles count from, section 7.2.16
NO_DAY = struct.pack(">6H", 2000, 1, 1, 0, 0, 0)
TABLES = (b"A2B0", b"A2B1", b"A2B2", b"B2A0", b"B2A1", b"B2A2", b"gamt")
COLOURS = (b"rXYZ", b"gXYZ", b"bXYZ", b"wtpt", b"bkpt")
CURVES = (b"rTRC", b"gTRC", b"bTRC", b"kTRC")
PARAMETERS = (1, 3, 4, 5, 7)  # of a parametric curve, by the kind of its function, section 10.18
WORDS = {b"desc": "Colours of this picture", b"cprt": "Not stated"}  # every profile must have both, section 8.2


def plain_profile(profile: bytes) -> bytes:
    """Return a profile by which colours come out the same, and which holds nothing else; empty where it is none that can be read."""
    try:
        return _written(_head(profile), dict(_tags(profile)))
    except (struct.error, ValueError, IndexError):
        return b""


def _head(profile: bytes) -> bytes:
    """Return the head without maker, model, program and day (section 7.2), the size left open."""
    version, kind, space, connected = (profile[at : at + 4] for at in range(8, 24, 4))
    known = kind in CLASSES and space in SPACES and connected in CONNECTED and profile[36:40] == b"acsp"
    if not known or version[0] not in VERSIONS or len(profile) < HEAD:
        raise ValueError("no profile of a picture")
    intent = struct.pack(">I", struct.unpack_from(">I", profile, 64)[0] & 3)
    fields = version[:2] + bytes(2) + kind + space + connected + NO_DAY + b"acsp"
    return bytes(8) + fields + bytes(24) + intent + D50 + bytes(48)


def _tags(profile: bytes) -> Iterator[tuple[bytes, bytes]]:
    (count,) = struct.unpack_from(">I", profile, HEAD)
    for number in range(min(count, MOST_TAGS)):
        name, start, size = struct.unpack_from(">4sII", profile, HEAD + 4 + 12 * number)
        content = profile[start : start + size]
        if name in COLOURS:
            yield name, _numbers(content, b"XYZ ", 3)
        elif name == b"chad":
            yield name, _numbers(content, b"sf32", 9)
        elif name == b"cicp":
            yield name, _numbers(content, b"cicp", 1)
        elif name in CURVES:
            yield name, _curve(content, 0)
        elif name in TABLES:
            yield name, _table(content)


def _numbers(content: bytes, kind: bytes, count: int) -> bytes:
    """Return a type that is so many numbers of four bytes."""
    if content[:4] != kind:
        raise ValueError("a tag of another type")
    return kind + bytes(4) + _exactly(content, 8, 4 * count)


def _curve(content: bytes, at: int) -> bytes:
    """Return a curve: a table, one power, or a function with its parameters (sections 10.6 and 10.18)."""
    kind = content[at : at + 4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", content, at + 8)
        return kind + bytes(4) + _exactly(content, at + 8, 4 + 2 * count)
    if kind == b"para":
        (function,) = struct.unpack_from(">H", content, at + 8)
        return kind + bytes(4) + content[at + 8 : at + 10] + bytes(2) + _exactly(content, at + 12, 4 * PARAMETERS[function])
    raise ValueError("no curve")


def _table(content: bytes) -> bytes:
    """Return a table from one colour space to another (sections 10.10 to 10.13)."""
    kind, come, go, grid = content[:4], content[8], content[9], content[10]
    if kind in (b"mAB ", b"mBA "):
        return _elements(content, kind, come, go)
    deep, fixed = (1, 48) if kind == b"mft1" else (2, 52)
    if kind not in (b"mft1", b"mft2") or not 0 < come * go <= 15 * 15:
        raise ValueError("no table")
    before, behind = (256, 256) if deep == 1 else struct.unpack_from(">HH", content, 48)
    size = fixed + deep * (come * before + grid**come * go + go * behind)
    return kind + bytes(4) + bytes((come, go, grid, 0)) + _exactly(content, 12, size - 12)


def _elements(content: bytes, kind: bytes, come: int, go: int) -> bytes:
    """Return a table that is put together from curves, a matrix and a grid, one behind the other, with nothing between."""
    outer, inner = (come, go) if kind == b"mAB " else (go, come)  # how many curves there are on the far and on the near side
    places = struct.unpack_from(">5I", content, 12)
    lengths = (inner, 0, inner, 0, outer)
    made, starts = b"", []
    for number, (at, count) in enumerate(zip(places, lengths, strict=True)):
        starts.append(32 + len(made) if at else 0)
        if at and number == 1:
            made += _exactly(content, at, 48)
        elif at and number == 3:  # noqa: PLR2004  # the grid
            made += _grid(content, at, come, go)
        elif at:
            made += b"".join(_curves(content, at, count))
    return kind + bytes(4) + bytes((come, go, 0, 0)) + struct.pack(">5I", *starts) + made


def _curves(content: bytes, at: int, count: int) -> Iterator[bytes]:
    for _ in range(count):
        curve = _curve(content, at)
        padded = curve + bytes(-len(curve) % 4)
        at += len(padded)
        yield padded


def _grid(content: bytes, at: int, come: int, go: int) -> bytes:
    points, deep = content[at : at + come], content[at + 16]
    if not 0 < come <= 16 or deep not in (1, 2):  # noqa: PLR2004  # as many sides as a grid may have, and bytes of a value
        raise ValueError("no grid")
    values = _exactly(content, at + 20, prod(points) * go * deep)
    return points.ljust(16, b"\0") + bytes((deep, 0, 0, 0)) + values + bytes(-len(values) % 4)


def _exactly(content: bytes, at: int, size: int) -> bytes:
    if at < 0 or len(content) < at + size:
        raise ValueError("a tag that breaks off")
    return content[at : at + size]


def _written(head: bytes, tags: dict[bytes, bytes]) -> bytes:
    """Lay a profile out: head, table of tags, and their contents, each of these once."""
    if not (b"A2B0" in tags or b"kTRC" in tags or {b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC"} <= tags.keys()):
        raise ValueError("no colours")
    tags = {**{name: _words(text, head[8]) for name, text in WORDS.items()}, **tags}
    tags.setdefault(b"wtpt", b"XYZ " + bytes(4) + D50)
    start = HEAD + 4 + 12 * len(tags)
    table, body, known = struct.pack(">I", len(tags)), b"", dict[bytes, int]()
    for name, content in tags.items():
        if content not in known:
            known[content] = start + len(body)
            body += content + bytes(-len(content) % 4)
        table += struct.pack(">4sII", name, known[content], len(content))
    return struct.pack(">I", start + len(body)) + head[4:] + table + body


def _words(text: str, version: int) -> bytes:
    """Return a text as a profile of a version has it (sections 10.15 and 10.24; ICC.1:2001-04, section 6.5.17)."""
    if version >= 4:  # noqa: PLR2004  # one language, in UTF-16
        coded = text.encode("utf-16-be")
        return b"mluc" + bytes(4) + struct.pack(">2I4s2I", 1, 12, b"enUS", len(coded), 28) + coded
    if text == WORDS[b"cprt"]:
        return b"text" + bytes(4) + text.encode() + b"\0"
    return b"desc" + bytes(4) + struct.pack(">I", len(text) + 1) + text.encode() + bytes(1 + 8 + 3 + 67)
