"""What takes long to make is made once, and shared by all processes that run tests; no test may change it."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock

DEMO_EPOCH = "1767225600"  # the clock that the demo site is built by


def shared_by_all(temporary: pytest.TempPathFactory) -> Path:
    """Return the folder of one run of the tests, the same in each of its processes."""
    own = temporary.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


def once(temporary: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """Return the folder of this name, which the first process that asks for it lets ``make`` make, while others wait."""
    root = shared_by_all(temporary)
    folder, whole = root / name, root / f"{name}.whole"
    with FileLock(root / f"{name}.lock"):
        if not whole.exists():
            make(folder)
            whole.touch()
    return folder
