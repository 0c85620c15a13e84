"""What came of verifying a record, in plain lines."""

from __future__ import annotations

from pathlib import Path

from benchrecord.record.bag import INFO
from benchrecord.record.identity import FORMER_SEAL, former
from benchrecord.record.paths import printable
from benchrecord.record.shelves import WHOLE, Fault
from benchrecord.record.signature import SignatureError, signer
from benchrecord.record.verify import SIGNATURE, Verified, verify


def held_to_signature(found: Verified, listed: str | None) -> tuple[str, tuple[Fault, ...]]:
    """Return whose signature a record has, in words, and what is wrong with it.

    ``listed`` are the keys that may have signed it, as ``ssh-keygen`` lists them; with such a list it must be signed by one of them.
    """
    if found.signature is None:
        asked = listed is not None and found.sealed  # what is no record has nothing that could be signed
        return "Not signed.", (Fault(SIGNATURE, "missing: the record is not signed"),) if asked else ()
    try:
        key = signer(found.sealed, found.signature)
    except SignatureError as error:
        return "", (Fault(SIGNATURE, str(error)),)
    if listed is None:
        return f"Signed with the key {key.fingerprint}. Compare it with the one that the technician told you.", ()
    name = key.name_in(listed)
    if name is None:
        return "", (Fault(SIGNATURE, f"made with a key that is not in your list: {key.fingerprint}"),)
    return f"Signed by {printable(name)}, with the key {key.fingerprint}.", ()


def held_to_former(found: Verified, path: Path) -> tuple[Fault, ...]:
    """Say what is wrong where a record must follow the one at ``path``: it names another, or that one is not whole itself."""
    before = verify(path)
    named = former(path.resolve().name, before.sealed, before.info)
    follows = found.info.get(FORMER_SEAL) == named.seal
    wrong = [] if follows else [Fault(INFO, f"does not name {named.name} as the record that it follows")]
    return (*wrong, *(Fault(named.name if f.file == WHOLE else f"{named.name}/{f.file}", f.what) for f in before.faults))


def as_text(found: Verified, signed: str = "", *, name: str = WHOLE) -> str:
    """Return a line for each bad file and a count, or a line that says that all is as it was; then what the record says of itself.

    ``name`` is what the record itself is called.
    """
    if found.faults:
        bad = [f"{printable(name if f.file == WHOLE else f.file)}: {printable(f.what)}" for f in found.faults]
        if {f.file for f in found.faults} == {WHOLE}:
            return "\n".join(bad)
        count = len({f.file for f in found.faults})
        return "\n".join([*bad, "", f"Not as it was handed over: {count} {'name' if count == 1 else 'names'} above."])
    said = [f"{label}: {printable(words)}" for label, words in found.info.items() if label != "Payload-Oxum"]
    whole = f"Whole and unchanged: {found.files} files, {megabytes(found.size)}."
    return "\n".join([whole, *([signed] if signed else []), *(f"  {line}" for line in said)])


def megabytes(size: int) -> str:
    """Write a size: ``31.2 MB``."""
    return f"{size / 1e6:.1f} MB"
