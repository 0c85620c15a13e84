"""What came of verifying a record, in plain lines."""

from __future__ import annotations

from benchrecord.record.paths import printable
from benchrecord.record.verify import Verified


def as_text(found: Verified) -> str:
    """Return a line for each bad file and a count, or a line that says that all is as it was; then what the record says of itself."""
    if found.faults:
        bad = [f"{printable(f.file)}: {printable(f.what)}" for f in found.faults]
        count = len({f.file for f in found.faults})
        return "\n".join([*bad, "", f"Not as it was handed over: {count} {'name' if count == 1 else 'names'} above."])
    said = [f"{label}: {printable(words)}" for label, words in found.info.items() if label != "Payload-Oxum"]
    whole = f"Whole and unchanged: {found.files} files, {megabytes(found.size)}."
    return "\n".join([whole, *(f"  {line}" for line in said)])


def megabytes(size: int) -> str:
    """Write a size: ``31.2 MB``."""
    return f"{size / 1e6:.1f} MB"
