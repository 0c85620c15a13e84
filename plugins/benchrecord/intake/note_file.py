"""Notes: facts at the head, Markdown below, lines counted as the user counts them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from benchrecord.intake.paths import NOTE_BYTES, read_text
from benchrecord.intake.stray_keys import stray_keys
from benchrecord.intake.yaml_file import Facts, Node, parse_yaml
from benchrecord.model.file_names import nfc
from benchrecord.model.job import Edition, Note, NoteStage
from benchrecord.problems import Place, Problem

KEYS = ("title", "date", "hours", "stage", "board", "module", "edition")
HEAD = re.compile(r"(?:[ \t]*\n)*---[ \t]*\n(?P<facts>.*?)^---[ \t]*(?:\n|\Z)", re.DOTALL | re.MULTILINE)
_OPENED = re.compile(r"---[ \t]*(?:\n|\Z)")
CLOSED = "a second line of --- after the facts"
_TITLE = re.compile(r"^#[ \t]++(?P<title>\S[^\n]*)$", re.MULTILINE)


def read_note(folder: Path, name: str, report: list[Problem]) -> Note | None:
    """Read one note; None where it cannot be read at all."""
    text, problem = read_text(folder, name, NOTE_BYTES)
    if problem:
        report.append(problem)
    return None if text is None else parse_note(text, name, report)


def parse_note(text: str, name: str, report: list[Problem]) -> Note:
    """Split a note into its facts and its words."""
    text = nfc(text.replace("\r\n", "\n").replace("\r", "\n"))
    match = HEAD.match(text)
    first = text.count("\n", 0, match.start("facts")) + 1 if match else 1
    body, body_line = (text[match.end() :], text[: match.end()].count("\n") + 1) if match else (text, 1)
    node, wrong = parse_yaml(match["facts"], name, first_line=first) if match else (None, [])
    report += [Problem("front-matter", p.place, p.got, p.expected, p.remedy) if p.code == "yaml-syntax" else p for p in wrong]
    if not match and _OPENED.match(text):
        report.append(Problem("front-matter", Place(name, 1), "---", CLOSED, "close the facts with a line ---"))
    elif node or not wrong:
        head = range(first - 1, body_line) if match else range(0)
        report += stray_keys(text, name, KEYS, head=head, read=_lines_read(node, head))
    facts = Facts.of(node, Place(name, first), report, KEYS)
    return Note(
        id=Path(name).stem,
        file=name,
        title=facts.text("title") or _heading(body) or _title_of(Path(name).stem),
        body=body,
        body_line=body_line,
        date=facts.day("date"),
        hours=facts.number("hours", unit="h"),
        stage=facts.word("stage", NoteStage),
        board=facts.text("board"),
        module=facts.text("module"),
        edition=facts.word("edition", Edition),
        place=Place(name, 1),
        at=facts.places("date", "board", "module"),
    )


def _lines_read(node: Node | None, head: range) -> frozenset[int]:
    """Return the lines of the keys that front matter has; all of it where it is no mapping, which is a problem of its own."""
    if node is None or node.keys is None:
        return frozenset(head if node and not node.empty else ())
    return frozenset(place.line for place, _ in node.keys.values() if place.line)


def _heading(body: str) -> str:
    """Return the words of a note's first heading of the first level; empty where it has none."""
    return next((words for _, words in headings(body) if words), "")


def headings(text: str) -> Iterator[tuple[int, str]]:
    """Yield where the words of each heading of the first level begin, and these words."""
    return ((m.start("title"), m["title"].rstrip().rstrip("#").rstrip()) for m in _TITLE.finditer(text))


def _title_of(stem: str) -> str:
    return stem.lstrip("0123456789-_ ").replace("-", " ").capitalize() or stem
