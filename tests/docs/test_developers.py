"""DEVELOPERS.md says what the code does: the tree, the codes, the table of imports, the recipe."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchrecord.problems import CODES

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "plugins" / "benchrecord"
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TOP_LEVEL = {
    ".ci", ".gitattributes", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "mkdocs.yml", "plugins", "pyproject.toml", "sample_job", "site_src", "tests",
}  # fmt: skip


def modules() -> Iterator[tuple[str, str, ast.Module]]:
    """Yield (room, path inside the package, tree) of each module."""
    for path in sorted(PACKAGE.rglob("*.py")):
        inside = path.relative_to(PACKAGE)
        if inside.as_posix() != "__init__.py":
            yield (
                (inside.parts[0] if len(inside.parts) > 1 else inside.stem),
                inside.as_posix(),
                ast.parse(path.read_text("utf-8")),
            )


def test_the_tree_shows_every_file_with_its_own_first_sentence() -> None:
    block = TEXT.split("## The tree")[1].split("```")[1]
    shown: dict[str, str] = {}
    room = ""
    for line in block.strip().splitlines()[1:]:
        name, _, words = line.strip().partition(" ")
        room = name if line.startswith("  ") and not line.startswith("    ") else room
        key = "__init__.py" if name == room and name.endswith("/") else name
        shown[name if not room.endswith("/") else room + key] = words.strip()
    sentences = {path: (ast.get_docstring(tree) or "").split("\n")[0] for _, path, tree in modules()}
    assert shown == sentences


def test_the_codes_are_those_of_the_list() -> None:
    rows = re.findall(r"^\| `([a-z-]+)` \| (\w+) \| (.+) \|$", TEXT, re.MULTILINE)
    assert {code: (severity, words) for code, severity, words in rows} == {c: (str(s), w) for c, (s, w) in CODES.items()}


def _table(heading: str) -> dict[str, set[str]]:
    part = TEXT.split(f"| {heading} |")[1].split("\n\n")[0]
    rows = re.findall(r"^\| ([^|]*)\|([^|]*)\|$", part, re.MULTILINE)
    return {
        name.strip().replace("\\", ""): {w.strip() for w in words.split(",") if w.strip()}
        for name, words in rows
        if not name.startswith("---") and name.strip()
    }


def _imports(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ([f"{node.module}.{a.name}" for a in node.names] if node.module == "benchrecord" else [node.module])
        elif isinstance(node, ast.Import):
            yield from (a.name for a in node.names)


def test_each_room_imports_only_what_the_table_allows() -> None:
    allowed = _table("room | may import")
    assert set(allowed) == {room for room, _, _ in modules()}
    for room, path, tree in modules():
        for name in _imports(tree):
            parts = name.split(".")
            if parts[0] == "benchrecord" and parts[1:] != ["__version__"] and parts[1] != room:
                assert {parts[1], ".".join(parts[1:3])} & allowed[room], f"{path} imports {name}"


def test_each_library_is_imported_only_where_the_table_says() -> None:
    allowed = {library: rooms for names, rooms in _table("library | only in").items() for library in names.split(", ")}
    for room, path, tree in modules():
        for name in _imports(tree):
            library = name.split(".")[0]
            if library not in sys.stdlib_module_names | {"benchrecord"} and not (room == "bench" and library == "numpy"):
                assert room in allowed.get(library, set()), f"{path} imports {name}"


def test_no_circle_of_imports() -> None:
    graph: dict[str, set[str]] = {}
    for _, path, tree in modules():
        name = path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
        graph[name] = {n.removeprefix("benchrecord.") for n in _imports(tree) if n.startswith("benchrecord.")} - {name}
    while free := {name for name, needs in graph.items() if not needs & set(graph)}:
        for name in free:
            del graph[name]
    assert not graph


def test_matplotlib_stays_out_of_a_chart_that_is_only_described() -> None:
    code = "import sys, benchrecord.checks as c; c.all_kinds(); sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_top_level_holds_nothing_else() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("no git here: this is not a clone")
    assert {name.split("/")[0] for name in listed.stdout.splitlines()} == TOP_LEVEL
