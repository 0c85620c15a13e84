"""Where in a file a value was written: the user's own line, with a table's column by its name, or the sign in YAML and in notes."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import yaml

from benchrecord.intake.csv_file import LINE, RawTable, parse_table, records
from benchrecord.intake.note_file import HEAD, headings
from benchrecord.intake.paths import TABLE_BYTES, read_text
from benchrecord.intake.yaml_file import composed
from benchrecord.model.file_names import nfc
from benchrecord.model.prose import line_and_column, with_blank_comments
from benchrecord.problems import Place

BREAK = re.compile(r"\r\n|\r|\n")
WORD = re.compile(r"\w+|\S+")


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign of a value as it was read: the value, and the sign's offset in it."""

    value: str
    at: int


def written_at(folder: Path, place: Place, sign: Sign) -> Place:
    """Return where a sign of a value stands in its file.

    ``place`` is what is known of the value: its file, the line of what it belongs to, the name of its field or where it begins.
    It is returned, without such a name, where the value is not found as it was written.
    """
    place = replace(place, file=place.file or "job.yml")
    text, _ = read_text(folder, place.file, TABLE_BYTES)
    ending = Path(place.file).suffix.lower()
    known = place if isinstance(place.column, int) else replace(place, column=None)
    if text is None:
        return known
    text = nfc(text)  # as its readers read it
    if ending in (".csv", ".tsv"):
        return _in_table(text, place, sign)
    text = BREAK.sub("\n", text)
    if ending in (".yml", ".yaml"):
        return _in_yaml(text, 0, place, sign) or known
    return (_in_facts(text, place, sign) or _in_heading(text, place, sign) or known) if ending == ".md" else known


def written_in_words(folder: Path, place: Place, sign: Sign) -> Place:
    """Return where the sign of a note's words stands in its file; ``place`` is the line where they begin."""
    text = nfc(read_text(folder, place.file, TABLE_BYTES)[0] or "")
    line, column = line_and_column(sign.value, sign.at)
    said = sign.value.split("\n")[line - 1]
    lines = with_blank_comments("\n".join(BREAK.sub("\n", text).split("\n")[(place.line or 1) - 1 :])).split("\n")
    found = _same_word(said, column - 1, lines[line - 1]) if line <= len(lines) else None
    return Place(place.file, (place.line or 1) + line - 1, column if found is None else found + 1)


def _in_table(text: str, place: Place, sign: Sign) -> Place:
    """Find the cell of a row; a cell in quotes may go over several lines."""
    table, lines = _table(text)
    start = place.line or table.header_line
    rest = iter(lines[start - 1 :])
    try:
        cells = next(records(rest, table.delimiter), [])
    except csv.Error:
        cells = []
    fits = [n for n, cell in enumerate(cells[: len(table.header)]) if cell.strip() == sign.value]
    own = [n for n, name in enumerate(table.header) if name == place.column and n < len(cells)]
    if not fits and not own:
        return replace(place, column=None)
    number = next((n for n in own if n in fits), fits[0] if fits else own[0])
    cell = cells[number]
    before = [*cells[:number], cell[: len(cell) - len(cell.lstrip()) + sign.at] if number in fits else ""]
    return Place(place.file, start + sum(len(BREAK.findall(c)) for c in before), table.header[number])


def _in_yaml(text: str, offset: int, place: Place, sign: Sign) -> Place | None:
    """Find a text of YAML that begins at an offset: at its own place, else under the name of its field, else the next that says the same."""
    texts = _texts(text[offset:])
    first = text.count("\n", 0, offset) + 1

    def how_far(fit: tuple[str, yaml.ScalarNode]) -> tuple[bool, bool, int]:
        return fit[1].start_mark.line + first < (place.line or 0), fit[0] != place.column, fit[1].start_mark.index

    itself = [n for _, n in texts if (n.start_mark.line + first, n.start_mark.column + 1) == (place.line, place.column)]
    fits = sorted((fit for fit in texts if str(fit[1].value).strip() == sign.value), key=how_far)
    if not (found := [*itself, *(n for _, n in fits)]):
        return None
    start, end = found[0].start_mark.index + offset, found[0].end_mark.index + offset
    within = _same_word(sign.value, sign.at, text[start:end])
    return Place(place.file, *line_and_column(text, start + (within or 0)))


def _in_facts(text: str, place: Place, sign: Sign) -> Place | None:
    """Find a fact at the head of a note."""
    head = HEAD.match(text)
    return _in_yaml(text[: head.end("facts")], head.start("facts"), place, sign) if head else None


def _in_heading(text: str, place: Place, sign: Sign) -> Place | None:
    """Find the title of a note in its heading."""
    found = next((start for start, words in headings(text) if words == sign.value), None)
    return None if found is None else Place(place.file, *line_and_column(text, found + sign.at))


@lru_cache(maxsize=1)  # a file that tells one thing often tells more
def _table(text: str) -> tuple[RawTable, list[str]]:
    return parse_table(text, "", []), LINE.findall(text)


@lru_cache(maxsize=1)
def _texts(text: str) -> tuple[tuple[str, yaml.ScalarNode], ...]:
    try:
        root = composed(text)
        return tuple(_scalars(root, "", set())) if root else ()
    except (yaml.YAMLError, ValueError, RecursionError):
        return ()


def _scalars(node: yaml.Node, key: str, seen: set[int]) -> Iterator[tuple[str, yaml.ScalarNode]]:
    """Yield each text with the key that it stands at, keys too; what is named by an alias only once."""
    if id(node) in seen:
        return
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        yield key, node
    for inner in node.value if isinstance(node, yaml.SequenceNode) else ():
        yield from _scalars(inner, key, seen)
    for name, inner in node.value if isinstance(node, yaml.MappingNode) else ():
        yield from _scalars(name, "", seen)
        yield from _scalars(inner, str(name.value), seen)


def _same_word(said: str, at: int, written: str) -> int | None:
    """Return where in a text as it was written the word stands that begins at an offset of what it says; None where it is spelt otherwise."""
    word = WORD.match(said, at)
    if not word:
        return None
    places = [m.start() for m in re.finditer(re.escape(word[0]), written)]
    count = len(re.findall(re.escape(word[0]), said[:at]))
    return places[count] if count < len(places) else None
