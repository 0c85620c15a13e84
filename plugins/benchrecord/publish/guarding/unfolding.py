"""Other ways to read the same bytes: with escapes resolved, and without the tags of markup."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from benchrecord.publish.guarding.patterns import END, WHETHER, Patterns

View = Callable[[bytes], bytes]
TAG = re.compile(rb"<(?:!--|[/!?]?[A-Za-z][^<>]*>)")
PERCENT = re.compile(rb"%([0-9A-Fa-f]{2})")
ENTITY = re.compile(rb"&(#[0-9]{1,7}|#[xX][0-9A-Fa-f]{1,6}|[A-Za-z]{2,8}[0-9]{0,2});")
SINGLE = re.compile(rb"\\[nrt]")
BACKSLASH = re.compile(
    rb"\\(?:u([0-9A-Fa-f]{4})|u\{([0-9A-Fa-f]{1,6})\}|x([0-9A-Fa-f]{2})|([0-3][0-7]{2})|([0-9A-Fa-f]{4,6}) ?)"
)
# Soft hyphens, joiners, marks of direction, accents that stand by themselves: looked for one by one, which is faster.
OF_NO_WIDTH = tuple(
    re.compile(p)
    for p in (
        rb"\xe2\x80[\x8b-\x8f\xaa-\xae]",
        rb"\xe2\x81[\xa0-\xaf]",
        rb"\xcc[\x80-\xbf]",
        rb"\xcd[\x80-\xaf]",
        rb"\xc2\xad",
        rb"\xef\xbb\xbf",
    )
)
ROUNDS = 12  # something escaped by three means, thrice, and once more
AROUND = 1024  # bytes on either side of an escape: more than a value takes in any spelling that is looked for
LETTERS = 8  # and digits: the fewest that are looked for among them alone
ASCII, BEYOND = bytes(range(128)), bytes(range(128, 256))
SAMPLE, FEW = 1024, 0.02  # bytes looked at, and the share of control characters that a text may have
NO_CONTROLS = bytes(i for i in range(256) if i not in (*range(1, 9), *range(14, 27), 127))


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read bytes, what it shows, and whether that is looked through among letters and digits alone, and among words."""

    view: View
    shown: bytes
    letters: bool = True
    words: bool = True


def is_text(data: bytes) -> bool:
    """Say whether bytes without zeros are most likely a text."""
    head = data[:SAMPLE]
    return len(head.translate(None, NO_CONTROLS)) <= FEW * max(1, len(head))


def without_zeros(data: bytes) -> bytes:
    """Return bytes without zeros: the letters of UTF-16 and UTF-32 then stand side by side."""
    return data.replace(b"\0", b"") if b"\0" in data else data


def unescaped(data: bytes) -> bytes:
    """Resolve percent signs, entities, and the backslashes of JSON, scripts, styles and PDF, as often as they were applied."""
    data = without_zeros(data)
    for _ in range(ROUNDS):
        read = data
        for number in sorted(ESCAPES.there(data)):
            pattern, meant = RESOLVED[number]
            read = pattern.sub(meant, read)
        if read == data:
            break
        data = read
    return data


def untagged(data: bytes) -> bytes:
    """Return the words of markup, escapes resolved: what tags split stands together again."""
    return unescaped(TAG.sub(b"", unescaped(data)))


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

    Of bytes that are no text, only what stands around escapes among words is read in other ways, as in the metadata of a picture.
    """
    plain = without_zeros(data)
    text = is_text(plain)
    in_rows = ascii_alone and not text
    yield Reading(without_zeros, plain, letters=not in_rows)
    if in_rows:
        yield Reading(rows, rows(plain), words=False)
    for part in [slice(None)] if text else around_escapes(plain):
        yield from _readings_of(plain, part)


def _readings_of(plain: bytes, part: slice) -> Iterator[Reading]:
    text = plain[part]
    read = unescaped(text)
    if read != text:
        yield Reading(lambda data: unescaped(without_zeros(data)[part]), read)
    if TAG.search(read):
        yield Reading(lambda data: untagged(without_zeros(data)[part]), unescaped(TAG.sub(b"", read)))


def around_escapes(data: bytes) -> Iterator[slice]:
    """Yield each part of bytes in which escapes stand among words, with what is around them."""
    begin = end = 0
    for _, at, _ in AMONG_WORDS.matches(data):
        if at - AROUND > end:
            if end:
                yield slice(begin, end)
            begin = at - AROUND
        end = at + AROUND
    if end:
        yield slice(begin, end)


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


# In the order in which they are resolved, each with what it means.
RESOLVED: tuple[tuple[re.Pattern[bytes], bytes | Callable[[re.Match[bytes]], bytes]], ...] = (
    (PERCENT, lambda m: bytes([int(m[1], 16)])),
    (ENTITY, _entity),
    (SINGLE, b" "),
    (BACKSLASH, _backslash),
    *((mark, b"") for mark in OF_NO_WIDTH),
)
ESCAPES = Patterns(((pattern.pattern, number) for number, (pattern, _) in enumerate(RESOLVED)), told=WHETHER)
IN_A_ROW = Patterns([(rb"(?:[0-9a-z][\x00-\x2f:-@\x5b-\x60{-\x7f]*){%d}[\x80-\xff]" % LETTERS, None)], told=END)
AMONG_WORDS = Patterns([(rb"[\t\n\r -~]{4}(?:%[0-9a-f]{2}|&#?[a-z0-9]{2,8};|\\(?:[nrt]|[ux0-3][0-9a-f]{2}))", None)], told=END)
