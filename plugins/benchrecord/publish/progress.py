"""How far a long step is: one line on a terminal, nothing when piped."""

from __future__ import annotations

import shutil
import sys


def on_terminal(what: str, done: int, of: int) -> None:
    """Rewrite the progress line; the last call clears it."""
    if not sys.stderr.isatty():
        return
    text = "" if done >= of else f"{what} {done} of {of}"
    blank = " " * (shutil.get_terminal_size().columns - 1)  # not every terminal knows a code that clears a line
    sys.stderr.write(f"\r{blank}\r{text}")
    sys.stderr.flush()
