"""How far a long step is: one line on a terminal, nothing when piped."""

from __future__ import annotations

import sys


def on_terminal(what: str, done: int, of: int) -> None:
    """Rewrite the progress line; the last call clears it."""
    if not sys.stderr.isatty():
        return
    text = "" if done >= of else f"{what} {done} of {of}"
    sys.stderr.write(f"\r\x1b[K{text}")
    sys.stderr.flush()
