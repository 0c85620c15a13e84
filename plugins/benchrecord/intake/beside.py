"""What a job folder holds beside the job: comments, anchors, columns that nobody reads, and what files tell of themselves."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from benchrecord.intake.paths import TABLE_BYTES, files_of, on_disk
from benchrecord.intake.picture_file import ENDINGS as PICTURES
from benchrecord.intake.picture_tags import Told, told_by
from benchrecord.intake.sound_file import ENDINGS as SOUNDS
from benchrecord.intake.sound_file import tags_of
from benchrecord.model.file_names import nfc

TEXTS = (".yml", ".yaml", ".csv", ".tsv", ".md", ".txt", ".json", ".jsonld", ".html", ".htm", ".svg", ".xml")
LINE = re.compile(r"^[ \t]*#(?P<words>[^\n]*)", re.MULTILINE)
# In YAML a # within quotes is none: texts in quotes are passed over.
_SINGLE, _COMMENT = r"(?<![\w'\"])'(?:''|[^'])*'", r"(?:^|(?<=\s))#(?P<words>[^\n]*)"
_DOUBLE = r"(?<![\w'\"])\"(?:\\.|[^\"\\])*+(?:\"|(?P<unclosed>\Z|\\\Z))"
YAML = re.compile(f"{_DOUBLE}|{_SINGLE}|{_COMMENT}", re.DOTALL | re.MULTILINE)
YAML_WITHOUT_DOUBLE = re.compile(f"{_SINGLE}|{_COMMENT}", re.DOTALL | re.MULTILINE)
KNOWN = {
    "job.yml",
    "checks.yml",
    "patches.yml",
    *(f"{n}.csv" for n in ("photos", "marks", "parts", "faults", "date-codes", "documents", "trims")),
}
DAY = re.compile(r"\s*\d{4}[:-]\d\d[:-]\d\d\s*")  # on which a picture was taken: it is shown
NAME, WORDS, PLACE = "name of a file", "words of a file", "place of a picture"
Look = Callable[[Path], Told]


@dataclass(frozen=True, slots=True)
class Beside:
    """Something that a file of a folder holds and no page shows: which file, what it is, and the words of it."""

    file: str
    what: str
    text: str


def look(path: Path) -> Told:
    """Read the metadata of a picture file."""
    return told_by(path.read_bytes())


def beside(folder: Path, look: Look = look) -> Iterator[Beside]:
    """Yield everything that the files of a folder hold beside what a job is made of."""
    for name in files_of(folder)[0]:
        path, ending = on_disk(folder, name), Path(name).suffix.lower()
        if name not in KNOWN:
            yield Beside(name, NAME, Path(name).stem)
        if ending in TEXTS and path.stat().st_size <= TABLE_BYTES:
            yield from _of_a_text(name, nfc(path.read_text("utf-8", "replace")))
        elif ending in PICTURES:
            yield from _of_a_picture(name, look(path))
        elif ending in SOUNDS:
            yield from (Beside(name, "tag of a recording", text) for text in tags_of(path))
        elif ending == ".pdf":
            yield from (Beside(name, "fact about a document", text) for text in _document_facts(path))


def places(folder: Path, look: Look = look) -> Iterator[Beside]:
    """Yield where the pictures of a folder were taken; nothing else is read."""
    for name in files_of(folder)[0]:
        if Path(name).suffix.lower() in PICTURES:
            yield from _place(name, look(on_disk(folder, name)))


def _of_a_text(name: str, text: str) -> Iterator[Beside]:
    own = COMMENTS.get(Path(name).suffix.lower())
    comments = (*(own(text) if own else ()), *block_comments(text))  # a cell or a value may hold one of Markdown's
    yield from (Beside(name, "comment", words) for words in comments if words)
    yield Beside(name, WORDS, text)


def block_comments(text: str) -> Iterator[str]:
    """Yield the words of each comment of HTML that is closed; the end of the last one is searched for once only."""
    end = 0
    while (start := text.find("<!--", end)) >= 0 and (close := text.find("-->", start + 4)) >= 0:
        yield text[start + 4 : close]
        end = close + 3


def line_comments(text: str) -> Iterator[str]:
    """Yield the words of each line that begins with a #."""
    return (m["words"] for m in LINE.finditer(text))


def yaml_comments(text: str) -> Iterator[str]:
    """Yield the words of each comment of YAML.

    Where a double quote is never closed, none after it is either: each of them stands behind a backslash.
    """
    pattern, at = YAML, 0
    while match := pattern.search(text, at):
        at = match.end()
        if match.groupdict().get("unclosed") is not None:
            pattern, at = YAML_WITHOUT_DOUBLE, match.start() + 1
        elif match["words"]:
            yield match["words"]


COMMENTS: dict[str, Callable[[str], Iterable[str]]] = {
    ".csv": line_comments,
    ".tsv": line_comments,
    ".yml": yaml_comments,
    ".yaml": yaml_comments,
}


def _of_a_picture(name: str, told: Told) -> Iterator[Beside]:
    yield from _place(name, told)
    yield from (Beside(name, "tag of a picture", text) for text in told.texts if not DAY.fullmatch(text))


def _place(name: str, told: Told) -> Iterator[Beside]:
    if told.place:
        yield Beside(name, PLACE, f"{told.place[0]:.6f} {told.place[1]:.6f}")


def _document_facts(path: Path) -> list[str]:
    from pypdf import PdfReader  # noqa: PLC0415  # only where there is a document

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)  # what is wrong with a document of others is not ours to say
    try:
        return [str(v) for v in (PdfReader(path).metadata or {}).values()]
    except Exception:  # noqa: BLE001  # a damaged document raises whatever its reader happens to raise
        return []
