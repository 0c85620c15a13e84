"""What a record needs is installed by a command that works here: for this Python, from any index, quoted for this shell."""

from __future__ import annotations

import os
import shlex
import sys
import sysconfig
from importlib.metadata import PackageNotFoundError
from pathlib import Path

import pytest

from benchrecord.problems import as_command
from benchrecord.record import installing
from benchrecord.record.installing import FALLBACK, install_extra, install_pango


def test_it_names_every_package_of_the_extra_for_this_python() -> None:
    command, *words = shlex.split(install_extra())
    assert command == sys.executable
    names = {word.partition("[")[0].partition("<")[0].partition(">")[0] for word in words if not word.startswith("-")}
    assert {"weasyprint", "pikepdf", "cryptography", "bcrypt"} <= names
    assert "benchrecord" not in " ".join(words)  # which no index need have


def test_an_environment_without_pip_is_one_of_uv(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(installing, "find_spec", lambda _: None)
    assert shlex.split(install_extra())[:5] == ["uv", "pip", "install", "--python", sys.executable]


@pytest.mark.parametrize("own", [True, False])
def test_a_python_of_the_system_needs_leave(own: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: FBT001  # the case
    (tmp_path / "EXTERNALLY-MANAGED").touch()
    monkeypatch.setattr(sysconfig, "get_path", lambda _: str(tmp_path))
    monkeypatch.setattr(sys, "base_prefix", "/elsewhere" if own else sys.prefix)
    assert ("--break-system-packages" in install_extra()) is not own


def test_what_runs_from_its_source_knows_the_names_too(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(name: str) -> list[str]:
        raise PackageNotFoundError(name)

    monkeypatch.setattr(installing, "requires", gone)
    assert shlex.split(install_extra())[-len(FALLBACK) :] == [*FALLBACK]


@pytest.mark.parametrize(
    ("platform", "program"), [("linux", "apt-get"), ("darwin", "brew"), ("win32", "pacman"), ("freebsd14", "apt-get")]
)
def test_each_system_has_its_own_way_to_pango(platform: str, program: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    assert program in install_pango()


@pytest.mark.parametrize("word", ["plain", "two words", "weasyprint<71,>=70", "pikepdf[pdfa]", "a'b", "$HOME", "", "ä&b"])
def test_a_word_of_a_command_stays_one_word_in_every_shell(word: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert shlex.split(as_command([word])) == [word]
    monkeypatch.setattr(os, "name", "nt")
    shown = as_command([word])
    assert shown == (word if word == "plain" else f'"{word}"')
