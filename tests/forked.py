"""Commands run in processes that have loaded all beforehand: what happens to one of them happens to its work, not to its imports."""

from __future__ import annotations

import os
import runpy
import sys
from collections.abc import Sequence
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from multiprocessing.context import ForkServerProcess  # not on every system

READY = ["benchrecord.cli", "benchrecord.checks", "benchrecord.publish.build", "benchrecord.figures.chart", "mkdocs.__main__"]
READY += ["material.plugins.search.plugin", "forked"]


def started(folder: Path, module: str, *words: str) -> ForkServerProcess:
    """Start ``python -m module words`` in a folder; nothing of what it says is heard."""
    context = get_context("forkserver")
    context.set_forkserver_preload(READY)
    running = context.Process(target=_run, args=(folder, module, words))
    running.start()
    return running


def _run(folder: Path, module: str, words: Sequence[str]) -> None:
    os.chdir(folder)
    silence = os.open(os.devnull, os.O_RDWR)
    for heard in (1, 2):
        os.dup2(silence, heard)
    sys.argv = [module, *words]
    runpy.run_module(module, run_name="__main__", alter_sys=True)
