"""Changes to a YAML file: an entry more in a list, another value, an entry less. Every other byte stays as it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from benchrecord.intake.edits import LINE_END, CannotChangeError, Text, number
from benchrecord.intake.yaml_file import NULLS, composed

Path = Sequence[str | int]  # keys of mappings and numbers of entries, from the file's top
Plain = Any  # texts, lists and mappings of them: what a file says, without how it is written
Span = tuple[int, int]
STEP = 2  # spaces
GONE = "what was to be changed is not there any more"
BY_HAND = "it is written so that other parts of it would change too: change it by hand"


def append(data: bytes, path: Path, value: object) -> bytes:
    """Return a file with an entry more at the end of the list at ``path``; where there is no list yet, one is begun.

    Raises
    ------
    CannotChangeError
        Where the file cannot be read, where something else stands at ``path``, or where more than the entry would change.
    """
    text, root, wanted = _read(data)
    wanted, key, node = wanted or {}, path[-1], _find(root, path)
    parent = _inside(wanted, path)
    if isinstance(node, yaml.SequenceNode):
        parent[key].append(_as_read(value))
        return _sure(_with_entry(text, node, value), wanted)
    if node is not None and not _is_empty(node):
        raise CannotChangeError(f"{key} is no list: write each of its entries on a line that starts with -")
    parent[key] = [_as_read(value)]
    return _sure(_with_key(text, _find(root, path[:-1]), str(key), [value]), wanted)


def set_value(data: bytes, path: Path, value: str | float) -> bytes:
    """Return a file with another text or number at ``path``; a key that its mapping has not is added.

    Raises
    ------
    CannotChangeError
        As ``append`` does.
    """
    text, root, wanted = _read(data)
    wanted, node = wanted or {}, _find(root, path)
    _inside(wanted, path)[path[-1]] = _as_read(value)
    if node is None or _is_empty(node):
        return _sure(_with_key(text, _find(root, path[:-1]), str(path[-1]), value), wanted)
    if not isinstance(node, yaml.ScalarNode) or node.style in ("|", ">"):
        raise CannotChangeError(BY_HAND)
    return _sure(text.changed(node.start_mark.index, node.end_mark.index, flow(value)), wanted)


def remove(data: bytes, path: Path) -> bytes:
    """Return a file without the entry of a list at ``path``.

    Raises
    ------
    CannotChangeError
        As ``append`` does.
    """
    text, root, wanted = _read(data)
    node, at = _find(root, path[:-1]), path[-1]
    if not isinstance(node, yaml.SequenceNode) or not isinstance(at, int) or at >= len(node.value):
        raise CannotChangeError(GONE)
    entries = _inside(wanted, path)
    del entries[at]
    if not entries and not node.flow_style:
        _inside(wanted, path[:-1])[path[-2]] = ""
    spans = [(n.start_mark.index, _end(n, text.text)) for n in node.value]
    return _sure((_without_item if node.flow_style else _without_lines)(text, spans, at), wanted)


def said(data: bytes, path: Path) -> Plain:
    """Return what a file says at ``path``: texts, lists and mappings of them; an empty text where it says nothing.

    Raises
    ------
    CannotChangeError
        Where the file cannot be read.
    """
    return _plain(_find(_read(data)[1], path))


def entry_at(data: bytes, path: Path, line: int, column: int) -> int:
    """Return the number of the entry, of the list at ``path``, that begins at a line and column, counted from 1.

    Raises
    ------
    CannotChangeError
        Where none begins there.
    """
    _, root, _ = _read(data)
    node = _find(root, path)
    places = (
        [(n.start_mark.line + 1, n.start_mark.column + 1) for n in node.value] if isinstance(node, yaml.SequenceNode) else []
    )
    if (line, column) not in places:
        raise CannotChangeError(GONE)
    return places.index((line, column))


def flow(value: object) -> str:
    """Write a value on one line: ``{mm: [4, 4], px: [212, 1410.5]}``."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {flow(v)}" for key, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(flow(v) for v in value) + "]"
    if isinstance(value, int | float):
        return number(value)
    written: str = yaml.safe_dump([str(value)], default_flow_style=True, allow_unicode=True, width=10**6)
    return written.strip()[1:-1]


def _lines(value: object) -> list[str]:
    """Write a value below each other where it holds a list of groups, else on one line."""
    if isinstance(value, list):
        return [line for entry in value for line in _entry_lines(entry)]
    if isinstance(value, Mapping) and any(isinstance(v, list) and v and isinstance(v[0], Mapping) for v in value.values()):
        return [line for key, v in value.items() for line in _key_lines(key, v)]
    return [flow(value)]


def _entry_lines(value: object) -> list[str]:
    first, *others = _lines(value)
    return [f"- {first}", *(" " * STEP + line for line in others)]


def _key_lines(key: str, value: object) -> list[str]:
    if isinstance(value, list) and value:
        return [f"{key}:", *(" " * STEP + line for line in _lines(value))]
    return [f"{key}: {flow(value)}"]


def _read(data: bytes) -> tuple[Text, yaml.Node | None, Plain]:
    text = Text.of(data)
    try:
        root = composed(text.text)
        return text, root, _plain(root)
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f"line {mark.line + 1}: " if mark else ""
        raise CannotChangeError(f"{where}the file cannot be read as YAML: mend it first") from error


