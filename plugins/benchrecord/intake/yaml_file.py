"""YAML with the place of every key and value."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

import yaml

from benchrecord.intake.paths import below, escape_problem, outside
from benchrecord.model.file_names import nfc
from benchrecord.model.notation import IN_RANGE, LETTER_ALONE, is_out_of_range, parse_quantity, prefix_meant
from benchrecord.model.quantity import Quantity, in_unit
from benchrecord.problems import Place, Problem, nearest, write_one_of

NULLS = frozenset({"", "~", "null", "Null", "NULL"})
YES, NO = frozenset({"yes", "true", "on"}), frozenset({"no", "false", "off"})
MOST_NODES = 200_000
SAID = 4  # values of a list or a group that a problem shows
NO_BREAKS = {0x85: " ", 0x2028: " ", 0x2029: " "}  # YAML takes them for line ends, and no editor counts them
DAY_AS_WRITTEN = re.compile(r"\d{4}-\d\d-\d\d")
Wrong = tuple[str, str, str]  # code, what was expected, what to write
Word = TypeVar("Word", bound=StrEnum)
EXPECTED = "key: value, each on a line of its own, indented with spaces"
REMEDIES = (
    (r"'\\t' that cannot start", "use spaces in place of the tab"),
    (r"mapping values are not allowed", "put a text that holds a colon in quotes, and begin each key of a group below the one above"),
    (r"expected <block end>", "begin each key of a group, and each - of a list, exactly below the one above"),
    (r"could not find expected ':'", "write a colon and a space after the key, or put the whole text in quotes"),
    (r"found another document", "take the line --- out"),
    (r"undefined alias|alphabetic or numeric|cannot start any token|tag|block scalar|anchor", "put a text that starts with a sign in quotes"),
)  # fmt: skip
OPENED = ((r"flow (?:mapping|sequence)", "bracket"), (r"quoted scalar", "quote"))


POINT = "a number with a point as its decimal sign"


@dataclass(slots=True)
class Node:
    """A value with its place: text, a list of nodes, or a mapping of (key place, node) by key."""

    place: Place
    text: str | None = None
    items: list[Node] | None = None
    keys: dict[str, tuple[Place, Node]] | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing is written here."""
        return self.text is not None and self.text in NULLS

    def said(self) -> str:
        """Return what stands here, for a problem; of lists and groups the beginning."""
        return _said(self, 2)


def _said(node: Node, depth: int) -> str:
    if node.text is not None:
        return node.text
    opened, closed = "[]" if node.items is not None else "{}"
    pairs = [(f"{key}: ", value) for key, (_, value) in (node.keys or {}).items()]
    inner = [*(("", item) for item in node.items or ()), *pairs]
    parts = [key + _said(value, depth - 1) for key, value in inner[:SAID]] if depth else ["…"] * bool(inner)
    return opened + ", ".join(parts + ["…"] * (depth > 0 and len(inner) > SAID)) + closed


def parse_yaml(text: str, file: str, *, first_line: int = 1) -> tuple[Node | None, list[Problem]]:
    """Return the tree of a YAML text and what is wrong with it; lines count from ``first_line``."""
    tree, text = _Tree(file, first_line), text.translate(NO_BREAKS)
    try:
        root = composed(text)
        return (tree.node(root) if root else None), tree.problems
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        return None, [_syntax_problem(error, text, file, first_line)]


def composed(text: str) -> yaml.Node | None:
    """Return the parser's own tree of a text; its marks count in the text as it is given.

    Raises
    ------
    yaml.YAMLError, ValueError, RecursionError
        Where it is no YAML.
    """
    root: yaml.Node | None = yaml.compose(_plain_indents(text.translate(NO_BREAKS)), Loader=yaml.SafeLoader)
    return root


def _plain_indents(text: str) -> str:
    """Take no-break spaces for spaces where YAML looks for those: web pages leave them in what is copied."""
    return re.sub(r"(?m)^[ \-]*\u00a0[\u00a0 \-]*|:\u00a0+", lambda m: m.group().replace("\u00a0", " "), text)


