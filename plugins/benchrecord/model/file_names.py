"""Names of files as other systems compare and keep them: accents in either form, capitals or small letters, device names of Windows."""

from __future__ import annotations

import re
import unicodedata

# Source: Microsoft, *Naming Files, Paths, and Namespaces*: reserved in either case, whatever extension follows.
DEVICE = re.compile(r"\A(con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9¹²³])(?= *(?:\.|\Z))", re.IGNORECASE)


def nfc(text: str) -> str:
    """Return a text with its accents composed (Unicode NFC): macOS hands out names in the other form, NFD."""
    return unicodedata.normalize("NFC", text)


def folded(name: str) -> str:
    """Return what names have in common that differ only in capitals and in how accents are stored: some disks take them for one."""
    return nfc(unicodedata.normalize("NFD", name).casefold())
