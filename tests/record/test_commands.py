"""The commands of a record: what they print, and what they exit with."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner, Result

from benchrecord.cli import main
from benchrecord.record.bag import bag
from benchrecord.record.identity import former
from benchrecord.record.signature import sign
from benchrecord.record.verify import verify
from benchrecord.record.writing import write
from keys import KEY, PUBLIC, private


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
    assert result.output == f"{tmp_path / 'x'}: not a ZIP that can be read: it is no ZIP file, or its end is missing\n"


def test_what_is_no_record_is_one_sentence_whatever_was_asked(tmp_path: Path) -> None:
    (tmp_path / "bench.pub").write_text(PUBLIC)
    result = run("verify", tmp_path, "--signers", tmp_path / "bench.pub")
    assert (result.exit_code, result.output) == (1, f"{tmp_path}: not a record: it has no bagit.txt\n")


def test_a_signed_record_says_whose_key_it_is(tmp_path: Path) -> None:
    files = bag({"data/a": b"a"}, (), {})
    files["tagmanifest-sha512.txt.sig"] = sign(files["tagmanifest-sha512.txt"], private(KEY))  # type: ignore[arg-type]  # bytes
    write(files, tmp_path / "r.zip", zipped=True, prove=lambda _: None)
    (tmp_path / "bench.pub").write_text(f"{PUBLIC} bench@hathersedge.example\n")
    (tmp_path / "other.pub").write_text("ssh-ed25519 AAAA other\n")
    assert "Signed with the key SHA256:" in run("verify", tmp_path / "r.zip").output
    assert (
        "Signed by bench@hathersedge.example" in run("verify", tmp_path / "r.zip", "--signers", tmp_path / "bench.pub").output
    )
    refused = run("verify", tmp_path / "r.zip", "--signers", tmp_path / "other.pub")
    assert (refused.exit_code, "not in your list" in refused.output) == (1, True)


def test_a_signature_of_another_record_is_told(folder: Path) -> None:
    (folder / "tagmanifest-sha512.txt.sig").write_bytes(sign(b"another", private(KEY)))
    result = run("verify", folder)
    assert (result.exit_code, "tagmanifest-sha512.txt.sig: it is not the signature of this record" in result.output) == (
        1,
        True,
    )


def test_a_record_that_must_be_signed_and_is_not_is_told(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "bench.pub").write_text(PUBLIC)
    assert run("verify", folder, "--signers", tmp_path / "bench.pub").exit_code == 1
    assert "Not signed." in run("verify", folder).output


def test_a_record_is_held_to_the_one_it_must_follow(folder: Path, tmp_path: Path) -> None:
    before = verify(folder)
    follows = former(folder.name, before.sealed, before.info)
    info = (("Former-Record", follows.name), ("Former-Record-SHA-512", follows.seal))
    write(bag({"data/a": b"a"}, info, {}), tmp_path / "later", zipped=False, prove=lambda _: None)
    assert run("verify", tmp_path / "later", "--follows", folder).exit_code == 0
    assert "does not name" in run("verify", folder, "--follows", tmp_path / "later").output
    (folder / "data/notes.txt").write_text("hellO\n")
    assert "small-record/data/notes.txt: changed" in run("verify", tmp_path / "later", "--follows", folder).output
