"""Other ways to read the same bytes: with escapes and accents resolved, and without the tags of markup."""

from __future__ import annotations

import html
import re
from codecs import BOM_UTF16_BE, BOM_UTF16_LE, BOM_UTF32_LE
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

import numpy as np

from benchrecord.publish.guarding.patterns import END, WHETHER, Patterns
from benchrecord.publish.guarding.spellings import squeezed, without_accents

View = Callable[[bytes], bytes]
TAG = re.compile(rb"<(?:!--|[/!?]?[A-Za-z][^<>]*>)")
PERCENT = re.compile(rb"%([0-9A-Fa-f]{2})")
ENTITY = re.compile(rb"&(#[0-9]{1,7}|#[xX][0-9A-Fa-f]{1,6}|[A-Za-z]{2,8}[0-9]{0,2});")
LINE_END = re.compile(rb"\\[nrt]")
BACKSLASH = re.compile(
    rb"\\(?:u([0-9A-Fa-f]{4})|u\{([0-9A-Fa-f]{1,6})\}|x([0-9A-Fa-f]{2})|([0-3][0-7]{2})|([0-9A-Fa-f]{4,6}) ?)"
)
# Soft hyphens, joiners, marks of direction: looked for one by one, which is faster.
OF_NO_WIDTH = tuple(
    re.compile(p)
    for p in (
        rb"\xe2\x80[\x8b-\x8f\xaa-\xae]",
        rb"\xe2\x81[\xa0-\xaf]",
        rb"\xc2\xad",
        rb"\xef\xbb\xbf",
    )
)
# Letters that may have an accent or a stroke: Latin, Greek, Cyrillic; ligatures, Latin letters as wide as Chinese ones; accents alone.
ACCENTED = re.compile(
    rb"\xc3[\x80-\x96\x98-\xb6\xb8-\xbf]|[\xc4-\xc9][\x80-\xbf]|\xce[\x86-\x90\xaa-\xb0]|\xcf[\x8a-\x8e]"
    rb"|\xd0[\x80-\x87\x8c-\x8e\x99\xb9]|\xd1[\x90-\x97\x9c-\x9e]|\xe1[\xb8-\xbf][\x80-\xbf]|\xef[\xac\xbc\xbd][\x80-\xbf]"
    rb"|\xcc[\x80-\xbf]|\xcd[\x80-\xaf]"
)
ROUNDS = 12  # something escaped by three means, thrice, and once more
AROUND, DENSE = 1024, 4096  # bytes on either side of an escape or a tag, and bytes for each in a text that is read as a whole
LONGEST = 400  # letters and digits of a value in any spelling and code: more than 80 characters of UTF-16 in hexadecimal
WHOLE = slice(None)
MANY = 64  # bytes of a text for each of its tags, if these are many
IS_ANGLE = bytes(i in b"<>" for i in range(256))
IS_LETTER, IS_MARK, IS_LINE_END = (
    np.isin(np.arange(256), [*those]) for those in (b"".join(bytes([c, c + 32]) for c in range(65, 91)), b"/!?", b"nrt")
)
LETTERS = 8  # and digits: the fewest that are looked for among them alone
ASCII, BEYOND = bytes(range(128)), bytes(range(128, 256))
SAMPLES, SAMPLE, FEW = (
    16,
    1024,
    0.02,
)  # how many parts of how many bytes are looked at; the share of control characters in a text
NO_CONTROLS = bytes(i for i in range(256) if i not in (*range(1, 9), *range(14, 27), 127))


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read bytes, what it shows, and whether that is looked through among letters and digits alone, and among words.

    ``text`` says that all of it is text.
    """

    view: View
    shown: bytes
    letters: bool = True
    words: bool = True
    text: bool = True


def is_text(data: bytes) -> bool:
    """Say whether bytes without zeros are most likely a text, by parts from all over them: a recording may begin with silence."""
    step = max(SAMPLE, len(data) // SAMPLES)
    sample = b"".join(data[at : at + SAMPLE] for at in range(0, len(data), step))
    return len(sample.translate(None, NO_CONTROLS)) <= FEW * max(1, len(sample))


def without_zeros(data: bytes) -> bytes:
    """Return bytes without zeros: the letters of UTF-16 and UTF-32 then stand side by side; a text that is marked as UTF-16 is read."""
    if data.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) and not data.startswith(BOM_UTF32_LE):
        data = data.decode("utf-16", "ignore").encode("utf-8", "ignore")
    return data.replace(b"\0", b"") if b"\0" in data else data


def unescaped(data: bytes) -> bytes:
    """Resolve percent signs, entities, and the backslashes of JSON, scripts, styles and PDF, as often as they were applied."""
    data = without_zeros(data)
    for _ in range(ROUNDS):
        read = _resolved(data, ESCAPES.there(data))
        if read == data:
            break
        data = read
    return data


def _resolved(data: bytes, standing: Iterable[int]) -> bytes:
    for number in sorted(standing):
        data = RESOLVED[number][1](data)
    return data


def _blanked(data: bytes) -> bytes:
    """Return bytes with two blanks for each line end and tab that is written with a backslash."""
    array = np.frombuffer(bytearray(data), np.uint8)
    at = np.flatnonzero(array[:-1] == ord("\\"))
    at = at[IS_LINE_END[array[at + 1]]]
    array[at] = array[at + 1] = ord(" ")
    return array.tobytes()


def without_tags(data: bytes) -> bytes:
    """Return bytes without tags and without the beginnings of comments."""
    if data.count(b"<") * MANY < len(data):
        return TAG.sub(b"", data)
    return _without_many_tags(data.replace(b"<!--", b""))


def _without_many_tags(data: bytes) -> bytes:
    """Return bytes without what begins like a tag and ends before another begins: by arrays, which takes less time."""
    array = np.frombuffer(data + b"  ", np.uint8)
    angles = np.flatnonzero(np.frombuffer(data.translate(IS_ANGLE), bool))
    opening, first, second = array[angles] == ord("<"), array[angles + 1], array[angles + 2]
    named = IS_LETTER[first] | (IS_MARK[first] & IS_LETTER[second])
    tags = np.flatnonzero(opening[:-1] & named[:-1] & ~opening[1:])
    begins, ends = np.append(0, angles[tags + 1] + 1), np.append(angles[tags], len(data))  # of what stands between them
    lengths = ends - begins
    before = np.repeat(begins - np.append(0, np.cumsum(lengths)[:-1]), lengths)
    return array[before + np.arange(len(before))].tobytes()


def untagged(data: bytes) -> bytes:
    """Return the words of markup: what tags split stands together again."""
    return unescaped(without_tags(data))


def rows(data: bytes) -> bytes:
    """Return what has enough letters and digits without a byte beyond ASCII between them, one after the other.

    Of bytes that are no text this is little, and no value of ASCII stands elsewhere among their letters and digits alone.
    """
    data, found, begin = without_zeros(data), [], 0
    for end in (*(end for _, end, _ in IN_A_ROW.matches(data)), len(data)):
        piece = data[begin:end].rstrip(BEYOND)
        found.append(piece[len(piece.rstrip(ASCII)) :])
        begin = end
    return b" \xff ".join(found)


def readings(data: bytes, *, ascii_alone: bool) -> Iterator[Reading]:
    """Yield each way to read bytes that shows something else; ``ascii_alone`` says that nothing else is looked for among letters.

    A text is read without its accents too. Of bytes that are no text, only what stands around escapes among words is read in other
    ways, as in the metadata of a picture.
    """
    for reading in _readings(data, ascii_alone=ascii_alone):
        yield reading
        if reading.text and not reading.shown.isascii() and ACCENTS.there(reading.shown):
            yield replace(reading, view=partial(_plain_view, reading.view), shown=_without_accents(reading.shown))


def _plain_view(view: View, data: bytes) -> bytes:
    return _without_accents(view(data))


def _without_accents(data: bytes) -> bytes:
    return ACCENTED.sub(lambda m: without_accents(m[0].decode()).encode(), data)


def _readings(data: bytes, *, ascii_alone: bool) -> Iterator[Reading]:
    plain = without_zeros(data)
    text = is_text(plain)
    in_rows = ascii_alone and not text
    yield Reading(without_zeros, plain, letters=not in_rows, text=text)
    if in_rows:
        yield Reading(rows, rows(plain), words=False)
    if text:
        yield from _readings_of_text(plain)
    else:
        for part in joined((at, at) for _, at, _ in AMONG_WORDS.matches(plain)):
            yield from _readings_of_text(plain[part], part)


def _readings_of_text(text: bytes, within: slice = WHOLE) -> Iterator[Reading]:
    """Yield how a text, which stands within bytes, is read without escapes and without tags: only around these, where they are few."""
    standing = ESCAPES.there(text)
    read = unescaped(_resolved(text, standing)) if standing else text
    if read != text:
        for part in parts(text, (m.span() for number in standing for m in RESOLVED[number][0].finditer(text))):
            shown = read if part == WHOLE else unescaped(text[part])
            yield Reading(partial(_unescaped_part, within, part), shown, text=within == WHOLE)
    for part in parts(read, (m.span() for m in TAG.finditer(read))):
        yield Reading(partial(_untagged_part, within, part), untagged(read[part]), text=within == WHOLE)


def _unescaped_part(within: slice, part: slice, data: bytes) -> bytes:
    return unescaped(without_zeros(data)[within][part])


def _untagged_part(within: slice, part: slice, data: bytes) -> bytes:
    return untagged(unescaped(without_zeros(data)[within])[part])


def parts(text: bytes, places: Iterable[tuple[int, int]]) -> list[slice]:
    """Return the parts of a text that hold all places, with more on either side than a value takes; or all of it, if that is quicker."""
    few = len(text) // DENSE
    found = list(islice(places, few + 1))
    if len(found) > few:
        return [WHOLE]
    kept = list(joined(sorted(found)))
    edges = [text[p.start : p.start + AROUND] for p in kept if p.start] + [
        text[p.stop - AROUND : p.stop] for p in kept if p.stop < len(text)
    ]
    return kept if all(len(squeezed(edge)) >= LONGEST for edge in edges) else [WHOLE]


def joined(places: Iterable[tuple[int, int]]) -> Iterator[slice]:
    """Yield places with what is around them, as one where they are near each other."""
    begin = stop = 0
    for start, end in places:
        if start - AROUND > stop:
            if stop:
                yield slice(begin, stop)
            begin = start - AROUND
        stop = end + AROUND
    if stop:
        yield slice(begin, stop)


def offset_of(data: bytes, view: View, position: int) -> int:
    """Return where in the bytes something begins that a view shows at a position."""
    low, high = 0, len(data)
    while low < high:
        middle = (low + high) // 2
        if len(view(data[:middle])) <= position:
            low = middle + 1
        else:
            high = middle
    return max(0, low - 1)


def _entity(match: re.Match[bytes]) -> bytes:
    read = html.unescape(match[0].decode("ascii")).encode("utf-8", "ignore")
    return b" " + match[1] + b" " if read == match[0] else read  # of no meaning: not to be read over and over


def _backslash(match: re.Match[bytes]) -> bytes:
    unicode, braced, byte, octal, style = match.groups()
    number = int(octal, 8) if octal else int(unicode or braced or byte or style, 16)
    return chr(number).encode("utf-8", "ignore") if number < 0x110000 else b""  # noqa: PLR2004  # the last of Unicode


# In the order in which they are resolved, each with how.
RESOLVED: tuple[tuple[re.Pattern[bytes], Callable[[bytes], bytes]], ...] = (
    (PERCENT, partial(PERCENT.sub, lambda m: bytes([int(m[1], 16)]))),
    (ENTITY, partial(ENTITY.sub, _entity)),
    (LINE_END, _blanked),
    (BACKSLASH, partial(BACKSLASH.sub, _backslash)),
    *((mark, partial(mark.sub, b"")) for mark in OF_NO_WIDTH),
)
ESCAPES = Patterns(((pattern.pattern, number) for number, (pattern, _) in enumerate(RESOLVED)), told=WHETHER)
ACCENTS = Patterns([(ACCENTED.pattern, None)], told=WHETHER)
IN_A_ROW = Patterns([(rb"(?:[0-9a-z][\x00-\x2f:-@\x5b-\x60{-\x7f]*){%d}[\x80-\xff]" % LETTERS, None)], told=END)
AMONG_WORDS = Patterns([(rb"[\t\n\r -~]{4}(?:%[0-9a-f]{2}|&#?[a-z0-9]{2,8};|\\(?:[nrt]|[ux0-3][0-9a-f]{2}))", None)], told=END)
