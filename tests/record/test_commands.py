"""The commands of a record: what they print, and what they exit with."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from benchrecord.cli import main


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


def test_verifying_a_whole_record_exits_with_0_and_tells_what_it_is(folder: Path) -> None:
    result = run("verify", folder)
    assert result.exit_code == 0
    assert result.output.startswith("Whole and unchanged: 8 files, 0.0 MB.\n")
    assert "Source-Organization: A bench" in result.output


def test_a_bad_file_is_named_and_exits_with_1(folder: Path) -> None:
    (folder / "data/notes.txt").write_text("hellO\n")
    result = run("verify", folder)
    assert result.exit_code == 1
    assert result.output == "data/notes.txt: changed\n\nNot as it was handed over: 1 name above.\n"


def test_a_path_that_is_not_there_is_a_wrong_call(tmp_path: Path) -> None:
    assert run("verify", tmp_path / "gone").exit_code == 2
    assert run("verify").exit_code == 2


def test_a_file_that_is_no_zip_is_told_and_exits_with_1(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("x")
    result = run("verify", tmp_path / "x")
    assert (result.exit_code, result.exception.__class__) == (1, SystemExit)
    assert "not a ZIP" in result.output
