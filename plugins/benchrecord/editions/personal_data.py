"""What looks like personal data in a text: telephone numbers, e-mail and postal addresses, and whose something is.

A heuristic: no list of names or streets is held against a text, so that what it misses is not told. The forms are common practice,
no source; those that part numbers, dates and readings have too count only next to a word that says what they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

MIN_LABELLED, MIN_WITHOUT_LABEL, MAX_NATIONAL, MAX_DIGITS = 6, 9, 12, 15  # digits of a telephone number (15: ITU-T E.164)
MAX_ABBREVIATION = 4  # capitals; more may be a name
BEFORE = 60  # characters in which a word may say what follows


class Personal(StrEnum):
    """What a text seems to hold; the values are the fields of a person."""

    PHONE = "phone"
    EMAIL = "email"
    ADDRESS = "address"
    NAME = "name"


@dataclass(frozen=True, slots=True)
class Find:
    """Something that looks personal, from ``start`` to ``end`` of a text."""

    kind: Personal
    start: int
    end: int


_WORD = r"[^\W\d_][\w'’-]*+"
_EMAIL = re.compile(r"(?<![\w.+-])[\w.+-]{1,64}(?:@| ?[(\[]at[)\]] ?)(?:[\w-]{1,63}\.){1,4}[^\W\d_]{2,24}(?!\w)", re.IGNORECASE)
# Digits with blanks, hyphens, slashes, points or brackets between them.
_NUMBER = re.compile(r"(?<![\w.,+/-])(?:\+|\((?=\d{2,5}\)))?\d(?:[ \u00a0]?[()/.‑–-]?[ \u00a0]?\d){4,19}(?!\w|[.,]\d)")
_DECIMAL = re.compile(r"\+?\d+\.\d+")
_LABEL = re.compile(
    r"\b(?:tel|telephone|phone|mobile|fax|telefon|handy|mobil|tél|téléphone|teléfono)\b"
    r"[^\w\n]{0,3}(?:(?:no|nr|number|nummer|is|at|on)\b[^\w\n]{0,2}){0,3}$",
    re.IGNORECASE,
)
_CALL = re.compile(r"\b(?:calls?|called|phoned?|telephone|ring|rang|mobile|fax|whatsapp|anrufen|erreichbar)\b", re.IGNORECASE)
_CODE = re.compile(r"(?:\b(?:serial|s/n|code|order|part|lot|batch|article|type|model|stock|stamp(?:ed)?|mark(?:ed|ing)?)\b|№)[^\n]{0,20}$", re.IGNORECASE)  # fmt: skip
_UNIT = re.compile(
    r" ?(?:[munpkMGµμ]?(?:V|A|W|F|H|Hz|s|m|Ω|ohms?|dB|bits?|rpm|samples)|min|hours?|h|%|°|cents?|mm|cm|inch)(?!\w)"
)
_ABROAD = re.compile(r"\+ ?[1-9][\d ()/‑–-]+|\+[1-9]\d{0,2}(?:\.\d{2,}){2,}|00 ?[1-9]\d{0,2}[ ()/-][\d ()/‑–-]+")
_THOUSANDS = re.compile(r"\+\d{1,3}(?: 000)+")
_AREA = re.compile(
    r"\(0\d{1,4}\) ?\d[\d ]+|0[1-9]\d{1,3}(?: ?/ ?| )\d[\d ]+|0[1-9](?: \d\d){4}|\(\d{3}\) ?\d{3}[ -]\d{4}|(?:1-)?\d{3}-\d{3}-\d{4}"
)
_LOCAL = re.compile(r"[+(0].+|\d{3}-\d{4}")
_STREET = re.compile(
    rf"(?<![\w.,/-])\d{{1,4}}[A-Za-z]?,? (?:{_WORD} ){{1,3}}?(?:Street|Road|Rd|Lane|Avenue|Crescent|Terrace|Gardens|Grove|Mews|Boulevard)\b"
    r"|(?<!\w)[^\W\d_][\w'’-]{1,40}?(?:straße|strasse|str\.|gasse|allee|weg|straat|laan|gatan|vägen) \d{1,4}[a-z]?\b"
    rf"|(?<![\w.,/-])\d{{1,4}}(?: bis| ter)?,? (?:rue|avenue|boulevard|impasse|chemin) (?:(?:de|du|des|la|le|les) |l['’])*{_WORD}"
    rf"|\b(?:Calle|Avenida|Rua|Viale|Piazza|Via) (?:{_WORD} ){{0,3}}{_WORD}, ?\d{{1,4}}\b"
    r"|(?<!\w)[^\W\d_][\w'’-]{2,40} \d{1,4}[a-z]?, ?(?:[A-Z]{1,2}-\d{4,5}|\d{5}) (?!(?:Ohm|Hertz|Volt)s?\b)[A-ZÀ-Þ][^\W\d_]{3,40}\b"  # and a postcode
    r"|\b(?:P\. ?O\. ?Box|PO Box|Postfach) \d+"
    r"|\b(?:home|postal|shipping|delivery|return) address[^\w\n]{1,3}\S+",
)
_OWNED = re.compile(
    r"\b(?:(?:belong(?:s|ed|ing) to|property of|owned by|(?:brought in|sent in|collected|picked up) by|lives? (?:at|in)|gehört|propriété de):? +"
    r"|(?<!the )(?<!your )(?<!its )(?:owner|customer|client|besitzer|eigentümer|kund(?:e|in)|propriétaire)(?: name)?(?:[ \t]*[:=|][ \t]*| is +)"
    r"|(?:owner|customer|client|besitzer|eigentümer|kund(?:e|in)|propriétaire),? +)[\"'*_(]*+(?P<name>[^\W\d_][\w'’-]*+)(?: (?P<next>\S+))?",
    re.IGNORECASE,
)
_TITLED = re.compile(
    r"\b(?:Mr|Mrs|Ms|Mx|Miss|Dr|Prof|Herr|Frau|Mme|Monsieur|Madame|Señora?|Signora?)\b\.? (?P<name>[^\W\d_][\w'’-]*+)(?P<next>)"
)
_PUNCTUATION = ".,;:!?()[]\"'’*_|<>"
_NO_NAMES = frozenset(
    re.findall(
        r"\w+",
        "a an the it its this that these those my our your his her their one another each i we you he she they unknown none nobody "
        "anonymous private please yes no not and or but in on at for from with who what when where if as is was has had will would can "
        "did does made oscillator filter mixer amplifier module board channel group section stage type class series unit part version "
        "input output bus mr mrs ms mx miss dr prof herr frau",
    )
)


def finds(text: str, known: AbstractSet[str]) -> Iterator[Find]:
    """Yield what looks personal in a text; ``known`` are the words, in lower case, that name parts of the instrument."""
    for match in _EMAIL.finditer(text):
        yield Find(Personal.EMAIL, *match.span())
    for match in _NUMBER.finditer(text):
        if _is_telephone(match[0], text[max(0, match.start() - BEFORE) : match.start()], text[match.end() : match.end() + 12]):
            yield Find(Personal.PHONE, *match.span())
    for match in _STREET.finditer(text):
        if match[0][0].isdigit() or match[0][0].isupper() or "address" in match[0]:
            yield Find(Personal.ADDRESS, *match.span())
    for pattern in (_OWNED, _TITLED):
        for match in pattern.finditer(text):
            if _is_name(match["name"], match["next"] or "", known):
                yield Find(Personal.NAME, match.start(), match.end("name"))


def _is_telephone(number: str, before: str, after: str) -> bool:
    """Say whether digits are a telephone number, by their form and by the words around them."""
    before = before.rpartition("\n")[2]
    digits = sum(c.isdigit() for c in number)
    if digits > MAX_DIGITS or _UNIT.match(after) or _DECIMAL.fullmatch(number) or _THOUSANDS.fullmatch(number):
        return False
    if digits >= MIN_LABELLED and _LABEL.search(before):
        return True
    if digits < MIN_LABELLED or _CODE.search(before):
        return False
    if _CALL.search(before) and _LOCAL.fullmatch(number):
        return True
    return digits >= MIN_WITHOUT_LABEL and (bool(_ABROAD.fullmatch(number)) or _has_area_code(number))


def _has_area_code(number: str) -> bool:
    """Say whether digits are grouped as telephone numbers of one country are, and not as a row of sizes or of readings."""
    groups = [group for group in re.split(r"\D+", number) if group]
    if not _AREA.fullmatch(number) or sum(map(len, groups)) > MAX_NATIONAL:
        return False
    steps = {int(b) - int(a) for a, b in pairwise(groups)}
    same = {len(group) for group in groups} == {4}
    return not same and not (len(groups) > 2 and len(steps) == 1)  # noqa: PLR2004  # two numbers are no row


def _is_name(word: str, following: str, known: AbstractSet[str]) -> bool:
    """Say whether a word is most likely a name of somebody: with a capital, and not of a part of an instrument."""
    plain, following = word.strip(_PUNCTUATION), following.strip(_PUNCTUATION)
    bare = plain.lower().removesuffix("'s").removesuffix("’s")
    if len(bare) < 2 or not plain[0].isalpha() or plain[0].islower() or bare in known or bare in _NO_NAMES:  # noqa: PLR2004  # a letter is no name
        return False
    is_code = any(c.isdigit() for c in plain) or (plain.isupper() and len(plain) <= MAX_ABBREVIATION)
    return not is_code and not following.isdigit() and not (len(following) == 1 and following.isupper())
