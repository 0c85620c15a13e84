"""What commands print, on streams of every encoding that systems use."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from benchrecord.cli import main
from benchrecord.terminal import ASCII
from folders import write

ENCODINGS = ("utf-8", "cp1252", "cp437", "cp850", "cp932", "iso8859-1", "ascii", "utf-16")
WRITTEN_AS = {"ascii": "utf-8"}  # click takes such a stream for one whose encoding nobody has set
STRANGE = "−5 °C, 4k7 Ω ± 1 %, µ, é, Привет, 日本, 😀, \u202e"
JOB = {
    "job.yml": f'title: "{STRANGE}"\npublish: yes\n',
    "parts.csv": f"ref,action,reason\nR1,{STRANGE},{STRANGE}\n".replace("%, µ", "% µ").replace(", ", " "),
    "checks.yml": "- {id: rails, title: Supply −15 V, kind: readings, file: rails.csv}\n",
    "measurements/rails.csv": "item,unit,nominal,low,high,as_left\n−15 V,V,-15,-15.15,-14.85,-15.02\nload Ω,ohm,10,9,11,10.2\n",
}


def run(encoding: str, *words: object) -> Result:
    return CliRunner(charset=encoding).invoke(main, [str(word) for word in words])


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_problems_are_printed_on_every_stream(job: Path, encoding: str) -> None:
    result = run(encoding, "check", write(job, JOB))
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "unknown-word" in result.stdout_bytes.decode(WRITTEN_AS.get(encoding, encoding))


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_findings_are_printed_on_every_stream(job: Path, encoding: str) -> None:
    result = run(encoding, "findings", write(job, {name: JOB[name] for name in JOB if name != "parts.csv"}))
    assert result.exception is None, result.stderr
    assert "10.2 " in result.stdout_bytes.decode(WRITTEN_AS.get(encoding, encoding))


@pytest.mark.parametrize("encoding", ENCODINGS[:-1])
@pytest.mark.parametrize("command", ["check", "findings"])
def test_json_is_utf_8_on_every_stream_and_says_the_same(job: Path, encoding: str, command: str) -> None:
    files = JOB if command == "check" else {name: JOB[name] for name in JOB if name != "parts.csv"}
    write(job, files)
    own, here = (run(e, command, job, "--json").stdout_bytes for e in (encoding, "utf-8"))
    assert json.loads(own.decode("utf-8")) == json.loads(here.decode("utf-8"))
    assert encoding != "utf-8" or STRANGE[0].encode() in here


def test_where_the_stream_is_utf_8_every_sign_stays(job: Path) -> None:
    assert "−15" in run("utf-8", "findings", write(job, {n: JOB[n] for n in JOB if n != "parts.csv"})).stdout_bytes.decode(
        "utf-8"
    )


def test_a_sign_is_replaced_by_ascii_that_reads_alike_and_a_letter_by_its_number() -> None:
    run("ascii", "--version")  # names the handler
    assert "−15.02 V ± 0.03, R ≤ 4 Ω".encode("ascii", "benchrecord-ascii") == b"-15.02 V +/- 0.03, R <= 4 ohm"
    assert "Gehäuse 日".encode("ascii", "benchrecord-ascii") == rb"Geh\xe4use \u65e5"
    assert "Gehäuse −".encode("cp1252", "benchrecord-ascii") == "Gehäuse -".encode("cp1252")
    assert all(plain.isascii() for plain in ASCII.values())


def test_a_name_that_is_no_utf_8_is_printed_too(job: Path) -> None:
    try:
        (job / os.fsdecode(b"\xff.txt")).write_text("x")
    except OSError:
        pytest.skip("no such name on this disk")
    assert b"txt" in run("utf-8", "check", job).stdout_bytes


def test_a_stream_that_is_none_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    with pytest.raises(SystemExit):
        main(["--version"])
    assert "version" in sys.stdout.getvalue()  # type: ignore[attr-defined]  # the one above


def test_findings_go_into_a_file_from_a_console_of_cp1252(job: Path, tmp_path: Path) -> None:
    env = {**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    write(job, {name: JOB[name] for name in JOB if name != "parts.csv"})
    with (tmp_path / "findings.txt").open("wb") as out:
        subprocess.run([sys.executable, "-m", "benchrecord", "findings", str(job)], stdout=out, env=env, check=True)
    assert "Supply -15 V" in (tmp_path / "findings.txt").read_text("cp1252")
