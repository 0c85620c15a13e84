"""What is wrong in a job folder: the shape, the codes and the wording of a problem.

A problem is data first and text second: file, line, column, what was read, what was expected and what to write.
"""

from __future__ import annotations

import difflib
import os
import re
import shlex
from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import asdict, dataclass
from enum import StrEnum
from itertools import groupby


class Severity(StrEnum):
    """How bad it is: an error stops the build, a warning is shown, a hint is only mentioned."""

    ERROR = "error"
    WARNING = "warning"
    HINT = "hint"


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: a file of the job folder, the user's own line number, a column.

    ``column`` is a column's name in a table and a column number in YAML and Markdown.
    """

    file: str
    line: int | None = None
    column: str | int | None = None


FEW = 6  # words that a remedy lists
BREAKS = {**dict.fromkeys((*range(32), 127, 0x85, 0x2028, 0x2029), "\N{REPLACEMENT CHARACTER}"), 9: " ", 10: "⏎", 13: "⏎"}


CODES: dict[str, tuple[Severity, str]] = {
    "folder-missing": (Severity.ERROR, "the job folder or its job.yml is not there"),
    "file-missing": (Severity.ERROR, "a file that is named is not in the folder"),
    "file-unread": (Severity.ERROR, "a file cannot be read: not UTF-8, damaged, or not what its name says"),
    "file-too-big": (Severity.ERROR, "a file is larger than its limit"),
    "too-many-rows": (Severity.ERROR, "a table has more rows than its limit"),
    "too-long": (Severity.ERROR, "a recording plays longer than its limit"),
    "too-many-pixels": (Severity.ERROR, "a picture has more pixels than its limit"),
    "path-outside": (Severity.ERROR, "a path leaves the job folder"),
    "yaml-syntax": (Severity.ERROR, "a YAML file cannot be read"),
    "csv-syntax": (Severity.ERROR, "a table cannot be read: an open quote, or more cells than the header"),
    "front-matter": (Severity.ERROR, "the facts at the head of a note cannot be read, or stand where none are read"),
    "unknown-key": (Severity.ERROR, "a key is not known here"),
    "unknown-column": (Severity.ERROR, "a column is not known in this table"),
    "duplicate-column": (Severity.ERROR, "a column stands twice in a table's header"),
    "missing-key": (Severity.ERROR, "a required key is not there"),
    "missing-column": (Severity.ERROR, "a required column is not there"),
    "missing-value": (Severity.ERROR, "a required value is empty"),
    "wrong-type": (Severity.ERROR, "a value is of another type than expected"),
    "not-a-number": (Severity.ERROR, "a number or quantity was expected"),
    "not-positive": (Severity.ERROR, "a value must be greater than zero"),
    "not-a-date": (Severity.ERROR, "a date was expected"),
    "wrong-unit": (Severity.ERROR, "a unit of another quantity"),
    "ambiguous-decimal": (Severity.ERROR, "cells of a table disagree about the decimal sign"),
    "unknown-word": (Severity.ERROR, "a word is not one of those possible here"),
    "unknown-kind": (Severity.ERROR, "a kind of check that does not exist"),
    "duplicate-id": (Severity.ERROR, "an id stands twice"),
    "unknown-id": (Severity.ERROR, "a board, module, trim, check, meter, note or photo that does not exist"),
    "ambiguous-reference": (Severity.ERROR, "a reference that leads to two places"),
    "long-paragraph": (Severity.ERROR, "a paragraph, a table or a list of definitions that is too long for Markdown"),
    "unclosed-tags": (
        Severity.ERROR,
        "raw HTML of a hand-written page with more tags that are not closed than Markdown reads in time",
    ),
    "picture-metadata": (Severity.ERROR, "a picture of a hand-written page whose metadata cannot be removed"),
    "cache-in-job": (Severity.ERROR, "a cache that is to be kept in a job folder"),
    "dead-reference": (Severity.ERROR, "a reference that leads nowhere"),
    "limits-reversed": (Severity.ERROR, "a low limit above its high limit"),
    "unused-limit": (Severity.ERROR, "a limit that nothing is held against"),
    "dates-reversed": (Severity.ERROR, "dates that are out of order"),
    "trim-circle": (Severity.ERROR, "a trim that waits for itself through others"),
    "board-points": (Severity.ERROR, "points of a photo that cannot be fitted"),
    "off-board": (Severity.ERROR, "a part or a mark that lies beyond the edge of its board or picture"),
    "unsearchable-document": (Severity.ERROR, "a document for the owner is locked, or packed so that it cannot be searched"),
    "unit-slip": (
        Severity.WARNING,
        "a value that is 1000 times, 1,000,000 times … the one it is compared with, or such a part of it",
    ),
    "lossy-recording": (Severity.WARNING, "a check rests on a recording whose coding leaves something out"),
    "name-clash": (Severity.WARNING, "two files whose names differ only in capitals, which some systems take for one"),
    "private-words": (Severity.WARNING, "a text that a reader sees holds what is private elsewhere in the folder"),
    "no-owner": (
        Severity.WARNING,
        "a job for anyone to read that names no owner, so that no private value can be searched for",
    ),
    "personal-data": (
        Severity.WARNING,
        "a text for anyone to read that seems to hold personal data which no field of the job names",
    ),
    "unlisted-job": (Severity.WARNING, "a job folder among a site's pages that the site does not list"),
    "site-in-job": (Severity.WARNING, "a site that was built into the job folder"),
    "mirrored-photo": (Severity.HINT, "a photo whose points show its board from behind"),
    "several-pictures": (Severity.HINT, "a file that holds several pictures, of which the first is shown"),
    "unused-file": (Severity.HINT, "a file that nothing mentions"),
    "unplaced-part": (Severity.HINT, "a designator that no board table places"),
    "unknown-designator": (Severity.HINT, "a word in a note that looks like a designator and is not known"),
}


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, and what to write instead."""

    code: str
    place: Place
    got: str
    expected: str
    remedy: str

    @property
    def severity(self) -> Severity:
        """How bad it is, by its code."""
        return CODES[self.code][0]

    def as_json(self) -> dict[str, object]:
        """The problem as ``benchrecord check --json`` prints it."""
        return {
            **asdict(self.place),
            "code": self.code,
            "severity": str(self.severity),
            "got": self.got,
            "expected": self.expected,
            "remedy": self.remedy,
        }


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that a misspelt one was most likely meant to be."""
    by_lower = {name.lower(): name for name in known}
    close = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def write_one_of(word: str, known: Iterable[str]) -> str:
    """Word a remedy: the nearest known word, or the choice of all."""
    words = sorted(known) if isinstance(known, AbstractSet) else [*known]
    guess = nearest(word, words)
    if guess or not words:
        return f"write {guess}" if guess else "take it out"
    return f"write one of: {', '.join(words)}" if len(words) <= FEW else "write one of those, or take it out"


def as_command(words: Sequence[str]) -> str:
    """Return a command as it is typed in this system's shell: words that it would take apart are in quotes."""
    if os.name != "nt":
        return shlex.join(words)
    return " ".join(word if re.fullmatch(r"[\w.:/\\+-]+", word) else f'"{word}"' for word in words)