def _syntax_problem(error: Exception, text: str, file: str, first_line: int) -> Problem:
    """Word an error of the parser; lines count from ``first_line``."""
    if isinstance(error, yaml.reader.ReaderError):
        line = text.count("\n", 0, int(error.position)) + first_line
        said = f"a sign that nobody sees, U+{ord(text[int(error.position)]):04X}"
        return Problem("yaml-syntax", Place(file, line), said, EXPECTED, "take the sign out, or type the line anew")
    if not isinstance(error, yaml.MarkedYAMLError) or not (error.problem_mark or error.context_mark):
        said, remedy = "a file that holds itself, or groups in groups without end", "take aliases (*) out, and write plain keys"
        return Problem("yaml-syntax", Place(file), said, EXPECTED, remedy)
    opened = next((name for pattern, name in OPENED if re.search(pattern, error.context or "")), None)
    if opened and error.context_mark:
        marks = error.context_mark, error.problem_mark or error.context_mark
        return _never_closed(opened, marks, text, Place(file, first_line))
    mark = error.problem_mark or error.context_mark
    if error.problem and "could not find expected" in error.problem and error.context_mark:
        mark = error.context_mark  # the key without its colon; the parser notices a line later
    known = next((r for pattern, r in REMEDIES if re.search(pattern, error.problem or "")), None)
    place = Place(file, mark.line + first_line, mark.column + 1)  # type: ignore[union-attr]  # one of the two is there
    return Problem("yaml-syntax", place, _line(text, mark), EXPECTED, known or f"mend the line: {error.problem}")


def _never_closed(what: str, marks: tuple[yaml.Mark, yaml.Mark], text: str, first: Place) -> Problem:
    """Word an open bracket or quote, where it was opened; or what a bracket holds, where the next line is not reached."""
    (opened, noticed), lines = marks, first.line or 1
    if noticed.line == opened.line and what != "quote":
        place, remedy = Place(first.file, noticed.line + lines, noticed.column + 1), "put a text that holds a colon in quotes"
        return Problem(
            "yaml-syntax", place, _line(text, opened), "entries with a comma between them, and the bracket closed", remedy
        )
    place, remedy = Place(first.file, opened.line + lines, opened.column + 1), f"close the {what}"
    if opened.line < noticed.line < text.count("\n"):
        remedy += f"; it is still open in line {noticed.line + lines}"
    return Problem("yaml-syntax", place, _line(text, opened), f"the {what} closed", remedy)


def _line(text: str, mark: yaml.Mark | None) -> str:
    lines = re.split(r"\r\n|\r|\n", text)
    return (lines[mark.line].strip()[:80] if mark and mark.line < len(lines) else "") or "the end of the file"


@dataclass(slots=True)
class _Tree:
    """Makes nodes of what the parser gives; counts them, since aliases can make a small file a huge one."""

    file: str
    first_line: int
    problems: list[Problem] = field(default_factory=list)
    nodes: int = 0

    def node(self, raw: yaml.Node) -> Node:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise ValueError("more values than a job can have")
        place = Place(self.file, raw.start_mark.line + self.first_line, raw.start_mark.column + 1)
        if isinstance(raw, yaml.ScalarNode):
            return Node(place, text=nfc(str(raw.value)))
        if isinstance(raw, yaml.SequenceNode):
            return Node(place, items=[self.node(n) for n in raw.value])
        return Node(place, keys=self._keys([(self.node(key), self.node(value)) for key, value in raw.value]))

    def _keys(self, pairs: list[tuple[Node, Node]]) -> dict[str, tuple[Place, Node]]:
        keys: dict[str, tuple[Place, Node]] = {}
        for key, value in pairs:
            name = key.said()
            if name in keys:
                said = f"each key once; the first stands in line {keys[name][0].line}"
                self.problems.append(Problem("duplicate-id", key.place, name, said, "take one of the two out"))
            keys.setdefault(name, (key.place, value))
        return keys