def _find(root: yaml.Node | None, path: Path) -> yaml.Node | None:
    """Return the node at a path; None where there is none."""
    node = root
    for step in path:
        if isinstance(node, yaml.MappingNode):
            node = next((value for key, value in node.value if key.value == step), None)
        elif isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
            node = node.value[step]
        else:
            return None
    return node


def _is_empty(node: yaml.Node) -> bool:
    return isinstance(node, yaml.ScalarNode) and node.value in NULLS and node.style is None


def _plain(node: yaml.Node | None) -> Plain:
    if isinstance(node, yaml.MappingNode):
        if not all(isinstance(key, yaml.ScalarNode) for key, _ in node.value):
            raise CannotChangeError(BY_HAND)
        return {key.value: _plain(value) for key, value in reversed(node.value)}  # of a key that stands twice the first counts
    if isinstance(node, yaml.SequenceNode):
        return [_plain(entry) for entry in node.value]
    return "" if node is None or _is_empty(node) else node.value


def _as_read(value: object) -> Plain:
    return _plain(composed(flow(value)))


def _inside(wanted: Plain, path: Path) -> Plain:
    """Return the mapping or the list that the last step of a path leads into."""
    try:
        for step in path[:-1]:
            wanted = wanted[step]
    except (KeyError, IndexError, TypeError) as error:
        raise CannotChangeError(GONE) from error
    if not isinstance(wanted, dict if isinstance(path[-1], str) else list):
        raise CannotChangeError(GONE)
    return wanted


def _with_entry(text: Text, node: yaml.SequenceNode, value: object) -> Text:
    """Put an entry behind the last of a list, written as the list is."""
    if not node.flow_style:
        return _with_lines(text, _end(node, text.text), node.start_mark.column, _entry_lines(value))
    at = _end(node.value[-1], text.text) if node.value else node.start_mark.index + 1
    return text.changed(at, at, ", " * bool(node.value) + flow(value))


def _with_key(text: Text, parent: yaml.Node | None, key: str, value: object) -> Text:
    """Give a mapping a key that it has not, or that stands there without a value."""
    if parent is None or _is_empty(parent):  # a file of remarks only
        return _with_lines(text, len(text.text.rstrip()), 0, _key_lines(key, value))
    if not isinstance(parent, yaml.MappingNode):
        raise CannotChangeError(BY_HAND)
    bare = next((v for k, v in parent.value if k.value == key), None)
    if bare is not None:
        return _with_value(text, parent, bare, value)
    if parent.flow_style:
        at = _end(parent.value[-1][1], text.text) if parent.value else parent.start_mark.index + 1
        return text.changed(at, at, ", " * bool(parent.value) + f"{key}: {flow(value)}")
    return _with_lines(text, _end(parent, text.text), parent.start_mark.column, _key_lines(key, value))


def _with_value(text: Text, parent: yaml.MappingNode, bare: yaml.Node, value: object) -> Text:
    """Give a key that stands there without a value, or with the word null, one."""
    start, end = bare.start_mark.index, bare.end_mark.index
    if start == end and isinstance(value, list) and not parent.flow_style:
        return _with_lines(text, end, parent.start_mark.column + STEP, _lines(value))
    return text.changed(start, end, " " * (start == end) + flow(value))


def _with_lines(text: Text, at: int, column: int, lines: Sequence[str]) -> Text:
    return text.with_lines_after(at, text.line_end.join(" " * column + line for line in lines))


def _end(node: yaml.Node, text: str) -> int:
    """Return where the last sign of a node stands; the parser's own mark of a group lies before the next key, behind all remarks."""
    if isinstance(node, yaml.MappingNode) and node.value and not node.flow_style:
        return _end(node.value[-1][1], text)
    if isinstance(node, yaml.SequenceNode) and node.value and not node.flow_style:
        return _end(node.value[-1], text)
    end: int = node.end_mark.index
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        return len(text[:end].rstrip("\r\n"))
    return end


def _without_item(text: Text, spans: Sequence[Span], at: int) -> Text:
    if at:
        return text.changed(spans[at - 1][1], spans[at][1], "")
    return text.changed(spans[0][0], spans[1][0] if len(spans) > 1 else spans[0][1], "")


def _without_lines(text: Text, spans: Sequence[Span], at: int) -> Text:
    start, end = spans[at]
    begins = max(text.text.rfind("\n", 0, start), text.text.rfind("\r", 0, start)) + 1
    if text.text[begins:start].strip() != "-":
        raise CannotChangeError(BY_HAND)
    ends = LINE_END.search(text.text, end)
    if ends:
        return text.changed(begins, ends.end(), "")
    return text.changed(len(text.text[:begins].rstrip("\r\n")), len(text.text), "")


def _sure(text: Text, wanted: Plain) -> bytes:
    """Return the bytes of a file, once it says what was wanted."""
    try:
        read = _read(text.data)[2]
    except CannotChangeError as error:
        raise CannotChangeError(BY_HAND) from error
    if read != wanted:
        raise CannotChangeError(BY_HAND)
    return text.data
