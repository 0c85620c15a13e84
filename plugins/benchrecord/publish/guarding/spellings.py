"""How a private value may be spelt and stored: with other separators, cases and accents, in other encodings."""

from __future__ import annotations

import base64
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from itertools import islice

from benchrecord.publish.guarding.patterns import as_it_is

LONG = 8  # letters and digits of a value that is looked for anywhere
ENCODINGS = ("utf-8", "utf-16-le", "utf-16-be", "cp1252")
# Letters that no decomposition of Unicode makes plain, and how they are written where only plain ones are to be had.
PLAIN = str.maketrans(
    {"ß": "ss", "ẞ": "SS", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "þ": "th", "Þ": "Th", "ð": "d", "Ð": "D", "ħ": "h"}
)  # fmt: skip
PAIRS = {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "ø": "oe", "å": "aa", "æ": "ae"}
TWO_LETTERS = str.maketrans({**PAIRS, **{one.upper(): two.capitalize() for one, two in PAIRS.items() if one != "ß"}})
ONE_LETTER = tuple({two: one for one, two in reversed(PAIRS.items())}.items())  # ae is ä, not æ
_ASCII, _ALL = range(128), range(256)
LOWER = bytes(_ALL).lower()  # of ASCII alone
DROPPED = bytes(i for i in _ASCII if not chr(i).isalnum())
BLOCK = 1 << 14  # bytes
WORD = re.compile(r"[^\W_]+(?:[-.'’@+][^\W_]+)*")
MOST_PIECES = 12  # of a value: with more an automaton of them would be too large
# What may stand where a value is parted, or nothing: blanks, hyphens, apostrophes and dashes of any kind, in UTF-8 and cp1252.
PARTED = rb"[ \t\r\n_.,'`/&+\x10-\x1f\x80-\xbf\xc2\xca\xe2-]{0,6}"
PARTED_AMONG_LETTERS = rb"[\x80-\xff]{0,6}"  # of these, what is left where only letters and digits of ASCII are looked at
APART = rb"[ \t./()\x80\x90-\x95\xa0\xc2\xe2-]{0,4}"  # between the digits of a number
LOCAL_NUMBER = 7  # digits of a telephone number that count without its codes
SEPARATOR = rb"(?:[\\/]|%5c|%2f){1,4}"  # of a path


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
    return "".join(c for c in without_accents(text).casefold() if c.isalnum())


def without_accents(text: str) -> str:
    """Return a text in plain letters, as far as these have any."""
    return "".join(c for c in unicodedata.normalize("NFKD", text.translate(PLAIN)) if not unicodedata.combining(c))


def pieces(text: str) -> list[str]:
    """Return the runs of letters, digits and the marks that belong to them."""
    return "".join(c if unicodedata.category(c)[0] in "LMN" else " " for c in text).split()


def size(text: str) -> int:
    """Return how many letters and digits a text has; a wide one, as of Chinese, tells as much as two."""
    return sum(1 + is_wide(c) for piece in pieces(unicodedata.normalize("NFC", text)) for c in piece)


def is_wide(letter: str) -> bool:
    """Say whether a letter is of a script such as Chinese, Japanese or Korean, in which words stand side by side."""
    return unicodedata.east_asian_width(letter) in "WF"


def words_of(text: str) -> list[str]:
    """Return the words of a text; an address of the net or a number with dots is one."""
    return WORD.findall(text)


def spellings(value: str) -> set[str]:
    """Return a value with accents, without, with two letters for one and the other way round, composed and not, in each case."""
    value = unicodedata.normalize("NFC", value)
    fewer = value
    for two, one in ONE_LETTER:
        fewer = fewer.replace(two, one).replace(two.capitalize(), one.upper())
    two = value.translate(TWO_LETTERS)
    forms = (c for form in (value, fewer, two, without_accents(value), without_accents(two)) for c in _cases(form))
    return {unicodedata.normalize(how, form) for form in forms for how in ("NFC", "NFD")}


