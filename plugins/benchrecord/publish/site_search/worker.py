"""The theme's search worker as it is published: with ``worker.js`` added, which mends its word graph and passes its errors on."""

from __future__ import annotations

import re
from pathlib import Path

ADDED = (Path(__file__).parent / "worker.js").read_bytes()
_WORKER = re.compile(r"assets/javascripts/workers/search\.\w+\.min\.js")
_MENDABLE = (b"lunr - http://lunrjs.com", b".TokenSet.prototype.toString=", b".QueryParser.prototype.parse=", b"self.lunr=")
UNKNOWN = (
    "The search of this version of the theme is not the one that its corrections are made for: it could miss words without saying so. "
    "fix: pip install mkdocs-material==9.8.2"
)


class UnknownSearchError(ValueError):
    """The theme's search worker lacks what ``worker.js`` builds on."""


def is_worker(name: str) -> bool:
    """Say whether a file of a site, named by its path in it, is the theme's search worker."""
    return _WORKER.fullmatch(name) is not None


def mend(worker: bytes) -> bytes:
    """Return the theme's search worker with the corrections.

    Raises
    ------
    UnknownSearchError
        Where it is not made of the library, or does not offer what the corrections replace.
    """
    if not all(part in worker for part in _MENDABLE):
        raise UnknownSearchError(UNKNOWN)
    return worker + ADDED


def as_published(name: str, installed: bytes) -> bytes:
    """Return what becomes of an installed file of the theme in a site: the search worker is mended, all else is the same."""
    return mend(installed) if is_worker(name) else installed
