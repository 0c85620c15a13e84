"""The code uses nothing that only one system has, and leaves no text to a system's own encoding or line ends."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import wheels

PACKAGE = Path(__file__).parents[2] / "plugins" / "benchrecord"
ONE_SYSTEM_S = {"fcntl", "grp", "locale", "msvcrt", "pty", "pwd", "resource", "syslog", "termios", "winreg"}  # modules
NOT_EVERYWHERE = {  # of the module os
    "chown", "fchmod", "fdatasync", "fork", "getegid", "geteuid", "getgid", "getuid", "link", "mkfifo", "nice", "pread", "pwrite",
    "sched_getaffinity", "sched_setaffinity", "statvfs", "symlink", "sync", "uname",
}  # fmt: skip
MOVES = {
    "disk.py",
    "publish/cache.py",
    "publish/preview/saving.py",
    "publish/site_lock.py",
}  # where a refusal is waited for, or costs nothing


@cache
def trees() -> dict[str, ast.Module]:
    return {path.relative_to(PACKAGE).as_posix(): ast.parse(path.read_text("utf-8")) for path in sorted(PACKAGE.rglob("*.py"))}


def calls() -> Iterator[tuple[str, str, ast.Call]]:
    """Yield each call with its file and the last part of its name."""
    for file, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute | ast.Name):
                yield file, node.func.attr if isinstance(node.func, ast.Attribute) else node.func.id, node


def named(call: ast.Call) -> set[str | None]:
    return {keyword.arg for keyword in call.keywords}


def opens_text(call: ast.Call) -> bool:
    """Say whether ``open(path, mode)`` or ``path.open(mode)`` opens a file of text: by its mode, or by having none."""
    own = isinstance(call.func, ast.Name)
    mode = next((k.value for k in call.keywords if k.arg == "mode"), None) or next(iter(call.args[own:]), None)
    return mode is None or (isinstance(mode, ast.Constant) and "b" not in str(mode.value))


def test_the_table_of_wheels_has_every_system_and_lacks_nothing_where_it_must_not() -> None:
    text = (PACKAGE.parents[1] / "DEVELOPERS.md").read_text("utf-8")
    table = text.split("`python tests/wheels.py`")[1].split("Nothing is missing")[0]
    assert re.search(r"^Checked on \d{4}-\d\d-\d\d\.$", table, re.MULTILINE)
    rows = {
        (system, python): cells
        for system, python, cells in re.findall(r"^\| ([^|]+?) \| (3\.\d+) \| (.+) \|$", table, re.MULTILINE)
    }
    assert set(rows) == {(system, python) for system in wheels.SYSTEMS for python in wheels.PYTHONS}
    assert {system for (system, _), cells in rows.items() if "not " in cells} == {"Windows, ARM"}


def test_no_module_of_one_system_is_imported() -> None:
    found = {
        (file, name)
        for file, tree in trees().items()
        for node in ast.walk(tree)
        for name in (
            [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module] if isinstance(node, ast.ImportFrom) else []
        )
        if name in ONE_SYSTEM_S
    }  # fmt: skip
    assert found == set()


def test_nothing_is_taken_from_os_that_is_not_everywhere() -> None:
    found = {
        (file, node.attr)
        for file, tree in trees().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "os"
        if node.attr in NOT_EVERYWHERE
        or (node.attr.startswith("O_") and node.attr not in ("O_RDWR", "O_CREAT", "O_RDONLY", "O_WRONLY"))
    }
    assert found == set()


@pytest.mark.parametrize(("name", "least"), [("read_text", 1), ("write_text", 2)])
def test_every_text_file_has_an_encoding(name: str, least: int) -> None:
    own = [(file, call) for file, called, call in calls() if called == name and isinstance(call.func, ast.Attribute)]
    assert [(file, call.lineno) for file, call in own if len(call.args) < least and "encoding" not in named(call)] == []
    assert own


def test_every_text_file_that_is_written_has_its_line_ends() -> None:
    assert [(file, call.lineno) for file, name, call in calls() if name == "write_text" and "newline" not in named(call)] == []


def test_no_text_is_read_or_written_by_an_open_without_an_encoding() -> None:
    opened = [(file, call) for file, name, call in calls() if name == "open"]
    assert [(file, call.lineno) for file, call in opened if opens_text(call) and "encoding" not in named(call)] == []
    assert opened


def test_files_are_moved_where_a_refusal_is_waited_for() -> None:
    moved = {
        (file, call.lineno)
        for file, name, call in calls()
        if isinstance(call.func, ast.Attribute)
        and (name in ("rename", "rmtree", "unlink") or (name == "replace" and len(call.args) == 1 and not call.keywords))
        and file not in MOVES
    }
    assert moved == set()