def as_words(value: str) -> set[bytes]:
    """Return patterns of a value that is looked for among words: each spelling in each encoding, of many pieces the first."""
    spelt = _stored_pieces(value, lambda data: data.replace(b"\0", b"").lower())
    return {PARTED.join(map(as_it_is, parts[:MOST_PIECES])) for parts in spelt}


def as_letters(value: str, *, parted: bool) -> set[bytes]:
    """Return patterns of a value that is looked for among letters and digits alone; other signs may part it where it is a name."""
    least = max(LONG, len(plain(value)))
    spelt = _stored_pieces(value, squeezed) if parted else ([squeezed(form)] for form in _stored(value))
    few = ([*parts[:MOST_PIECES], b"".join(parts[MOST_PIECES:])] for parts in spelt if sum(map(len, parts)) >= least)
    return {PARTED_AMONG_LETTERS.join(map(as_it_is, filter(None, parts))) for parts in few}


def as_digits(value: str) -> set[bytes]:
    """Return patterns of digits in this order; of a telephone number also without the codes before it."""
    groups = re.findall(r"\d+", value)
    digits = "".join(groups)
    countries = range(1, 4) if value.strip().startswith("+") else ()  # ITU-T E.164: a country's code has one to three digits
    local = (*("".join(groups[n:]) for n in range(len(groups))), *(digits[n:] for n in countries))
    kept = {digits, *(part for number in local if len(part := number.lstrip("0")) >= LOCAL_NUMBER)}
    return {APART.join(digit.encode() for digit in number) for number in kept}


def as_path(path: str) -> bytes:
    """Return a pattern of a path in the separators of any system, as it stands in texts, JSON and addresses of the net."""
    drive = re.match(r"[A-Za-z]:(?=[\\/])", path)
    start = drive[0][0].encode() + rb"(?::|%3a|\|)?" if drive else b""
    return start + SEPARATOR.join(_in_a_path(part) for part in re.split(r"[\\/]+", path[2:] if drive else path))


def _in_a_path(name: str) -> bytes:
    return b"".join(
        c.encode() if c.isascii() and c.isalnum() else _in_an_address(c) for c in unicodedata.normalize("NFC", name)
    )


def _in_an_address(letter: str) -> bytes:
    """Return a pattern of a letter in either case as it is, composed or not, by percent signs, and escaped as in JSON."""
    written: set[bytes] = set()
    for one in {letter, letter.lower(), letter.upper()}:
        forms = {unicodedata.normalize(how, one).encode("utf-8", "surrogateescape") for how in ("NFC", "NFD")}
        by_percent = {b"".join(b"%%%02x" % byte for byte in form) for form in forms}
        in_json = {b"".join(rb"\\u%04x" % ord(c) for c in one)}
        written |= {*map(as_it_is, forms), *by_percent, *in_json}
    return rb"(?:" + b"|".join(sorted(written)) + rb")"


def codes(value: str) -> set[bytes]:
    """Return what to look for among letters and digits alone where a value stands in base64 or in hexadecimal."""
    coded = (squeezed(c) for form in _cases(value) for e in ENCODINGS[:2] for c in _coded(stored(form, e)))
    return {as_it_is(c) for c in coded if len(c) >= LONG}


def stored(text: str, encoding: str) -> bytes:
    """Return a text in an encoding; nothing where that has no such letters."""
    try:
        return text.encode(encoding)
    except UnicodeEncodeError:
        return b""


def _stored(value: str) -> Iterator[bytes]:
    yield from (stored(form, encoding) for form in spellings(value) for encoding in ENCODINGS)


def _stored_pieces(value: str, written: Callable[[bytes], bytes]) -> Iterator[list[bytes]]:
    for form in spellings(value):
        for encoding in ENCODINGS:
            parts = [written(stored(piece, encoding)) for piece in pieces(form)]
            if parts and all(parts):
                yield parts


def _cases(value: str) -> set[str]:
    return {value, value.lower(), value.upper(), value.title()}


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
