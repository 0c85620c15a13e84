"""Compiled templates are kept, and never used where they are damaged or of another source."""

from __future__ import annotations

from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from benchrecord.publish.cache import Cache
from benchrecord.publish.compiled_templates import CompiledTemplates


def rendered(folder: Path, source: str, monkeypatch: pytest.MonkeyPatch) -> tuple[str, int]:
    """Render a template by a new environment; return the text and how many templates were compiled for it."""
    environment = Environment(
        loader=DictLoader({"a.html": source}), autoescape=True, bytecode_cache=CompiledTemplates(Cache(folder))
    )
    compiled: list[str] = []
    plain = environment._generate
    monkeypatch.setattr(environment, "_generate", lambda *a, **k: (compiled.append("a"), plain(*a, **k))[1])
    return environment.get_template("a.html").render(x="<b>"), len(compiled)


def test_a_template_is_compiled_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert rendered(tmp_path, "{{ x }}!", monkeypatch) == ("&lt;b&gt;!", 1)
    assert rendered(tmp_path, "{{ x }}!", monkeypatch) == ("&lt;b&gt;!", 0)


def test_another_source_of_the_same_name_is_compiled_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rendered(tmp_path, "{{ x }}!", monkeypatch)
    assert rendered(tmp_path, "{{ x }}?", monkeypatch) == ("&lt;b&gt;?", 1)


@pytest.mark.parametrize("damage", [b"", b"short", b"x" * 4000])
def test_a_damaged_entry_is_compiled_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: bytes) -> None:
    rendered(tmp_path, "{{ x }}!", monkeypatch)
    for entry in (path for path in tmp_path.rglob("*") if path.is_file()):
        entry.write_bytes(damage)
    assert rendered(tmp_path, "{{ x }}!", monkeypatch) == ("&lt;b&gt;!", 1)
