"""The settings of the three plugins, as they stand in mkdocs.yml."""

from __future__ import annotations

from datetime import date

from mkdocs.config.base import Config
from mkdocs.config.config_options import Choice, ListOfItems, Optional, Type

from benchrecord.model.job import Edition


class JobsConfig(Config):
    """``folders``: the job folders; ``edition``: who reads; ``kinds``: files with further kinds of check; ``cache``: where pictures are kept.

    ``as_of``: the day from which the archive counts what is due; without it, the latest day that the jobs tell of.
    """

    folders = ListOfItems(Type(str), default=[])
    edition = Choice([e.value for e in Edition], default=Edition.PORTFOLIO.value)
    kinds = ListOfItems(Type(str), default=[])
    cache = Optional(Type(str))
    as_of = Optional(Type(date))


class LinksConfig(Config):
    """Nothing to set."""


class GuardConfig(Config):
    """Nothing to set."""
