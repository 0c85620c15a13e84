"""Names of files as other systems compare and keep them: accents in either form, capitals or small letters, device names of Windows."""

from __future__ import annotations

import re
import unicodedata

# Source: Microsoft, *Naming Files, Paths, and Namespaces*: reserved in either case, whatever extension follows.
DEVICE = re.compile(r"\A(con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9¹²³])(?= *(?:\.|\Z))", re.IGNORECASE)

_TWO_LETTERS = {"ä": "ae", "ö": "oe", "ü": "ue", "æ": "ae", "œ": "oe", "ø": "oe", "å": "aa", "þ": "th"}
_ONE_LETTER = {"ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ŧ": "t"}
_LETTERS = _TWO_LETTERS | _ONE_LETTER
_IN_ASCII = str.maketrans(
    {**_LETTERS, **{one.upper(): plain.capitalize() for one, plain in _LETTERS.items()}, "ß": "ss", "ẞ": "SS", "ı": "i"}
)


def nfc(text: str) -> str:
    """Return a text with its accents composed (Unicode NFC): macOS hands out names in the other form, NFD."""
    return unicodedata.normalize("NFC", text)


def transliterated(name: str) -> str:
    """Return a name in letters of ASCII, as far as its letters have any: ``Überholung`` gives ``Ueberholung``, ``Café`` gives ``Cafe``.

    Source: ICAO Doc 9303, part 3, section 6 (from memory), which German passports go by; other accents are dropped.
    """
    decomposed = unicodedata.normalize("NFKD", nfc(name).translate(_IN_ASCII))
    return "".join(c for c in decomposed if not unicodedata.combining(c))


def folded(name: str) -> str:
    """Return what names have in common that differ only in capitals and in how accents are stored: some disks take them for one."""
    return nfc(unicodedata.normalize("NFD", name).casefold())
