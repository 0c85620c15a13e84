"""The most memory that a program holds."""

from __future__ import annotations

import subprocess
import sys

# A process counts the peak of the one that started it as its own, so that a small one has to stand between.
BETWEEN = (
    "import os, subprocess, sys;"
    "running = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL);"
    "_, status, used = os.wait4(running.pid, 0);"
    "print(used.ru_maxrss);"
    "sys.exit(os.waitstatus_to_exitcode(status))"
)


def peak_mb(words: list[str], env: dict[str, str]) -> float:
    """Run a program and return its peak, whatever this process has held; what it prints is not shown.

    Raises
    ------
    SystemExit : where it fails

    """
    said = subprocess.run([sys.executable, "-c", BETWEEN, *words], check=False, env=env, capture_output=True, text=True)
    if said.returncode:
        raise SystemExit(f"{' '.join(words)} failed")
    return int(said.stdout) / 1024
