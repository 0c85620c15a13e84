"""A small disk of a test's own, which nobody else sees: full soon, or read-only."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from pathlib import Path


def on_a_disk(
    options: str, folder: Path, *command: str | Path, env: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run a command with a file system of its own at ``folder``; ``options`` are those of mount, such as ``size=1m``.

    What is left there when the command has ended is listed behind its output, each path in a line that begins with ``left:``.
    """
    script = 'mount -t tmpfs -o "$0" none "$1" && shift && "$@"; code=$?; find "$DISK" -mindepth 1 | sed s/^/left:/; exit $code'
    words = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", script, options, str(folder), *map(str, command)]
    return subprocess.run(
        words, capture_output=True, text=True, check=False, env={**os.environ, **(env or {}), "DISK": str(folder)}
    )


def are_had(folder: Path) -> bool:
    """Say whether a test may have such a disk here."""
    return on_a_disk("size=1m", folder, "true").returncode == 0
