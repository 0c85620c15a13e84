"""The README's commands, as they are written: the first runs here in a fresh clone, the second ends the run of the CI."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
COMMANDS = re.findall(r"```sh\n(python3 .+)\n```", README)


def fresh_clone(folder: Path) -> Path:
    """Copy what git would give: the files it knows, as they are now."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if listed.returncode:
        pytest.skip("no git here: this is not a clone")
    for name in (n for n in listed.stdout.decode().split("\0") if n and (ROOT / n).is_file()):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes((ROOT / name).read_bytes())
    return folder


def test_there_are_just_two_commands_to_begin_with() -> None:
    assert len(COMMANDS) == 2


def test_windows_gets_the_same_commands() -> None:
    steps = [step for command in COMMANDS for step in command.split(" && ")]
    (block,) = re.findall(r"```powershell\n(.+?)\n```", README, re.DOTALL)
    there = [step.replace("python3", "py").replace(".venv/bin/", ".venv\\Scripts\\").replace("'", "") for step in steps]
    assert [line for line in block.splitlines() if line] == there


def test_the_second_command_ends_the_run_of_the_ci() -> None:
    """It would run this test too, were it run from here."""
    assert (ROOT / ".ci/run").read_text("utf-8").splitlines()[-1] == COMMANDS[1]


@pytest.mark.slow
def test_the_first_command_works_as_written(tmp_path: Path) -> None:
    clone = fresh_clone(tmp_path / "clone")
    env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTEST", "VIRTUAL_ENV", "PYTHONPATH"))}
    env |= {"PIP_NO_COMPILE": "0"}  # as pip has it, "no": compiling what nothing imports here takes two thirds of installing
    built = subprocess.run(COMMANDS[0], shell=True, cwd=clone, env=env, capture_output=True, text=True, check=False)  # noqa: S602  # as a reader types it
    assert built.returncode == 0, built.stderr[-2000:]
    page = Path(re.findall(r"^Open (.+)$", built.stdout, re.MULTILINE)[-1])
    assert page == clone / "site" / "index.html"
    assert "Estuary 44" in page.read_text("utf-8")
