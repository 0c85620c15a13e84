"""Notes: facts at the head, Markdown below, lines counted as the user counts them."""

from __future__ import annotations

import re
from pathlib import Path

from benchrecord.intake.paths import TEXT_BYTES, read_text
from benchrecord.intake.yaml_file import Facts, parse_yaml
from benchrecord.model.file_names import nfc
from benchrecord.model.job import Edition, Note, NoteStage
from benchrecord.problems import Place, Problem

KEYS = ("title", "date", "hours", "stage", "board", "module", "edition")
HEAD = re.compile(r"(?:[ \t]*\n)*---[ \t]*\n(?P<facts>.*?)^---[ \t]*(?:\n|\Z)", re.DOTALL | re.MULTILINE)
_TITLE = re.compile(r"^#\s+(?P<title>.+?)\s*#*\s*$", re.MULTILINE)


def read_note(folder: Path, name: str, report: list[Problem]) -> Note | None:
    """Read one note; None where it cannot be read at all."""
    text, problem = read_text(folder, name, TEXT_BYTES)
    if problem:
        report.append(problem)
    return None if text is None else parse_note(text, name, report)


def parse_note(text: str, name: str, report: list[Problem]) -> Note:
    """Split a note into its facts and its words."""
    text = nfc(text.replace("\r\n", "\n").replace("\r", "\n"))
    match = HEAD.match(text)
    if not match and re.match(r"---[ \t]*(?:\n|\Z)", text):
        report.append(
            Problem(
                "front-matter", Place(name, 1), "---", "a second line of --- after the facts", "close the facts with a line ---"
            )
        )
    first = text.count("\n", 0, match.start("facts")) + 1 if match else 1
    node, wrong = parse_yaml(match["facts"], name, first_line=first) if match else (None, [])
    report += [Problem("front-matter", p.place, p.got, p.expected, p.remedy) if p.code == "yaml-syntax" else p for p in wrong]
    body = text[match.end() :] if match else text
    facts = Facts.of(node, Place(name, first), report, KEYS)
    heading = _TITLE.search(body)
    stem = Path(name).stem
    return Note(
        id=stem,
        file=name,
        title=facts.text("title")
        or (heading["title"] if heading else stem.lstrip("0123456789-_ ").replace("-", " ").capitalize() or stem),
        body=body,
        body_line=text[: match.end()].count("\n") + 1 if match else 1,
        date=facts.day("date"),
        hours=facts.number("hours", unit="h"),
        stage=facts.word("stage", NoteStage),
        board=facts.text("board"),
        module=facts.text("module"),
        edition=facts.word("edition", Edition),
        place=Place(name, 1),
        at=facts.places("date", "board", "module"),
    )
