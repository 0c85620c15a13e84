"""The theme's search worker as it is published: with ``worker.js`` added, which mends its word graph and passes its errors on."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from mkdocs.structure.files import File

ADDED = (Path(__file__).parent / "worker.js").read_bytes()
_WORKER = re.compile(r"assets/javascripts/workers/search\.\w+\.min\.js")
_MENDABLE = (b"lunr - http://lunrjs.com", b".TokenSet.prototype.toString=", b".QueryParser.prototype.parse=", b"self.lunr=")
UNKNOWN = "The search of this version of mkdocs-material is not known: it may miss words without saying so. fix: pip install mkdocs-material==9.8.2"


class UnknownSearchError(ValueError):
    """The theme has no search worker, or one that lacks what ``worker.js`` replaces."""


def mend_workers(files: Iterable[File]) -> None:
    """Add ``worker.js`` to the search worker among the files of a site.

    Raises
    ------
    UnknownSearchError
        Where there is no worker, or nothing to replace in it.
    """
    workers = [file for file in files if _WORKER.fullmatch(file.src_uri)]
    if not workers:
        raise UnknownSearchError(UNKNOWN)
    for file in workers:
        file.content_bytes = mend(file.content_bytes)


def mend(worker: bytes) -> bytes:
    """Return the theme's search worker with ``worker.js``, or raise UnknownSearchError."""
    if not all(part in worker for part in _MENDABLE):
        raise UnknownSearchError(UNKNOWN)
    return worker + ADDED


def as_installed(name: str, published: bytes) -> bytes:
    """Return what a published file is made of, if it is one of the theme: the search worker without what was added, all else as it is."""
    return published.removesuffix(ADDED) if _WORKER.fullmatch(name) else published