def in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Each problem once, by file, line and column."""
    return tuple(sorted(set(problems), key=_order))


def has_errors(problems: Iterable[Problem]) -> bool:
    """Say whether one of them stops a build."""
    return any(p.severity is Severity.ERROR for p in problems)


def as_text(problems: Sequence[Problem]) -> str:
    """All problems, grouped by file, as a person reads them."""
    lines: list[str] = []
    for file, group in groupby(in_order(problems), key=lambda p: p.place.file):
        lines.append(in_one_line(file))
        lines += [line for problem in group for line in _lines(problem)]
    return "\n".join(lines)


def _order(problem: Problem) -> tuple[str, int, int, str, str]:
    """By place; then by all the rest, so that no two different problems ever tie."""
    place = problem.place
    number, name = (place.column, "") if isinstance(place.column, int) else (0, place.column or "")
    return place.file, place.line or 0, number, name, f"{problem.code}\0{problem.got}\0{problem!r}"


def _lines(problem: Problem) -> list[str]:
    place = problem.place
    at = ", ".join([f"line {place.line}"] * (place.line is not None) + [f"column {place.column}"] * (place.column is not None))
    head = f"  {at or 'whole file'}: {problem.severity} {problem.code}"
    said = {"read:": problem.got, "expected:": problem.expected, "write:": problem.remedy}
    return [in_one_line(head), *(f"    {name:9} {in_one_line(text)}".rstrip() for name, text in said.items())]


def in_one_line(text: str) -> str:
    """Return a text as it can be printed: line breaks and what is no character (of a strange file name) are shown as marks."""
    shown = text.replace("\r\n", "⏎").translate(BREAKS)
    return shown.encode("utf-8", "backslashreplace").decode("utf-8")
