"""Other ways to read the same bytes: with escapes resolved, and without the tags of markup."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator

View = Callable[[bytes], bytes]
TAG = re.compile(rb"<(?:!--|[/!?]?[A-Za-z][^<>]*>)")
# What has no width of its own: soft hyphens, joiners, marks of direction, accents that stand by themselves.
OF_NO_WIDTH = tuple(
    re.compile(p)
    for p in (
        rb"\xe2(?:\x80[\x8b-\x8f\xaa-\xae]|\x81[\xa0-\xaf])",
        rb"\xcc[\x80-\xbf]",
        rb"\xcd[\x80-\xaf]",
        rb"\xc2\xad",
        rb"\xef\xbb\xbf",
    )
)
_SINGLE = re.compile(rb"\\[nrt]")
_PERCENT = re.compile(rb"%([0-9A-Fa-f]{2})")
_ENTITY = re.compile(rb"&(#[0-9]{1,7}|#[xX][0-9A-Fa-f]{1,6}|[A-Za-z]{2,8}[0-9]{0,2});")
_BACKSLASH = re.compile(
    rb"\\(?:u([0-9A-Fa-f]{4})|u\{([0-9A-Fa-f]{1,6})\}|x([0-9A-Fa-f]{2})|([0-3][0-7]{2})|([0-9A-Fa-f]{4,6}) ?)"
)
ROUNDS = 3  # something escaped twice, and once more
SAMPLE, FEW = 4096, 0.02  # bytes looked at, and the share of control characters that a text may have
NO_CONTROLS = bytes(i for i in range(256) if i not in (*range(1, 9), *range(14, 27), 127))


def is_text(data: bytes) -> bool:
    """Say whether bytes are most likely a text, in an encoding of one, two or four bytes."""
    head = without_zeros(data[:SAMPLE])
    return len(head.translate(None, NO_CONTROLS)) <= FEW * max(1, len(head))


def without_zeros(data: bytes) -> bytes:
    """Return bytes without zeros: the letters of UTF-16 and UTF-32 then stand side by side."""
    return data.replace(b"\0", b"") if b"\0" in data else data


def unescaped(data: bytes) -> bytes:
    """Resolve percent signs, entities, and the backslashes of JSON, scripts, styles and PDF, as often as they were applied."""
    data = without_zeros(data)
    for _ in range(ROUNDS):
        read = _PERCENT.sub(lambda m: bytes([int(m[1], 16)]), data) if b"%" in data else data
        read = _ENTITY.sub(_entity, read) if b"&" in read else read
        read = _without_backslashes(read) if b"\\" in read else read
        read = _with_width(read)
        if read == data or not any(p.search(read) for p in (_PERCENT, _ENTITY, _BACKSLASH, _SINGLE)):
            return read
        data = read
    return data


def untagged(data: bytes) -> bytes:
    """Return the words of markup, escapes resolved: what tags split stands together again."""
    return unescaped(TAG.sub(b"", unescaped(data)))


def views(data: bytes, *, text: bool, telling: bool) -> Iterator[tuple[View, bytes]]:
    """Yield each way to read bytes that shows something else, with what it shows.

    ``telling`` says that bytes which are no text hold some, as the metadata of a picture does.
    """
    plain = without_zeros(data)
    yield without_zeros, plain
    if text or telling:
        read = unescaped(plain)
        if read != plain:
            yield unescaped, read
        if text and TAG.search(read):
            yield untagged, unescaped(TAG.sub(b"", read))


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
    return html.unescape(match[0].decode("ascii")).encode("utf-8", "ignore")


def _with_width(data: bytes) -> bytes:
    if not data.isascii():
        for pattern in OF_NO_WIDTH:
            data = pattern.sub(b"", data)
    return data


def _without_backslashes(data: bytes) -> bytes:
    return _BACKSLASH.sub(_backslash, _SINGLE.sub(b" ", data))


def _backslash(match: re.Match[bytes]) -> bytes:
    unicode, braced, byte, octal, style = match.groups()
    number = int(octal, 8) if octal else int(unicode or braced or byte or style, 16)
    return chr(number).encode("utf-8", "ignore") if number < 0x110000 else b""  # noqa: PLR2004  # the last of Unicode
