"""The command line: what it prints, and what it exits with."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from benchrecord import __version__
from benchrecord.cli import main
from folders import contents, write
from sounds import seconds, write_sound

ROOT = Path(__file__).parent.parent


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_it_says_its_version() -> None:
    assert run("--version").output.strip().endswith(__version__)


def test_a_folder_with_nothing_wrong_exits_with_0(job: Path) -> None:
    result = run("check", job)
    assert (result.exit_code, result.output) == (0, "Nothing is wrong.\n")


def test_problems_are_grouped_by_file_and_exit_with_1(job: Path) -> None:
    write(job, {"job.yml": "titel: x\n", "parts.csv": "ref,action\nR1,replased\n"})
    result = run("check", job)
    assert result.exit_code == 1
    assert result.output.startswith("job.yml\n  line 1, column 1: error ")
    assert "    write:    write title\n" in result.output
    assert "parts.csv\n  line 2, column action: error unknown-word\n    read:     replased" in result.output
    assert result.output.rstrip().endswith("2 errors")


def test_problems_as_json_have_every_part(job: Path) -> None:
    write(job, {"parts.csv": "ref,action\nR1,replased\n"})
    (problem,) = json.loads(run("check", job, "--json").output)
    assert problem == {
        "file": "parts.csv",
        "line": 2,
        "column": "action",
        "code": "unknown-word",
        "severity": "error",
        "got": "replased",
        "expected": "one of: replaced, repaired, added, removed, cleaned",
        "remedy": "write replaced",
    }


def test_a_folder_without_problems_is_an_empty_list(job: Path) -> None:
    assert json.loads(run("check", job, "--json").output) == []


def test_a_warning_is_shown_and_does_not_stop_anything(tmp_path: Path, job: Path) -> None:
    write_sound(job / "recordings/a.ogg", 0.5 * np.sin(2 * np.pi * 440 * seconds(1)), subtype="VORBIS")
    write(job, {"checks.yml": "- {id: s, title: Hum, kind: spectrum, expect: sine, as_left: a.ogg}\n"})
    assert run("check", job).exit_code == 0
    assert "lossy-recording" in run("check", job).output
    assert run("build", job, "--site-dir", tmp_path / "site").exit_code == 0


@pytest.mark.parametrize(
    "words", [("check",), ("check", "--nonsense", "x"), ("findings",), ("nonsense",), ("build", "--edition", "all")]
)
def test_a_wrong_call_exits_with_2(words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


def test_a_folder_that_is_not_there_is_a_problem_not_a_traceback(tmp_path: Path) -> None:
    result = run("check", tmp_path / "gone")
    assert result.exit_code == 1
    assert "folder-missing" in result.output


def test_findings_are_for_anyone_unless_another_reader_is_named() -> None:
    anyone = json.loads(run("findings", ROOT / "sample_job", "--json").output)
    owner = json.loads(run("findings", ROOT / "sample_job", "--json", "--edition", "owner").output)
    assert anyone["job"] == "estuary-44"
    assert anyone["decision_rule"] == "guarded"
    assert "cost" not in anyone["parts"]
    assert "cost" in owner["parts"]


def test_findings_of_a_folder_with_errors_are_the_errors(job: Path) -> None:
    write(job, {"parts.csv": "ref,action\nR1,replased\n"})
    result = run("findings", job)
    assert result.exit_code == 1
    assert "unknown-word" in result.output


def test_nothing_of_the_user_s_is_ever_changed(tmp_path: Path, job: Path) -> None:
    write(job, {"parts.csv": "ref,action\nR1,replased\n", "odd.txt": "x"})
    before = contents(job)
    for words in (("check", job), ("findings", job), ("build", job, "--site-dir", tmp_path / "s")):
        run(*words)
    assert contents(job) == before


def test_a_file_that_is_no_kind_of_check_is_a_wrong_call(tmp_path: Path, job: Path) -> None:
    (tmp_path / "empty.py").write_text("x = 1\n")
    result = run("check", job, "--kind", tmp_path / "empty.py")
    assert result.exit_code == 2
    assert "holds no KIND" in result.output


def test_a_preview_on_a_port_that_is_taken_says_so_before_it_builds(job: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        result = run("preview", job, "--port", str(taken.getsockname()[1]))
    assert result.exit_code == 1
    assert result.output.endswith("Choose another with --port.\n")
    assert "Built" not in result.output


def test_a_preview_of_a_folder_that_is_not_there_is_a_wrong_call(tmp_path: Path) -> None:
    assert run("preview", tmp_path / "gone").exit_code == 2


def _as_in_a_terminal() -> None:
    """Hear signals that whoever runs the tests in the background has told their children to pass over."""
    for heard in (signal.SIGHUP, signal.SIGINT):
        signal.signal(heard, signal.default_int_handler if heard == signal.SIGINT else signal.SIG_DFL)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_preview_that_is_ended_leaves_nothing_behind(job: Path, tmp_path: Path, own_cache: Path, name: str) -> None:
    """However it is ended: by Ctrl+C, by a session that ends, by a window that is closed."""
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "benchrecord", "preview", str(job), "--port", str(port)]
    env = {**os.environ, "TMPDIR": str(scratch), "BENCHRECORD_CACHE": str(own_cache), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env, preexec_fn=_as_in_a_terminal) as running:  # noqa: PLW1509  # one thread
        try:
            assert running.stdout
            assert any(line.startswith("Open http") for line in running.stdout)
            made = [path.name for path in scratch.iterdir()]
            running.send_signal(getattr(signal, name))
            assert running.wait(60) == 0
        finally:
            running.kill()
    assert [path for path in made if path.startswith("benchrecord-preview-")]
    assert list(scratch.iterdir()) == []