@dataclass(slots=True)
class Facts:
    """A mapping of known keys; what is wrong in it goes to ``report``."""

    node: Node | None
    place: Place
    report: list[Problem]
    known: Sequence[str] = field(default_factory=tuple)
    misspelt: set[str] = field(default_factory=set)  # keys that something misspelt was meant to be

    @classmethod
    def of(cls, node: Node | None, place: Place, report: list[Problem], known: Sequence[str]) -> Facts:
        """Wrap a node; complain where it is no mapping, or has a key that is not known."""
        if node is not None and node.keys is None and not node.empty:
            return cls(None, node.place, report, known, _no_keys(node, known, report))
        facts = cls(node if node and node.keys is not None else None, node.place if node else place, report, known)
        before: tuple[str, Node] | None = None
        for key, (at, inner) in (facts.node.keys if facts.node and facts.node.keys else {}).items():
            if before and (problem := _decimal_comma(before, key, inner)):
                report.append(problem)
            elif key not in known:
                report.append(Problem("unknown-key", at, key, f"one of: {', '.join(known)}", write_one_of(key, known)))
                facts.misspelt.add(nearest(key, known) or "")
            before = key, inner
        return facts

    def get(self, key: str) -> Node | None:
        """Return what stands at a key; None where nothing does."""
        found = self.node.keys.get(key) if self.node and self.node.keys else None
        return None if found is None or found[1].empty else found[1]

    def at(self, key: str) -> Place:
        """Return where a key's value stands."""
        node = self.get(key)
        return node.place if node else self.place

    def text(self, key: str, *, required: bool = False) -> str:
        """Return a text; a required one that is missing is a problem."""
        node = self.get(key)
        if node is None:
            if required and key not in self.misspelt:
                self.report.append(self._nothing(key))
            return ""
        if node.text is None:
            self._wrong(node, "a text", f"write {key}: and words")
            return ""
        return node.text.strip()

    def _nothing(self, key: str) -> Problem:
        """Word that a required value is not there: its key neither, or the key alone."""
        found = self.node.keys.get(key) if self.node and self.node.keys else None
        if found is None:
            return Problem("missing-key", self.place, "nothing", f"{key}: …", f"add {key}:")
        return Problem("missing-value", found[0], f"{key}:", f"{key}: …", f"write a value after {key}:")

    def path(self, key: str, folder: str) -> str:
        """Return the path of a file that may be named with or without its folder; one that leaves the job is a problem."""
        said = self.text(key)
        if said and outside(said):
            self.report.append(escape_problem(said, self.at(key)))
            return ""
        return below(folder, said) if said else ""

    def places(self, *keys: str) -> dict[str, Place]:
        """Return where the values of keys stand."""
        return {key: self.at(key) for key in keys if self.get(key) is not None}

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; a single one counts as a list of one."""
        node = self.get(key)
        nodes = [] if node is None else node.items if node.items is not None else [node]
        for wrong in (n for n in nodes if n.text is None):
            self._wrong(wrong, "a text", f"write {key}: [one, two]")
        return tuple(n.text.strip() for n in nodes if n.text is not None)

    def nodes(self, key: str) -> list[Node]:
        """Return a list of nodes."""
        node = self.get(key)
        if node is not None and node.items is None:
            self._wrong(node, "a list", f"write each entry of {key} on a line that starts with -")
        return node.items or [] if node else []

    def quantity(self, key: str, such_as: str = "12.5", expected: str = "a number") -> Quantity | None:
        """Return a number with or without its unit."""
        node = self.get(key)
        found = parse_quantity(node.text) if node and node.text is not None else None
        if node is not None and found is None:
            remedy = f"write {key}: and a number, such as {such_as}"
            with_point = node.said().replace(",", ".", 1)
            if "," in node.said() and parse_quantity(with_point):
                expected, remedy = POINT, f"write {key}: {with_point}"
            elif is_out_of_range(node.said()):
                expected = IN_RANGE
            self.report.append(Problem("not-a-number", node.place, node.said()[:80], expected, remedy))
        return found

    def number(self, key: str, *, unit: str | None = "", positive: bool = False, such_as: str = "12.5") -> float | None:
        """Return a number in a unit (empty: a plain one, None: whatever it is)."""
        expected = "a number" if unit is None else f"a value in {unit}" if unit else "a plain number, without a unit"
        found = self.quantity(key, such_as, expected)
        value = in_unit(found, unit) if found else None
        if found and value is None:
            meant = prefix_meant(found.text, unit or "")
            number = meant or f"and a number{' in ' * bool(unit)}{unit}, such as {such_as}"
            remedy, expected = f"write {key}: {number}", f"{expected}{LETTER_ALONE * bool(meant)}"
            self.report.append(Problem("wrong-unit", self.at(key), found.text, expected, remedy))
        if found and value is not None and positive and value <= 0:
            self.report.append(
                Problem("not-positive", self.at(key), found.text, "more than zero", f"write {key}: and a number above zero")
            )
        return value

    def day(self, key: str) -> date | None:
        """Return a date."""
        node = self.get(key)
        if node is None:
            return None
        found, wrong = day_of((node.text or "").strip())
        if wrong:
            self.report.append(Problem(wrong[0], node.place, node.said()[:80], wrong[1], wrong[2]))
        return found

    def flag(self, key: str) -> bool:
        """Return yes or no; no where nothing is written."""
        node = self.get(key)
        said = (node.text or "").lower() if node else "no"
        if node and said not in YES | NO:
            self._wrong(node, "yes or no", f"write {key}: yes or {key}: no")
        return said in YES

    def word(self, key: str, words: type[Word]) -> Word | None:
        """Return one of a list of words."""
        node = self.get(key)
        known = [w.value for w in words]
        if node is None:
            return None
        if node.text not in known:
            said = node.said()[:80]
            self.report.append(
                Problem("unknown-word", node.place, said, f"one of: {', '.join(known)}", write_one_of(said, known))
            )
            return None
        return words(node.text)

    def pair(self, key: str, unit: str | None = None) -> tuple[float, float] | None:
        """Return two numbers, in a unit where one is given."""
        node = self.get(key)
        found = two_numbers(node, unit) if node else None
        if node and found is None:
            self._wrong(node, f"two numbers{' in ' * bool(unit)}{unit or ''}", f"write {key}: [10, 20]")
        return found

    def _wrong(self, node: Node, expected: str, remedy: str) -> None:
        self.report.append(Problem("wrong-type", node.place, node.said()[:80], expected, remedy))


def _decimal_comma(before: tuple[str, Node], key: str, inner: Node) -> Problem | None:
    """Return the problem of a number with a comma between braces, where YAML takes what is behind the comma for a key."""
    name, node = before
    if node.text is None or not inner.empty or not re.fullmatch(r"[-+±]?\d+", node.text) or not re.match(r"\d", key):
        return None
    remedy = f"write {name}: {node.text}.{key}"
    return Problem("not-a-number", node.place, f"{node.text},{key}"[:80], POINT, remedy[:80])


def _no_keys(node: Node, known: Sequence[str], report: list[Problem]) -> set[str]:
    """Complain of a value where a group of keys belongs; return the keys that need not be missed any more."""
    remedy = f"write {known[0]}: {node.text}"
    if node.text is None:
        remedy = f"write {known[0]}: and its value, without a - before it"
    elif "=" in node.text:
        remedy = "write a colon and a space in place of ="
    report.append(Problem("wrong-type", node.place, node.said()[:80], f"keys: {', '.join(known)}", remedy[:80]))
    return set(known)


def day_of(text: str) -> tuple[date | None, Wrong | None]:
    """Read a date, or say what is wrong with it."""
    try:
        return date.fromisoformat(text), None
    except ValueError:
        if DAY_AS_WRITTEN.fullmatch(text):
            return None, ("not-a-date", "a day that the calendar has", "mend the month or the day; they follow the year")
        return None, ("not-a-date", "a date: 2026-02-03", "write year, month and day, as 2026-02-03")


def two_numbers(node: Node, unit: str | None = None) -> tuple[float, float] | None:
    """Return a list of just two numbers, in a unit where one is given."""
    parsed = [parse_quantity(n.text) if n.text is not None else None for n in node.items or []]
    values = [in_unit(quantity, unit) if quantity else None for quantity in parsed]
    if len(values) != 2 or values[0] is None or values[1] is None:  # noqa: PLR2004  # a pair
        return None
    return values[0], values[1]


def plain(node: Node) -> Any:
    """Return a node as plain values: numbers, yes and no, texts, lists, mappings."""
    if node.items is not None:
        return tuple(plain(n) for n in node.items)
    if node.keys is not None:
        return {key: plain(value) for key, (_, value) in node.keys.items()}
    text = (node.text or "").strip()
    number = parse_quantity(text)
    if number and number.unit is None:
        return number.value
    return True if text.lower() in YES else False if text.lower() in NO else text


def only_once(named: Iterable[tuple[str, Place]], report: list[Problem], what: str) -> None:
    """Complain of each id that stands a second time."""
    seen: dict[str, Place] = {}
    for name, place in named:
        if name in seen:
            first = seen[name]
            where = f"{first.file}, line {first.line}"
            report.append(
                Problem(
                    "duplicate-id",
                    place,
                    name,
                    f"each {what} once; the first stands in {where}",
                    "mend one of the two, or take it out",
                )
            )
        seen.setdefault(name, place)
