"""The settings of the three plugins, as they stand in mkdocs.yml."""

from __future__ import annotations

from mkdocs.config.base import Config
from mkdocs.config.config_options import Choice, ListOfItems, Optional, Type

from benchrecord.model.job import Edition


class JobsConfig(Config):
    """``folders``: the job folders; ``edition``: who reads; ``kinds``: files with further kinds of check; ``cache``: where pictures are kept."""

    folders = ListOfItems(Type(str), default=[])
    edition = Choice([e.value for e in Edition], default=Edition.PORTFOLIO.value)
    kinds = ListOfItems(Type(str), default=[])
    cache = Optional(Type(str))


class LinksConfig(Config):
    """Nothing to set."""


class GuardConfig(Config):
    """Nothing to set."""
