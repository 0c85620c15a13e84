"""How a private value may be spelt and stored: with other separators, cases and accents, in other encodings."""

from __future__ import annotations

import base64
import re
import unicodedata
from collections.abc import Iterable, Iterator
from itertools import islice

ENCODINGS = ("utf-8", "utf-16-le", "utf-16-be", "cp1252")
TWO_LETTERS = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss", "ø": "oe", "å": "aa", "æ": "ae"}
)
_ASCII, _ALL = range(128), range(256)
LOWER = bytes(_ALL).lower()  # of ASCII alone
DROPPED = bytes(i for i in _ASCII if not chr(i).isalnum())
BLOCK = 1 << 14  # bytes
WORD = re.compile(r"[^\W_]+(?:[-.'’@+][^\W_]+)*")


def squeezed(data: bytes) -> bytes:
    """Return only the letters and digits, in lower case: whatever stood between them, zero bytes of UTF-16 too, is gone."""
    return data.translate(LOWER, DROPPED)


def span_of(data: bytes, start: int, end: int) -> tuple[int, int]:
    """Return from where to where in bytes the letters and digits stand that have these places among letters and digits alone."""
    low, ahead = 0, start
    while ahead >= (before := len(squeezed(data[low : low + BLOCK]))):
        low, ahead = low + BLOCK, ahead - before
    high = low + BLOCK
    while high - low > 1:
        middle = (low + high) // 2
        before = len(squeezed(data[low:middle]))
        low, high, ahead = (low, middle, ahead) if ahead < before else (middle, high, ahead - before)
    kept = (at for at in range(low, len(data)) if data[at] not in DROPPED)
    return low, next(islice(kept, end - start - 1, None)) + 1


def plain(text: str) -> str:
    """Return the letters and digits of a text in lower case, without accents."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(c for c in bare.casefold() if c.isalnum())


def letters(value: str) -> set[bytes]:
    """Return what to look for among letters and digits alone: each spelling in each encoding."""
    return _long_enough((stored(form, encoding) for form in _forms(value) for encoding in ENCODINGS), value)


def codes(value: str) -> set[bytes]:
    """Return what to look for among letters and digits alone where a value stands in base64 or in hexadecimal."""
    return _long_enough((c for f in _cases(value) for e in ENCODINGS[:2] for c in _coded(stored(f, e))), value)


def _long_enough(written: Iterable[bytes], value: str) -> set[bytes]:
    least = len(plain(value))
    return {s for s in map(squeezed, written) if len(s) >= least}


def stored(text: str, encoding: str) -> bytes:
    """Return a text in an encoding; nothing where that has no such letters."""
    try:
        return text.encode(encoding)
    except UnicodeEncodeError:
        return b""


def whole(value: str) -> set[str]:
    """Return the spellings of a value that is looked for as a word of its own: with other separators or none, without accents."""
    pieces = [p for p in re.split(r"[\W_]+", value) if p]
    joined = {value, *(joint.join(pieces) for joint in ("", " ", "-", "_", "."))}
    return {spelt.lower() for form in joined if form for spelt in (form, _bare(form), form.translate(TWO_LETTERS))}


def words_of(text: str) -> list[str]:
    """Return the words of a text; an address of the net or a number with dots is one."""
    return WORD.findall(text)


def _forms(value: str) -> set[str]:
    spelt = {value, value.translate(TWO_LETTERS), _bare(value)}
    return {form for s in spelt for n in ("NFC", "NFD") for form in _cases(unicodedata.normalize(n, s))}


def _cases(value: str) -> set[str]:
    return {value, value.lower(), value.upper(), value.title()}


def _bare(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _coded(data: bytes) -> Iterator[bytes]:
    """Yield a value in hexadecimal, and in base64 wherever it begins: without the characters that its neighbours have a share in."""
    yield data.hex().encode()
    for before in range(3):
        code = base64.b64encode(b"\0" * before + data)
        first, last = -(-before * 8 // 6), (before + len(data)) * 8 // 6
        yield code[first:last]


def windows(words: Iterable[str], width: int, least: int) -> Iterator[str]:
    """Yield runs of so many words that overlap by half, so that no sentence of a text gets away whole; of short words, of more.

    Each has ``least`` letters and digits, unless the text ends.
    """
    every = list(words)
    lengths = [len(plain(word)) for word in every]
    for start in range(0, max(1, len(every) - width // 2), max(1, width // 2)):
        ends = range(start + width, len(every))
        end = next((end for end in ends if sum(lengths[start:end]) >= least), len(every))
        yield " ".join(every[start:end])
