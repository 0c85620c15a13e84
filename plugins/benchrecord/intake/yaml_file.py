"""YAML with the place of every key and value."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

import yaml

from benchrecord.intake.paths import below, escape_problem, outside
from benchrecord.model.notation import parse_quantity
from benchrecord.model.quantity import Quantity
from benchrecord.problems import Place, Problem, nearest, write_one_of

NULLS = frozenset({"", "~", "null", "Null", "NULL"})
YES, NO = frozenset({"yes", "true", "on"}), frozenset({"no", "false", "off"})
MOST_NODES = 200_000
NO_BREAKS = {0x85: " ", 0x2028: " ", 0x2029: " "}  # YAML takes them for line ends, and no editor counts them
Word = TypeVar("Word", bound=StrEnum)


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
        """Return what stands here, for a problem."""
        return self.text if self.text is not None else "a list" if self.items is not None else "a group of keys"


def parse_yaml(text: str, file: str, *, first_line: int = 1) -> tuple[Node | None, list[Problem]]:
    """Return the tree of a YAML text and what is wrong with it; lines count from ``first_line``."""
    tree, text = _Tree(file, first_line), text.translate(NO_BREAKS)
    try:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
        return (tree.node(root) if root else None), tree.problems
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + first_line, mark.column + 1) if mark else Place(file)
        return None, [Problem("yaml-syntax", place, _line(text, mark), "YAML: key: value", _yaml_remedy(error))]
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        return None, [
            Problem("yaml-syntax", Place(file), str(error)[:80], "YAML: key: value", "mend the file in a text editor")
        ]


def _line(text: str, mark: yaml.Mark | None) -> str:
    lines = text.split("\n")
    return lines[mark.line].strip()[:80] if mark and mark.line < len(lines) else "the end of the file"


def _yaml_remedy(error: yaml.MarkedYAMLError) -> str:
    return f"{error.problem or 'mend the line'}; put a text that holds : or # or starts with a sign in quotes"


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
            return Node(place, text=str(raw.value))
        if isinstance(raw, yaml.SequenceNode):
            return Node(place, items=[self.node(n) for n in raw.value])
        return Node(place, keys=self._keys([(self.node(key), self.node(value)) for key, value in raw.value]))

    def _keys(self, pairs: list[tuple[Node, Node]]) -> dict[str, tuple[Place, Node]]:
        keys: dict[str, tuple[Place, Node]] = {}
        for key, value in pairs:
            name = key.said()
            if name in keys:
                self.problems.append(Problem("duplicate-id", key.place, name, "each key once", "take one of the two out"))
            keys.setdefault(name, (key.place, value))
        return keys


@dataclass(slots=True)
class Facts:
    """A mapping of known keys; what is wrong in it goes to ``report``."""

    node: Node | None
    place: Place
    report: list[Problem]
    known: Sequence[str] = field(default_factory=tuple)
    misspelt: set[str] = field(default_factory=set)  # keys that a misspelt one was meant to be

    @classmethod
    def of(cls, node: Node | None, place: Place, report: list[Problem], known: Sequence[str]) -> Facts:
        """Wrap a node; complain where it is no mapping, or has a key that is not known."""
        if node is not None and node.keys is None and not node.empty:
            report.append(
                Problem("wrong-type", node.place, node.said()[:80], f"keys: {', '.join(known)}", f"write {known[0]}: and so on")
            )
        facts = cls(node if node and node.keys is not None else None, node.place if node else place, report, known)
        for key, (at, _) in (facts.node.keys if facts.node and facts.node.keys else {}).items():
            if key not in known:
                report.append(Problem("unknown-key", at, key, f"one of: {', '.join(known)}", write_one_of(key, known)))
                facts.misspelt.add(nearest(key, known) or "")
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
                self.report.append(Problem("missing-key", self.place, "nothing", f"{key}: …", f"add {key}:"))
            return ""
        if node.text is None:
            self._wrong(node, "a text", f"write {key}: and words")
            return ""
        return node.text.strip()

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

    def quantity(self, key: str) -> Quantity | None:
        """Return a number with or without its unit."""
        node = self.get(key)
        found = parse_quantity(node.text) if node and node.text is not None else None
        if node is not None and found is None:
            self.report.append(
                Problem("not-a-number", node.place, node.said()[:80], "a number", f"write {key}: and a number, such as 12.5")
            )
        return found

    def number(self, key: str, *, positive: bool = False) -> float | None:
        """Return a plain number."""
        found = self.quantity(key)
        if found and positive and found.value <= 0:
            self.report.append(
                Problem("not-positive", self.at(key), found.text, "more than zero", f"write {key}: and a number above zero")
            )
        return found.value if found else None

    def day(self, key: str) -> date | None:
        """Return a date."""
        node = self.get(key)
        if node is None:
            return None
        try:
            return date.fromisoformat((node.text or "").strip())
        except ValueError:
            said, remedy = node.said()[:80], f"write {key}: 2026-02-03, year first"
            self.report.append(Problem("not-a-date", node.place, said, "a date: 2026-02-03", remedy))
            return None

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

    def pair(self, key: str) -> tuple[float, float] | None:
        """Return two numbers."""
        node = self.get(key)
        found = two_numbers(node) if node else None
        if node and found is None:
            self._wrong(node, "two numbers", f"write {key}: [10, 20]")
        return found

    def _wrong(self, node: Node, expected: str, remedy: str) -> None:
        self.report.append(Problem("wrong-type", node.place, node.said()[:80], expected, remedy))


def two_numbers(node: Node) -> tuple[float, float] | None:
    """Return a list of just two numbers."""
    parsed = [parse_quantity(n.text) if n.text is not None else None for n in node.items or []]
    if len(parsed) != 2 or parsed[0] is None or parsed[1] is None:  # noqa: PLR2004  # a pair
        return None
    return parsed[0].value, parsed[1].value


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
