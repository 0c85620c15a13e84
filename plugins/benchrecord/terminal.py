"""Output that every stream takes, whatever its encoding: a console, a pipe or a file of cp1252, ASCII or UTF-8."""

from __future__ import annotations

import codecs
import io
import json
import os
import re
import sys
from contextlib import suppress

ERRORS = "benchrecord-ascii"  # the name of the error handler
ASCII = {
    **dict.fromkeys("‐‑‒–—−", "-"),
    **dict.fromkeys("‘’", "'"),
    **dict.fromkeys("“”", '"'),
    **dict.fromkeys("\u00a0\u2009\u202f", " "),
    **dict.fromkeys("\N{OHM SIGN}\N{GREEK CAPITAL LETTER OMEGA}", "ohm"),
    **dict.fromkeys("\N{MICRO SIGN}\N{GREEK SMALL LETTER MU}", "u"),
    "…": "...", "→": "->", "←": "<-", "≤": "<=", "≥": ">=", "≈": "~", "±": "+/-", "×": "x", "·": "*", "°": "deg", "√": "sqrt",
    "²": "^2", "³": "^3", "½": "1/2", "¼": "1/4", "∞": "inf", "♯": "#", "♭": "b", "⏎": "\\n", "€": "EUR",
}  # fmt: skip


def accept_every_encoding() -> None:
    """Let standard output and error replace what they cannot encode: a sign by ASCII that reads alike, a letter by its number."""
    codecs.register_error(ERRORS, _replacement)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=ERRORS)


def discard_output() -> None:
    """Send what is still to be printed nowhere: where standard output takes no more, the end of the program would fail at it."""
    with suppress(OSError, ValueError):  # in a test it is no file
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def json_for_output(text: str) -> str:
    """Return JSON as standard output may hold it: it is UTF-8 (RFC 8259, section 8.1), so any other stream gets it in ASCII."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    if codecs.lookup(encoding).name == "utf-8":
        return text
    return re.sub(r"[^\x00-\x7f]", lambda sign: json.dumps(sign[0])[1:-1], text)


def _replacement(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(ASCII.get(sign) or sign.encode("ascii", "backslashreplace").decode() for sign in signs), error.end
