"""Signatures in the form of OpenSSH: OpenSSH reads ours, we read OpenSSH's, and no bit of one can change."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec

from benchrecord.record.signature import SignatureError, is_locked, sign, signer
from keys import KEY, PUBLIC, private

MESSAGE = b"the manifest of all manifests\n"
needs_openssh = pytest.mark.skipif(not shutil.which("ssh-keygen"), reason="ssh-keygen is not installed")


def test_what_is_signed_tells_its_key() -> None:
    key = signer(MESSAGE, sign(MESSAGE, private(KEY)))
    assert key.fingerprint.startswith("SHA256:")
    assert key.name_in(f"{PUBLIC} bench@hathersedge.example\n") == "bench@hathersedge.example"
    assert key.name_in(f'corvin namespaces="file" {PUBLIC}\n') == "corvin"
    assert key.name_in(f"# {PUBLIC}\nsomeone else\n") is None


def test_it_is_the_same_every_time() -> None:
    assert sign(MESSAGE, private(KEY)) == sign(MESSAGE, private(KEY))


def test_no_bit_of_a_signature_can_change_and_no_bit_of_what_is_signed() -> None:
    made = sign(MESSAGE, private(KEY))
    for content, changed_is_signature in ((made, True), (MESSAGE, False)):
        for at in range(len(content)):
            for bit in range(8):
                changed = content[:at] + bytes([content[at] ^ 1 << bit]) + content[at + 1 :]
                with pytest.raises(SignatureError):
                    signer(MESSAGE, changed) if changed_is_signature else signer(changed, made)


@pytest.mark.parametrize(
    "content", [b"", b"nonsense", b"-----BEGIN SSH SIGNATURE-----\n-----END SSH SIGNATURE-----\n", b"\xff" * 40]
)
def test_what_is_no_signature_is_told(content: bytes) -> None:
    with pytest.raises(SignatureError):
        signer(MESSAGE, content)


def test_a_key_with_a_passphrase_wants_it() -> None:
    locked = private(KEY, b"open")
    assert is_locked(locked)
    assert not is_locked(private(KEY))
    assert signer(MESSAGE, sign(MESSAGE, locked, b"open"))
    for wrong in (None, b"other"):
        with pytest.raises(SignatureError, match="cannot be read"):
            sign(MESSAGE, locked, wrong)


def test_a_key_of_another_kind_is_told() -> None:
    with pytest.raises(SignatureError, match="ssh-keygen -t ed25519"):
        sign(MESSAGE, private(ec.generate_private_key(ec.SECP256R1())))


@needs_openssh
def test_openssh_reads_ours_and_shows_the_same_fingerprint(tmp_path: Path) -> None:
    (tmp_path / "s.sig").write_bytes(sign(MESSAGE, private(KEY)))
    (tmp_path / "allowed").write_text(f"corvin {PUBLIC}\n")
    words = ["ssh-keygen", "-Y", "verify", "-f", tmp_path / "allowed", "-I", "corvin", "-n", "file", "-s", tmp_path / "s.sig"]
    assert b"Good" in subprocess.run(words, input=MESSAGE, capture_output=True, check=True).stdout
    assert subprocess.run(words, input=MESSAGE + b"x", capture_output=True, check=False).returncode != 0
    (tmp_path / "key.pub").write_text(PUBLIC + "\n")
    shown = subprocess.run(["ssh-keygen", "-lf", tmp_path / "key.pub"], capture_output=True, text=True, check=True).stdout
    assert signer(MESSAGE, sign(MESSAGE, private(KEY))).fingerprint in shown


@needs_openssh
def test_we_read_what_openssh_signed_and_make_the_same(tmp_path: Path) -> None:
    (tmp_path / "key").write_bytes(private(KEY))
    (tmp_path / "key").chmod(0o600)
    made = subprocess.run(
        ["ssh-keygen", "-Y", "sign", "-f", tmp_path / "key", "-n", "file"], input=MESSAGE, capture_output=True, check=True
    ).stdout
    assert made == sign(MESSAGE, private(KEY))
    assert signer(MESSAGE, made)
