"""A detached signature in the form of OpenSSH, made and read with an Ed25519 key: ``ssh-keygen -Y`` reads it too.

Source: PROTOCOL.sshsig of OpenSSH, RFC 8709 (Ed25519 in SSH).
"""

from __future__ import annotations

import base64
import hashlib
import struct
import textwrap
from dataclasses import dataclass
from typing import Any

from benchrecord.record.installing import install_extra

MAGIC, VERSION, NAMESPACE, HASH, KIND = b"SSHSIG", 1, b"file", b"sha512", b"ssh-ed25519"
BEGIN, END, LINE = "-----BEGIN SSH SIGNATURE-----", "-----END SSH SIGNATURE-----", 70
LONGEST = 10_000  # bytes of a signature
MISSING = "Signing needs what is not installed yet. Install it:\n\n  {}\n"


class SignatureError(Exception):
    """A key that cannot sign, or a signature that is none of this message; the message says why."""


@dataclass(frozen=True, slots=True)
class Key:
    """A public key as OpenSSH writes it between its kind and its comment."""

    blob: bytes

    @property
    def fingerprint(self) -> str:
        """Return what ``ssh-keygen -l`` shows of the key."""
        return "SHA256:" + base64.b64encode(hashlib.sha256(self.blob).digest()).decode().rstrip("=")

    def name_in(self, listed: str) -> str | None:
        """Return whose key it is by a list of public keys or of allowed signers; None where it is not among them."""
        own = base64.b64encode(self.blob).decode()
        for line in listed.splitlines():
            words = line.split()
            if own in words and not line.lstrip().startswith("#"):
                at = words.index(own)
                return words[0] if at > 1 else " ".join(words[at + 1 :]) or self.fingerprint
        return None


def sign(message: bytes, key: bytes, passphrase: bytes | None = None) -> bytes:
    """Return the signature of a message by a private key, as OpenSSH writes both.

    Raises
    ------
    SignatureError
        Where the key is none, is of another kind, or wants another passphrase.
    """
    serialization, ed25519, _ = _cryptography()
    try:
        private = serialization.load_ssh_private_key(key, passphrase)
    except (ValueError, TypeError) as error:
        raise SignatureError(f"The key cannot be read: {error}") from error
    if not isinstance(private, ed25519.Ed25519PrivateKey):
        raise SignatureError("The key is of another kind than Ed25519: make one with ssh-keygen -t ed25519.")
    written = private.public_key().public_bytes(serialization.Encoding.OpenSSH, serialization.PublicFormat.OpenSSH)
    public = base64.b64decode(written.split()[1])
    signature = _string(KIND) + _string(private.sign(_signed(message)))
    return _armoured(MAGIC + struct.pack(">I", VERSION) + b"".join(map(_string, (public, NAMESPACE, b"", HASH, signature))))


def signer(message: bytes, signature: bytes) -> Key:
    """Return the key that a message was signed with.

    Raises
    ------
    SignatureError
        Where it is not the signature of just this message, in every byte as it was written.
    """
    serialization, _, invalid = _cryptography()
    public, raw = _parts(signature)
    try:
        key = serialization.load_ssh_public_key(KIND + b" " + base64.b64encode(public))
        key.verify(raw, _signed(message))
    except (invalid, ValueError, AttributeError, TypeError) as error:
        raise SignatureError("it is not the signature of this record") from error
    return Key(public)


def is_locked(key: bytes) -> bool:
    """Say whether a private key has a passphrase."""
    serialization, _, _ = _cryptography()
    try:
        serialization.load_ssh_private_key(key, None)
    except TypeError:  # what it says of a key that wants one
        return True
    except ValueError:
        return False
    return False


def _cryptography() -> tuple[Any, Any, type[Exception]]:
    try:
        from cryptography.exceptions import InvalidSignature  # noqa: PLC0415  # only a signature needs it
        from cryptography.hazmat.primitives import serialization  # noqa: PLC0415
        from cryptography.hazmat.primitives.asymmetric import ed25519  # noqa: PLC0415
    except ImportError as error:
        raise SignatureError(MISSING.format(install_extra())) from error
    return serialization, ed25519, InvalidSignature


def _signed(message: bytes) -> bytes:
    return MAGIC + b"".join(map(_string, (NAMESPACE, b"", HASH, hashlib.sha512(message).digest())))


def _string(content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + content


def _armoured(blob: bytes) -> bytes:
    return "\n".join([BEGIN, *textwrap.wrap(base64.b64encode(blob).decode(), LINE), END, ""]).encode()


def _parts(signature: bytes) -> tuple[bytes, bytes]:
    """Return the public key and the raw signature of an armoured one."""
    lines = signature[:LONGEST].decode("ascii", "replace").splitlines()
    try:
        blob = base64.b64decode("".join(lines[1:-1]), validate=True)
        head, rest = blob[:10], blob[10:]
        public, rest = _taken(rest)
        namespace, rest = _taken(rest)
        reserved, rest = _taken(rest)
        name, rest = _taken(rest)
        inner, rest = _taken(rest)
        kind, inner = _taken(inner)
        raw, after = _taken(inner)
    except (ValueError, struct.error) as error:
        raise SignatureError("it is no signature") from error
    said = (head, namespace, reserved, name, kind, rest + after)
    if said != (MAGIC + struct.pack(">I", VERSION), NAMESPACE, b"", HASH, KIND, b"") or _armoured(blob) != signature:
        raise SignatureError("it is no signature of this kind, or was changed")
    return public, raw


def _taken(content: bytes) -> tuple[bytes, bytes]:
    (size,) = struct.unpack(">I", content[:4])
    if size > len(content) - 4:
        raise ValueError("a string that is longer than what holds it")
    return content[4 : 4 + size], content[4 + size :]
