"""The size of things: small functions, short files, everything typed."""

from __future__ import annotations

import ast
import statistics
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "plugins" / "benchrecord"
FILES = sorted(PACKAGE.rglob("*.py"))


@cache
def functions() -> list[tuple[Path, ast.FunctionDef | ast.AsyncFunctionDef]]:
    return [
        (path, node)
        for path in FILES
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Return the lines of a function's body, its docstring left out."""
    body = function.body[1:] if ast.get_docstring(function) and len(function.body) > 1 else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


def test_functions_are_small() -> None:
    sizes = sorted(body_lines(f) for _, f in functions())
    assert len(sizes) > 300
    assert statistics.median(sizes) <= 10
    assert sizes[int(len(sizes) * 0.9)] <= 35
    assert sizes[-1] <= 60


def test_files_are_short() -> None:
    assert max(len(path.read_text("utf-8").splitlines()) for path in FILES) <= 600


def test_at_most_four_arguments_are_positional() -> None:
    many = [
        f"{path.name}: {f.name}" for path, f in functions() if len([a for a in f.args.args if a.arg not in ("self", "cls")]) > 4
    ]
    assert many == []


def test_every_function_says_what_it_takes_and_gives() -> None:
    untyped = [f"{path.name}: {f.name}" for path, f in functions() if f.returns is None]
    assert untyped == []
