"""Job folders that something happened to: a seeded generator of changes to good ones."""

from __future__ import annotations

import random
from pathlib import PurePosixPath

SCRAPS = (
    b"", b"\n", b"\r", b",", b";", b'"', b"'", b":", b"- ", b"{", b"}", b"]", b"---\n", b"\t", b"#", b"\xef\xbb\xbf", b"\0", b"\xff\xfe", b"R1", b"1e999", b"-0", b"NaN",
    b"*a", b"&a ", b"~", b"[]", b"../", b"!!python/object:os.system", b"<script>", b"{{ x }}", b"=1+2", b"\xe2\x80\xae", b"\xf0\x9f\x98\x80", b"9" * 400, b"yes", b"2026-02-30", b"as_left",
)  # fmt: skip
NAMES = (
    "notes/99-new.md",
    "boards/new.csv",
    "boards/new.yml",
    "photos/new.jpg",
    "recordings/new.wav",
    "loose.txt",
    "documents/new.pdf",
    "measurements/new.csv",
)
MOST = 6  # changes of one folder


def mutated(files: dict[str, bytes], seed: int) -> dict[str, bytes]:
    """Return files with a few changes, the same for the same seed: bytes, lines, cells, whole files."""
    chance = random.Random(seed)  # noqa: S311  # the same at each run
    changed = dict(files)
    for _ in range(chance.randint(1, MOST)):
        change = chance.choice((_bytes, _bytes, _lines, _lines, _swapped, _cut, _renamed, _lost, _added))
        change(changed, chance)
    return changed


def _one(files: dict[str, bytes], chance: random.Random) -> str:
    texts = [n for n in sorted(files) if PurePosixPath(n).suffix in (".yml", ".csv", ".md")]
    return chance.choice(texts if texts and chance.random() < 0.9 else sorted(files))  # mostly what a person writes


def _bytes(files: dict[str, bytes], chance: random.Random) -> None:
    name = _one(files, chance)
    at = chance.randint(0, len(files[name]))
    files[name] = files[name][:at] + chance.choice(SCRAPS) + files[name][at + chance.randint(0, 40) :]


def _lines(files: dict[str, bytes], chance: random.Random) -> None:
    """Take a line out, put one in twice, or put it elsewhere."""
    name = _one(files, chance)
    lines = files[name].split(b"\n")
    line = lines.pop(chance.randrange(len(lines)))
    for _ in range(chance.randint(0, 2)):
        lines.insert(chance.randint(0, len(lines)), line)
    files[name] = b"\n".join(lines)


def _swapped(files: dict[str, bytes], chance: random.Random) -> None:
    one, other = _one(files, chance), _one(files, chance)
    files[one], files[other] = files[other], files[one]


def _cut(files: dict[str, bytes], chance: random.Random) -> None:
    name = _one(files, chance)
    files[name] = files[name][: chance.randint(0, len(files[name]))]


def _renamed(files: dict[str, bytes], chance: random.Random) -> None:
    name = _one(files, chance)
    if name != "job.yml":
        new = chance.choice((name.upper(), f"{name}.bak", f"x/{name}", name.replace(".", "-", 1), name + " "))
        files[new] = files.pop(name)


def _lost(files: dict[str, bytes], chance: random.Random) -> None:
    name = _one(files, chance)
    if name != "job.yml":
        del files[name]


def _added(files: dict[str, bytes], chance: random.Random) -> None:
    files[chance.choice(NAMES)] = chance.choice((*SCRAPS, *files.values()))
